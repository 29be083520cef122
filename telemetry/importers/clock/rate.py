"""Units of time that no header names, and rates told outside the table."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from telemetry.importers.clock.leaps import usual_of
from telemetry.sentences import say
from telemetry.trace import Floats

_RATE = re.compile(
    r"(?:rate|interval|period|freq|sampl|log|takt|abtast|raster|cadence|période|fréquence|frecuencia|periodo|frequenza|frequentie|frekvens|okres|częstotliw)"
    r"[^0-9]{0,40}?(\d+(?:[.,]\d+)?)\s*(hz|ms|s|sec|/s|1/s)\b",
    re.IGNORECASE,
)
_DAY_S = 86_400.0
_SPREADSHEET_DAYS = 25_569.0
"""Days from 30 December 1899, where spreadsheets count from, to 1970."""

_SIZES = (("s", 1.0, 0.0), ("ms", 1e-3, 0.0), ("µs", 1e-6, 0.0), ("min", 60.0, 0.7), ("h", 3600.0, 0.7))
"""Units that no header names: name, seconds, and how much rarer people leave them unsaid. [decades]"""

_ROUND = (1.0, 2.0, 2.5, 4.0, 5.0)
_UNEVEN = 0.5
"""What it costs that the row interval is no round number of seconds. [decades]"""


@dataclass(frozen=True, slots=True)
class GuessedUnit:
    """A unit of time that the numbers suggest."""

    name: str
    factor: float
    reason: str
    doubtful: bool = False
    offset_s: float = 0.0
    other: str = ""


def rate_in(lines: Iterable[str]) -> float | None:
    """The row interval that a line above the table states, if one does. [s]"""
    for line in lines:
        found = _RATE.search(line)
        if found:
            number = float(found[1].replace(",", "."))
            unit = found[2].lower()
            if number > 0:
                return (
                    1.0 / number if unit in ("hz", "/s", "1/s") else number * (1e-3 if unit == "ms" else 1.0)
                )
    return None


def _misfit(step_s: float, span_s: float) -> float:
    """How odd a log of this row interval and length would be: 0 for 2 ms to 2 s over 5 s to 2 h."""
    decades = max(0.0, np.log10(0.002 / step_s), np.log10(step_s / 2.0))
    return float(decades + max(0.0, np.log10(5.0 / span_s), np.log10(span_s / 7200.0)))


def _fits(numbers: Floats, step: float, span: float) -> list[tuple[float, int]]:
    """How odd the log would be in each of `_SIZES`, the likeliest first: by rate, length and evenness."""
    even = usual_of(numbers).row_s
    found = []
    for i, (_, factor, rare) in enumerate(_SIZES):
        digits = even * factor / 10.0 ** np.floor(np.log10(even * factor))
        uneven = min(abs(digits / whole - 1.0) for whole in (*_ROUND, 10.0)) > 0.01
        found.append((_misfit(step * factor, span * factor) + rare + _UNEVEN * uneven, i))
    return sorted(found)


def unsaid_unit(
    numbers: Floats, *, said: float | None = None, span: float | None = None, sure: float = 1.0
) -> GuessedUnit | None:
    """The unit that makes these numbers a log of usual length and rate.

    By `sure` decades the runner-up must be worse, else the unit is in doubt and `other` names the
    runner-up. With `said`, the factor the header names, only a better fit by far is returned: over
    two decades, where the header's is out by more than one. `span` is the whole log's where
    only its beginning is given.
    """
    level = float(np.median(numbers))
    for low, high, name, factor in (
        (1e9, 4e9, "Unix s", 1.0),
        (1e12, 4e12, "Unix ms", 1e-3),
        (1e15, 4e15, "Unix µs", 1e-6),
        (1e18, 4e18, "Unix ns", 1e-9),
    ):
        if (
            low < level < high
            and (said is None or said != factor)
            and usual_of(numbers).span_s * factor < 86_400
        ):
            return GuessedUnit(name, factor, say("importers", "clock", "from_1970"))
    steps = np.diff(numbers)
    steps = steps[steps > 0]
    if steps.size == 0:
        return None
    step = float(np.median(steps))
    span = max(usual_of(numbers).span_s, span or 0.0)
    fits = _fits(numbers, step, span)
    name, factor, _ = _SIZES[fits[0][1]]
    if said is not None:
        own = _misfit(step * said, span * said)
        if own > 1.5 and own > fits[0][0] + 1.5 and factor != said:
            return GuessedUnit(name, factor, say("importers", "clock", "only_unit", step=step, unit=name))
        return None
    likely = max(1.0 if level > 20_000.0 else 0.3, fits[0][0] - 2.0)
    if fits[0][0] > 1.0 and 0.0 <= level < 80_000.0 and _misfit(step * _DAY_S, span * _DAY_S) < likely:
        offset_s = -_SPREADSHEET_DAYS * _DAY_S if level > 20_000.0 else 0.0
        reason = say("importers", "clock", "spreadsheet_days", step=step)
        return GuessedUnit("days", _DAY_S, reason, offset_s=offset_s)
    doubtful = fits[1][0] - fits[0][0] < sure
    other = _SIZES[fits[1][1]][0] if doubtful else ""
    return GuessedUnit(
        name, factor, say("importers", "clock", "best_unit", step=step, unit=name), doubtful, other=other
    )
