"""What the user said a column is → its readings; the numbers still choose among units."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from telemetry.answers import parsed
from telemetry.importers.columns.candidates import (
    Candidate,
    candidates,
    header_says,
    numbers_are,
    placed,
    units_for,
)
from telemetry.importers.columns.meanings import DIMENSIONS, MEANINGS
from telemetry.importers.units import unit_of
from telemetry.importers.wording import Wording
from telemetry.quantities import QUANTITIES
from telemetry.sentences import say

OFFERED: dict[str, tuple[str, ...]] = {
    "voltage": ("V", "mV", "cV", "dV"),
    "current": ("A", "mA", "cA", "dA"),
    "charge": ("mAh", "Ah", "As"),
    "power": ("W", "kW", "mW"),
    "energy": ("Wh", "kWh", "mWh", "J"),
    "rotation": ("rpm", "1000 rpm", "1/s", "rad/s"),
    "temperature": ("°C", "°F", "K"),
    "length": ("m", "ft", "cm", "mm"),
    "speed": ("m/s", "km/h", "mph", "kt", "ft/min", "ft/s", "cm/s"),
    "angle": ("deg", "1e-7 deg"),
    "fraction": ("%", "1"),
    "acceleration": ("m/s2", "g"),
    "force": ("N", "kgf", "gf", "lbf", "ozf"),
    "torque": ("N.m", "N.cm", "kgf.cm", "ozf.in", "lbf.in", "lbf.ft"),
    "time": ("s", "ms", "µs", "min", "h"),
}
"""Units to choose an answer's from, by dimension; a log may write others for them."""

SURE = 20.0
"""An answer outweighs every other reading. [nats]"""


def answered(answer: str, column: int, wording: Wording) -> tuple[Candidate, ...]:
    """The readings of a column that leave no doubt about quantity and place; none when it is to be left out.

    Parameters
    ----------
    answer : "quantity@position in unit", or "ignore". Without a position the header's is kept, if it names
        one; without a unit the header and the numbers tell.
    column : its index.

    Raises
    ------
    BadUse : the unit is none of the quantity's.
    """
    quantity, position, said, _ = parsed(answer)
    if not quantity:
        return ()
    if said:
        return (_in_unit(column, placed(position, quantity), quantity, said),)
    spoken = tuple(c for c in candidates(column, wording) if c.quantity == quantity)
    if spoken:
        return tuple(
            replace(c, position=position or c.position, words=c.words + SURE, reason=_answered(c.reason))
            for c in spoken
        )
    return tuple(_unspoken(column, quantity, placed(position, quantity), wording))


def units_of(quantity: str) -> tuple[str, ...]:
    """Units that a column of a quantity may be said to be in.

    Parameters
    ----------
    quantity : a name in `QUANTITIES`.

    Returns
    -------
    Names that `answered` takes, the quantity's own unit first; none for marks.
    """
    meaning = next((m for m in MEANINGS if m.quantity == quantity), None)
    dimensions = DIMENSIONS[meaning.kind] if meaning else ()
    return tuple(name for dimension in dimensions for name in OFFERED.get(dimension, ()))


def _in_unit(column: int, position: str, quantity: str, said: str) -> Candidate:
    meaning = next((m for m in MEANINGS if m.quantity == quantity), None)
    unit = unit_of(said, quantity, DIMENSIONS[meaning.kind] if meaning else ())
    reason = say("importers", "columns", "answered")
    return Candidate(column, quantity, position, unit.name, unit.factor, unit.offset, SURE, reason, True)


def _unspoken(column: int, quantity: str, position: str, wording: Wording) -> Iterator[Candidate]:
    """Every unit the numbers may be in, where the header's words say something else."""
    meaning = next((m for m in MEANINGS if m.quantity == quantity), None)
    units = list(units_for(meaning, wording)) if meaning else []
    for unit, cost, stated in units:
        reason = _answered(header_says(wording) if stated else numbers_are(unit.name))
        yield Candidate(
            column, quantity, position, unit.name, unit.factor, unit.offset, SURE - cost, reason, stated
        )
    if not units:
        said = say("importers", "columns", "answered")
        yield Candidate(column, quantity, position, QUANTITIES[quantity].unit, 1.0, 0.0, SURE, said)


def _answered(reason: str) -> str:
    return say("importers", "columns", "answered_as", reason=reason)
