"""What was kept stays kept: beside other writers, after a kill at any moment, on a disk that takes no more.

Writers are real processes; a kill is SIGKILL; a full or read-only disk is a small one of the test.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import threading
import zipfile
from pathlib import Path

import pytest

from telemetry import whole_files
from telemetry.answers import Answers
from telemetry.cli import run
from telemetry.errors import BadLogbook, BadUse
from telemetry.logbook import Edits, Logbook
from telemetry.whole_files import one_writer

HERE = Path(__file__).parent
COMMAND = "import sys; from telemetry.cli import run; sys.exit(run(sys.argv[1:]))"
AT_A_WORD = (
    "import sys; from telemetry.cli import run; import telemetry.logbook; print('ready', flush=True); "
    "sys.stdin.readline(); sys.exit(run(sys.argv[1:]))"
)
CHECKS = (
    "import sys, pathlib\nfrom telemetry.cli import run\nprint('ready', flush=True)\ncodes = []\n"
    "while not pathlib.Path(sys.argv[1]).exists():\n"
    "    codes.append(run(['check', '--logbook', sys.argv[2]]))\n"
    "sys.exit(max(codes))"
)
STOPS = (
    "import os, signal, sys\nfrom telemetry.cli import run\n"
    "def stop(event, arguments):\n"
    "    if event == 'os.rename' and 'traces' in str(arguments[1]):\n"
    "        os.kill(os.getpid(), signal.SIGSTOP)\n"
    "sys.addaudithook(stop)\nsys.exit(run(sys.argv[1:]))"
)
HOLDER = (
    "import sys, pathlib\nfrom telemetry.whole_files import one_writer\n"
    "with one_writer(pathlib.Path(sys.argv[1])):\n    print('holds', flush=True)\n    sys.stdin.readline()"
)
on_posix = pytest.mark.skipif(os.name == "nt", reason="forks, signals and mounts")


@pytest.fixture
def started():
    """Starts a Python process of its own; with `ready`, gives it once it said so. None outlives the test."""
    processes = []

    def start(script, *words, ready=True):
        process = subprocess.Popen(
            [sys.executable, "-c", script, *map(str, words)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            encoding="utf-8",
        )
        processes.append(process)
        if ready:
            process.stdout.readline()
        return process

    yield start
    for process in processes:
        process.kill()
        process.communicate()


def originals_hold(folder):
    return all(
        hashlib.sha256(path.read_bytes()).hexdigest() == path.name
        for path in (folder / "originals").iterdir()
    )


def files_in(folder):
    return {str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file() and p.suffix != ".lock"}


@pytest.fixture
def one_kept(book, write_log):
    """A logbook of one flight, and the log it came from."""
    log = write_log("a.csv", seconds=90)
    book.keep([log])
    return book, log


# -- one writer ----------------------------------------------------------------


def test_checks_beside_six_keeps_break_none_and_lose_none(started, one_kept, write_log, tmp_path):
    book, _ = one_kept
    logs = [write_log(f"{n}.csv", cruise_a=16.0 + 3 * n, seconds=90) for n in range(6)]
    folder, stop = str(book.folder.path), tmp_path / "stop"
    keepers = [started(AT_A_WORD, "keep", log, "--logbook", folder) for log in logs]
    checker = started(CHECKS, stop, folder)
    for keeper in keepers:
        keeper.stdin.write("go\n")
        keeper.stdin.flush()
    said = [keeper.communicate() for keeper in keepers]
    stop.touch()
    checked, complaints = checker.communicate()
    assert [keeper.returncode for keeper in keepers] == [0] * 6, said
    assert (checker.returncode, complaints) == (0, "")
    assert set(checked.splitlines()) == {"The logbook is whole."}
    assert [f.id for f in book.flights()] == [1, 2, 3, 4, 5, 6, 7]
    assert {name for f in book.flights() for name in f.files} == {"a.csv", *(log.name for log in logs)}
    kept = {hashlib.sha256(log.read_bytes()).hexdigest() for log in logs}
    assert kept <= {path.name for path in (book.folder.path / "originals").iterdir()}
    assert originals_hold(book.folder.path)
    assert not (book.folder.path / "set_aside").exists()


@on_posix
@pytest.mark.parametrize("first", [True, False], ids=["first", "second"])
def test_a_check_in_the_midst_of_a_keep_takes_nothing_of_the_log_being_kept(started, book, write_log, first):
    if not first:
        book.keep([write_log("a.csv", seconds=90)])
    log = write_log("b.csv", cruise_a=20.0, seconds=90)
    keeper = started(STOPS, "keep", log, "--logbook", book.folder.path, ready=False)
    _, status = os.waitpid(keeper.pid, os.WUNTRACED)
    assert os.WIFSTOPPED(status)  # its original is on the disk, and nothing names it yet
    original = book.folder.original(hashlib.sha256(log.read_bytes()).hexdigest())
    assert original.exists()
    with pytest.raises(BadLogbook, match="another command has been writing there"):
        Logbook(book.folder.path, wait_s=0.1).check()
    assert [f.files for f in book.flights()] == ([] if first else [("a.csv",)])
    keeper.send_signal(signal.SIGCONT)
    keeper.communicate()
    assert keeper.returncode == 0
    assert book.check() == []
    assert book.flights()[-1].files == ("b.csv",)
    assert original.read_bytes() == log.read_bytes()


def test_two_first_keeps_at_once_are_both_kept(started, book, write_log):
    logs = [write_log(f"{n}.csv", cruise_a=20.0 + 3 * n, seconds=90) for n in range(2)]
    keepers = [started(AT_A_WORD, "keep", log, "--logbook", book.folder.path) for log in logs]
    for keeper in keepers:
        keeper.stdin.write("go\n")
        keeper.stdin.flush()
    said = [keeper.communicate() for keeper in keepers]
    assert [keeper.returncode for keeper in keepers] == [0, 0], said
    assert sorted(name for f in book.flights() for name in f.files) == ["0.csv", "1.csv"]
    assert book.check() == []


@on_posix
def test_a_writer_waits_then_says_so_and_a_killed_holder_blocks_nobody(
    started, one_kept, write_log, capsys, monkeypatch
):
    book, _ = one_kept
    folder, log = str(book.folder.path), str(write_log("b.csv", cruise_a=20.0, seconds=90))
    holder = started(HOLDER, folder)
    monkeypatch.setattr(whole_files, "WAIT_S", 0.2)
    before = files_in(book.folder.path)
    for words in (["keep", log], ["edit", "1", "--note", "calm"], ["check"], ["check", "--anew"]):
        assert run([*words, "--logbook", folder]) == 2
        assert capsys.readouterr() == (
            "",
            "the logbook cannot be written (another command has been writing there for 0.2 s). "
            "Try again when it has finished.\n",
        )
    assert files_in(book.folder.path) == before
    assert run(["flights", "--logbook", folder]) == 0  # who only reads does not wait
    assert book.read(1) is not None
    holder.send_signal(signal.SIGKILL)
    holder.communicate()
    assert (book.folder.path / whole_files.LOCK).exists()
    assert run(["keep", log, "--logbook", folder]) == 0
    assert run(["check", "--logbook", folder]) == 0
    assert capsys.readouterr().out.endswith("The logbook is whole.\n")


def test_the_wait_is_thirty_seconds_unless_said_otherwise(one_kept):
    book, _ = one_kept
    assert whole_files.WAIT_S == 30.0
    done = threading.Event()
    held = threading.Event()

    def hold():
        with one_writer(book.folder.path):
            held.set()
            done.wait()

    other = threading.Thread(target=hold)
    other.start()
    held.wait()
    with pytest.raises(BadLogbook, match=r"has been writing there for 0\.1 s\)\. Try again"):
        Logbook(book.folder.path, wait_s=0.1).edit([1], change=Edits(note="calm"))
    done.set()
    other.join()
    (flight,) = Logbook(book.folder.path, wait_s=0.1).edit([1], change=Edits(note="calm"))
    assert flight.note == "calm"


def test_a_thread_that_writes_may_ask_again_and_lets_others_in_only_at_the_end(tmp_path):
    order = []

    def other(wait_s):
        try:
            with one_writer(tmp_path, wait_s=wait_s):
                order.append("other")
        except TimeoutError:
            order.append("waited")

    impatient, patient = (threading.Thread(target=other, args=(wait_s,)) for wait_s in (0.05, 20.0))
    with one_writer(tmp_path):
        with one_writer(tmp_path, wait_s=0.0):
            order.append("within")
        impatient.start()
        impatient.join()
        patient.start()
        order.append("after")
    patient.join()
    assert order == ["within", "waited", "after", "other"]


@on_posix
def test_who_waits_is_let_in_before_one_that_comes_back_for_more(tmp_path):
    import fcntl

    order = []

    def other():
        with one_writer(tmp_path, wait_s=20.0):
            order.append("waited")

    def nobody_waits():
        with (tmp_path / whole_files.QUEUE).open("r+b") as queue:
            try:
                fcntl.flock(queue, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                return False
            return True

    waiting = threading.Thread(target=other)
    with one_writer(tmp_path):
        waiting.start()
        while nobody_waits():
            pass
    with one_writer(tmp_path, wait_s=20.0):
        order.append("came back")
    waiting.join()
    assert order == ["waited", "came back"]


def test_two_recorders_settled_at_once_are_both_remembered(tmp_path):
    headers = [[f"Load {n}", "t"] for n in range(8)]
    savers = [threading.Thread(target=Answers(tmp_path).save, args=(h, {h[0]: "current_a"})) for h in headers]
    for saver in savers:
        saver.start()
    for saver in savers:
        saver.join()
    assert [Answers(tmp_path).for_headers(h) for h in headers] == [{h[0]: "current_a"} for h in headers]


# -- set aside and restored ----------------------------------------------------


def test_what_a_check_does_not_know_is_set_aside_and_never_deleted(one_kept):
    book, _ = one_kept
    folder = book.folder.path
    strange = {
        f"originals/{'0' * 64}": b"t,a\n0,1\n",
        f"traces/{'0' * 64}.parquet": b"PAR1",
        "entries/part-12": b"{",
        "part-34": b"[pack]",
    }
    for name, content in strange.items():
        (folder / name).write_bytes(content)
    (said,) = book.check()
    assert said.startswith(
        "4 files that belong to no kept log, or were replaced, are set aside in set_aside/"
    )
    place = folder / said.split(" in ")[1].removesuffix("; nothing is deleted.")
    assert {name: (place / name).read_bytes() for name in strange} == strange
    assert book.check() == []
    (folder / "traces" / ("1" * 64 + ".parquet")).write_bytes(b"PAR1")
    (again,) = book.check()
    assert place.name not in again  # each in a folder of its own
    assert len(book.flights()) == 1


@pytest.mark.parametrize("lose", [True, False])
def test_a_lost_or_altered_original_is_restored_by_keeping_the_log_again(one_kept, lose, capsys):
    book, log = one_kept
    original = book.folder.original(hashlib.sha256(log.read_bytes()).hexdigest())
    original.chmod(0o600)
    altered = original.read_bytes() + b"1,2,3\n"
    if lose:
        original.unlink()
    else:
        original.write_bytes(altered)
    folder = str(book.folder.path)
    assert run(["check", "--logbook", folder]) == 2
    how = "missing" if lose else "no longer what was kept"
    assert capsys.readouterr() == (
        "",
        f"the original of a.csv is {how}. Keep the same log again, or bring the file back from a copy of the "
        "logbook; everything else is in order.\n",
    )
    assert run(["keep", str(log), "--logbook", folder]) == 0
    said = capsys.readouterr().err.splitlines()
    assert said[0] == "a.csv is kept already, as flight 1."
    if lose:
        assert said[1] == "The original of a.csv was missing and is restored."
    else:
        assert said[1].startswith(
            "The original of a.csv was altered and is restored; the altered file is set"
        )
        (aside,) = (book.folder.path / "set_aside").glob("*/originals/*")
        assert aside.read_bytes() == altered
    assert original.read_bytes() == log.read_bytes()
    assert original.stat().st_mode & 0o222 == 0
    assert run(["check", "--logbook", folder]) == 0
    assert run(["keep", str(log), "--logbook", folder]) == 0
    assert "restored" not in capsys.readouterr().err


def test_one_recorder_of_a_joined_flight_is_restored_alone(book, write_log):
    power = write_log("power.csv", columns=("Time s", "Current A"), seconds=90)
    height = write_log("height.csv", columns=("Time s", "Current A", "Altitude m"), seconds=90)
    book.keep([power, height], together=True)
    lost = book.folder.original(hashlib.sha256(height.read_bytes()).hexdigest())
    lost.unlink()
    outcome = book.keep([height])
    assert outcome.remarks == ("The original of height.csv was missing and is restored.",)
    assert [f.id for f in outcome.kept] == [1]
    assert lost.read_bytes() == height.read_bytes()
    assert book.check() == []


def test_originals_of_an_entry_that_cannot_be_read_are_not_taken_for_left_over(one_kept):
    book, _ = one_kept
    (entry,) = book.folder.entries()
    (book.folder.path / "logbook.sqlite").unlink()
    whole = entry.read_text(encoding="utf-8")
    entry.write_text(whole[:40], encoding="utf-8")
    with pytest.raises(BadLogbook, match=r"what was said of log .* is damaged"):
        book.check()
    assert len(list((book.folder.path / "originals").iterdir())) == 1
    entry.write_text(whole, encoding="utf-8")
    assert book.check() == ["The facts of a.csv were missing and are made anew."]
    assert len(book.flights()) == 1


# -- killed --------------------------------------------------------------------


def killed(what, folder, steps, logs=()):
    """What `killed.py` says of each step: how many there are, or the folder a kill at that step left."""
    done = subprocess.run(
        [sys.executable, str(HERE / "killed.py"), what, *map(str, (folder, *steps)), "--", *map(str, logs)],
        capture_output=True,
        check=True,
        text=True,
    )
    return [json.loads(line) for line in done.stdout.splitlines()]


def _keep_killed(folder, log, steps, first):
    """After a kill at each step: what was kept before is there, the new log wholly or not at all."""
    for left in killed("keep", folder, steps, [log]):
        assert left["killed"]
        book = Logbook(left["folder"], wait_s=5.0)
        if not book.folder.path.exists():
            continue
        kept = [f.files for f in book.flights()]
        assert kept in ([*first], [*first, (log.name,)])
        if (book.folder.path / whole_files.LOCK).exists():
            book.check()
            assert book.check() == []
        assert [f.files for f in book.flights()][: len(kept)] == kept
        assert [f.files for f in book.keep([log]).kept] == [(log.name,)]
        assert [f.files for f in book.flights()] == [*first, (log.name,)]
        assert book.check() == []
        assert originals_hold(book.folder.path)
        assert len(list((book.folder.path / "originals").iterdir())) == len(first) + 1


@on_posix
@pytest.mark.parametrize("empty", [True, False], ids=["first", "second"])
def test_a_keep_killed_at_any_step_loses_nothing_and_leaves_nothing_half(book, write_log, empty):
    first = [] if empty else [("a.csv",)]
    if not empty:
        book.keep([write_log("a.csv", seconds=90)])
    log = write_log("b.csv", cruise_a=20.0, seconds=90)
    (counted,) = killed("keep", book.folder.path, [0], [log])
    assert counted["steps"] > 50
    steps = random.Random(14).sample(range(1, counted["steps"] + 1), 5)
    _keep_killed(book.folder.path, log, steps, first)


@on_posix
@pytest.mark.slow
@pytest.mark.parametrize("empty", [True, False], ids=["first", "second"])
def test_a_keep_killed_at_every_step_loses_nothing(book, write_log, empty):
    first = [] if empty else [("a.csv",)]
    if not empty:
        book.keep([write_log("a.csv", seconds=90)])
    log = write_log("b.csv", cruise_a=20.0, seconds=90)
    (counted,) = killed("keep", book.folder.path, [0], [log])
    _keep_killed(book.folder.path, log, range(1, counted["steps"] + 1), first)


@pytest.fixture
def older(tmp_path):
    """The folder of a logbook of an earlier version, with three flights."""
    with zipfile.ZipFile(HERE / "fixtures" / "before_v0003.zip") as kept:
        kept.extractall(tmp_path / "older")
    return tmp_path / "older"


@on_posix
def test_an_older_logbook_killed_while_it_is_brought_up_to_date_is_intact(older):
    (counted,) = killed("open", older, [0])
    expected = Logbook(counted["folder"]).flights()
    assert len(expected) == 3
    assert counted["steps"] > 30
    for left in killed("open", older, range(1, counted["steps"] + 1, 5)):
        assert left["killed"]
        assert Logbook(left["folder"]).flights() == expected
        assert Logbook(left["folder"]).check() == []


def test_several_that_open_an_older_logbook_at_once_all_read_it(started, older):
    readers = [started(AT_A_WORD, "flights", "--json", "--logbook", older) for _ in range(3)]
    for reader in readers:
        reader.stdin.write("go\n")
        reader.stdin.flush()
    said = [reader.communicate() for reader in readers]
    assert [reader.returncode for reader in readers] == [0, 0, 0], said
    assert [[f["id"] for f in json.loads(out)["flights"]] for out, _ in said] == [[1, 2, 3]] * 3


def test_threads_that_open_an_older_logbook_at_once_all_read_it(older):
    found, errors = [], []

    def read():
        try:
            found.append([f.id for f in Logbook(older).flights()])
        except Exception as error:
            errors.append(error)

    readers = [threading.Thread(target=read) for _ in range(4)]
    for reader in readers:
        reader.start()
    for reader in readers:
        reader.join()
    assert not errors
    assert found == [[1, 2, 3]] * 4


# -- a disk that takes no more -------------------------------------------------


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
