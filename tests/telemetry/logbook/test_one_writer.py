"""One writer at a time in a logbook: the others wait, who only reads does not. Writers are real processes."""

from __future__ import annotations

import hashlib
import os
import signal
import threading

import pytest

from telemetry import whole_files
from telemetry.answers import Answers
from telemetry.cli import run
from telemetry.errors import BadLogbook
from telemetry.logbook import Edits, Logbook
from telemetry.whole_files import one_writer

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


def originals_hold(folder):
    return all(
        hashlib.sha256(path.read_bytes()).hexdigest() == path.name
        for path in (folder / "originals").iterdir()
    )


def files_in(folder):
    return {str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file() and p.suffix != ".lock"}


def test_checks_beside_six_keeps_break_none_and_lose_none(started, at_a_word, one_kept, write_log, tmp_path):
    book, _ = one_kept
    logs = [write_log(f"{n}.csv", cruise_a=16.0 + 3 * n, seconds=90) for n in range(6)]
    folder, stop = str(book.folder.path), tmp_path / "stop"
    keepers = [at_a_word("keep", log, "--logbook", folder) for log in logs]
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


def test_two_first_keeps_at_once_are_both_kept(at_a_word, book, write_log):
    logs = [write_log(f"{n}.csv", cruise_a=20.0 + 3 * n, seconds=90) for n in range(2)]
    keepers = [at_a_word("keep", log, "--logbook", book.folder.path) for log in logs]
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
