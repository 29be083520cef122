"""The leads to each controller: steady heating by copper, gauge and length."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.analysis.current.margins import load_at
from telemetry.analysis.current.windows import largest
from telemetry.estimate import Undecided
from telemetry.physics.wire import lead_heat_w, lead_resistance_ohm, steady_current_a
from telemetry.sentences import undecided
from telemetry.sheet.setup import Leads
from telemetry.signals import Signals
from telemetry.trace import Samples


@dataclass(frozen=True, slots=True)
class LeadHeat:
    """The pair of leads to one controller.

    Attributes
    ----------
    window_s : over which a lead's heat adds up; the hottest one of the flight is judged. [s]
    rms_a : effective current over it. [A]
    start_s : where it starts. [s]
    steady_a : what a lead of this copper carries for ever in still air.
    margin_fraction : (steady − rms) ÷ steady, negative when over.
    resistance_ohm : of both conductors at 20 °C; undecided without a length.
    heat_w : of both conductors at rms_a.
    """

    position: str
    window_s: float
    rms_a: float | Undecided
    start_s: float | Undecided
    steady_a: float | Undecided
    margin_fraction: float | Undecided
    resistance_ohm: float | Undecided
    heat_w: float | Undecided


def lead_heats(
    signals: Signals,
    leads: Leads,
    positions: Sequence[str],
    *,
    window_s: float = 60.0,
    air_c: float = 30.0,
) -> tuple[LeadHeat, ...]:
    """Each controller's leads against their steady current.

    Parameters
    ----------
    positions : the motors; with none the one at "centre".
    window_s : about the time a silicone lead takes to warm through; common practice, no source.
    air_c : around the leads. [°C]
    """
    places = tuple(positions) or ("centre",)
    return tuple(_heat(signals, leads, p, len(places) == 1, window_s, air_c) for p in places)


def _heat(
    signals: Signals, leads: Leads, position: str, single: bool, window_s: float, air_c: float
) -> LeadHeat:
    steady: float | Undecided = undecided("current", "no_lead_area")
    resistance: float | Undecided = undecided("current", "no_lead_length")
    if leads.area_mm2:
        steady = steady_current_a(leads.area_mm2, ambient_c=air_c)
        if leads.length_m:
            resistance = 2.0 * lead_resistance_ohm(leads.length_m, leads.area_mm2)
    load = load_at(signals, position, single=single)
    if isinstance(load, Undecided):
        return LeadHeat(position, window_s, load, load, steady, load, resistance, load)
    span_s = float(load.samples.time_s[-1] - load.samples.time_s[0])
    window_s = min(window_s, span_s)
    best = largest(Samples(load.samples.time_s, load.samples.values**2), window_s)
    if best is None or window_s <= 0.0:
        no = undecided("current", "no_time_of_it")
        return LeadHeat(position, window_s, no, no, steady, no, resistance, no)
    rms = float(np.sqrt(best.mean))
    margin = steady if isinstance(steady, Undecided) else (steady - rms) / steady
    heat = resistance if isinstance(resistance, Undecided) else lead_heat_w(rms, resistance)
    return LeadHeat(position, window_s, rms, best.start_s, steady, margin, resistance, heat)
