"""Consumed charge and energy, mean current, sensor gain."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from telemetry.analysis.capacity import counter as counters
from telemetry.analysis.capacity.bridges import Bridge, Bridged
from telemetry.analysis.capacity.course import Course, charge_between, clipped, of_channel, total
from telemetry.analysis.capacity.energy import energy_of_power, energy_wh
from telemetry.analysis.capacity.powers import power_over_voltage, sure
from telemetry.estimate import Estimate, Undecided
from telemetry.put_back import sensor_gain
from telemetry.trace import Flight, Span, Stretch, Trace, pack_current

__all__ = ["Bridge", "Capacity", "PhaseCharge", "analyse"]


@dataclass(frozen=True, slots=True)
class PhaseCharge:
    """What left the pack in one phase, as the sensors saw it."""

    name: str
    start_s: float
    end_s: float
    charge_mah: float


@dataclass(frozen=True, slots=True)
class Capacity:
    """What left the pack from `start_s` to `end_s` of the flight, as the sensors saw it.

    Attributes
    ----------
    consumed_mah : charge out of the pack, less what came back.
    logged_mah : what the log's own counter gained, restarts joined on.
    energy_wh : with the voltage at the place where it is sensed.
    consumed_fraction : of the sheet's capacity.
    mean_current_a : over the powered time.
    sensor_gain : what the sensor reads per ampere that flows, from put-backs; shown, never applied.
    how : where the current came from, "" when logged as such.
    by_phase : charge of each phase of the flight, in its order.
    idle_a : mean current while no motor ran.
    returned_mah : what flowed back into the pack; already taken off `consumed_mah`.
    logged_ratio : consumed ÷ logged over the stretch that both saw.
    counter_restarts : how often the counter fell back to nothing.
    bridges : silences of the current and how they were filled.
    """

    consumed_mah: Estimate | Undecided
    logged_mah: float | Undecided
    energy_wh: Estimate | Undecided
    consumed_fraction: float | Undecided
    mean_current_a: float | Undecided
    sensor_gain: Estimate | Undecided
    how: str = ""
    by_phase: tuple[PhaseCharge, ...] = ()
    idle_a: float | Undecided = field(default_factory=lambda: Undecided("the log has no current"))
    returned_mah: float | Undecided = field(default_factory=lambda: Undecided("the log has no current"))
    logged_ratio: Estimate | Undecided = field(default_factory=lambda: Undecided("the log counts no charge"))
    counter_restarts: int = 0
    bridges: tuple[Bridge, ...] = ()


@dataclass(frozen=True, slots=True)
class _Seen:
    """The current of one flight without silences, and what its charge may be off by."""

    bridged: Bridged
    sd_mah: float
    how: str


def analyse(
    trace: Trace,
    flight: Flight,
    *,
    capacity_mah: float | None = None,
    put_back: Sequence[tuple[float, float]] = (),
) -> Capacity:
    """What left the pack in one flight.

    Parameters
    ----------
    capacity_mah : of the pack, for the fraction. [mAh]
    put_back : (logged, put back by the charger) of past flights, for the sensor's gain. [mAh]

    Notes
    -----
    Intervals hold what sampling, rounding and silences may hide; not the sensor's own gain and offset, which
    no log of one sensor can show.
    """
    powered = None if isinstance(flight.powered, Undecided) else flight.powered
    counter = counters.read(trace)
    gain = sensor_gain(put_back)
    seen = _seen(trace, flight, counter, powered)
    if isinstance(seen, Undecided):
        return _from_counter(seen.reason, trace, flight, counter, capacity_mah, gain)
    course = seen.bridged.course
    consumed = charge_between(course, flight)
    estimate = Estimate.around(consumed, 1.96 * seen.sd_mah, _method(seen.bridged.bridges))
    return Capacity(
        consumed_mah=estimate,
        logged_mah=_logged(counter, flight),
        energy_wh=energy_wh(trace, flight, course, seen.sd_mah / max(abs(consumed), 1e-9)),
        consumed_fraction=_fraction(consumed, capacity_mah),
        mean_current_a=_mean_a(course, powered),
        sensor_gain=gain,
        how=seen.how,
        by_phase=tuple(
            PhaseCharge(p.name, p.start_s, p.end_s, charge_between(course, p)) for p in flight.phases
        ),
        idle_a=_idle_a(course, flight, powered),
        returned_mah=_returned_mah(course, flight),
        logged_ratio=_logged_ratio(course, counter, flight, seen.sd_mah),
        counter_restarts=counters.restarts_within(counter, flight) if counter else 0,
        bridges=seen.bridged.bridges,
    )


def _seen(
    trace: Trace, flight: Flight, counter: counters.Counter | None, powered: Span | None
) -> _Seen | Undecided:
    if not trace.has_clock:
        return Undecided("the log has no time")
    whole = of_channel(trace, "current_a")
    how = ""
    if whole is None:
        motors = [p for p in trace.positions("current_a") if p]
        parts = [c for p in motors if (c := of_channel(trace, "current_a", p)) is not None]
        derived = pack_current(trace)
        if derived is None or len(parts) < len(motors):
            return Undecided("the log has only one side's current" if parts else "the log has no current")
        whole, how = total(parts) if parts else power_over_voltage(trace), derived.how
    if whole is None or whole.time_s[0] >= flight.end_s or whole.time_s[-1] <= flight.start_s:
        return Undecided("the current was not logged during this flight")
    bridged, sd_mah = sure(trace, flight, whole, counter, powered)
    return _Seen(bridged, sd_mah, how)


def _method(bridges: Sequence[Bridge]) -> str:
    if not bridges:
        return "integral of the current"
    seconds = sum(b.end_s - b.start_s for b in bridges)
    words = {
        "counter": "the log's own counter",
        "neighbours": "what came before and after",
        "others": "the other sensors",
    }
    ways = " and ".join(words[by] for by in sorted({b.by for b in bridges}))
    return f"integral of the current, {seconds:.0f} s of silence bridged by {ways}"


def _from_counter(
    why: str,
    trace: Trace,
    flight: Flight,
    counter: counters.Counter | None,
    capacity_mah: float | None,
    gain: Estimate | Undecided,
) -> Capacity:
    """Everything the counter alone can say."""
    no = Undecided(why)
    logged = _logged(counter, flight)
    if counter is None or isinstance(logged, Undecided):
        both = Undecided(f"{why} and no counted charge")
        return Capacity(
            both, logged, energy_of_power(trace, flight) or both, both, both, gain, idle_a=no, returned_mah=no
        )
    half_width = 1.96 * counter.step_mah / np.sqrt(6.0)
    powered = flight.powered
    mean: float | Undecided = no
    if trace.has_clock and not isinstance(powered, Undecided) and powered.end_s > powered.start_s:
        ends = np.interp([powered.start_s, powered.end_s], counter.time_s, counter.counted_mah)
        mean = float(ends[1] - ends[0]) * 3.6 / (powered.end_s - powered.start_s)
    return Capacity(
        consumed_mah=Estimate.around(logged, half_width, "the log's own counter"),
        logged_mah=logged,
        energy_wh=energy_of_power(trace, flight) or no,
        consumed_fraction=_fraction(logged, capacity_mah),
        mean_current_a=mean,
        sensor_gain=gain,
        how=f"the log's own counter, since {why}",
        idle_a=no,
        returned_mah=no,
        logged_ratio=no,
        counter_restarts=counters.restarts_within(counter, flight),
    )


def _logged(counter: counters.Counter | None, flight: Flight) -> float | Undecided:
    counted = counters.counted_within(counter, flight) if counter else None
    return Undecided("the log counts no charge") if counted is None else counted


def _fraction(consumed_mah: float, capacity_mah: float | None) -> float | Undecided:
    return consumed_mah / capacity_mah if capacity_mah else Undecided("the pack's capacity is not known")


def _mean_a(course: Course, powered: Span | None) -> float | Undecided:
    if powered is None or powered.end_s <= powered.start_s:
        return Undecided("nothing in the log shows a motor running")
    return charge_between(course, powered) * 3.6 / (powered.end_s - powered.start_s)


def _idle_a(
    course: Course, flight: Flight, powered: Span | None, *, least_s: float = 1.0
) -> float | Undecided:
    """Over the time before the first throttle-up and after the motors' last stop; a second after it, for the
    sensor to settle.
    """
    if powered is None:
        return charge_between(course, flight) * 3.6 / max(flight.end_s - flight.start_s, 1e-9)
    spans = [
        Stretch(flight.start_s, powered.start_s - course.refresh_s),
        Stretch(powered.end_s + 1.0, flight.end_s),
    ]
    seconds = sum(max(s.end_s - s.start_s, 0.0) for s in spans)
    if seconds < least_s:
        return Undecided("the log holds no time without a motor running")
    return sum(charge_between(course, s) for s in spans if s.end_s > s.start_s) * 3.6 / seconds


def _returned_mah(course: Course, flight: Flight) -> float:
    part = clipped(course, flight)
    back = np.maximum(-part.values, 0.0)
    return float(np.sum(np.diff(part.time_s) * (back[1:] + back[:-1]) / 2.0)) / 3.6


def _logged_ratio(
    course: Course,
    counter: counters.Counter | None,
    flight: Flight,
    sd_mah: float,
    *,
    least_mah: float = 20.0,
) -> Estimate | Undecided:
    if counter is None:
        return Undecided("the log counts no charge")
    inside = (counter.time_s >= flight.start_s) & (counter.time_s <= flight.end_s)
    times, counts = counter.time_s[inside], counter.counted_mah[inside]
    if times.size < 2 or counts[-1] - counts[0] < least_mah:
        return Undecided("the counter moved too little to compare")
    counted = float(counts[-1] - counts[0])
    ratio = charge_between(course, Stretch(float(times[0]), float(times[-1]))) / counted
    return Estimate.around(
        ratio, 1.96 * float(np.hypot(sd_mah, counter.step_mah / np.sqrt(6.0))) / counted, "integral ÷ counter"
    )
