"""The unit of time that a charge counter and its current leave, or the pack's fall under its load."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from telemetry.importers.table import Table
from telemetry.importers.wording import Wording
from telemetry.physics.charge import AS_PER_MAH, charge_mah, running_integral
from telemetry.trace import Floats

UNITS = (("µs", 1e-6), ("ms", 1e-3), ("s", 1.0), ("min", 60.0), ("h", 3600.0))
"""Units of time that logs count in, and their seconds."""

LATEST_S = 7.26e9
"""Unix time of the year 2200: a count that would lie beyond is in a smaller unit."""


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
    level = float(np.max(np.abs(stamps), initial=0.0, where=np.isfinite(stamps)))
    found = {one for one in found if level * dict(UNITS)[one[0]] < LATEST_S}
    units = {name for name, _ in found}
    if len(units) != 1:
        return None
    name, header = min(found)
    return name, dict(UNITS)[name], header


def _of(
    table: Table, wordings: Sequence[Wording], kind: str, *, unsaid: bool = False
) -> Iterator[tuple[Floats, str]]:
    """Columns of a kind whose header names their unit, in mAh, A or V; with `unsaid` those of any unit."""
    for column, wording in zip(table.columns, wordings, strict=True):
        named = next((u for u in wording.units if u.dimension == kind), None)
        spoken = kind in wording.kinds or (unsaid and not wording.kinds)
        if spoken and not wording.aside and (named is not None or (unsaid and kind in wording.kinds)):
            yield column.numbers * (named.factor if named is not None else 1.0), column.header


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


FALL_OF_LEVEL = 0.22
"""What a cell falls from full to empty at rest, as a share of its level: from 4.2 to 3.3 V (from memory)."""

C_RATES = (0.02, 100.0)
"""A pack that fell is drawn from no slower and no faster than this (common practice, no source). [C]"""


def paced_unit(
    table: Table,
    wordings: Sequence[Wording],
    stamps: Floats,
    names: Sequence[str],
    *,
    least_fall: float = 0.03,
) -> tuple[str, float, str] | None:
    """The one of several units in which a pack could fall as its voltage did under its current.

    The voltage is a level less a resistance times the current less a slope times the charge; what the charge
    explains of it is the fall at rest, and from it the share of the pack that was used.

    Parameters
    ----------
    table, wordings : as read, and of its columns.
    stamps : (n,) a column of time in an unknown unit.
    names : of the likeliest units; where a third would do as well, nothing is told.
    least_fall : a smaller fall at rest tells nothing. [of the level]

    Returns
    -------
    Name of the unit, its seconds, and the voltage's header; None where none or several would do.
    """
    volts = next(_of(table, wordings, "voltage", unsaid=True), None)
    amps = next(_of(table, wordings, "current", unsaid=True), None)
    if volts is None or amps is None:
        return None
    known = np.isfinite(stamps) & np.isfinite(volts[0]) & np.isfinite(amps[0])
    time, volt, amp = stamps[known], volts[0][known], amps[0][known]
    if time.size < 20 or np.ptp(time) <= 0 or np.ptp(amp) <= 0 or np.median(volt) <= 0:
        return None
    drawn = running_integral(time, amp).sums
    parts = np.stack([np.ones(time.size), amp, drawn], axis=1)
    solved = np.linalg.lstsq(parts, volt, rcond=None)[0]
    fall = abs(float(solved[2] * drawn[-1])) / float(np.median(volt))
    if fall < least_fall:
        return None
    loaded = float(np.sum(np.diff(time) * (np.abs(amp[1:]) > 0.05 * np.max(np.abs(amp)))))
    hours = {name: loaded * size / 3600.0 for name, size in UNITS}
    share = min(1.0, fall / FALL_OF_LEVEL)
    fits = [name for name, long in hours.items() if long > 0 and C_RATES[0] <= share / long <= C_RATES[1]]
    return (fits[0], dict(UNITS)[fits[0]], volts[1]) if len(fits) == 1 and fits[0] in names else None
