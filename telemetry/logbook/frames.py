"""Kept flights as a table of pandas'."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from telemetry.estimate import Estimate, plain
from telemetry.logbook.records import KeptFlight
from telemetry.trace import Trace

if TYPE_CHECKING:
    import pandas as pd

_POSITION = ("latitude_deg", "longitude_deg")


def flights_frame(kept: Sequence[KeptFlight]) -> pd.DataFrame:
    """A row a flight, by `id`; an estimate is three columns, a list a column a place, counted from 1, what
    made it is JSON.
    """
    import pandas as pd

    shown = [f.name for f in dataclasses.fields(KeptFlight) if f.metadata.get("json", True)]
    rows = [dict(cell for name in shown for cell in _cells(name, getattr(one, name))) for one in kept]
    columns = dict.fromkeys(name for row in rows for name in row) if rows else dict.fromkeys(shown)
    return pd.DataFrame(rows, columns=list(columns)).set_index("id")


def with_positions(flights: pd.DataFrame, logs: Iterable[tuple[Sequence[int], Trace]]) -> pd.DataFrame:
    """The table with where each flight's log first knew its place; NaN where it never did.

    Parameters
    ----------
    flights : by number.
    logs : the numbers of a log's flights, and its trace.
    """
    import pandas as pd

    places: dict[int, dict[str, float]] = {}
    for numbers, trace in logs:
        seen = {quantity: trace.fresh(quantity) for quantity in _POSITION}
        first = {q: float(s.values[0]) for q, s in seen.items() if s is not None and s.values.size}
        places |= dict.fromkeys(numbers, first)
    return flights.join(pd.DataFrame.from_dict(places, orient="index", columns=list(_POSITION)))


def _cells(name: str, fact: Any) -> Iterator[tuple[str, Any]]:
    if isinstance(fact, Estimate):
        yield from ((name, fact.value), (f"{name}_low", fact.low), (f"{name}_high", fact.high))
    elif dataclasses.is_dataclass(fact):
        yield name, json.dumps(plain(fact)[0], ensure_ascii=False)
    elif isinstance(fact, Mapping):
        yield from ((f"{name}_{key}", value) for key, value in fact.items())
    elif name in ("files", "raised"):
        yield name, " ".join(part if isinstance(part, str) else part.key for part in fact)
    elif isinstance(fact, tuple):
        for place, part in enumerate(fact, start=1):
            yield from _cells(f"{name}_{place}", part)
    else:
        yield name, fact
