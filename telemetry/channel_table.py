"""A trace as a table of its own: the channels on one clock, SI, with units and sampling said inside."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from telemetry.errors import BadUse
from telemetry.frames import unrun
from telemetry.quantities import QUANTITIES
from telemetry.trace import Channel, Span, Trace
from telemetry.whole_files import why_not, written

if TYPE_CHECKING:
    import pandas as pd

SCHEMA = "sagline.channels/1"
PLACE = ("latitude_deg", "longitude_deg")
"""Where somebody flies is theirs to give."""


def write_channels(
    trace: Trace,
    path: Path,
    *,
    made_by: Mapping[str, Any],
    within: Span | None = None,
    position: bool = False,
) -> None:
    """Write the channels, a column `quantity@position`, a row an instant; blank (null) where one was not
    fresh.

    Parameters
    ----------
    trace : one log, or several on one clock.
    path : its ending says which: `.csv` or `.parquet`.
    made_by : what made it, as JSON carries it.
    within : a part of the trace; None for the whole.
    position : whether latitude and longitude go along.

    Raises
    ------
    BadUse : another ending, or the file can't be written.
    """
    writer = _WRITERS.get(path.suffix.lower())
    if writer is None:
        raise BadUse("channels are written as .csv or .parquet", "Give such a name with -o.", file=path.name)
    channels = {key: c for key, c in trace.channels.items() if position or key[0] not in PLACE}
    table = replace(trace, channels=channels).to_frame()
    if within is not None:
        table = table[(table.index >= within.start_s) & (table.index <= within.end_s)]
    try:
        with written(path) as part:
            writer(table.reset_index(), part, _about(trace, channels, within), made_by)
    except OSError as error:
        raise BadUse(
            f"{path.name} cannot be written ({why_not(error)})", "Name another place with -o."
        ) from None


def _about(
    trace: Trace, channels: Mapping[tuple[str, str], Channel], within: Span | None
) -> dict[str, dict[str, Any]]:
    """By column: unit, header and file it came from, how often it is fresh and its smallest step."""
    start_s, end_s = (
        (within.start_s, within.end_s) if within else (float(trace.time_s[0]), float(trace.time_s[-1]))
    )
    about: dict[str, dict[str, Any]] = {"time_s": {"unit": "s", "from_s": start_s, "to_s": end_s}}
    for key, channel in channels.items():
        about["@".join(filter(None, key))] = {
            "unit": QUANTITIES[key[0]].unit,
            "header": channel.header,
            "file": trace.sources[channel.source].file if trace.sources else "",
            "fresh_every_s": round(channel.refresh_interval_s, 6)
            if np.isfinite(channel.refresh_interval_s)
            else None,
            "step": channel.step or None,
        }
    return about


def _write_csv(
    table: pd.DataFrame, path: Path, about: Mapping[str, Mapping[str, Any]], made_by: Mapping[str, Any]
) -> None:
    import pandas as pd

    for name in table.columns[[not pd.api.types.is_numeric_dtype(kind) for kind in table.dtypes]]:
        table[name] = [unrun(t) if isinstance(t, str) else t for t in table[name]]
    with path.open("w", encoding="utf-8", newline="") as file:
        file.write(f"# {SCHEMA}\n# made_by: {json.dumps(made_by, ensure_ascii=False)}\n")
        for name, said in about.items():
            known = {key: value for key, value in said.items() if value is not None}
            file.write(f"# {name}: {json.dumps(known, ensure_ascii=False)}\n")
        table.to_csv(file, index=False, lineterminator="\n")


def _write_parquet(
    table: pd.DataFrame, path: Path, about: Mapping[str, Mapping[str, Any]], made_by: Mapping[str, Any]
) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    made = pa.Table.from_pandas(table, preserve_index=False)
    fields = [
        made.schema.field(name).with_metadata({k: json.dumps(v) for k, v in said.items() if v is not None})
        for name, said in about.items()
    ]
    whole = {b"schema": SCHEMA.encode(), b"made_by": json.dumps(made_by, ensure_ascii=False).encode()}
    pq.write_table(made.cast(pa.schema(fields, metadata=whole)), path, compression="zstd")


_WRITERS: Mapping[str, Callable[..., None]] = {".csv": _write_csv, ".parquet": _write_parquet}
