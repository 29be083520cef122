"""Files written whole or not at all, and one writer at a time in a folder.

Whatever the owner keeps goes to the disk through here: logs and traces of the logbook, sheets, answers,
lists, reports, cards, calibrations.
"""

from __future__ import annotations

import errno
import os
import secrets
import shutil
import stat
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from telemetry.sentences import say

if TYPE_CHECKING:
    from filelock import BaseFileLock

WAIT_S = 30.0
"""How long a writer waits for another: several times what keeping one long log takes. [s]"""
LOCK, QUEUE = "write.lock", "queue.lock"
"""Who writes, and who is next. Only the system's lock on these files counts, never that they exist."""
PART = "part-"
"""How a file is called until it is whole."""
_WHY = {
    errno.ENOSPC: "full",
    errno.EDQUOT: "quota",
    errno.EFBIG: "too_large",
    errno.EROFS: "read_only",
    errno.EACCES: "not_allowed",
    errno.EPERM: "not_allowed",
    errno.ENOENT: "no_folder",
    errno.ENOTDIR: "in_the_way",
    errno.EEXIST: "in_the_way",
}


def why_not(error: OSError) -> str:
    """Why something cannot be written, in a few words without a full stop."""
    if isinstance(error, TimeoutError):
        return str(error)
    key = _WHY.get(error.errno or 0)
    return say("not_written", key) if key else (error.strerror or str(error)).rstrip(".")


def wants_room(error: OSError) -> bool:
    """Whether something cannot be written for want of room."""
    return _WHY.get(error.errno or 0) in ("full", "quota", "too_large")


@contextmanager
def one_writer(folder: Path, *, wait_s: float | None = None) -> Iterator[None]:
    """Keep other writers out of a folder, in this process or another; who only reads does not ask.

    The system ends the lock with the process that holds it, however that ends. A thread that has it may take
    it again. Who waits is let in before one that comes back for more.

    Parameters
    ----------
    folder : it must be there.
    wait_s : how long to wait for another writer, None for `WAIT_S`. [s]

    Raises
    ------
    TimeoutError : another one was still writing then.
    OSError : the folder cannot be written.
    """
    from filelock import FileLock

    limit_s = WAIT_S if wait_s is None else wait_s
    until_s = time.monotonic() + limit_s
    here = folder.resolve()
    lock, queue = (FileLock(here / name, is_singleton=True) for name in (LOCK, QUEUE))
    if lock.is_locked:
        with lock:
            yield
        return
    _take(queue, until_s, limit_s)
    try:
        _take(lock, until_s, limit_s)
    finally:
        queue.release()
    try:
        yield
    finally:
        lock.release()


def _take(lock: BaseFileLock, until_s: float, limit_s: float) -> None:
    from filelock import Timeout

    try:
        lock.acquire(timeout=max(0.0, until_s - time.monotonic()))
    except Timeout:
        raise TimeoutError(say("not_written", "busy", wait_s=limit_s)) from None


@contextmanager
def written(target: Path, *, read_only: bool = False) -> Iterator[Path]:
    """A file that appears under its name, in place of an older one, only once all of it is on the disk.

    Parameters
    ----------
    target : where it goes; a device or pipe is written to directly.
    read_only : nobody is to write to it afterwards.

    Returns
    -------
    The path to write to within the block. If the block fails, what was there before stays.

    Raises
    ------
    OSError : it cannot be written.
    """
    if target.exists() and not target.is_file():
        yield target
        return
    target = target.resolve()
    part = target.with_name(f"{PART}{secrets.token_hex(8)}")
    part.touch(exist_ok=False)
    try:
        yield part
        _sync(part)
        if read_only:
            part.chmod(stat.S_IRUSR | stat.S_IRGRP | stat.S_IROTH)
        elif target.exists():
            shutil.copymode(target, part)
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)
    sync_folder(target.parent)


@contextmanager
def ready(target: Path, text: str) -> Iterator[None]:
    """A text that is on the disk when the block begins, and takes its name when the block has ended well.

    Raises
    ------
    OSError : it cannot be written.
    """
    with written(target) as part:
        part.write_text(text, encoding="utf-8", newline="")
        if part != target:
            _sync(part)
        yield


def write_text(target: Path, text: str) -> None:
    """Write a text whole or not at all, in UTF-8 with its line ends as they are. Raises OSError."""
    with ready(target, text):
        pass


def make_folder(folder: Path) -> None:
    """Make a folder, and those above it, that lasts, for the owner alone. Raises OSError."""
    if not folder.is_dir():
        if folder.parent != folder:
            make_folder(folder.parent)
        folder.mkdir(mode=0o700, exist_ok=True)
        sync_folder(folder.parent)


def sync_folder(folder: Path) -> None:
    """Have the names in a folder on the disk, where the system has a call for that. Raises OSError."""
    if os.name == "nt":
        return
    try:
        _sync(folder)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):  # a file system that knows no such call
            raise


def _sync(path: Path) -> None:
    handle = os.open(path, os.O_RDWR if os.name == "nt" else os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
