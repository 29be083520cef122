"""Rows in and out of the database. Every change is one transaction."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np
from sqlalchemy import Connection, Engine, RowMapping, Table, delete, func, insert, select, text
from sqlalchemy.dialects.sqlite import insert as insert_or_leave
from sqlalchemy.exc import DatabaseError, IntegrityError

from telemetry.errors import BadLogbook, BadSheet
from telemetry.history import FlownDrive
from telemetry.logbook.facts import kept_flight
from telemetry.logbook.fingerprint import Prints
from telemetry.logbook.folder import Edits, Entry, KeptFile
from telemetry.logbook.records import KeptFlight
from telemetry.logbook.schema import (
    DATABASE,
    FILES,
    FLIGHTS,
    LOGS,
    SETUPS,
    SHEETS,
    WRITING,
    OutOfReach,
    database_trouble,
    is_damage,
)
from telemetry.season.same_drive import drive_of
from telemetry.sheet.merged_text import setup_from_text


@dataclass(frozen=True, slots=True)
class KeptLog:
    """A log as the database knows it."""

    id: int
    entry: Entry
    trace_sha256: str


@dataclass(frozen=True, slots=True)
class Database:
    """The facts of a logbook."""

    engine: Engine

    def is_sound(self) -> bool:
        """Whether the file holds together, and every log and flight in it can be read.

        Raises OutOfReach where the disk, or who else is using it, leaves that open.
        """
        try:
            with self.engine.connect() as connection:
                whole = (
                    connection.execute(text("PRAGMA integrity_check")).scalar() == "ok"
                    and not connection.execute(text("PRAGMA foreign_key_check")).all()
                )
            if whole:
                self.logs()
                self.flights()
        except DatabaseError as error:
            if is_damage(error):
                return False
            raise database_trouble(error) from None
        except OutOfReach:
            raise
        except BadLogbook:
            return False
        return whole

    @contextmanager
    def _open(self, **options: str) -> Iterator[Connection]:
        """A connection whose failures are sentences."""
        try:
            with self.engine.connect().execution_options(**options) as connection:
                yield connection
        except DatabaseError as error:
            if isinstance(error, IntegrityError):
                raise
            raise database_trouble(error) from None
        except json.JSONDecodeError:
            raise BadLogbook(
                "what the logbook's database holds of a log is damaged",
                "Run sagline check to rebuild it.",
                file=DATABASE,
            ) from None

    def flights(self) -> tuple[KeptFlight, ...]:
        """Every flight, in the order of keeping."""
        with self._open() as connection:
            return _flights(connection)

    def log_of_flight(self, flight: int) -> tuple[KeptLog, int] | None:
        """The log that holds a flight, and the flight's place in it."""
        with self._open() as connection:
            row = connection.execute(
                select(FLIGHTS.c.log_id, FLIGHTS.c.place).where(FLIGHTS.c.id == flight)
            ).first()
            return None if row is None else (_log(connection, row.log_id), row.place)

    def logs(self) -> tuple[KeptLog, ...]:
        """Every log."""
        with self._open() as connection:
            return tuple(
                _log(connection, number)
                for number in connection.execute(select(LOGS.c.id).order_by(LOGS.c.id)).scalars()
            )

    def log_with_file(self, sha256: str) -> KeptLog | None:
        """The log that an original belongs to."""
        with self._open() as connection:
            number = connection.execute(select(FILES.c.log_id).where(FILES.c.sha256 == sha256)).scalar()
            return None if number is None else _log(connection, number)

    def write(
        self,
        entry: Entry,
        trace_sha256: str,
        rows: Sequence[Mapping[str, Any]],
        *,
        setup_text: str = "",
        before_commit: Callable[[Entry], object] = lambda _: None,
    ) -> Entry:
        """Add or renew a log with its flights, all or nothing.

        Parameters
        ----------
        entry : what was said of the log; one that was there keeps the numbers of its flights.
        trace_sha256 : of the file of its trace.
        rows : the columns of each of its flights.
        setup_text : the merged sheet its flights were judged with, "" without one.
        before_commit : is given the entry with its numbers before they are final; what it raises undoes all.

        Returns
        -------
        The entry with the numbers of its flights.

        Raises
        ------
        BadLogbook : the database can't be written.
        """
        with self._open(**WRITING) as connection:
            old = connection.execute(select(LOGS.c.id).where(LOGS.c.key == entry.key)).scalar()
            numbers = entry.flights or (_numbers(connection, old) if old is not None else ())
            if old is not None:
                connection.execute(delete(LOGS).where(LOGS.c.id == old))
            sheet = _kept_once(connection, SHEETS, entry.sheet_text, name=entry.sheet_name)
            setup = _kept_once(connection, SETUPS, setup_text)
            numbers = _given(connection, numbers, len(rows))
            entry = replace(entry, flights=numbers)
            log_id = _insert_log(connection, entry, trace_sha256, sheet)
            if rows:
                own = [{"id": number, "log_id": log_id, "setup_sha256": setup} for number in numbers]
                connection.execute(insert(FLIGHTS), [{**r, **o} for r, o in zip(rows, own, strict=True)])
            before_commit(entry)
            connection.commit()
        return entry

    def fingerprints(self) -> dict[int, Prints]:
        """What each flight's content is known by; without those kept before this was noted."""
        with self._open() as connection:
            told = select(FLIGHTS.c.id, FLIGHTS.c.fingerprint).where(FLIGHTS.c.fingerprint.is_not(None))
            return {row.id: np.frombuffer(row.fingerprint, dtype="<u4") for row in connection.execute(told)}

    def setup_text(self, flight: int) -> str:
        """The merged sheet that a flight was judged with; "" where it is not known."""
        with self._open() as connection:
            told = select(SETUPS.c.text).join(FLIGHTS, FLIGHTS.c.setup_sha256 == SETUPS.c.sha256)
            return str(connection.execute(told.where(FLIGHTS.c.id == flight)).scalar() or "")


