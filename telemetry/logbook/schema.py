"""The tables of facts, and how the database is opened and brought up to date."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import (
    JSON,
    URL,
    Boolean,
    Column,
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
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlalchemy.exc import DatabaseError
from sqlalchemy.pool import ConnectionPoolEntry, NullPool

from telemetry.errors import BadLogbook

DATABASE = "logbook.sqlite"
HEAD = "0004"
"""The newest migration, so that an up-to-date logbook opens without alembic."""
BUSY_S = 30.0

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
        URL.create("sqlite", database=str(path)), connect_args={"timeout": BUSY_S}, poolclass=NullPool
    )
    event.listen(engine, "connect", _set_up_connection)
    try:
        _bring_up_to_date(engine)
    except DatabaseError as error:
        engine.dispose()
        raise BadLogbook(
            f"the logbook's database cannot be used ({_why(error)})",
            "Run sagline check to rebuild it from the kept logs.",
            file=DATABASE,
        ) from None
    return engine


def _set_up_connection(connection: DBAPIConnection, _record: ConnectionPoolEntry) -> None:
    cursor = connection.cursor()
    cursor.execute("PRAGMA foreign_keys = ON")
    cursor.execute("PRAGMA synchronous = FULL")
    cursor.close()


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
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, HEAD)


def _why(error: DatabaseError) -> str:
    return str(error.orig).rstrip(".") if error.orig is not None else "no reason given"
