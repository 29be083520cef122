"""Measured against predicted: a flight's means and extremes, a bench run's steps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from telemetry.analysis.pack import Pack
from telemetry.comparison.explaining import explain
from telemetry.comparison.held import at_steps
from telemetry.comparison.replaying import (
    Measured,
    conditions_of,
    flown_mean,
    flown_values,
    measured_flows,
    measured_mean,
)
from telemetry.comparison.results import Comparison, PhaseResidual, Residual
from telemetry.comparison.steps import held_steps
from telemetry.estimate import Undecided
from telemetry.prediction.assumptions import complete
from telemetry.prediction.replay import Conditions, Flown, replay, step_means
from telemetry.prediction.results import Replay
from telemetry.prediction.sampling import sample
from telemetry.sentences import undecided
from telemetry.sheet.setup import Setup
from telemetry.signals import Signals
from telemetry.trace import Flight, Floats, Stretch

SENSOR_SD = {"current_a": 0.015, "pack_voltage_v": 0.003, "rpm": 0.003}
"""What a good sensor's gain may be off, relative (common practice, no source)."""

_SHAPE_SD = {"rpm": 0.005}
"""What the shape of a throttle curve leaves in a mean speed even where flights taught its gain. Relative;
ours.
"""

_ONE_READING_SD = 0.006
"""What the lowest of a flight's readings may be off besides: its own noise and step, and propellers caught
speeding up.

Relative; ours. The replay is in equilibrium at every moment, so it has neither.
"""


def compare(
    signals: Signals,
    setup: Setup | None,
    *,
    pack: Pack | None = None,
    draws: int = 96,
    seed: int = 0,
) -> Comparison:
    """One flight, or one bench run, against its sheet.

    Parameters
    ----------
    signals : of the flight; its measured throttle is flown through the set-up.
    pack : this flight's analysis, for the charge at the start.
    draws : of the sheet's unknowns, for the bands.

    Returns
    -------
    Residuals with intervals of 95 %, undecided where the log has no throttle, time or electrical column.
    """
    if setup is None:
        return Comparison(undecided("log", "no_sheet"))
    flight, powered = signals.flight, signals.powered
    conditions = conditions_of(signals, setup, pack=pack)
    if isinstance(conditions, Undecided):
        return Comparison(conditions)
    assert powered is not None
    flows = measured_flows(signals, setup)
    if not flows:
        return Comparison(undecided("comparison", "nothing_electric"))
    flown = replay(
        sample(complete(setup), draws=draws, seed=seed, held_still=flight.is_bench),
        setup.positions,
        conditions,
        step_s=_step_s(flight, conditions),
    )
    flown = _driven_alone(flown, setup, conditions, flows)
    replays = tuple(_band(flown, setup, flow) for flow in flows if flow.quantity != "thrust_n")
    if flight.is_bench:
        residuals = at_steps(flown, setup, flows, held_steps(signals))
        return Comparison(residuals or undecided("comparison", "nothing_held"), replays)
    residuals = _flight_residuals(flown, setup, powered, flows)
    phases = _phase_residuals(flown, setup, flight, flows)
    residuals, phases = explain(residuals, phases, signals, setup, conditions)
    return Comparison(residuals, replays, phases)


def _step_s(
    flight: Flight, conditions: Conditions, *, bench_s: float = 0.25, flight_s: float = 1.0, most: int = 900
) -> float:
    """Step of the replay: fine on the bench, a second in the air, longer where a log is very long."""
    length_s = float(conditions.time_s[-1] - conditions.time_s[0])
    return max(bench_s if flight.is_bench else flight_s, length_s / most)


def _driven_alone(
    flown: Flown,
    setup: Setup,
    conditions: Conditions,
    flows: tuple[Measured, ...],
    *,
    least_command: float = 0.03,
) -> Flown:
    """The replay with the measured speed where no motor is driven: at no command, or where the aircraft is
    faster than the command and the air turns the propeller, so that the replay draws nothing.

    Whether a propeller then turns with the air, is braked, or turns unseen by its sensor is no matter of the
    sheet.
    """
    rpm = flown.rpm.copy()
    for flow in flows:
        if flow.quantity == "rpm":
            motor = setup.positions.index(flow.position)
            command = step_means(conditions.time_s, conditions.throttle[flow.position], flown.edges_s)
            idle = (np.abs(command) < least_command) | (flown.motor_current_a[:, 0, motor] <= 0.0)
            measured = np.interp(flown.time_s, flow.samples.time_s, flow.samples.values)
            rpm[idle, :, motor] = measured[idle, None]
    return replace(flown, rpm=rpm)


def _residual(
    flow: Measured, statistic: str, throttle: float | None, predicted: Floats, measured: float
) -> Residual:
    """One number against its draws; the sensor's own doubt widens the interval."""
    value = float(predicted[0])
    low, high = np.quantile(predicted[1:], (0.025, 0.975)) if predicted.size > 2 else (value, value)
    doubts = (
        SENSOR_SD[flow.quantity],
        _SHAPE_SD.get(flow.quantity, 0.0),
        _ONE_READING_SD if statistic == "min" else 0.0,
    )
    doubt = 1.96 * float(np.linalg.norm(doubts)) * abs(value)
    low, high = (
        value - np.hypot(min(low - value, 0.0), doubt),
        value + np.hypot(max(high - value, 0.0), doubt),
    )
    share = (measured - value) / value if value else 0.0
    return Residual(
        flow.quantity, flow.position, statistic, throttle, value, float(low), float(high), measured, share, ""
    )


def _flight_residuals(
    flown: Flown, setup: Setup, powered: Stretch, flows: tuple[Measured, ...]
) -> tuple[Residual, ...]:
    found: list[Residual] = []
    for flow in flows:
        values = flown_values(flown, setup, flow)
        measured = measured_mean(flow.samples, powered)
        if measured is not None:
            found.append(_residual(flow, "mean", None, flown_mean(flown, values, powered), measured))
        if flow.quantity == "pack_voltage_v":
            found.append(_residual(flow, "min", None, values.min(axis=0), float(flow.samples.values.min())))
    return tuple(found)


def _phase_residuals(
    flown: Flown, setup: Setup, flight: Flight, flows: tuple[Measured, ...]
) -> tuple[PhaseResidual, ...]:
    found: list[PhaseResidual] = []
    for phase in flight.phases:
        for flow in flows:
            measured = measured_mean(flow.samples, phase)
            if measured is None or phase.name == "ground" or phase.end_s - phase.start_s < 1.0:
                continue
            residual = _residual(
                flow, "mean", None, flown_mean(flown, flown_values(flown, setup, flow), phase), measured
            )
            found.append(PhaseResidual(phase.name, phase.start_s, phase.end_s, residual))
    return tuple(found)


def _band(flown: Flown, setup: Setup, flow: Measured) -> Replay:
    values = flown_values(flown, setup, flow)
    low, high = np.quantile(values[:, 1:], (0.025, 0.975), axis=1)
    middle = values[:, 0]
    return Replay(
        flown.time_s,
        flow.quantity,
        flow.position,
        middle,
        np.minimum(low, middle),
        np.maximum(high, middle),
        flow.samples.time_s,
        flow.samples.values,
    )
