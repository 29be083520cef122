"""The files of a logbook: originals, traces, entries. Written whole or not at all.

    logbook.sqlite           the facts, rebuilt from the rest when lost
    originals/<sha256>       each log as it came, read-only
    traces/<key>.parquet     each trace as it was understood
    entries/<key>.json       what was said when it was kept: file names, sheet, configuration, pack

No name that came from outside ever becomes a path.
"""

from __future__ import annotations

import hashlib
import json
import os
import stat
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from telemetry.errors import BadLog, BadLogbook
from telemetry.logbook.traces import read_trace, write_trace
from telemetry.trace import Trace

ENTRY_SCHEMA = "sagline.entry/1"


@dataclass(frozen=True, slots=True)
class KeptFile:
    """One original: the sha256 of its bytes, the name it came with, and what its owner said of its
    columns.
    """

    sha256: str
    name: str
    answers: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Edits:
    """What the owner said of one flight afterwards.

    Attributes
    ----------
    date : ISO, "" for what the log tells.
    put_back_mah, temperature_c : None for what was said with the log, or for what it tells. [mAh, °C]
    cleared : keys of its stops and checks that are settled.
    again : the number of the kept flight that it is once more, None for a flight of its own.
    """

    date: str = ""
    put_back_mah: float | None = None
    temperature_c: float | None = None
    note: str = ""
    tags: tuple[str, ...] = ()
    cleared: tuple[str, ...] = ()
    again: int | None = None

    @classmethod
    def from_plain(cls, kept: Mapping[str, Any]) -> Edits:
        """The object from what JSON carried of it. Raises TypeError for another thing."""
        plain: dict[str, Any] = {name: tuple(v) if isinstance(v, list) else v for name, v in kept.items()}
        return cls(**plain)


@dataclass(frozen=True, slots=True)
class Entry:
    """What was said when a log, or one flight's logs, were kept.

    `flights` are the numbers of its flights in the logbook; `another` says that none of them is a kept flight
    again, `edits` what was said of single ones afterwards, by their place in the log.
    """

    files: tuple[KeptFile, ...]
    sheet_name: str = ""
    sheet_text: str = ""
    configuration: str = ""
    pack: str = ""
    put_back_mah: float | None = None
    kept_at: str = ""
    flights: tuple[int, ...] = ()
    another: bool = False
    edits: Mapping[str, Edits] = field(default_factory=dict)

    def edits_of(self, place: int) -> Edits:
        """What was said of the flight at a place, from 0."""
        return self.edits.get(str(place), Edits())

    @property
    def key(self) -> str:
        """One log is known by its bytes; logs joined, by all of theirs."""
        return key_of([f.sha256 for f in self.files])


def key_of(hashes: list[str]) -> str:
    """The key of an entry with these originals."""
    return hashes[0] if len(hashes) == 1 else hashlib.sha256("\n".join(hashes).encode()).hexdigest()


def sha256_of(path: Path) -> str:
    """The sha256 of a file's bytes."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


@dataclass(frozen=True, slots=True)
class Folder:
    """Where a logbook lives. Making one touches nothing."""

    path: Path

    def original(self, sha256: str) -> Path:
        """Where the log with these bytes lies."""
        return self.path / "originals" / sha256

    def trace(self, key: str) -> Path:
        """Where the trace of an entry lies."""
        return self.path / "traces" / f"{key}.parquet"

    def entry(self, key: str) -> Path:
        """Where what was said of a log lies."""
        return self.path / "entries" / f"{key}.json"

    def make(self) -> None:
        """Make the folders. Raises BadLogbook."""
        try:
            for name in ("", "originals", "traces", "entries"):
                (self.path / name).mkdir(mode=0o700, parents=True, exist_ok=True)
        except OSError as error:
            raise BadLogbook(
                f"the logbook cannot be made ({error.strerror})",
                "Name another folder with --logbook.",
                file=self.path.name,
            ) from None

    def keep_original(self, source: Path, sha256: str) -> None:
        """Copy a log into the logbook, read-only. Raises BadLog when it is no longer what was read."""
        target = self.original(sha256)
        if target.exists():
            return
        with self._written(target) as part:
            digest = hashlib.sha256()
            with source.open("rb") as incoming, part.open("wb") as outgoing:
                while block := incoming.read(1 << 20):
                    digest.update(block)
                    outgoing.write(block)
                outgoing.flush()
                os.fsync(outgoing.fileno())
            if digest.hexdigest() != sha256:
                raise BadLog(
                    "the log changed while it was read", "Keep it once it is written.", file=source.name
                )
            part.chmod(stat.S_IRUSR | stat.S_IRGRP | stat.S_IROTH)

    def keep_trace(self, key: str, trace: Trace) -> str:
        """Write a trace and give the sha256 of its file."""
        with self._written(self.trace(key)) as part:
            write_trace(trace, part)
        return sha256_of(self.trace(key))

    def read_trace(self, key: str) -> Trace:
        """A kept trace. Raises BadLogbook."""
        return read_trace(self.trace(key))

    def keep_entry(self, entry: Entry) -> None:
        """Write what was said when a log was kept."""
        said = {"schema": ENTRY_SCHEMA, **asdict(entry)}
        with self._written(self.entry(entry.key)) as part:
            part.write_text(json.dumps(said, ensure_ascii=False, indent=1), encoding="utf-8")

    def read_entry(self, path: Path) -> Entry | None:
        """An entry, or None when the file is damaged."""
        try:
            said = json.loads(path.read_text(encoding="utf-8"))
            if said.pop("schema") != ENTRY_SCHEMA:
                return None
            files = tuple(KeptFile(**f) for f in said.pop("files"))
            edits = {place: Edits.from_plain(one) for place, one in said.pop("edits", {}).items()}
            entry = Entry(files=files, flights=tuple(said.pop("flights")), edits=edits, **said)
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            return None
        return entry if files and entry.key == path.stem else None

    def entries(self) -> tuple[Path, ...]:
        """Every entry file."""
        return tuple(sorted((self.path / "entries").glob("*.json")))

    @contextmanager
    def _written(self, target: Path) -> Iterator[Path]:
        """A file that appears under its name only once it is whole."""
        number, name = tempfile.mkstemp(prefix="part-", dir=target.parent)
        os.close(number)
        part = Path(name)
        try:
            yield part
            part.replace(target)
        except OSError as error:
            raise BadLogbook(
                f"the logbook cannot be written ({error.strerror or error})",
                "Make room, or name another folder with --logbook.",
            ) from None
        finally:
            part.unlink(missing_ok=True)
