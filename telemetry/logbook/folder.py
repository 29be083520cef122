"""The files of a logbook: originals, traces, entries. Written whole or not at all.

    logbook.sqlite           the facts, rebuilt from the rest when lost
    originals/<sha256>       each log as it came, read-only
    traces/<key>.parquet     each trace as it was understood
    packs.json               what was said of packs by themselves
    entries/<key>.json       what was said when it was kept: file names, sheet, configuration, pack
    set_aside/<date>-<n>/    what a check or a keep found altered or left over, moved there and never deleted

No name that came from outside ever becomes a path.
"""

from __future__ import annotations

import datetime
import hashlib
import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, BinaryIO

from telemetry.errors import BadLog, BadLogbook
from telemetry.logbook.traces import read_trace, write_trace
from telemetry.sentences import say
from telemetry.trace import Trace
from telemetry.whole_files import make_folder, one_writer, ready, sync_folder, wants_room, why_not, written

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
    removed : whether it counts in no figure, until it is restored.
    """

    date: str = ""
    put_back_mah: float | None = None
    temperature_c: float | None = None
    note: str = ""
    tags: tuple[str, ...] = ()
    cleared: tuple[str, ...] = ()
    again: int | None = None
    removed: bool = False

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


def not_written(error: OSError) -> BadLogbook:
    """The sentence on a logbook that cannot be written."""
    remedy = "make_room" if wants_room(error) else "another_folder"
    if isinstance(error, TimeoutError):
        remedy = "try_again"
    return BadLogbook(f"the logbook cannot be written ({why_not(error)})", say("not_written", remedy))


@dataclass(frozen=True, slots=True)
class Folder:
    """Where a logbook lives. Making one touches nothing.

    Attributes
    ----------
    wait_s : how long a writer waits for another one, None for the usual. [s]
    """

    path: Path
    wait_s: float | None = None

    @contextmanager
    def writing(self) -> Iterator[None]:
        """The folder, made if need be, for one writer alone; one thread may ask again within.

        Raises BadLogbook when another is still writing after `wait_s`, or the folder cannot be written.
        """
        try:
            make_folder(self.path)
            with one_writer(self.path, wait_s=self.wait_s):
                yield
        except OSError as error:
            raise not_written(error) from None

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
            for name in ("originals", "traces", "entries"):
                make_folder(self.path / name)
        except OSError as error:
            raise not_written(error) from None

    def holds(self, sha256: str) -> bool:
        """Whether the original with these bytes is there as it was kept. Raises OSError."""
        path = self.original(sha256)
        return path.is_file() and sha256_of(path) == sha256

    def keep_original(self, source: Path, sha256: str, aside: SetAside) -> bool:
        """Copy a log into the logbook, read-only.

        Parameters
        ----------
        source, sha256 : the log, and the hash it had when it was read.
        aside : takes an altered file that lies in its place.

        Returns
        -------
        Whether it was copied; False where it lies there already.

        Raises
        ------
        BadLog : the log is no longer what was read, or there.
        BadLogbook : the logbook cannot be written.
        """
        target = self.original(sha256)
        with _sentences(), _opened(source) as incoming:
            if self.holds(sha256):
                return False
            if target.exists():
                aside.take(target)
            with written(target, read_only=True) as part:
                digest = hashlib.sha256()
                with part.open("wb") as outgoing:
                    while block := incoming.read(1 << 20):
                        digest.update(block)
                        outgoing.write(block)
                if digest.hexdigest() != sha256:
                    raise BadLog(
                        "the log changed while it was read", "Keep it once it is written.", file=source.name
                    )
        return True

    def keep_trace(self, key: str, trace: Trace) -> str:
        """Write a trace and give the sha256 of its file. Raises BadLogbook."""
        with _sentences():
            with written(self.trace(key)) as part:
                write_trace(trace, part)
            return sha256_of(self.trace(key))

    def read_trace(self, key: str) -> Trace:
        """A kept trace. Raises BadLogbook."""
        return read_trace(self.trace(key))

    @contextmanager
    def entry_ready(self, entry: Entry) -> Iterator[None]:
        """What was said when a log was kept, on the disk already; it takes its place once the block has ended
        well. Raises BadLogbook.
        """
        said = {"schema": ENTRY_SCHEMA, **asdict(entry)}
        with _sentences(), ready(self.entry(entry.key), json.dumps(said, ensure_ascii=False, indent=1)):
            yield

    def keep_entry(self, entry: Entry) -> None:
        """Write what was said when a log was kept. Raises BadLogbook."""
        with self.entry_ready(entry):
            pass

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


def _opened(source: Path) -> BinaryIO:
    try:
        return source.open("rb")
    except OSError as error:
        raise BadLog(
            f"the log cannot be read ({error.strerror})", "Check that you may read it.", file=source.name
        ) from None


@contextmanager
def _sentences() -> Iterator[None]:
    """Trouble with the disk as a sentence."""
    try:
        yield
    except OSError as error:
        raise not_written(error) from None


@dataclass(slots=True)
class SetAside:
    """What one check or keep moves out of the way, into a folder of its own, made for the first file."""

    folder: Folder
    place: str = ""
    count: int = 0

    def take(self, path: Path) -> str:
        """Move a file of the logbook there, under the name it has in the logbook; gives its new name.

        Raises OSError.
        """
        if not self.place:
            self.place = self._made()
        name = f"{self.place}/{path.relative_to(self.folder.path).as_posix()}"
        target = self.folder.path / name
        make_folder(target.parent)
        path.replace(target)
        sync_folder(target.parent)
        sync_folder(path.parent)
        self.count += 1
        return name

    def _made(self) -> str:
        today, number = datetime.date.today().isoformat(), 1
        while (self.folder.path / "set_aside" / f"{today}-{number}").exists():
            number += 1
        return f"set_aside/{today}-{number}"
