"""Peak, largest mean current over every window, margins to ratings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.analysis.current.leads import LeadHeat, lead_heats
from telemetry.analysis.current.margins import Margin, margins
from telemetry.analysis.current.missed import Missed, missed
from telemetry.analysis.current.windows import Sustained, cut, rms_a, sustained
from telemetry.estimate import Undecided
from telemetry.sheet.setup import Leads, Rating
from telemetry.trace import Flight, Samples, Trace, pack_current

__all__ = ["Current", "LeadHeat", "Margin", "Missed", "Sustained", "analyse"]


@dataclass(frozen=True, slots=True)
class Current:
    """The load on pack and parts.

    Attributes
    ----------
    peak_a, peak_at_s : the largest fresh sample of the pack's current, and when.
    rms_a : over the powered time.
    sustained : the pack's largest means, shortest window first; the current is linear between samples,
        silences included.
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
    trace: Trace,
    flight: Flight,
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
    ratings : of the sheet.
    leads, positions : the leads, and the motors they go to; those of the log by default.
    capacity_mah : of the pack, for the rate in multiples of capacity. [mAh]
    air_c : around the leads. [°C]
    """
    motors = {
        p: s
        for p in trace.positions("current_a")
        if p and (s := trace.fresh("current_a", p, within=flight)) is not None
    }
    pack = pack_current(trace, within=flight)
    hidden = missed(_powered(pack.samples, flight)) if pack is not None and trace.has_clock else None
    limits = margins(trace, flight, ratings, hidden)
    heats = (
        lead_heats(trace, flight, leads, positions or tuple(motors), air_c=air_c) if leads is not None else ()
    )
    timed = trace.has_clock
    curves = {p: sustained(s) for p, s in motors.items()} if timed else {}
    if pack is None:
        no = Undecided("the log has only one side's current" if motors else "the log has no current")
        return Current(no, no, no, (), limits, curves, leads=heats, peak_c_rate=no)
    samples = pack.samples
    at = int(np.argmax(samples.values))
    peak = float(samples.values[at])
    return Current(
        peak_a=peak,
        peak_at_s=float(samples.time_s[at]) if timed else Undecided("the log has no time"),
        rms_a=_rms(samples, flight) if timed else Undecided("the log has no time"),
        sustained=sustained(samples) if timed else (),
        limits=limits,
        by_motor=curves,
        how=pack.how,
        peak_c_rate=peak / (capacity_mah / 1000.0)
        if capacity_mah
        else Undecided("the pack's capacity is not known"),
        missed=hidden,
        leads=heats,
    )


def _powered(samples: Samples, flight: Flight) -> Samples:
    return samples if isinstance(flight.powered, Undecided) else cut(samples, flight.powered)


def _rms(samples: Samples, flight: Flight) -> float | Undecided:
    if isinstance(flight.powered, Undecided):
        return flight.powered
    found = rms_a(cut(samples, flight.powered))
    return Undecided("the powered time holds no two samples of current") if found is None else found
