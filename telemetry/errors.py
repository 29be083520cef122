"""The tree of errors. Each is one sentence: where, what was found, what to do.

    SaglineError
    ├── BadLog        a log that cannot be read
    ├── BadSheet      a set-up sheet with a wrong key, unit or value
    ├── BadHistory    a table of past flights that cannot be read
    ├── BadLogbook    a folder of kept logs that cannot be used
    └── BadUse        a question that cannot be asked this way

The command prints the sentence on stderr and leaves with exit code 2.
"""

from __future__ import annotations

import re

_WITHOUT_END = re.compile(r"\S{80,}")


class SaglineError(Exception):
    """Something the user can put right.

    Parameters
    ----------
    problem : what was found, without a full stop.
    remedy : what to do, a sentence with its full stop.
    file : name of the file, without its folder.
    line : line in the file, counted from 1.
    place : a column, table or key within the file.
    """

    def __init__(
        self, problem: str, remedy: str = "", *, file: str = "", line: int | None = None, place: str = ""
    ) -> None:
        self.problem = _on_one_line(problem)
        self.remedy = remedy
        self.file = file
        self.line = line
        self.place = _on_one_line(place)
        super().__init__(str(self))

    def __str__(self) -> str:
        where = [self.file] if self.file else []
        if self.line is not None:
            where.append(f"line {self.line}")
        if self.place:
            where.append(self.place)
        head = ", ".join(where)
        sentence = f"{head}: {self.problem}." if head else f"{self.problem}."
        return f"{sentence} {self.remedy}".strip()


def _on_one_line(text: str) -> str:
    """A text that quotes a file: without its line ends, and of a word without end only the beginning."""
    return _WITHOUT_END.sub(lambda word: f"{word[0][:60]}…", " ".join(text.split()))


class BadLog(SaglineError):
    """A log that cannot be read, or has nothing to review.

    Attributes
    ----------
    columns : heading and first values of every column, where the table could be read.
    """

    columns: tuple[tuple[str, tuple[str, ...]], ...] = ()


class BadSheet(SaglineError):
    """A set-up sheet with a wrong key, unit or value."""


class BadHistory(SaglineError):
    """A table of past flights that cannot be read."""


class BadLogbook(SaglineError):
    """A logbook that cannot be opened, written or repaired."""


class BadUse(SaglineError):
    """A question that cannot be asked this way, such as an unknown configuration."""
