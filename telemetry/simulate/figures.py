"""The constants of the truth, as DEVELOPERS.md defines them."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from telemetry.derived import pairs_of
from telemetry.quantities import pack_position
from telemetry.simulate.cell import CellCourse, CellTruth
from telemetry.simulate.course import FlownPath
from telemetry.simulate.happenings import Happened, during
from telemetry.simulate.powertrain import Electrics, twin_powers
from telemetry.simulate.recorder import Recording
from telemetry.simulate.scenario import Scenario
from telemetry.simulate.truth import CellFigures, OwnPackFigures, PairFigures, Truth
from telemetry.trace import Flags, Floats, Key

_RUNNING_COMMAND = 0.02
_PAIR_COMMAND = 0.25


def constants(
    scenario: Scenario,
    course: FlownPath,
    time_s: Floats,
    series: Mapping[Key, Floats],
    commands: Mapping[str, Floats],
    electrics: Electrics,
    happened: tuple[Happened, ...],
    first: Recording,
) -> Truth:
    """Everything an analysis of the first recorder's log should find."""
    zero_s, last_s = float(first.time_s[0]), float(first.time_s[-1])
    logged = (time_s >= zero_s) & (time_s <= last_s)
    running = logged & np.any([np.abs(c) > _RUNNING_COMMAND for c in commands.values()], axis=0)
    at = np.flatnonzero(running)
    powered = (float(time_s[at[0]]), float(time_s[at[-1]])) if at.size else None
    loaded = (time_s >= powered[0]) & (time_s <= powered[1]) if powered else logged
    cells = tuple(
        _cell(truth, run, logged, loaded)
        for truth, run in zip(scenario.pack.cells, electrics.cells, strict=True)
    )
    packs = tuple(
        OwnPackFigures(
            motor,
            float(np.ptp(series["charge_mah", pack_position(motor)][logged])),
            tuple(
                _cell(one, cell, logged, loaded)
                for one, cell in zip(scenario.packs[motor].cells, own.cells, strict=True)
            ),
        )
        for motor, own in electrics.packs.items()
    )
    charge_mah, energy_wh = series[("charge_mah", "")], series[("energy_wh", "")]
    return Truth(
        time_s=time_s - zero_s,
        series=series,
        start_s=0.0,
        end_s=last_s - zero_s,
        takeoffs_s=tuple(t - zero_s for t in course.takeoffs_s if zero_s <= t <= last_s),
        landings_s=tuple(t - zero_s for t in course.landings_s if zero_s <= t <= last_s),
        powered_s=(powered[0] - zero_s, powered[1] - zero_s) if powered else None,
        phases=tuple(
            (name, max(a, zero_s) - zero_s, min(b, last_s) - zero_s)
            for name, a, b in course.phases
            if b > zero_s and a < last_s
        ),
        consumed_mah=float(np.interp(last_s, time_s, charge_mah) - np.interp(zero_s, time_s, charge_mah)),
        energy_wh=float(np.interp(last_s, time_s, energy_wh) - np.interp(zero_s, time_s, energy_wh)),
        mean_current_a=float(np.mean(electrics.current_a[loaded])),
        peak_a=float(np.max(electrics.current_a[logged])),
        min_pack_voltage_v=float(np.min(electrics.pack_v[logged])),
        charge_left_fraction=float(np.mean([cell.end_left_fraction for cell in cells])),
        cells=cells,
        pack=_pack(scenario, electrics, cells, logged),
        pairs=_pairs(scenario, commands, electrics, course, time_s, happened, logged),
        happenings=tuple(
            Happened(h.kind, h.motor, h.start_s - zero_s, h.end_s - zero_s, h.size) for h in happened
        ),
        packs=packs,
    )


def _cell(truth: CellTruth, run: CellCourse, logged: Flags, loaded: Flags) -> CellFigures:
    ohmic, slow = float(np.mean(run.ohmic_factor[loaded])), float(np.mean(run.slow_factor[loaded]))
    left = run.left_fraction[logged]
    return CellFigures(
        resistance_ohm=truth.drop_after_ohm(0.0, ohmic_factor=ohmic, slow_factor=slow),
        resistance_1s_ohm=truth.drop_after_ohm(1.0, ohmic_factor=ohmic, slow_factor=slow),
        resistance_10s_ohm=truth.drop_after_ohm(10.0, ohmic_factor=ohmic, slow_factor=slow),
        sag_v=float(np.max((run.open_circuit_v - run.voltage_v)[logged])),
        min_loaded_v=float(np.min(run.voltage_v[logged])),
        start_left_fraction=float(left[0]),
        end_left_fraction=float(left[-1]),
    )


def _pack(
    scenario: Scenario, electrics: Electrics, cells: tuple[CellFigures, ...], logged: Flags
) -> CellFigures:
    open_v = np.sum([run.open_circuit_v for run in electrics.cells], axis=0)
    plug_ohm = scenario.pack.plug_ohm
    return CellFigures(
        resistance_ohm=sum(c.resistance_ohm for c in cells) + plug_ohm,
        resistance_1s_ohm=sum(c.resistance_1s_ohm for c in cells) + plug_ohm,
        resistance_10s_ohm=sum(c.resistance_10s_ohm for c in cells) + plug_ohm,
        sag_v=float(np.max((open_v - electrics.pack_v)[logged])),
        min_loaded_v=float(np.min(electrics.pack_v[logged])),
        start_left_fraction=float(np.mean([c.start_left_fraction for c in cells])),
        end_left_fraction=float(np.mean([c.end_left_fraction for c in cells])),
    )


def _pairs(
    scenario: Scenario,
    commands: Mapping[str, Floats],
    electrics: Electrics,
    course: FlownPath,
    time_s: Floats,
    happened: tuple[Happened, ...],
    logged: Flags,
) -> tuple[PairFigures, ...]:
    common = np.mean(list(commands.values()), axis=0)
    judged = logged & (common > _PAIR_COMMAND)
    for h in happened:
        if h.kind != "overheating":
            judged &= ~np.any([during(h, time_s, p) for p in scenario.positions], axis=0)
    chosen = np.flatnonzero(judged)[:: max(round(0.2 / scenario.step_s), 1)]
    if chosen.size == 0:
        return ()
    airspeed_mps = np.interp(time_s, course.time_s, course.airspeed_mps)
    powers = twin_powers(scenario, electrics, common, airspeed_mps, chosen)
    found = []
    for left, right in pairs_of(scenario.positions):
        a, b = electrics.motors[left], electrics.motors[right]
        imbalance = 2.0 * (powers[right] - powers[left]) / (powers[right] + powers[left])
        current_ratio = float(np.mean(b.supply_a[chosen]) / np.mean(a.supply_a[chosen]))
        found.append(
            PairFigures(
                left, right, imbalance, current_ratio, float(np.mean(b.rpm[chosen]) / np.mean(a.rpm[chosen]))
            )
        )
    return tuple(found)
