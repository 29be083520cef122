"""A run-up's held throttles against the sheet.

At part throttle a command says little: how much of the supply a controller gives there differs from maker to
maker. What it must give is then taken from what was measured: the current that goes with the measured speed,
the pack voltage that goes with the measured current, the thrust that goes with the speed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import norm

from telemetry.comparison.replaying import Measured, flown_values
from telemetry.comparison.results import Residual
from telemetry.comparison.steps import Held
from telemetry.prediction.replay import Flown
from telemetry.sheet.setup import Setup
from telemetry.trace import Floats, Samples, Span

FULL_THROTTLE = 0.97
"""From here on a controller gives the whole supply."""

_SENSOR_SD = {"current_a": 0.015, "pack_voltage_v": 0.003, "rpm": 0.006, "thrust_n": 0.03}
"""What a good sensor or stand may be off, relative (common practice, no source)."""

_ZERO_SD = {"current_a": 0.005, "thrust_n": 0.01}
"""The same of its zero, against the strongest it read (common practice, no source)."""

_CURVE_SD_V = 0.012
"""By what the open-circuit voltages of two makes differ a cell, between full and what a run-up draws (ours,
from the published curves beside the tests).
"""

_PART_LOAD_SD = 0.04
"""What a controller wastes while it chops, relative, at no throttle (ours): the sheet's figures are those of
full throttle.
"""


@dataclass(frozen=True, slots=True)
class _Reading:
    """One quantity at one held throttle: measured, and predicted by each draw, (d,)."""

    measured: float
    predicted: Floats


def at_steps(
    flown: Flown, setup: Setup, flows: Sequence[Measured], steps: Sequence[Held]
) -> tuple[Residual, ...]:
    """Every logged quantity at every held throttle.

    Parameters
    ----------
    flown : the run-up's throttle flown through the sheet, its throttle curve left open.
    flows : what was logged.
    steps : the held throttles; where a reading had not settled there is no figure.
    """
    read = [
        {
            (flow.quantity, flow.position): reading
            for flow in flows
            if (reading := _read(flown, setup, flow, step)) is not None
        }
        for step in steps
    ]
    count = sum(map(len, read))
    return tuple(
        _residual(flow, step, at_step, setup, of=count)
        for step, at_step in zip(steps, read, strict=True)
        for flow in flows
        if (flow.quantity, flow.position) in at_step
    )


def _read(flown: Flown, setup: Setup, flow: Measured, step: Held) -> _Reading | None:
    values = flown_values(flown, setup, flow)
    known = [
        (mean, predicted, span.end_s - span.start_s)
        for span in step.spans
        if (mean := settled_mean(flow.samples, span)) is not None
        and (predicted := _flown_at(flown, values, span)) is not None
    ]
    if not known:
        return None
    weight = np.array([max(w, 0.1) for _, _, w in known])
    weight = weight / weight.sum()
    measured = float(weight @ np.array([m for m, _, _ in known]))
    if flow.quantity == "rpm" and step.throttle < 0.0:
        measured = -abs(measured)  # most speed sensors don't see the sense
    return _Reading(measured, np.tensordot(weight, np.stack([p for _, p, _ in known]), axes=1))


def _flown_at(flown: Flown, values: Floats, span: Span, *, held_before_s: float = 0.4) -> Floats | None:
    """The replay's mean over its steps that lie wholly in a held throttle, (d,); None where none does.

    `held_before_s` is how long before a span its throttle has stood at least.
    """
    inside = (flown.edges_s[:-1] >= span.start_s - held_before_s) & (flown.edges_s[1:] <= span.end_s)
    settled = inside & (flown.time_s >= span.start_s)
    chosen = settled if settled.any() else inside
    return np.asarray(values[chosen].mean(axis=0)) if chosen.any() else None


def settled_mean(samples: Samples, span: Span, *, drift: float = 0.05, odd: float = 0.2) -> float | None:
    """Mean of the readings inside a span, None where there are none or they still rise or fall.

    Parameters
    ----------
    drift : between the halves of a settled span, relative; a pack sags by less within a step.
    odd : readings further from their median are a motor that dropped out for a moment, or a spike.
    """
    values = samples.values[(samples.time_s >= span.start_s) & (samples.time_s <= span.end_s)]
    if values.size == 0:
        return None
    middle = float(np.median(values))
    usual = values[np.abs(values - middle) <= odd * abs(middle) + 1e-9]
    if usual.size < 2:
        return middle if values.size == 1 else float(values.mean())
    half = usual.size // 2
    apart = abs(float(usual[half:].mean() - usual[:half].mean()))
    noise = float(np.std(usual)) * np.sqrt(2.0 / half)
    return float(usual.mean()) if apart <= drift * abs(middle) + noise else None


def _residual(
    flow: Measured,
    step: Held,
    read: Mapping[tuple[str, str], _Reading],
    setup: Setup,
    *,
    of: int,
) -> Residual:
    """One figure of `of`. Its interval is as wide as all of them need to hold at once in 95 % (Bonferroni's
    inequality, normal tails).
    """
    many = float(norm.isf(0.025 / of) / norm.isf(0.025))
    own = read[flow.quantity, flow.position]
    part = 1.0 - min(abs(step.throttle), 1.0) if abs(step.throttle) < FULL_THROTTLE else 0.0
    predicted = own.predicted
    beside = _beside(flow, read, setup.positions, part=part)
    if beside is not None:
        predicted = _at_measured(predicted, beside, ratio=flow.quantity != "pack_voltage_v")
    value = float(predicted[0])
    low, high = np.quantile(predicted[1:], (0.025, 0.975)) if predicted.size > 2 else (value, value)
    relative = np.hypot(_SENSOR_SD[flow.quantity], _PART_LOAD_SD * part * (flow.quantity == "current_a"))
    zero = _ZERO_SD.get(flow.quantity, 0.0) * float(np.max(np.abs(flow.samples.values)))
    curve = _CURVE_SD_V * setup.pack.cells * (flow.quantity == "pack_voltage_v")
    doubts = (relative * value, zero, curve, 0.3 * _step(flow.samples))
    doubt = 1.96 * float(np.linalg.norm(doubts))
    low, high = (
        value - many * np.hypot(min(low - value, 0.0), doubt),
        value + many * np.hypot(max(high - value, 0.0), doubt),
    )
    share = (own.measured - value) / value if value else 0.0
    return Residual(
        flow.quantity,
        flow.position,
        "at",
        step.throttle,
        value,
        float(low),
        float(high),
        own.measured,
        share,
        "",
    )


def _step(samples: Samples) -> float:
    """The smallest change that was logged; 0.3 of it is the deviation of a reading rounded to it."""
    levels = np.unique(samples.values)
    return float(np.min(np.diff(levels))) if levels.size > 1 else 0.0


def _beside(
    flow: Measured, read: Mapping[tuple[str, str], _Reading], positions: Sequence[str], *, part: float
) -> _Reading | None:
    """The measured quantity that a figure is predicted from, None where it is predicted from the command."""
    if flow.quantity == "thrust_n":
        return read.get(("rpm", flow.position)) or (read.get(("current_a", flow.position)) if part else None)
    if not part or flow.quantity == "rpm":
        return None
    if flow.quantity == "pack_voltage_v":
        return read.get(("current_a", ""))
    if flow.position:
        return read.get(("rpm", flow.position))
    speeds = [read[("rpm", p)] for p in positions if ("rpm", p) in read]
    if len(speeds) < len(positions):
        return None
    mean = np.mean([abs(s.measured) for s in speeds])
    return _Reading(float(mean), np.mean([np.abs(s.predicted) for s in speeds], axis=0))


def _at_measured(predicted: Floats, beside: _Reading, *, ratio: bool) -> Floats:
    """The draws moved to where the quantity beside them is what was measured, (d,): a straight line of one on
    the other across the draws, in logarithms for a `ratio`.
    """
    sign = -1.0 if predicted[0] < 0.0 else 1.0
    x, at, y = np.abs(beside.predicted), abs(beside.measured), sign * predicted
    if not ratio:
        slope = _slope(x, y)
        return np.asarray(sign * (y + slope * (at - x)))
    if at <= 0.0 or np.any(x <= 0.0) or np.any(y <= 0.0):
        return predicted
    slope = _slope(np.log(x), np.log(y))
    return np.asarray(sign * y * (at / x) ** slope)


def _slope(x: Floats, y: Floats) -> float:
    spread = float(np.var(x))
    return float(np.mean((x - x.mean()) * (y - y.mean()))) / spread if spread > 1e-12 else 0.0
