"""The unit of time that a charge counter and the current it counts leave."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from telemetry.importers.table import Table
from telemetry.importers.wording import Wording
from telemetry.physics.charge import AS_PER_MAH, charge_mah
from telemetry.trace import Floats

UNITS = (("µs", 1e-6), ("ms", 1e-3), ("s", 1.0), ("min", 60.0), ("h", 3600.0))
"""Units of time that logs count in, and their seconds."""


def counted_unit(
    table: Table,
    wordings: Sequence[Wording],
    stamps: Floats,
    *,
    within: float = 0.1,
    least_steps: float = 20.0,
) -> tuple[str, float, str] | None:
    """The unit in which the current, integrated over the stamps, makes what a counter counts.

    Parameters
    ----------
    table : as read.
    wordings : of its columns.
    stamps : (n,) a column of time in an unknown unit.
    within : how far from a unit the ratio of the two may lie.
    least_steps : a counter that rose by fewer of its smallest steps tells nothing.

    Returns
    -------
    Name of the unit, its seconds, and the counter's header; None where no counter tells or two differ.
    """
    found = set()
    for counter, header in _of(table, wordings, "charge"):
        for current, _ in _of(table, wordings, "current"):
            name = _unit(stamps, counter, current, within, least_steps)
            if name:
                found.add((name, header))
    units = {name for name, _ in found}
    if len(units) != 1:
        return None
    name, header = min(found)
    return name, dict(UNITS)[name], header


def _of(table: Table, wordings: Sequence[Wording], kind: str) -> Iterator[tuple[Floats, str]]:
    """Columns of a kind whose header names their unit, in mAh or A."""
    for column, wording in zip(table.columns, wordings, strict=True):
        named = next((u for u in wording.units if u.dimension == kind), None)
        if named is not None and kind in wording.kinds and not wording.aside:
            yield column.numbers * named.factor, column.header


def _unit(stamps: Floats, counter: Floats, current: Floats, within: float, least_steps: float) -> str:
    known = np.isfinite(stamps) & np.isfinite(current)
    counted = counter[np.isfinite(counter)]
    if np.count_nonzero(known) < 10 or counted.size < 10:
        return ""
    rises = np.diff(counted)
    rises = rises[rises > 0]
    passed = charge_mah(stamps[known], current[known]) * AS_PER_MAH
    rose = float(rises.sum()) * AS_PER_MAH
    if not rises.size or passed <= 0 or rises.sum() < least_steps * rises.min():
        return ""
    seconds = rose / passed
    return next((name for name, size in UNITS if abs(np.log(seconds / size)) < within), "")
