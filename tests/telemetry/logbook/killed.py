"""Kills a writer at a chosen step, for the tests; a program of its own, where forking is safe.

    killed.py keep|open FOLDER STEP... -- LOG...

Works on a copy of FOLDER for each STEP: a child keeps the logs, or only opens the logbook, which brings it up
to date, and is killed by SIGKILL as it begins the STEP-th thing it does to the disk or the database; step 0
counts them instead. Prints one JSON object a step: "killed", or "steps" when counted.
"""

from __future__ import annotations

import itertools
import json
import os
import shutil
import signal
import sys
from pathlib import Path

from sqlalchemy import Engine, event

from telemetry.logbook import Logbook

ON_DISK = ("open", "os.rename", "os.mkdir", "os.remove", "os.chmod", "shutil.copymode", "sqlite3.connect")


def count_steps(folder: Path, kill_at: int) -> itertools.count[int]:
    """Count what happens in the folder and to its database, and kill this process at one of them."""
    steps = itertools.count(1)

    def step(*_: object, **__: object) -> None:
        if next(steps) == kill_at:
            os.kill(os.getpid(), signal.SIGKILL)

    def audit(name: str, arguments: tuple[object, ...]) -> None:
        if name in ON_DISK and arguments and str(arguments[0]).startswith(str(folder)):
            step()

    sys.addaudithook(audit)
    event.listen(Engine, "before_cursor_execute", step)
    event.listen(Engine, "commit", step)
    return steps


def run(what: str, folder: Path, kill_at: int, logs: list[str]) -> dict[str, object]:
    """One writer in a child."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        steps = count_steps(folder, kill_at)
        book = Logbook(folder)
        if what == "keep":
            book.keep(logs)
        else:
            book.flights()
        os.write(writing, str(next(steps) - 1).encode())
        os._exit(0)
    os.close(writing)
    _, status = os.waitpid(child, 0)
    with os.fdopen(reading) as counted:
        return {"killed": os.WIFSIGNALED(status), "steps": int(counted.read() or 0)}


def main() -> None:
    what, folder, *rest = sys.argv[1:]
    between = rest.index("--")
    for step in map(int, rest[:between]):
        copy = Path(f"{folder}-{step}")
        if Path(folder).exists():
            shutil.copytree(folder, copy)
        print(json.dumps({"folder": str(copy), **run(what, copy, step, rest[between + 1 :])}), flush=True)


if __name__ == "__main__":
    main()
