"""The tables of facts, and how the database is opened and brought up to date."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

from sqlalchemy import (
    JSON,
    URL,
    Boolean,
    Column,
    Connection,
    Engine,
    Float,
    ForeignKey,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
    create_engine,
    event,
    inspect,
    text,
)
from sqlalchemy.exc import DatabaseError
from sqlalchemy.pool import ConnectionPoolEntry, NullPool

from telemetry.errors import BadLogbook
from telemetry.sentences import say
from telemetry.whole_files import WAIT_S

DATABASE = "logbook.sqlite"
HEAD = "0004"
"""The newest migration, so that an up-to-date logbook opens without alembic."""
_MIGRATING = threading.Lock()
"""Alembic knows one migration at a time in a process."""
WRITING = {"begin": "BEGIN IMMEDIATE"}
"""Execution options of a connection that will write: nobody else does from its first statement on."""
_TROUBLE = {
    3: "not_allowed",
    5: "busy",
    6: "busy",
    8: "read_only",
    10: "disk",
    13: "full",
    14: "not_opened",
}
"""SQLite's primary result codes that say nothing against the file itself (sqlite.org, Result and Error
Codes): PERM, BUSY, LOCKED, READONLY, IOERR, FULL, CANTOPEN.
"""

METADATA = MetaData()

SHEETS = Table(
    "sheets",
    METADATA,
    Column("sha256", String(64), primary_key=True),
    Column("name", Text, nullable=False),
    Column("text", Text, nullable=False),
)

SETUPS = Table(
    "setups",
    METADATA,
    Column("sha256", String(64), primary_key=True),
    Column("text", Text, nullable=False),
)

LOGS = Table(
    "logs",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("key", String(64), nullable=False, unique=True),
    Column("kept_at", String(32), nullable=False),
    Column("sheet_sha256", String(64), ForeignKey("sheets.sha256")),
    Column("configuration", Text, nullable=False),
    Column("pack", Text, nullable=False),
    Column("put_back_mah", Float),
    Column("trace_sha256", String(64), nullable=False),
    Column("another", Boolean, nullable=False, server_default="0"),
    Column("edits", JSON, nullable=False, server_default="{}"),
)

FILES = Table(
    "files",
    METADATA,
    Column("sha256", String(64), primary_key=True),
    Column("log_id", Integer, ForeignKey("logs.id", ondelete="CASCADE"), nullable=False),
    Column("place", Integer, nullable=False),
    Column("name", Text, nullable=False),
    Column("answers", JSON, nullable=False, server_default="{}"),
)

FLIGHTS = Table(
    "flights",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("log_id", Integer, ForeignKey("logs.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("place", Integer, nullable=False),
    Column("date", String(16), nullable=False),
    Column("kind", String(8), nullable=False),
    Column("aircraft", Text, nullable=False),
    Column("configuration", Text, nullable=False),
    Column("pack", Text, nullable=False),
    Column("duration_s", Float),
    Column("airborne_s", Float),
    Column("consumed_mah", Float),
    Column("put_back_mah", Float),
    Column("temperature_c", Float),
    Column("headline", Text, nullable=False),
    Column("facts", JSON, nullable=False),
    Column("setup_sha256", String(64), ForeignKey("setups.sha256", name="fk_flights_setups")),
    Column("made_by", JSON(none_as_null=True)),
    Column("fingerprint", LargeBinary),
    UniqueConstraint("log_id", "place"),
)


class OutOfReach(BadLogbook):
    """The disk, or who else is using it, keeps the database from being used; it may well be whole."""


def open_database(folder: Path, *, create: bool) -> Engine | None:
    """The database of a logbook, brought up to date; None when there is none and none is to be made.

    Raises
    ------
    BadLogbook : it can't be opened, is damaged, or comes from a newer version.
    """
    path = folder / DATABASE
    if not path.exists() and not create:
        return None
    engine = create_engine(
        URL.create("sqlite", database=str(path)), connect_args={"timeout": WAIT_S}, poolclass=NullPool
    )
    event.listen(engine, "connect", _set_up_connection)
    event.listen(engine, "begin", _begin)
    try:
        _bring_up_to_date(engine)
    except DatabaseError as error:
        engine.dispose()
        raise database_trouble(error) from None
    return engine


def is_damage(error: DatabaseError) -> bool:
    """Whether a failure speaks against the database itself, not against the disk or who else is using it."""
    return _code(error) not in _TROUBLE


def database_trouble(error: DatabaseError) -> BadLogbook:
    """The sentence on a database that could not be used."""
    key = _TROUBLE.get(_code(error))
    if key is None:
        return BadLogbook(
            f"the logbook's database cannot be used ({_why(error)})",
            "Run sagline check to rebuild it from the kept logs.",
            file=DATABASE,
        )
    return OutOfReach(
        f"the logbook's database cannot be used ({say('not_written', key, wait_s=WAIT_S)})",
        say("not_written", {"busy": "try_again", "full": "make_room"}.get(key, "another_folder")),
        file=DATABASE,
    )


def _set_up_connection(connection: Any, _record: ConnectionPoolEntry) -> None:
    connection.isolation_level = None  # the driver opens no transaction of its own; `_begin` does
    cursor = connection.cursor()
    cursor.execute("PRAGMA foreign_keys = ON")
    cursor.execute("PRAGMA synchronous = FULL")
    cursor.close()


def _begin(connection: Connection) -> None:
    """Every transaction is one of SQLite's own, changes of the tables within."""
    connection.exec_driver_sql(connection.get_execution_options().get("begin", "BEGIN"))


def _bring_up_to_date(engine: Engine) -> None:
    with engine.connect() as connection:
        known = inspect(connection).has_table("alembic_version")
        version = (
            connection.execute(text("SELECT version_num FROM alembic_version")).scalar() if known else None
        )
    if version == HEAD:
        return
    if version is not None and str(version) > HEAD:
        raise BadLogbook(
            "the logbook was written by a newer version", "Bring Sagline up to date.", file=DATABASE
        )
    _migrate(engine)


def _migrate(engine: Engine) -> None:
    """All that is still to be done, or nothing; where another process was first there is nothing left."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    with _MIGRATING, engine.connect().execution_options(**WRITING) as connection, connection.begin():
        config.attributes["connection"] = connection
        command.upgrade(config, HEAD)


def _code(error: DatabaseError) -> int:
    """SQLite's primary result code; 1, its own for an error of no kind, where the driver gives none."""
    return int(getattr(error.orig, "sqlite_errorcode", 1)) & 0xFF


def _why(error: DatabaseError) -> str:
    return str(error.orig).rstrip(".") if error.orig is not None else "no reason given"
