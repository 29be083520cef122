"""What gives out first: the charge, the voltage under load, a weak cell, or a part that gets hot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.estimate import Estimate, Undecided
from telemetry.physics.cell import arrhenius_factor
from telemetry.physics.open_circuit import OpenCircuitCurve
from telemetry.season.timer.capacity import Usable
from telemetry.season.timer.model import Floats
from telemetry.season.timer.results import CellFacts, PackFacts, TimeLimit
from telemetry.sentences import say, undecided
from telemetry.sheet.setup import Setup


@dataclass(frozen=True, slots=True)
class ChargeLimit:
    """Charge that may have left the pack at landing, and what sets it. [mAh]"""

    limited_by: str
    landed_by_mah: float
    reason: str


@dataclass(frozen=True, slots=True)
class Loaded:
    """A cell under a lasting load. [Ω, V, mAh]

    What a pack gives less in the cold or at a high current is what its resistance keeps back when the voltage
    comes to its floor: the charge itself is there, and shows again at rest.
    """

    resistance_ohm: float
    curve: OpenCircuitCurve
    capacity_mah: float

    def voltage_v(self, taken_mah: float, current_a: float) -> float:
        """What the cell shows at this current when so much has left it. [V]"""
        left = 1.0 - taken_mah / self.capacity_mah
        return self.curve.voltage_v(left) - current_a * self.resistance_ohm

    def charge_at_mah(self, floor_v: float, current_a: float) -> float:
        """The charge taken at which this current pulls the cell down to a floor, 0 if it does from the start.
        [mAh]
        """
        left = self.curve.charge_left_fraction(floor_v + current_a * self.resistance_ohm)
        return self.capacity_mah * (1.0 - left)


@dataclass(frozen=True, slots=True)
class Load:
    """A current that must stay possible until the landing, and when it is drawn."""

    current_a: float
    when: str


def mean_cell(setup: Setup, facts: PackFacts, usable: Usable) -> Loaded | Undecided:
    """The pack's mean cell, as a flight measured it, else the sheet's carried to the field's temperature: a
    pack begins as cold as the air.
    """
    measured = facts.resistance_ohm
    if measured is not None:
        ohm = measured.value if isinstance(measured, Estimate) else measured
    elif setup.pack.resistance_ohm is not None:
        learnt = setup.calibration.get("pack_resistance")
        ohm = setup.pack.resistance_ohm * (learnt.value if learnt else 1.0)
        if setup.site.temperature_c is not None:
            ohm *= arrhenius_factor(setup.site.temperature_c, setup.pack.chemistry.one_second.kjpmol)
    else:
        return undecided("timer", "no_resistance")
    return Loaded(ohm, setup.pack.chemistry.curve, usable.capacity_mah)


def charge_limits(
    setup: Setup, facts: PackFacts, usable: Usable, loads: Sequence[Load]
) -> tuple[ChargeLimit, ...]:
    """Every charge that bounds the flight, the reserve first."""
    found = [
        ChargeLimit(
            "charge",
            usable.usable_mah,
            say("timer", "limits", "reserve", percent=100 * usable.reserve_fraction, said=usable.said),
        )
    ]
    floor_v = setup.reserve.loaded_cell_v
    cell = mean_cell(setup, facts, usable)
    for load in loads:
        if isinstance(cell, Loaded):
            found.append(
                ChargeLimit(
                    "voltage",
                    cell.charge_at_mah(floor_v, load.current_a),
                    say("timer", "limits", "cells", floor_v=floor_v, when=load.when),
                )
            )
        for one in facts.cells:
            if one.resistance_ohm is not None:
                found.append(_cell_voltage_limit(one, one.resistance_ohm, setup, usable, load))
    weak = [one for one in facts.cells if one.weak]
    return (*found, *(limit for one in weak for limit in _weak_cell_limits(one, setup, usable, loads[0])))


def _weak_cell_limits(cell: CellFacts, setup: Setup, usable: Usable, cruise: Load) -> tuple[ChargeLimit, ...]:
    """What a weak cell leaves of the charge: what it holds less than the others, and what it falls deeper
    under load, so that at landing it reads no less than a sound cell does at the reserve.
    """
    holds_mah = usable.usable_mah * (1.0 - cell.missing_fraction)
    found = []
    if cell.missing_fraction > 0:
        said = say("timer", "limits", "weak", cell=cell.cell, percent=100 * cell.missing_fraction)
        found.append(ChargeLimit("cell", holds_mah, said))
    if cell.excess_ohm > 0:
        curve, fall_v = setup.pack.chemistry.curve, cruise.current_a * cell.excess_ohm
        left = curve.charge_left_fraction(curve.voltage_v(usable.reserve_fraction) + fall_v)
        said = say("timer", "limits", "falls", cell=cell.cell, fall_mv=1000 * fall_v, when=cruise.when)
        found.append(ChargeLimit("cell", usable.capacity_mah * (1.0 - left), said))
    return tuple(found)


def _cell_voltage_limit(
    cell: CellFacts, resistance_ohm: float, setup: Setup, usable: Usable, load: Load
) -> ChargeLimit:
    floor_v = setup.reserve.loaded_cell_v
    loaded = Loaded(
        resistance_ohm, setup.pack.chemistry.curve, usable.capacity_mah * (1.0 - cell.missing_fraction)
    )
    kind = "cell" if cell.weak else "voltage"
    return ChargeLimit(
        kind,
        loaded.charge_at_mah(floor_v, load.current_a),
        say("timer", "limits", "cell", cell=cell.cell, floor_v=floor_v, when=load.when),
    )


def first(limits: Sequence[ChargeLimit]) -> ChargeLimit:
    """The one that gives out first."""
    return min(limits, key=lambda limit: limit.landed_by_mah)


def time_to_limit(
    time_s: Floats, temperature_c: Floats, *, limit_c: float, part: str, least_rise_c: float = 5.0
) -> TimeLimit | None:
    """When a part reaches its limit if the flight goes on as its second half went.

    Parameters
    ----------
    time_s : (m,) since first throttle-up, while the motors run. [s]
    temperature_c : (m,) fresh readings. [°C]
    least_rise_c : a part that warmed by less tells nothing of where it would end.

    Returns
    -------
    The moment it passed the limit, or would on a straight line through the second half; a part warms
    ever more slowly, so it gets there no sooner. None for one that has stopped warming.
    """
    if time_s.size < 4 or time_s[-1] <= time_s[0]:
        return None
    over = temperature_c >= limit_c
    if over.any():
        reached = say("timer", "limits", "reached", part=part, limit_c=limit_c)
        return TimeLimit("temperature", float(time_s[int(over.argmax())]), reached)
    late = time_s >= (time_s[0] + time_s[-1]) / 2
    if late.sum() < 3 or temperature_c.max() - temperature_c[0] < least_rise_c:
        return None
    slope, level = np.polyfit(time_s[late] - time_s[-1], temperature_c[late], 1)
    if slope <= 0:
        return None
    return TimeLimit(
        "temperature",
        float(time_s[-1] + max(0.0, (limit_c - level) / slope)),
        say("timer", "limits", "comes_to", part=part, limit_c=limit_c),
    )