def _kept_once(connection: Connection, table: Table, text: str, **besides: str) -> str | None:
    """The hash under which a text stands in its table, put there if need be; None for an empty one."""
    if not text:
        return None
    sha256 = hashlib.sha256(text.encode()).hexdigest()
    connection.execute(
        insert_or_leave(table).values(sha256=sha256, text=text, **besides).on_conflict_do_nothing()
    )
    return sha256


def _insert_log(connection: Connection, entry: Entry, trace_sha256: str, sheet_sha256: str | None) -> int:
    log = insert(LOGS).values(
        key=entry.key,
        kept_at=entry.kept_at,
        sheet_sha256=sheet_sha256,
        configuration=entry.configuration,
        pack=entry.pack,
        put_back_mah=entry.put_back_mah,
        trace_sha256=trace_sha256,
        another=entry.another,
        edits={place: asdict(one) for place, one in entry.edits.items()},
    )
    key = connection.execute(log).inserted_primary_key
    log_id = int(key[0]) if key else 0
    files = [
        {"sha256": f.sha256, "log_id": log_id, "place": k, "name": f.name, "answers": dict(f.answers)}
        for k, f in enumerate(entry.files)
    ]
    connection.execute(insert(FILES), files)
    return log_id


def _flights(connection: Connection) -> tuple[KeptFlight, ...]:
    names: dict[int, list[str]] = {}
    for row in connection.execute(
        select(FILES.c.log_id, FILES.c.name).order_by(FILES.c.log_id, FILES.c.place)
    ):
        names.setdefault(row.log_id, []).append(row.name)
    drives = {row.sha256: _drive(row.text) for row in connection.execute(select(SETUPS))}
    shown = [column for column in FLIGHTS.c if column is not FLIGHTS.c.fingerprint]
    rows: Sequence[RowMapping] = (
        connection.execute(select(*shown, LOGS.c.kept_at).join(LOGS).order_by(FLIGHTS.c.id)).mappings().all()
    )
    return tuple(_kept(row, names.get(row["log_id"], []), drives.get(row["setup_sha256"])) for row in rows)


def _drive(text: str) -> FlownDrive | None:
    """What a flight was flown with, by the merged sheet it was judged with; None where that is damaged."""
    try:
        return drive_of(setup_from_text(text))
    except BadSheet:
        return None


def _kept(row: RowMapping, files: Sequence[str], drive: FlownDrive | None) -> KeptFlight:
    try:
        return kept_flight(dict(row), files, drive)
    except (KeyError, TypeError, ValueError, AttributeError):
        raise BadLogbook(
            f"the facts of flight {row['id']} are damaged",
            "Run sagline check to rebuild them.",
            file=DATABASE,
        ) from None


def _log(connection: Connection, number: int) -> KeptLog:
    row = connection.execute(select(LOGS).where(LOGS.c.id == number)).mappings().one()
    sheet = (
        connection.execute(select(SHEETS).where(SHEETS.c.sha256 == row["sheet_sha256"])).mappings().first()
    )
    files = connection.execute(
        select(FILES.c.sha256, FILES.c.name, FILES.c.answers)
        .where(FILES.c.log_id == number)
        .order_by(FILES.c.place)
    )
    entry = Entry(
        files=tuple(KeptFile(f.sha256, f.name, f.answers) for f in files),
        sheet_name=sheet["name"] if sheet else "",
        sheet_text=sheet["text"] if sheet else "",
        configuration=row["configuration"],
        pack=row["pack"],
        put_back_mah=row["put_back_mah"],
        kept_at=row["kept_at"],
        flights=_numbers(connection, number),
        another=row["another"],
        edits={place: Edits.from_plain(one) for place, one in row["edits"].items()},
    )
    return KeptLog(number, entry, row["trace_sha256"])


def _numbers(connection: Connection, log_id: int) -> tuple[int, ...]:
    return tuple(
        connection.execute(
            select(FLIGHTS.c.id).where(FLIGHTS.c.log_id == log_id).order_by(FLIGHTS.c.place)
        ).scalars()
    )


def _given(connection: Connection, numbers: tuple[int, ...], wanted: int) -> tuple[int, ...]:
    """So many numbers of flights: those given while they are free, then the next ones."""
    taken = set(connection.execute(select(FLIGHTS.c.id)).scalars())
    held = [n for n in numbers if n not in taken][:wanted]
    top = max([*taken, *held, connection.execute(select(func.max(FLIGHTS.c.id))).scalar() or 0])
    return (*held, *range(top + 1, top + 1 + wanted - len(held)))
