"""What a run-up's channels show besides the motors' currents: which way the propellers push, whether the
aircraft stayed where it was, how warm the motors got.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from telemetry.analysis.motors import part_temperatures
from telemetry.comparison.held import settled_mean
from telemetry.comparison.results import BenchItem, Residual
from telemetry.comparison.steps import Held, held_steps
from telemetry.derived import pairs_of
from telemetry.estimate import Undecided
from telemetry.limits import BENCH_MOVED_MPS, EVEN_THRUST_FRACTION
from telemetry.sentences import say
from telemetry.sheet.setup import Setup
from telemetry.signals import Signals
from telemetry.trace import Floats, Samples, Stretch

READY, NOT_READY, UNDECIDED = "ready", "not_ready", "undecided"


def bench_item(check: str, verdict: str, sentence: str, **values: Any) -> BenchItem:
    """One check, its name and sentence from `sentences/`."""
    return BenchItem(say("bench", "checks", check), verdict, say("bench", check, sentence, **values))


def channel_checks(
    signals: Signals, residuals: Sequence[Residual] | Undecided, setup: Setup | None
) -> tuple[BenchItem, ...]:
    """A check for each kind of channel that was logged; none for what was not.

    Parameters
    ----------
    residuals : of this run, thrust among them where both stand and sheet know it.
    """
    steps = tuple(s for s in held_steps(signals) if s.throttle > 0.0)
    direction = _direction(signals, steps)
    backwards = direction is not None and direction.verdict == NOT_READY
    thrust = None if backwards else _thrust(signals, steps, residuals)
    found = (direction, thrust, _moved(signals, steps), _warmth(signals, setup))
    return tuple(item for item in found if item is not None)


def _direction(signals: Signals, steps: Sequence[Held], *, least: float = 0.1) -> BenchItem | None:
    """Whether every propeller pushes the aircraft forward; a speed below zero at a command above is the same.

    Parameters
    ----------
    least : of the strongest thrust or speed of any motor; less is a stand's or a sensor's zero.
    """
    logged = [
        (quantity, p, at)
        for quantity in ("thrust_n", "rpm")
        for p in ("", *signals.motors)
        if (at := _strongest(signals, quantity, p, steps)) is not None
    ]
    if not any(quantity == "thrust_n" or at[0] < 0.0 for quantity, _, at in logged):
        return None
    most = {q: max(abs(at[0]) for quantity, _, at in logged if quantity == q) for q, _, _ in logged}
    wrong = [(q, p, at) for q, p, at in logged if at[0] < -least * most[q]]
    if not wrong:
        return bench_item("direction", READY, "forward")
    quantity, position, (value, throttle) = wrong[0]
    right = [at for q, _, at in logged if q == quantity and at[0] > 0.0]
    said = "backwards" if quantity == "thrust_n" else "turns_back"
    item = bench_item(
        "direction",
        NOT_READY,
        said if right else f"{said}_all",
        who=say("bench", "direction", "who" if position else "all", position=position),
        value=abs(value),
        throttle=throttle,
    )
    return replace(item, severity="stop")


def _strongest(
    signals: Signals, quantity: str, position: str, steps: Sequence[Held]
) -> tuple[float, float] | None:
    """The reading at the highest held throttle and that throttle, less what a stand shows at rest."""
    samples = signals.fresh(quantity, position, least=3)
    if samples is None:
        return None
    for step in reversed(steps):
        value = _at(samples, step)
        if value is not None:
            return value - (_at_rest(signals, samples) if quantity == "thrust_n" else 0.0), step.throttle
    return None


def _at(samples: Samples, step: Held) -> float | None:
    found = [m for span in step.spans if (m := settled_mean(samples, span)) is not None]
    return float(np.mean(found)) if found else None


def _at_rest(signals: Signals, samples: Samples) -> float:
    """Median before the motors run, nought where that was not logged."""
    start_s = signals.flight.start_s if signals.powered is None else signals.powered.start_s
    before = samples.values[samples.time_s < start_s]
    return float(np.median(before)) if before.size else 0.0


def _thrust(
    signals: Signals, steps: Sequence[Held], residuals: Sequence[Residual] | Undecided
) -> BenchItem | None:
    """Thrust of each side against the other at the same speed, then against the sheet."""
    for left, right in pairs_of(signals.motors):
        sides = [_strongest(signals, "thrust_n", p, steps) for p in (left, right)]
        if any(s is None or s[0] <= 0.0 for s in sides):
            continue
        speeds = [_strongest(signals, "rpm", p, steps) for p in (left, right)]
        known = all(s is not None and s[0] for s in speeds)
        per = [
            t[0] / (s[0] ** 2 if known and s is not None else 1.0)
            for t, s in zip(sides, speeds, strict=True)
            if t is not None
        ]
        apart = 1.0 - min(per) / max(per)
        if apart > EVEN_THRUST_FRACTION.value:
            weak, strong = (left, right) if per[0] < per[1] else (right, left)
            same = say("bench", "thrust", "at_speed" if known else "at_command")
            values = {"weak": weak, "strong": strong, "percent": 100.0 * apart, "same": same}
            item = bench_item("thrust", NOT_READY, "apart", **values)
            return replace(item, severity="stop")
    if isinstance(residuals, Undecided):
        return None
    found = [r for r in residuals if r.quantity == "thrust_n" and (r.throttle_fraction or 0.0) > 0.0]
    if not found:
        return None
    missed = [r for r in found if not r.kept]
    worst = max(missed or found, key=lambda r: abs(r.measured - r.predicted) / max(r.high - r.low, 1e-9))
    values = {
        "position": worst.position,
        "throttle": worst.throttle_fraction,
        "measured": worst.measured,
        "low": worst.low,
        "high": worst.high,
    }
    if not missed:
        return bench_item("thrust", READY, "kept", **values)
    return bench_item("thrust", NOT_READY, "less" if worst.measured < worst.low else "more", **values)


def _moved(signals: Signals, steps: Sequence[Held]) -> BenchItem | None:
    """Whether the aircraft stayed in its place."""
    ground = signals.fresh("ground_speed_mps", least=3)
    fastest = None if ground is None else _rise(ground, signals)
    if fastest is None:
        air = signals.fresh("airspeed_mps", least=3)
        fastest = None if air is None else _rise_of_air(air, signals, steps)
    if fastest is None:
        return None
    speed_mps, at_s = fastest
    if speed_mps <= BENCH_MOVED_MPS.value:
        return bench_item("moved", READY, "stayed")
    return bench_item("moved", NOT_READY, "moved", speed_mps=speed_mps, at_s=at_s)


def _rise(samples: Samples, signals: Signals) -> tuple[float, float]:
    """The highest speed that two neighbouring readings share, over that at rest, and when. [m/s, s]"""
    values = samples.values - _at_rest(signals, samples)
    shared = np.minimum(values[:-1], values[1:])
    k = int(np.argmax(shared))
    return float(shared[k]), float(samples.time_s[k])


def _rise_of_air(
    samples: Samples, signals: Signals, steps: Sequence[Held], *, slipstream: float = 0.3, gusts: float = 3.0
) -> tuple[float, float] | None:
    """The same by airspeed, None where it cannot tell moving from wind or a propeller's slipstream.

    Parameters
    ----------
    slipstream : a sensor in it reads at every step; one that shows this share of its rise at a lower step
        too may stand in it.
    gusts : a rise by less than so many times the limit may be wind.
    """
    speed_mps, at_s = _rise(samples, signals)
    if speed_mps <= BENCH_MOVED_MPS.value:
        return speed_mps, at_s
    if speed_mps <= gusts * BENCH_MOVED_MPS.value:
        return None
    elsewhere = [
        float(np.max(inside)) - _at_rest(signals, samples)
        for step in steps
        for span in step.spans
        if not span.start_s - 2.0 <= at_s <= span.end_s + 5.0
        and (inside := _inside(samples, span)).size
        and step.throttle >= 0.4
    ]
    if not elsewhere or max(elsewhere) > slipstream * speed_mps:
        return None
    return speed_mps, at_s


def _inside(samples: Samples, span: Stretch) -> Floats:
    return samples.values[(samples.time_s >= span.start_s) & (samples.time_s <= span.end_s)]


def _warmth(signals: Signals, setup: Setup | None) -> BenchItem | None:
    """The warmest part against the sheet's limit."""
    known = [p for p in part_temperatures(signals, setup.drives if setup else ()) if p.limit_c is not None]
    if not known:
        return None
    over = [p for p in known if p.over is not None]
    nearest = max(over or known, key=lambda p: float(np.max(p.samples.values)) - (p.limit_c or 0.0))
    item = bench_item(
        "warmth",
        NOT_READY if over else READY,
        "over" if over else "inside",
        part=nearest.name,
        hottest_c=float(np.max(nearest.samples.values)),
        limit_c=nearest.limit_c,
    )
    return replace(item, covers=("part_hot", "motor_event_overheating"))
