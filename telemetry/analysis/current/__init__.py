"""Peak, largest mean current over every window, margins to ratings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.analysis.current.leads import LeadHeat, lead_heats
from telemetry.analysis.current.margins import Margin, margins
from telemetry.analysis.current.missed import Missed, missed
from telemetry.analysis.current.windows import Sustained, rms_a, sustained
from telemetry.estimate import Undecided
from telemetry.sentences import undecided
from telemetry.sheet.setup import Leads, Rating
from telemetry.signals import Flow, Signals
from telemetry.trace import Samples

__all__ = ["Current", "LeadHeat", "Margin", "Missed", "Sustained", "analyse"]


@dataclass(frozen=True, slots=True)
class Current:
    """The load on pack and parts.

    Attributes
    ----------
    peak_a, peak_at_s : the largest fresh sample of the pack's current, and when.
    rms_a : over the powered time.
    sustained : the pack's largest means, shortest window first, the last the whole flight: its mean times its
        length is the charge that left.
    limits : every rating of the sheet, in its order.
    by_motor : each motor's largest means.
    how : where the pack's current came from, "" when logged as such.
    peak_c_rate : the peak in multiples of the pack's capacity.
    missed : what a log at this rate can miss.
    leads : the leads to each controller.
    """

    peak_a: float | Undecided
    peak_at_s: float | Undecided
    rms_a: float | Undecided
    sustained: tuple[Sustained, ...]
    limits: tuple[Margin, ...]
    by_motor: dict[str, tuple[Sustained, ...]]
    how: str = ""
    peak_c_rate: float | Undecided | None = None
    missed: Missed | None = None
    leads: tuple[LeadHeat, ...] = ()


def analyse(
    signals: Signals,
    *,
    ratings: Sequence[Rating] = (),
    leads: Leads | None = None,
    positions: Sequence[str] = (),
    capacity_mah: float | None = None,
    air_c: float = 30.0,
) -> Current:
    """Peak, largest means and margins of one flight.

    Parameters
    ----------
    signals : of the flight.
    ratings : of the sheet.
    leads, positions : the leads, and the motors they go to; those of the log by default.
    capacity_mah : of the pack, for the rate in multiples of capacity. [mAh]
    air_c : around the leads. [°C]

    Returns
    -------
    Every figure, or the reason why there is none.
    """
    flow, read = signals.current, signals.read_current
    motors = signals.motor_currents
    hidden = missed(_powered(read.samples, signals)) if isinstance(flow, Flow) and read is not None else None
    limits = margins(signals, ratings, hidden)
    heats = lead_heats(signals, leads, positions or tuple(motors), air_c=air_c) if leads is not None else ()
    curves = {p: sustained(motor.samples) for p, motor in motors.items()}
    if read is None:
        no = undecided("signals", "one_sides_current" if motors else "no_current")
        return Current(no, no, no, (), limits, curves, leads=heats, peak_c_rate=no)
    at = int(np.argmax(read.samples.values))
    peak = float(read.samples.values[at])
    timed = signals.trace.has_clock
    return Current(
        peak_a=peak,
        peak_at_s=float(read.samples.time_s[at]) if timed else undecided("log", "no_time"),
        rms_a=_rms(flow, signals),
        sustained=sustained(flow.samples) if isinstance(flow, Flow) else (),
        limits=limits,
        by_motor=curves,
        how=read.how,
        peak_c_rate=peak / (capacity_mah / 1000.0) if capacity_mah else undecided("capacity", "no_capacity"),
        missed=hidden,
        leads=heats,
    )


def _powered(samples: Samples, signals: Signals) -> Samples:
    """Fresh samples of the powered time, all where no motor ran."""
    powered = signals.powered
    if powered is None:
        return samples
    inside = (samples.time_s >= powered.start_s) & (samples.time_s <= powered.end_s)
    return Samples(samples.time_s[inside], samples.values[inside])


def _rms(flow: Flow | Undecided, signals: Signals) -> float | Undecided:
    if isinstance(flow, Undecided):
        return flow
    if signals.powered is None:
        return undecided("log", "no_motor_ran")
    found = rms_a(flow.within(signals.powered))
    return undecided("current", "powered_too_short") if found is None else found
