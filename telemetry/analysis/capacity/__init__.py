"""Consumed charge and energy, mean current, sensor gain."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from telemetry.analysis.capacity.energy import energy_of_power, energy_wh
from telemetry.estimate import Estimate, Undecided
from telemetry.physics.charge import AS_PER_MAH, running_integral
from telemetry.put_back import sensor_gain
from telemetry.sentences import say, undecided
from telemetry.signals import Bridge, Counter, Flow, Signals
from telemetry.signals.counter import counted_within, restarts_within
from telemetry.trace import Stretch

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
    idle_a: float | Undecided = field(default_factory=lambda: undecided("signals", "no_current"))
    returned_mah: float | Undecided = field(default_factory=lambda: undecided("signals", "no_current"))
    logged_ratio: Estimate | Undecided = field(default_factory=lambda: undecided("capacity", "no_counter"))
    counter_restarts: int = 0
    bridges: tuple[Bridge, ...] = ()


def analyse(
    signals: Signals, *, capacity_mah: float | None = None, put_back: Sequence[tuple[float, float]] = ()
) -> Capacity:
    """What left the pack in one flight.

    Parameters
    ----------
    signals : of the flight.
    capacity_mah : of the pack, for the fraction. [mAh]
    put_back : (logged, put back by the charger) of past flights, for the sensor's gain. [mAh]

    Returns
    -------
    Charge, energy and mean current, from the flight's one integral; from the log's own counter alone where
    it has no current of the whole pack.

    Notes
    -----
    Intervals hold what sampling, rounding and silences may hide; not the sensor's own gain and offset, which
    no log of one sensor can show.
    """
    gain = sensor_gain(put_back)
    flow = signals.current
    if isinstance(flow, Undecided):
        return _from_counter(flow, signals, capacity_mah, gain)
    consumed_mah = flow.charge_mah(signals.flight)
    charge = Estimate.around(consumed_mah, 1.96 * flow.sd_mah, _method(flow.bridges))
    return Capacity(
        # What went in, net, is below zero in earnest; an interval around what went out is not.
        consumed_mah=charge if consumed_mah < 0.0 else charge.floored(),
        logged_mah=_logged(signals),
        energy_wh=energy_wh(signals, flow, flow.sd_mah / max(abs(consumed_mah), 1e-9)),
        consumed_fraction=_fraction(consumed_mah, capacity_mah),
        mean_current_a=_mean_a(flow, signals.powered),
        sensor_gain=gain,
        how=flow.how,
        by_phase=tuple(
            PhaseCharge(p.name, p.start_s, p.end_s, flow.charge_mah(p)) for p in signals.flight.phases
        ),
        idle_a=_idle_a(flow, signals),
        returned_mah=_returned_mah(flow),
        logged_ratio=_logged_ratio(flow, signals),
        counter_restarts=_restarts(signals),
        bridges=flow.bridges,
    )


def _method(bridges: Sequence[Bridge]) -> str:
    if not bridges:
        return say("capacity", "method")
    ways = " and ".join(say("capacity", f"by_{by}") for by in sorted({b.by for b in bridges}))
    return say("capacity", "method_bridged", seconds=sum(b.end_s - b.start_s for b in bridges), ways=ways)


def _from_counter(
    why: Undecided, signals: Signals, capacity_mah: float | None, gain: Estimate | Undecided
) -> Capacity:
    """Everything the counter alone can say."""
    counter, logged = signals.counter, _logged(signals)
    energy = energy_of_power(signals.trace, signals.flight)
    if counter is None or isinstance(logged, Undecided):
        both = undecided("capacity", "nor_counter", reason=why.reason)
        return Capacity(both, logged, energy or both, both, both, gain, idle_a=why, returned_mah=why)
    return Capacity(
        consumed_mah=Estimate.around(
            logged, 1.96 * counter.step_mah / np.sqrt(6.0), say("capacity", "by_counter")
        ),
        logged_mah=logged,
        energy_wh=energy or why,
        consumed_fraction=_fraction(logged, capacity_mah),
        mean_current_a=_counted_mean_a(counter, signals) or why,
        sensor_gain=gain,
        how=say("capacity", "counter_since", reason=why.reason),
        idle_a=why,
        returned_mah=why,
        logged_ratio=why,
        counter_restarts=_restarts(signals),
    )


def _counted_mean_a(counter: Counter, signals: Signals) -> float | None:
    powered = signals.powered
    if not signals.trace.has_clock or powered is None or powered.end_s <= powered.start_s:
        return None
    ends = np.interp([powered.start_s, powered.end_s], counter.time_s, counter.counted_mah)
    return float(ends[1] - ends[0]) * AS_PER_MAH / (powered.end_s - powered.start_s)


def _restarts(signals: Signals) -> int:
    return 0 if signals.counter is None else len(restarts_within(signals.counter, signals.flight))


def _logged(signals: Signals) -> float | Undecided:
    counted = None if signals.counter is None else counted_within(signals.counter, signals.flight)
    return undecided("capacity", "no_counter") if counted is None else counted


def _fraction(consumed_mah: float, capacity_mah: float | None) -> float | Undecided:
    return consumed_mah / capacity_mah if capacity_mah else undecided("capacity", "no_capacity")


def _mean_a(flow: Flow, powered: Stretch | None) -> float | Undecided:
    if powered is None or powered.end_s <= powered.start_s:
        return undecided("log", "no_motor_ran")
    return flow.mean_a(powered)


def _idle_a(flow: Flow, signals: Signals, *, least_s: float = 1.0) -> float | Undecided:
    """Over the time before the first throttle-up and after the motors' last stop; a second after it, for the
    sensor to settle.
    """
    flight, powered = signals.flight, signals.powered
    spans = [Stretch(flight.start_s, flight.end_s)]
    if powered is not None:
        first = Stretch(flight.start_s, powered.start_s - flow.curve.refresh_s)
        spans = [s for s in (first, Stretch(powered.end_s + 1.0, flight.end_s)) if s.end_s > s.start_s]
    seconds = sum(s.end_s - s.start_s for s in spans)
    if seconds < least_s:
        return undecided("capacity", "never_idle")
    return sum(flow.charge_mah(s) for s in spans) * AS_PER_MAH / seconds


def _returned_mah(flow: Flow) -> float:
    time_s, current_a = flow.samples
    back = running_integral(time_s, np.maximum(-current_a, 0.0))
    return back.total / AS_PER_MAH


def _logged_ratio(flow: Flow, signals: Signals, *, least_mah: float = 20.0) -> Estimate | Undecided:
    counter = signals.counter
    if counter is None:
        return undecided("capacity", "no_counter")
    inside = (counter.time_s >= signals.flight.start_s) & (counter.time_s <= signals.flight.end_s)
    times, counts = counter.time_s[inside], counter.counted_mah[inside]
    if times.size < 2 or counts[-1] - counts[0] < least_mah:
        return undecided("capacity", "counter_still")
    counted = float(counts[-1] - counts[0])
    ratio = flow.charge_mah(Stretch(float(times[0]), float(times[-1]))) / counted
    sd_mah = float(np.hypot(flow.sd_mah, counter.step_mah / np.sqrt(6.0)))
    return Estimate.around(ratio, 1.96 * sd_mah / counted, say("capacity", "ratio_method"))
