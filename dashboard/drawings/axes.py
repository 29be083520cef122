"""Axes that span the data with few ticks, and labels that keep their distance."""

from __future__ import annotations

import math
from collections.abc import Sequence

from dashboard.drawings.marks import Axis, Tick
from dashboard.figures import clock, number

_STEPS = (1.0, 2.0, 2.5, 4.0, 5.0, 10.0)
_TIME_STEPS_S = (1, 2, 5, 10, 15, 30, 60, 120, 180, 300, 600, 900, 1800, 3600)


def step_for(low: float, high: float, *, at_most: int = 5) -> float:
    """The round step that puts at most so many intervals between two values."""
    span = max(high - low, 1e-12)
    scale = 10.0 ** math.floor(math.log10(span / at_most))
    return next(s * scale for s in _STEPS if s * scale * at_most >= span * (1 - 1e-9))


def span(
    values: Sequence[float], *, at_most: int = 5, include: Sequence[float] = ()
) -> tuple[float, float, float]:
    """Round ends that hold all values, and the step between ticks."""
    held = [*values, *include]
    low, high = (min(held), max(held)) if held else (0.0, 1.0)
    if high - low < 1e-9:
        low, high = low - 0.5, high + 0.5
    step = step_for(low, high, at_most=at_most)
    return math.floor(low / step + 1e-9) * step, math.ceil(high / step - 1e-9) * step, step


def ticks(low: float, high: float, step: float) -> tuple[Tick, ...]:
    """A tick at each multiple of the step, with as many decimals as the step asks for."""
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    if step * 10**decimals % 1 > 1e-6:
        decimals += 1
    return tuple(Tick(i * step, number(i * step, decimals)) for i in range(first, last + 1))


def linear(
    values: Sequence[float], *, title: str = "", at_most: int = 5, include: Sequence[float] = ()
) -> Axis:
    """An axis over these values."""
    low, high, step = span(values, at_most=at_most, include=include)
    return Axis(low, high, ticks(low, high, step), title)


def snug(values: Sequence[float], *, title: str = "", at_most: int = 5, headroom: float = 0.06) -> Axis:
    """An axis that ends with the data, a little headroom apart, and starts at zero or the lowest value."""
    low, high = min(0.0, *values), max(values)
    high += headroom * (high - low)
    high = high if high > low else low + 1.0
    step = step_for(low, high, at_most=at_most)
    return Axis(low, high, ticks(low, high, step), title)


def timeline(start_s: float, end_s: float, *, title: str = "", at_most: int = 8) -> Axis:
    """Seconds, written min:s."""
    length_s = max(end_s - start_s, 1e-3)
    hours = 3600.0 * math.ceil(length_s / 3600.0 / at_most)
    step_s = next((s for s in _TIME_STEPS_S if length_s / s <= at_most), hours)
    first, last = math.ceil(start_s / step_s - 1e-9), math.floor(end_s / step_s + 1e-9)
    return Axis(
        start_s,
        max(end_s, start_s + 1e-3),
        tuple(Tick(i * step_s, clock(i * step_s)) for i in range(first, last + 1)),
        title,
    )


def decades(low: float, high: float, *, title: str = "", also: Sequence[float] = ()) -> Axis:
    """A logarithmic axis with a tick at its ends, at powers of ten and at `also`."""
    powers = [10.0**k for k in range(math.ceil(math.log10(low)), math.floor(math.log10(high)) + 1)]
    chosen: list[float] = []
    for value in [low, high, *also, *powers]:
        if low <= value <= high and all(abs(math.log10(value / other)) > 0.16 for other in chosen):
            chosen.append(value)
    return Axis(low, high, tuple(Tick(v, f"{v:.3g}") for v in sorted(chosen)), title, logarithmic=True)


def apart(places: Sequence[float], gap: float) -> list[float]:
    """The same places pushed apart until neighbours keep a gap, their order and middle kept."""
    order = sorted(range(len(places)), key=lambda i: places[i])
    moved = [places[i] for i in order]
    for _ in range(60):
        changed = False
        for i in range(1, len(moved)):
            short = gap - (moved[i] - moved[i - 1])
            if short > 1e-6:
                moved[i - 1] -= short / 2
                moved[i] += short / 2
                changed = True
        if not changed:
            break
    result = [0.0] * len(places)
    for rank, index in enumerate(order):
        result[index] = moved[rank]
    return result
