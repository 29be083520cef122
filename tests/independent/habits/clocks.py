"""How other trades write when: a heading and its cells, and whether the unit can be told."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from random import Random

from .duties import Floats


@dataclass(frozen=True)
class Times:
    """Columns of time as (heading, cells), and whether their unit is sure."""

    columns: list[tuple[str, list[str]]]
    sure: bool
    habit: str
    unit: str = ""


def _numbers(values: Floats, decimals: int) -> list[str]:
    return [f"{v:.{decimals}f}" for v in values.tolist()]


def _clock_face(seconds: float, decimals: int, hours: bool = True) -> str:
    whole = round(seconds * 10**decimals)
    rest, fraction = divmod(whole, 10**decimals)
    minutes, s = divmod(rest, 60)
    h, m = divmod(minutes, 60)
    tail = f".{fraction:0{decimals}d}" if decimals else ""
    return f"{h}:{m:02d}:{s:02d}{tail}" if hours else f"{minutes}:{s:02d}{tail}"


HABITS = (
    "s", "s", "ms", "ms", "min", "h", "h:mm:ss", "mm:ss", "iso", "iso z", "epoch s", "epoch ms",
    "date and time", "day first", "bare", "month name", "us", "serial day",
)  # fmt: skip
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def write_times(rng: Random, time_s: Floats, word: str, *, style: str, habit: str = "") -> Times:
    """The clock's columns in one habit; `style` is how units stand in headings: (), [], /, _ or none."""
    habit = habit or rng.choice(HABITS)
    step_s = float(time_s[1] - time_s[0]) if time_s.size > 1 else 1.0
    decimals = (
        0
        if abs(step_s - round(step_s)) < 1e-9
        else (1 if abs(step_s * 10 - round(step_s * 10)) < 1e-9 else 3)
    )
    start = datetime(2024, rng.randint(1, 12), rng.randint(1, 28), rng.randint(7, 17), rng.randint(0, 59), 3)
    start = start.replace(tzinfo=UTC)
    epoch = start.timestamp()
    if habit in ("s", "ms", "min", "h", "us"):
        factor = {"s": 1.0, "ms": 1e3, "min": 1 / 60, "h": 1 / 3600, "us": 1e6}[habit]
        digits = {"s": decimals, "ms": 0, "min": 4 + decimals, "h": 6 + decimals, "us": 0}[habit]
        unit = "µs" if habit == "us" else habit
        heading = {
            "(": f"{word} ({unit})",
            "[": f"{word} [{unit}]",
            "/": f"t/{unit}",
            "_": f"time_{habit}",
            "": word,
        }[style]
        terse = style == ""
        if terse and habit in ("s", "ms"):
            heading = rng.choice({"s": ("sec", "t", word), "ms": ("ms", "millis")}[habit])
        first = rng.choice([0.0, 0.0, 12.0, 1234.0]) if habit in ("s", "ms") else 0.0
        cells = _numbers((time_s + first) * factor, digits)
        sure = not terse or heading in ("sec", "ms", "millis")
        return Times([(heading, cells)], sure, f"{heading}", habit)
    if habit in ("h:mm:ss", "mm:ss"):
        hours = habit == "h:mm:ss" or time_s[-1] > 3000
        cells = [_clock_face(t, decimals, hours) for t in time_s.tolist()]
        return Times([(word, cells)], hours or decimals > 0, habit)
    moments = [start + timedelta(seconds=t) for t in time_s.tolist()]
    keep = -4 if decimals == 0 else None
    if habit in ("iso", "iso z"):
        shown = [
            m.strftime("%Y-%m-%dT%H:%M:%S") + (f".{m.microsecond // 1000:03d}" if decimals else "")
            for m in moments
        ]
        tail = {"iso": "", "iso z": rng.choice(["Z", "+02:00"])}[habit]
        return Times([(rng.choice(["Timestamp", "Date/time", word]), [s + tail for s in shown])], True, habit)
    if habit in ("epoch s", "epoch ms"):
        factor, digits = {"epoch s": (1.0, decimals), "epoch ms": (1e3, 0)}[habit]
        heading = rng.choice(["timestamp", "epoch", "Unix time"])
        return Times([(heading, _numbers((time_s + epoch) * factor, digits))], True, habit)
    if habit == "bare":
        return Times([(word, _numbers(time_s, decimals))], False, habit)
    if habit == "serial day":
        return Times([("Date", _numbers(45000.4 + time_s / 86400, 8))], False, habit)
    face = [
        m.strftime("%H:%M:%S") + (f".{m.microsecond // 1000:03d}" if keep is None else "") for m in moments
    ]
    date = {
        "date and time": lambda m: m.strftime("%Y-%m-%d"),
        "day first": lambda m: m.strftime("%d.%m.%Y"),
        "month name": lambda m: f"{m.day} {MONTHS[m.month - 1]} {m.year}",
    }[habit]
    if habit == "date and time" and rng.random() < 0.5:
        return Times([("Date", [date(m) for m in moments]), ("Time", face)], True, habit)
    return Times(
        [
            (
                rng.choice(["Date", "Timestamp", word]),
                [f"{date(m)} {f}" for m, f in zip(moments, face, strict=True)],
            )
        ],
        True,
        habit,
    )
