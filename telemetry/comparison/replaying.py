"""From a trace to the conditions of a replay, and the replay's numbers beside the measured ones."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.analysis.capacity import Capacity
from telemetry.analysis.pack import Pack
from telemetry.estimate import Undecided
from telemetry.physics.open_circuit import LITHIUM_POLYMER
from telemetry.prediction.replay import Conditions, Flown
from telemetry.sheet.setup import Setup
from telemetry.trace import Flight, Floats, Samples, Span, Trace, pack_current, pack_voltage, throttle


@dataclass(frozen=True, slots=True)
class Flow:
    """One measured quantity at one position."""

    quantity: str
    position: str
    samples: Samples


def conditions_of(
    trace: Trace, flight: Flight, setup: Setup, *, pack: Pack | None = None
) -> Conditions | Undecided:
    """What the flight measured that the replay takes as it is."""
    if not trace.has_clock:
        return Undecided("the log has no time, so nothing can be flown again")
    common = throttle(trace, within=flight)
    if common is None or common.time_s.size < 2:
        return Undecided(
            "the log has no throttle column that was understood, so the prediction cannot be flown along it"
        )
    if isinstance(flight.powered, Undecided):
        return Undecided("nothing in the log shows a motor running")
    start_s, end_s = (
        max(flight.start_s, flight.powered.start_s - 2.0),
        min(flight.end_s, flight.powered.end_s + 2.0),
    )
    inside = common.time_s[(common.time_s > start_s) & (common.time_s < end_s)]
    time_s = np.concatenate(([start_s], inside, [end_s]))
    commands = {p: _command_at(trace, setup, p, common, time_s) for p in setup.positions}
    return Conditions(
        time_s=time_s,
        throttle=commands,
        airspeed_mps=trace.at("airspeed_mps", "", time_s),
        altitude_m=trace.at("altitude_m", "", time_s),
        airborne=_airborne(flight),
        charge_left=_charge_left(trace, flight, setup, pack),
        idle_a=_idle_a(trace, flight),
        pack_c=_first_value(trace, flight, "pack_temperature_c"),
    )


def _command_at(trace: Trace, setup: Setup, position: str, common: Samples, time_s: Floats) -> Floats:
    found = trace.at(
        "throttle_fraction", logged_position(trace, setup, position, "throttle_fraction"), time_s
    )
    return np.interp(time_s, common.time_s, common.values) if found is None else found


def logged_position(trace: Trace, setup: Setup, position: str, quantity: str) -> str:
    """Where the log has a motor's quantity: at its position, or under its recorder's number."""
    drive = setup.drive(position)
    if not trace.has(quantity, position) and drive is not None and drive.logged_as is not None:
        return drive.logged_as
    return position


def _airborne(flight: Flight) -> tuple[float, float] | None:
    if flight.is_bench or isinstance(flight.powered, Undecided):
        return None
    takeoff = flight.powered.start_s + 2.0 if isinstance(flight.takeoff_s, Undecided) else flight.takeoff_s
    landing = flight.powered.end_s if isinstance(flight.landing_s, Undecided) else flight.landing_s
    return takeoff, landing


def _first_value(trace: Trace, flight: Flight, quantity: str) -> float | None:
    samples = trace.fresh(quantity, within=flight)
    return float(samples.values[0]) if samples is not None and samples.time_s.size else None


def _idle_a(trace: Trace, flight: Flight) -> float:
    """What leaves the pack before the motors start: receiver, servos, controllers awake."""
    found = pack_current(trace, within=flight)
    if found is None or isinstance(flight.powered, Undecided):
        return 0.0
    before = found.samples.values[found.samples.time_s < flight.powered.start_s]
    return float(np.clip(np.mean(before), 0.0, 5.0)) if before.size else 0.0


def _charge_left(trace: Trace, flight: Flight, setup: Setup, pack: Pack | None) -> float:
    """Charge before the motors start, from the resting voltage; full where that can't be seen."""
    resting = None if pack is None or isinstance(pack.start_voltage_v, Undecided) else pack.start_voltage_v
    if resting is None and not isinstance(flight.powered, Undecided):
        found = pack_voltage(trace)
        if found is not None:
            before = found.samples.values[
                (found.samples.time_s >= flight.start_s) & (found.samples.time_s < flight.powered.start_s)
            ]
            resting = float(np.median(before)) if before.size else None
    if resting is None:
        return 1.0
    return LITHIUM_POLYMER.charge_left_fraction(
        resting / setup.pack.cells, full_cell_v=setup.pack.full_cell_v
    )


def measured_flows(trace: Trace, flight: Flight, setup: Setup) -> tuple[Flow, ...]:
    """Pack current and voltage, then each motor's current and speed, as far as they were logged."""
    found: list[Flow] = []
    for quantity, derived in (
        ("current_a", pack_current(trace, within=flight)),
        ("pack_voltage_v", pack_voltage(trace, within=flight)),
    ):
        if derived is not None:
            found.append(Flow(quantity, "", derived.samples))
    for quantity in ("current_a", "rpm"):
        for position in setup.positions:
            samples = trace.fresh(quantity, logged_position(trace, setup, position, quantity), within=flight)
            if samples is not None and samples.time_s.size >= 2:
                found.append(Flow(quantity, position, samples))
    return tuple(found)


def flown_values(flown: Flown, setup: Setup, flow: Flow) -> Floats:
    """The replay of one measured quantity, (t, d)."""
    if flow.quantity == "pack_voltage_v":
        return flown.pack_v
    if not flow.position:
        return flown.current_a
    k = setup.positions.index(flow.position)
    return flown.motor_current_a[:, :, k] if flow.quantity == "current_a" else flown.rpm[:, :, k]


def mean_over(samples: Samples, span: Span) -> float | None:
    """Mean over a span, straight lines between samples."""
    edges = np.array([span.start_s, span.end_s])
    if samples.time_s.size < 2 or samples.time_s[-1] < edges[0] or samples.time_s[0] > edges[1]:
        return None
    inside = (samples.time_s > edges[0]) & (samples.time_s < edges[1])
    t = np.concatenate(([edges[0]], samples.time_s[inside], [edges[1]]))
    v = np.interp(t, samples.time_s, samples.values)
    return (
        float(np.sum(np.diff(t) * 0.5 * (v[1:] + v[:-1])) / (edges[1] - edges[0]))
        if edges[1] > edges[0]
        else float(v[0])
    )


def flown_mean(flown: Flown, values: Floats, span: Span) -> Floats:
    """The replay's mean over a span, (d,)."""
    inside = (flown.time_s >= span.start_s) & (flown.time_s <= span.end_s)
    if not inside.any():
        inside = np.abs(flown.time_s - 0.5 * (span.start_s + span.end_s)) == np.min(
            np.abs(flown.time_s - 0.5 * (span.start_s + span.end_s))
        )
    return np.asarray(values[inside].mean(axis=0))


def consumed_mean_a(capacity: Capacity | None) -> float | None:
    """The mean current the capacity analysis settled on, or None."""
    return (
        None
        if capacity is None or isinstance(capacity.mean_current_a, Undecided)
        else float(capacity.mean_current_a)
    )
