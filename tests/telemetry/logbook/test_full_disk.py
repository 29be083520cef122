"""A disk that takes no more is one sentence, and nothing is half kept. Each disk is a small real one."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from telemetry import whole_files
from telemetry.answers import Answers
from telemetry.cli import run
from telemetry.errors import BadUse

COMMAND = "import sys; from telemetry.cli import run; sys.exit(run(sys.argv[1:]))"
on_posix = pytest.mark.skipif(os.name == "nt", reason="forks, signals and mounts")


def files_in(folder):
    return {str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file() and p.suffix != ".lock"}


def on_a_small_disk(script, mount, *words):
    """A shell script with a small disk of its own at `mount`, seen by nobody else."""
    whole = f'set -e; mount -t tmpfs -o size=1200k tmpfs "$0"; {script}'
    return subprocess.run(
        ["unshare", "--user", "--map-root-user", "--mount", "sh", "-c", whole, str(mount), *map(str, words)],
        capture_output=True,
        text=True,
        encoding="utf-8",
    )


@pytest.fixture
def small_disk(tmp_path):
    mount = tmp_path / "disk"
    mount.mkdir()
    if shutil.which("unshare") is None or on_a_small_disk("true", mount).returncode:
        pytest.skip("this system lets nobody mount a disk of its own")
    return mount


KEEP = 'rc=0; "$2" -c "$3" keep "$4" --logbook "$0/book" || rc=$?; echo "exit $rc"; '
LIST = '(cd "$0/book"; find . -type f ! -name "*.lock" | sort | xargs md5sum); '
FILL = (
    'cp -r "$1" "$0/book"; dd if=/dev/zero of="$0/room" bs=1k count="$5" 2>/dev/null; '
    'cat /dev/zero > "$0/fill" 2>/dev/null || true; rm "$0/room"; '
)
ONCE_THERE_IS_ROOM = f'rm "$0/fill"; exec 2>/dev/null; {KEEP} "$2" -c "$3" check --logbook "$0/book"'


@on_posix
@pytest.mark.parametrize("room_kb", [0, 24])
def test_a_full_disk_is_one_sentence_and_nothing_half_kept(one_kept, small_disk, write_log, room_kb):
    book, _ = one_kept
    log = write_log("b.csv", cruise_a=20.0)
    script = FILL + LIST + KEEP + LIST + ONCE_THERE_IS_ROOM
    done = on_a_small_disk(script, small_disk, book.folder.path, sys.executable, COMMAND, log, room_kb)
    out = done.stdout.splitlines()
    cut = out.index("exit 2")
    assert cut >= 4  # original, trace, entry and database
    assert out[:cut] == out[cut + 1 : 2 * cut + 1]  # every file as it was
    assert out[2 * cut + 1] == "Flight 2: " + out[2 * cut + 1].partition(": ")[2]  # and no other
    assert out[2 * cut + 2 :] == ["exit 0", "The logbook is whole."]
    assert done.stderr.count("\n") == 1
    assert done.stderr.endswith(
        "(the disk is full). Make room there, or name another folder with --logbook.\n"
    )


@on_posix
def test_a_read_only_disk_is_one_sentence_and_still_read(one_kept, small_disk, write_log):
    book, _ = one_kept
    log = write_log("b.csv", cruise_a=20.0)
    script = (
        'cp -r "$1" "$0/book"; mount -o remount,ro "$0"; '
        + KEEP
        + '"$2" -c "$3" flights --json --logbook "$0/book"'
    )
    done = on_a_small_disk(script, small_disk, book.folder.path, sys.executable, COMMAND, log)
    first, listed = done.stdout.split("\n", 1)
    assert first == "exit 2"
    assert done.stderr == (
        "the logbook cannot be written (the disk is read-only). Name another folder with --logbook.\n"
    )
    assert [f["id"] for f in json.loads(listed)["flights"]] == [1]


@on_posix
def test_a_disk_that_fills_up_between_two_logs_keeps_the_first(one_kept, small_disk, write_log):
    book, _ = one_kept
    log, large = write_log("b.csv", cruise_a=20.0), write_log("c.csv", cruise_a=28.0, seconds=60_000)
    script = f'cp -r "$1" "$0/book"; {KEEP} "$2" -c "$3" check --logbook "$0/book"'
    script = script.replace('keep "$4"', 'keep "$4" "$5"')
    done = on_a_small_disk(script, small_disk, book.folder.path, sys.executable, COMMAND, log, large)
    first, *rest = done.stdout.splitlines()
    assert first.startswith("Flight 2: ")
    assert rest == ["exit 3", "The logbook is whole."]
    assert done.stderr.startswith("c.csv: the logbook cannot be written (the disk is full). Make room there,")


@on_posix
def test_a_file_larger_than_the_system_allows_is_one_sentence(started, one_kept, write_log):
    book, _ = one_kept
    log = write_log("b.csv", cruise_a=20.0)
    before = files_in(book.folder.path)
    limited = f"import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (8192, 8192)); {COMMAND}"
    keeper = started(limited, "keep", log, "--logbook", book.folder.path, ready=False)
    out, err = keeper.communicate()
    assert (keeper.returncode, out) == (2, "")
    assert err == (
        "the logbook cannot be written (the file is larger than this system allows). Make room there, or "
        "name another folder with --logbook.\n"
    )
    assert files_in(book.folder.path) == before
    assert book.check() == []


def test_a_file_in_the_way_of_the_folder_is_one_sentence(tmp_path, write_log, capsys):
    (tmp_path / "file").write_text("mine")
    log = str(write_log())
    assert run(["keep", log, "--logbook", str(tmp_path / "file" / "book")]) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert err.startswith("the logbook cannot be written (a file stands where a folder should be)")
    with pytest.raises(
        BadUse, match=r"the answers cannot be kept \(a file stands where a folder should be\)"
    ):
        Answers(tmp_path / "file").save(["Amps"], {"Amps": "current_a"})
    assert (tmp_path / "file").read_text() == "mine"


@on_posix
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
def test_a_list_or_report_that_does_not_fit_is_one_sentence_and_the_old_one_stays(one_kept, capsys):
    book, log = one_kept
    folder = str(book.folder.path)
    assert run(["flights", "--export", "/dev/full", "--logbook", folder]) == 2
    assert capsys.readouterr() == (
        "",
        "full: the list cannot be written (the disk is full). Give another place with --export.\n",
    )
    assert run(["report", str(log), "-o", "/dev/full"]) == 2
    assert capsys.readouterr() == ("", "full cannot be written (the disk is full). Name another place.\n")


def test_a_text_takes_the_place_of_the_old_one_whole_or_not_at_all(tmp_path):
    target = tmp_path / "twin.toml"
    target.write_text("old")
    target.chmod(0o640)
    with pytest.raises(KeyboardInterrupt), whole_files.written(target) as part:
        part.write_text("half")
        raise KeyboardInterrupt
    assert ([p.name for p in tmp_path.iterdir()], target.read_text()) == (["twin.toml"], "old")
    whole_files.write_text(target, "new\n")
    assert (target.read_bytes(), target.stat().st_mode & 0o777) == (b"new\n", 0o640)
    link = tmp_path / "link.toml"
    link.symlink_to(target)
    whole_files.write_text(link, "newer\n")
    assert link.is_symlink()
    assert target.read_bytes() == b"newer\n"


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="tells which file a handle is by /proc")
def test_a_text_is_on_the_disk_before_it_has_its_name_and_its_name_before_it_is_said(tmp_path, monkeypatch):
    seen, really = [], os.fsync

    def noted(handle):
        path = Path(f"/proc/self/fd/{handle}").resolve()
        seen.append((path.name, (tmp_path / "answers.json").exists()))
        really(handle)

    monkeypatch.setattr(os, "fsync", noted)
    whole_files.write_text(tmp_path / "answers.json", "{}")
    *file, folder = seen
    assert file
    assert all(name.startswith("part-") and not there for name, there in file)
    assert folder == (tmp_path.name, True)
