"""A trace as a Parquet file and back, with everything the importer said of it."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from telemetry.errors import BadLogbook
from telemetry.estimate import Estimate, Undecided
from telemetry.trace import (
    Channel,
    Clock,
    Column,
    Decision,
    Key,
    Note,
    Rejected,
    Source,
    Stretch,
    Trace,
    UnreadableCell,
)

SCHEMA = b"sagline.trace/1"
_CLASSES: dict[str, Any] = {
    c.__name__: c
    for c in (
        Clock,
        Column,
        Decision,
        Estimate,
        Note,
        Rejected,
        Source,
        Stretch,
        Undecided,
        UnreadableCell,
    )
}


def write_trace(trace: Trace, path: Path) -> None:
    """Write a trace to a file of its own."""
    columns: dict[str, Any] = {"time_s": trace.time_s}
    channels = []
    for number, channel in enumerate(trace.channels.values()):
        columns[f"values {number}"] = channel.values
        columns[f"fresh {number}"] = channel.fresh
        if channel.texts:
            columns[f"texts {number}"] = pa.array(channel.texts, type=pa.string())
        channels.append(
            {
                f.name: getattr(channel, f.name)
                for f in dataclasses.fields(channel)
                if f.name not in ("values", "fresh", "texts")
            }
        )
    said = {
        "channels": channels,
        "sources": _packed(trace.sources),
        "gaps": _packed(trace.gaps),
        "has_clock": trace.has_clock,
    }
    table = pa.table(columns).replace_schema_metadata(
        {b"schema": SCHEMA, b"trace": json.dumps(said).encode()}
    )
    pq.write_table(table, path, compression="zstd", write_page_checksum=True)


def read_trace(path: Path) -> Trace:
    """The trace in a file.

    Raises
    ------
    BadLogbook : the file is missing, damaged, or of another version.
    """
    try:
        table = pq.read_table(path, page_checksum_verification=True)
        metadata = table.schema.metadata or {}
        if metadata.get(b"schema") != SCHEMA:
            raise ValueError("not a trace of this version")
        said = json.loads(metadata[b"trace"])
        channels = dict(_channel(table, number, about) for number, about in enumerate(said["channels"]))
        time_s = table["time_s"].to_numpy()
        return Trace(
            time_s, channels, _unpacked(said["sources"]), _unpacked(said["gaps"]), bool(said["has_clock"])
        )
    except (OSError, pa.ArrowException, ValueError, KeyError, TypeError) as error:
        raise BadLogbook(
            f"a kept trace cannot be read ({type(error).__name__})",
            "Run sagline check to rebuild it from the kept log.",
        ) from None


def _channel(table: pa.Table, number: int, about: dict[str, Any]) -> tuple[Key, Channel]:
    texts = tuple(table[f"texts {number}"].to_pylist()) if f"texts {number}" in table.column_names else ()
    values = table[f"values {number}"].to_numpy().astype(np.float64)
    fresh = table[f"fresh {number}"].to_numpy().astype(np.bool_)
    channel = Channel(values=values, fresh=fresh, texts=texts, **about)
    return (channel.quantity, channel.position), channel


def _packed(thing: Any) -> Any:
    """Dataclasses as objects that name their class; what they hold likewise."""
    if dataclasses.is_dataclass(thing) and not isinstance(thing, type):
        return {
            "is": type(thing).__name__,
            **{f.name: _packed(getattr(thing, f.name)) for f in dataclasses.fields(thing)},
        }
    if isinstance(thing, tuple | list):
        return [_packed(part) for part in thing]
    return thing.item() if isinstance(thing, np.generic) else thing


def _unpacked(thing: Any) -> Any:
    if isinstance(thing, dict):
        fields = {name: _unpacked(part) for name, part in thing.items() if name != "is"}
        return _CLASSES[thing["is"]](**fields)
    if isinstance(thing, list):
        return tuple(_unpacked(part) for part in thing)
    return thing
