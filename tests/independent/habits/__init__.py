"""Logs with the habits of other trades, each with its truth.

    log = write_log(17)
    log.raw, log.columns, log.duty

The same seed gives the same bytes. Nothing here is shared with the reader or with its own log generator.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from random import Random

import numpy as np

from .clocks import Times, write_times
from .dress import dressed
from .duties import Duty, Floats, measure
from .told import Told
from .words import ENGLISH, LANGUAGES, OTHER_THINGS, RIDE, SYMBOLS, TERSE, UNDERSCORED, UNITS, Words

QUANTITIES = {
    "voltage": "pack_voltage_v",
    "current": "current_a",
    "charge": "charge_mah",
    "power": "power_w",
    "energy": "energy_wh",
    "command": "throttle_fraction",
    "rpm": "rpm",
    "thrust": "thrust_n",
    "torque": "torque_nm",
    "motor_c": "motor_temperature_c",
    "esc_c": "controller_temperature_c",
    "pack_c": "pack_temperature_c",
    "air_c": "air_temperature_c",
    "ground": "ground_speed_mps",
    "air": "airspeed_mps",
    "height": "altitude_m",
    "course": "course_deg",
    "lat": "latitude_deg",
    "lon": "longitude_deg",
    "cell": "cell_voltage_v",
}
COARSE = {
    "mV": 0,
    "mA": 0,
    "mAh": 0,
    "us": 0,
    "rpm": 0,
    "gf": 1,
    "%": 1,
    "J": 0,
    "Wh": 3,
    "Ah": 4,
    "kWh": 5,
    "deg": 1,
}


@dataclass(frozen=True)
class Log:
    """One log: its bytes, its columns in the file's order, and what was measured.

    `charge_defined` is false where the columns don't say one wire's charge: then nothing is held against it.
    """

    raw: bytes
    columns: list[Told]
    times: Times
    time_s: Floats
    duty: Duty
    habit: str
    marks: str
    charge_defined: bool = True


def _decimals(unit: str, values: Floats) -> int:
    if unit in COARSE:
        return COARSE[unit]
    largest = float(np.nanmax(np.abs(values))) or 1.0
    return int(np.clip(3 - np.floor(np.log10(largest)), 1, 5))


def _column(
    rng: Random, duty: Duty, key: str, entry: tuple[str, str, bool], *, place: str = "", sign: float = 1.0
) -> Told:
    heading, unit, sure = entry
    factor, offset = UNITS[unit]
    true = duty.true[f"cell{place}"] if key == "cell" else duty.true[key]
    if key in ("lat", "lon"):
        digits, written = 6, true
    else:
        written = sign * true * factor + offset
        digits = _decimals(unit, written)
    positions = (place,) if key == "cell" else ("", "centre")
    cells = [f"{v:.{digits}f}" for v in written.tolist()]
    return Told(heading.format(place), QUANTITIES[key], positions, true, sure, cells, unit)


def _some(rng: Random, words: Words, duty: Duty, *, share: float = 0.55) -> list[str]:
    """The keys of the columns that a log of this duty has: voltage and current nearly always."""
    still = {"ground", "air", "height", "course", "lat", "lon"}
    moving = duty.kind in ("flight", "ride", "boat")
    turning = duty.kind not in ("cycler", "pulses")
    out = []
    for key in words:
        if key in ("voltage", "current"):
            out.append(key)
        elif (
            key == "cell"
            or (key in still and not moving and not (key == "air" and duty.kind == "tunnel"))
            or (key in ("rpm", "thrust", "torque", "command", "motor_c", "esc_c") and not turning)
            or (key == "height" and duty.kind != "flight")
            or (key in ("thrust", "torque") and moving)
        ):
            continue
        elif rng.random() < share:
            out.append(key)
    return out


def _worded(rng: Random, words: Words, duty: Duty, *, share: float = 0.55, sign: float = 1.0) -> list[Told]:
    out = []
    for key in _some(rng, words, duty, share=share):
        flipped = sign if key in ("current", "power") else 1.0
        out.append(_column(rng, duty, key, rng.choice(words[key]), sign=flipped))
    if "cell" in words and duty.cells > 1 and rng.random() < 0.45:
        entry = rng.choice(words["cell"])
        out += [_column(rng, duty, "cell", entry, place=str(k + 1)) for k in range(duty.cells)]
        if rng.random() < 0.3:
            out = [c for c in out if c.quantity != "pack_voltage_v"]
    return out


def _other_things(rng: Random, n: int, count: int) -> list[Told]:
    chosen = rng.sample(OTHER_THINGS, count)
    noise = np.random.default_rng(rng.randrange(2**31))
    out = []
    for heading, mean, deviation, step in chosen:
        values = np.round((mean + deviation * noise.normal(size=n)) / step) * step
        digits = max(0, -int(np.floor(np.log10(step))))
        cells = [f"{v:.{digits}f}" for v in values.tolist()]
        out.append(Told(heading, "", (), np.full(n, np.nan), False, cells))
    return out


def _doubted(columns: list[Told]) -> list[Told]:
    return [Told(c.heading, c.quantity, c.positions, c.values, False, c.cells, c.unit) for c in columns]


Habit = Callable[[Random], tuple[Duty, list[Told], Times, str]]


def _bench(rng: Random) -> tuple[Duty, list[Told], Times, str]:
    duty = measure(rng, rng.choice(["flight", "sweep", "tunnel", "pulses", "cycler"]))
    columns = _worded(rng, ENGLISH, duty)
    return duty, columns, write_times(rng, duty.time_s, "Time", style=rng.choice("([")), "bench"


def _laboratory(rng: Random) -> tuple[Duty, list[Told], Times, str]:
    duty = measure(rng, rng.choice(["cycler", "cycler", "pulses", "sweep", "tunnel"]))
    sign = rng.choice([1.0, -1.0]) if duty.kind in ("cycler", "pulses") else 1.0
    columns = _worded(rng, SYMBOLS, duty, sign=sign)
    return duty, columns, write_times(rng, duty.time_s, "t", style=rng.choice("/[")), "laboratory"


def _builder(rng: Random) -> tuple[Duty, list[Told], Times, str]:
    duty = measure(rng, rng.choice(["flight", "ride", "sweep", "tunnel"]))
    return (
        duty,
        _worded(rng, UNDERSCORED, duty),
        write_times(rng, duty.time_s, "time", style="_"),
        "underscored",
    )


def _terse(rng: Random) -> tuple[Duty, list[Told], Times, str]:
    duty = measure(rng, rng.choice(["flight", "ride", "sweep", "tunnel", "cycler"]))
    columns = _worded(rng, TERSE, duty, share=0.5)
    return duty, columns, write_times(rng, duty.time_s, "time", style=""), "terse"


def _ride(rng: Random) -> tuple[Duty, list[Told], Times, str]:
    duty = measure(rng, rng.choice(["ride", "boat"]))
    columns = _worded(rng, RIDE, duty)
    return duty, columns, write_times(rng, duty.time_s, "Time", style=rng.choice("([")), "ride or boat"


def _spreadsheet(rng: Random) -> tuple[Duty, list[Told], Times, str]:
    language = rng.choice(list(LANGUAGES))
    word, words = LANGUAGES[language]
    duty = measure(rng, rng.choice(["flight", "ride", "cycler", "sweep"]))
    return (
        duty,
        _worded(rng, words, duty),
        write_times(rng, duty.time_s, word, style=rng.choice("([")),
        language,
    )


def _headerless(rng: Random) -> tuple[Duty, list[Told], Times, str]:
    duty = measure(rng, rng.choice(["flight", "ride", "cycler", "tunnel"]))
    columns = _doubted(_worded(rng, TERSE, duty, share=0.3))
    times = write_times(rng, duty.time_s, "", style="", habit=rng.choice(["s", "ms", "epoch s", "h:mm:ss"]))
    return duty, columns, Times(times.columns, False, "headerless", times.unit), "headerless"


def _two_meters(rng: Random) -> tuple[Duty, list[Told], Times, str]:
    """Two meters of one rig: on one wire, around a converter, or on two packs. Never told by U1 alone."""
    duty = measure(rng, rng.choice(["flight", "tunnel", "cycler"]))
    u, i = rng.choice(
        [("U{}", "I{}"), ("U{} [V]", "I{} [A]"), ("Voltage {} (V)", "Current {} (A)"), ("U{}/V", "I{}/A")]
    )
    how = rng.choice(["one wire", "behind a converter", "two packs"])
    noise = np.random.default_rng(rng.randrange(2**31))
    n = duty.time_s.size
    ratio = {"one wire": (1.002, 0.994), "behind a converter": (0.45, 1.98), "two packs": (0.97, 0.91)}[how]
    values = {
        u.format(1): duty.true["voltage"],
        i.format(1): duty.true["current"],
        u.format(2): duty.true["voltage"] * ratio[0] + 0.004 * noise.normal(size=n),
        i.format(2): duty.true["current"] * ratio[1] + 0.01 * noise.normal(size=n),
    }
    columns = [
        Told(h, "", (), np.full(n, np.nan), False, [f"{v:.3f}" for v in values[h].tolist()], "V")
        for h in values
    ]
    return duty, columns, write_times(rng, duty.time_s, "Time", style="("), f"two meters, {how}"


def _house(rng: Random) -> tuple[Duty, list[Told], Times, str]:
    """A log of another trade altogether: nothing in it is a drive's."""
    duty = measure(rng, "boat")
    return duty, [], write_times(rng, duty.time_s, "Time", style="("), "none of a drive"


TRADES: list[tuple[Habit, int]] = [
    (_bench, 20),
    (_laboratory, 16),
    (_builder, 16),
    (_terse, 12),
    (_ride, 14),
    (_spreadsheet, 16),
    (_headerless, 4),
    (_two_meters, 5),
    (_house, 3),
]


def write_log(seed: int) -> Log:
    """One log of some trade; the same seed gives the same bytes."""
    rng = Random(f"habits {seed}")
    trade = rng.choices([t for t, _ in TRADES], [w for _, w in TRADES])[0]
    duty, columns, times, habit = trade(rng)
    n = duty.time_s.size
    others = rng.randint(3, 6) if not columns else rng.choice([0, 0, 1, 2, 3]) if habit != "headerless" else 0
    columns = columns + _other_things(rng, n, others)
    if rng.random() < 0.5 and habit not in ("headerless", "terse"):
        rng.shuffle(columns)

    raw, columns, marks = dressed(rng, columns, times, habit)
    return Log(
        raw,
        columns,
        times,
        duty.time_s,
        duty,
        f"{habit}, {duty.kind}, {times.habit}",
        marks,
        "two meters" not in habit,
    )
