"""From a trace to the conditions of a replay, and the replay's numbers beside the measured ones."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.analysis.pack import Pack
from telemetry.estimate import Undecided
from telemetry.physics.charge import mean_over
from telemetry.prediction.replay import Conditions, Flown
from telemetry.sentences import undecided
from telemetry.sheet.setup import Setup
from telemetry.signals import Signals
from telemetry.trace import Flight, Floats, Samples, Span, Stretch


@dataclass(frozen=True, slots=True)
class Measured:
    """One measured quantity at one position."""

    quantity: str
    position: str
    samples: Samples


def conditions_of(signals: Signals, setup: Setup, *, pack: Pack | None = None) -> Conditions | Undecided:
    """What the flight measured that the replay takes as it is."""
    trace, flight, common = signals.trace, signals.flight, signals.throttle
    if not trace.has_clock:
        return undecided("comparison", "no_time")
    if common is None or common.time_s.size < 2:
        return undecided("comparison", "no_throttle")
    if signals.powered is None:
        return undecided("log", "no_motor_ran")
    start_s = max(flight.start_s, signals.powered.start_s - 2.0)
    end_s = min(flight.end_s, signals.powered.end_s + 2.0)
    inside = common.time_s[(common.time_s > start_s) & (common.time_s < end_s)]
    time_s = np.concatenate(([start_s], inside, [end_s]))
    commands = {p: np.interp(time_s, *(signals.command(p) or common)) for p in setup.positions}
    return Conditions(
        time_s=time_s,
        throttle=commands,
        airspeed_mps=trace.at("airspeed_mps", "", time_s),
        altitude_m=trace.at("altitude_m", "", time_s),
        airborne=_airborne(flight),
        charge_left=_charge_left(signals, setup, pack),
        idle_a=_idle_a(signals),
        pack_c=_first_value(signals, "pack_temperature_c"),
    )


def _airborne(flight: Flight) -> tuple[float, float] | None:
    if flight.is_bench or isinstance(flight.powered, Undecided):
        return None
    takeoff = flight.powered.start_s + 2.0 if isinstance(flight.takeoff_s, Undecided) else flight.takeoff_s
    landing = flight.powered.end_s if isinstance(flight.landing_s, Undecided) else flight.landing_s
    return takeoff, landing


def _first_value(signals: Signals, quantity: str) -> float | None:
    samples = signals.fresh(quantity)
    return None if samples is None else float(samples.values[0])


def _idle_a(signals: Signals) -> float:
    """What leaves the pack before the motors start: receiver, servos, controllers awake."""
    flow, powered, start_s = signals.current, signals.powered, signals.flight.start_s
    if isinstance(flow, Undecided) or powered is None or powered.start_s <= start_s:
        return 0.0
    return float(np.clip(flow.mean_a(Stretch(start_s, powered.start_s)), 0.0, 5.0))


def _charge_left(signals: Signals, setup: Setup, pack: Pack | None) -> float:
    """Charge before the motors start, from the resting voltage; full where that can't be seen."""
    resting = None if pack is None or isinstance(pack.start_voltage_v, Undecided) else pack.start_voltage_v
    if resting is None and signals.voltage is not None:
        before = signals.rest.before(signals.voltage.samples)
        resting = None if isinstance(before, Undecided) else before
    if resting is None:
        return 1.0
    return setup.pack.chemistry.curve.charge_left_fraction(resting / setup.pack.cells)


def measured_flows(signals: Signals, setup: Setup) -> tuple[Measured, ...]:
    """Pack current and voltage, then each motor's current, speed and thrust, as far as they were logged."""
    found: list[Measured] = []
    if not isinstance(signals.current, Undecided):
        found.append(Measured("current_a", "", signals.current.samples))
    if signals.voltage is not None:
        found.append(Measured("pack_voltage_v", "", signals.voltage.samples))
    currents = signals.motor_currents
    found += [Measured("current_a", p, currents[p].samples) for p in setup.positions if p in currents]
    for quantity in ("rpm", "thrust_n") if signals.flight.is_bench else ("rpm",):
        logged = [(p, signals.fresh(quantity, p, least=2)) for p in setup.positions]
        found += [Measured(quantity, p, samples) for p, samples in logged if samples is not None]
    return tuple(found)


def flown_values(flown: Flown, setup: Setup, flow: Measured) -> Floats:
    """The replay of one measured quantity, (t, d)."""
    if flow.quantity == "pack_voltage_v":
        return flown.pack_v
    if not flow.position:
        return flown.current_a
    by_motor = {"current_a": flown.motor_current_a, "rpm": flown.rpm, "thrust_n": flown.motor_thrust_n}
    return by_motor[flow.quantity][:, :, setup.positions.index(flow.position)]


def measured_mean(samples: Samples, span: Span) -> float | None:
    """Mean over a span; None where nothing was measured in it."""
    if samples.time_s.size < 2 or samples.time_s[-1] < span.start_s or samples.time_s[0] > span.end_s:
        return None
    return mean_over(*samples, span.start_s, span.end_s)


def flown_mean(flown: Flown, values: Floats, span: Span) -> Floats:
    """The replay's mean over a span, (d,)."""
    inside = (flown.time_s >= span.start_s) & (flown.time_s <= span.end_s)
    if not inside.any():
        inside = np.abs(flown.time_s - 0.5 * (span.start_s + span.end_s)) == np.min(
            np.abs(flown.time_s - 0.5 * (span.start_s + span.end_s))
        )
    return np.asarray(values[inside].mean(axis=0))
