"""The time columns: one function for each way to write a time."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from random import Random

import numpy as np

from .style import Part, Style, number

DAY_S = 1_750_000_000 - 1_750_000_000 % 86_400
Columns = list[tuple[str, str, list[str]]]  # word, unit, cells


def _seconds(rng: Random, time_s: np.ndarray, start_s: float, decimal: str, *, unit: str = "s") -> Columns:
    first, *others = (time_s + start_s).tolist()
    cells = [number(first, rng.choice([2, 3]), decimal), *(number(x, 2, decimal) for x in others)]
    return [("", unit, cells)]


def _whole(
    rng: Random, time_s: np.ndarray, start_s: float, decimal: str, *, per_s: float, unit: str
) -> Columns:
    return [("", unit, [str(round(per_s * x)) for x in time_s + start_s])]


def _minutes(rng: Random, time_s: np.ndarray, start_s: float, decimal: str) -> Columns:
    t = np.round(time_s + start_s, 2)
    return [("", "", [f"{int(x // 60):02d}:{number(x % 60, 2, decimal).zfill(5)}" for x in t])]


def _of_day(
    rng: Random,
    time_s: np.ndarray,
    start_s: float,
    decimal: str,
    *,
    begin_s: float = 14 * 3600 + 23 * 60 + 11.0,
    decimals: int = 3,
    date: str = "",
) -> Columns:
    clock = np.round(time_s + start_s - start_s + begin_s, 3) % 86_400
    clock = np.round(clock, 3) if decimals else np.floor(clock)
    width = 3 + decimals if decimals else 2
    # fractions of a second are written with a point by most, whatever the decimal sign
    point = "." if decimal == "." else ","
    texts = [
        f"{int(x // 3600):02d}:{int(x // 60 % 60):02d}:{number(x % 60, decimals, point).zfill(width)}"
        for x in clock
    ]
    return [*([("Date", "", [date] * len(texts))] if date else []), ("", "", texts)]


def _iso(rng: Random, time_s: np.ndarray, start_s: float, decimal: str) -> Columns:
    stamps = np.datetime64("2025-06-14T14:23:11.000") + np.round(1000 * time_s).astype("timedelta64[ms]")
    joint = rng.choice(["T", " "])
    return [("", "", [str(s).replace("T", joint) for s in stamps])]


def _epoch_s(rng: Random, time_s: np.ndarray, start_s: float, decimal: str) -> Columns:
    return [("", rng.choice(["s", ""]), [number(DAY_S + 40_000 + x, 2, decimal) for x in time_s])]


def _epoch_ms(rng: Random, time_s: np.ndarray, start_s: float, decimal: str) -> Columns:
    return [("", rng.choice(["ms", ""]), [str(round(1000 * (DAY_S + 40_000 + x))) for x in time_s])]


def _wrapping(rng: Random, time_s: np.ndarray, start_s: float, decimal: str) -> Columns:
    return [("", "ms", [str(round(1000 * x + 40_000) % 65_536) for x in time_s])]


WRITERS: dict[str, Callable[[Random, np.ndarray, float, str], Columns]] = {
    "s": _seconds,
    "s unsaid": partial(_seconds, unit=""),
    "ms": partial(_whole, per_s=1000, unit="ms"),
    "ms unsaid": partial(_whole, per_s=1000, unit=""),
    "µs": partial(_whole, per_s=1e6, unit="µs"),
    "mm:ss": _minutes,
    "hh:mm:ss": _of_day,
    "midnight": partial(_of_day, begin_s=86_400 - 60.0),
    "whole seconds": partial(_of_day, decimals=0),
    "date apart": partial(_of_day, date="14.06.2025"),
    "iso": _iso,
    "epoch s": _epoch_s,
    "epoch ms": _epoch_ms,
    "wrap": _wrapping,
}


def time_parts(style: Style, time_s: np.ndarray) -> tuple[list[Part], np.ndarray]:
    """The time columns, and the true time of each row."""
    start_s = style.rng.choice([0.0, 0.0, 3.2, 57.0])
    found = []
    for word, unit, cells in WRITERS[style.time](style.rng, time_s, start_s, style.decimal):
        header, row = style.named(word or style.word("time"), unit)
        if style.place == "none" and unit and style.time in ("ms", "µs", "wrap"):
            header = f"{header} ({unit})"
        found.append(Part(("time_s", ""), header, row, cells))
    return found, time_s
