"""Pack and motors by arithmetic: cells that add up, currents that sum, counters that integrate."""

from __future__ import annotations

from collections.abc import Callable, Collection

import numpy as np

from telemetry.importers.columns.behaviour.curves import is_integral, running, slope, unit_of
from telemetry.importers.columns.behaviour.known import ColumnGuess, KnownLog
from telemetry.importers.columns.evidence import alike
from telemetry.importers.columns.physics import sag_slope
from telemetry.physics.charge import AS_PER_MAH, WS_PER_WH
from telemetry.sentences import say
from telemetry.trace import Floats

_MATES = {"left": "right", "right": "left", "1": "2", "2": "1"}


def _first(
    columns: Collection[int], quantity: str, unit: Callable[[int], str], why: str
) -> dict[int, ColumnGuess]:
    """The first column that has a unit of a quantity of the whole aircraft."""
    return next(({i: ColumnGuess(quantity, "", u, why)} for i in columns if (u := unit(i))), {})


def cells(columns: Collection[int], log: KnownLog) -> dict[int, ColumnGuess]:
    """Columns of about one level, a cell's, that make up the pack's voltage alone or with the cells that are
    known.
    """
    named = {p: log.values("cell_voltage_v", p) for p in log.positions("cell_voltage_v")}
    has_pack = ("pack_voltage_v", "") in log.columns
    volts = log.volts
    if volts is None or not (has_pack or named):
        return {}
    missing = [str(n) for n in range(1, 15) if str(n) not in named]
    why = say("importers", "behaviour", "completes_pack" if has_pack else "moves_as_cells")
    for unit, factor in (("V", 1.0), ("mV", 1e-3), ("cV", 1e-2)):
        like = [i for i in columns if _reads_as_a_cell(log.numbers(i) * factor, volts)]
        if not like or len(like) + len(named) < 2:
            continue
        total = np.sum([*named.values(), *(log.numbers(i) * factor for i in like)], axis=0)
        if not has_pack or abs(float(np.nanmedian(total / volts)) - 1.0) <= 0.02:
            each = zip(missing, sorted(like), strict=False)
            return {i: ColumnGuess("cell_voltage_v", n, unit, why) for n, i in each}
    return {}


def _reads_as_a_cell(cell_v: Floats, volts: Floats) -> bool:
    good = cell_v[np.isfinite(cell_v)]
    return good.size > 20 and 2.5 < float(np.median(good)) < 4.4 and alike(cell_v, volts) > 0.9


def whole(columns: Collection[int], log: KnownLog) -> dict[int, ColumnGuess]:
    """The pack's own column where the log names only its parts: what the motors or the cells add up to."""
    found: dict[int, ColumnGuess] = {}
    for quantity, total, units, near, parts in (
        ("current_a", log.amps, {"A": 1.0, "mA": 1000.0}, 0.1, "motors"),
        ("pack_voltage_v", log.volts, {"V": 1.0, "mV": 1000.0}, 0.03, "cells"),
    ):
        if total is None or (quantity, "") in log.columns:
            continue
        units_of = {
            i: unit_of(float(np.nanmean(log.numbers(i))) / float(np.nanmean(total)), units, within=near)
            for i in columns
            if i not in found and alike(log.numbers(i), total) > 0.98
        }
        why = say("importers", "behaviour", f"sum_of_{parts}")
        found |= _first(units_of, quantity, units_of.__getitem__, why)
    return found


def mate(columns: Collection[int], log: KnownLog) -> dict[int, ColumnGuess]:
    """The other motor of a twin: alike to the one that is named, and with it the whole where that is
    known.
    """
    found: dict[int, ColumnGuess] = {}
    for quantity in ("current_a", "rpm"):
        sides = [p for p in log.positions(quantity) if p]
        if len(sides) != 1 or sides[0] not in _MATES:
            continue
        own = log.columns[quantity, sides[0]]
        total = log.amps if quantity == "current_a" else None
        ours = log.evidence.values(own)
        for i in columns:
            theirs = log.numbers(i) * own.factor + own.offset
            if i not in found and _are_mates(ours, theirs, total):
                why = say("importers", "behaviour", "mate", side=sides[0])
                found[i] = ColumnGuess(quantity, _MATES[sides[0]], own.unit, why)
                break
    return found


def _are_mates(ours: Floats, theirs: Floats, total: Floats | None) -> bool:
    level = float(np.nanmean(theirs)) / float(np.nanmean(ours))
    if alike(theirs, ours) < 0.97 or not 0.75 < level < 1.33:
        return False
    return total is None or abs(float(np.nanmean(ours + theirs)) / float(np.nanmean(total)) - 1.0) <= 0.08


def pack_current(columns: Collection[int], log: KnownLog) -> dict[int, ColumnGuess]:
    """The slope of the charge counter, else what the pack's voltage sags with."""
    if log.amps is not None or log.positions("current_a"):
        return {}
    time_s, volts = log.evidence.time_s, log.volts
    if ("charge_mah", "") in log.columns and log.evidence.has_clock:
        counted = log.values("charge_mah")

        def unit(i: int) -> str:
            integral = running(time_s, log.numbers(i)) / AS_PER_MAH
            if not is_integral(counted, integral, log.evidence):
                return ""
            units = {"A": 1.0, "mA": 1000.0, "dA": 10.0, "cA": 100.0}
            return unit_of(1.0 / slope(counted, integral), units, within=0.15)

        return _first(columns, "current_a", unit, say("importers", "behaviour", "counted"))
    if volts is None:
        return {}

    def sags(i: int) -> str:
        found = sag_slope(time_s, log.numbers(i), volts)
        return "A" if found and found[1] < -0.95 else ""

    return _first(columns, "current_a", sags, say("importers", "behaviour", "sags"))


def counter(columns: Collection[int], log: KnownLog) -> dict[int, ColumnGuess]:
    """The integral of the current, or of the power."""
    amps, volts, time_s = log.amps, log.volts, log.evidence.time_s
    if amps is None or not log.evidence.has_clock:
        return {}
    charge_units, energy_units = {"mAh": 1.0, "Ah": 1e-3, "As": 3.6}, {"Wh": 1.0, "mWh": 1000.0, "J": 3600.0}
    kinds = [("charge_mah", running(time_s, amps) / AS_PER_MAH, charge_units)]
    if volts is not None:
        energy_wh = running(time_s, amps * volts) / WS_PER_WH
        kinds.append(("energy_wh", energy_wh, energy_units))
    found: dict[int, ColumnGuess] = {}
    for quantity, integral, units in kinds:
        if log.positions(quantity):
            continue
        units_of = {
            i: unit_of(slope(log.numbers(i), integral), units, within=0.15)
            for i in columns
            if i not in found and is_integral(log.numbers(i), integral, log.evidence)
        }
        why = say("importers", "behaviour", f"counts_{quantity}")
        found |= _first(units_of, quantity, units_of.__getitem__, why)
    return found


def power(columns: Collection[int], log: KnownLog) -> dict[int, ColumnGuess]:
    """The product of current and voltage."""
    if log.amps is None or log.volts is None or log.positions("power_w"):
        return {}
    product = log.amps * log.volts
    units = {"W": 1.0, "kW": 1e-3, "mW": 1000.0}

    def unit(i: int) -> str:
        near = alike(log.numbers(i), product) > 0.99
        return unit_of(slope(log.numbers(i), product), units, within=0.1) if near else ""

    return _first(columns, "power_w", unit, say("importers", "behaviour", "power"))
