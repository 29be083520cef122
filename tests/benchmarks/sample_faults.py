"""Faults put by seed into the logs of the sample scenarios: what each does to them, and what must be said."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from random import Random

import numpy as np
from numpy.typing import NDArray

SAMPLES = Path(__file__).parents[2] / "sample_logs"
SCENARIOS = ("maiden", "on_skis")
"""The sample logs of whole flights; both are clear as they are."""

STAMPS = ("%Y-%m-%dT%H:%M:%S.%f", "%d/%m/%Y %H:%M:%S.%f")
Floats = NDArray[np.float64]


@dataclass
class SampleLog:
    """A sample log as columns: the stamps, and numbers with NaN where a cell is empty."""

    headers: list[str]
    stamps: list[datetime]
    form: str
    numbers: dict[str, Floats]

    @classmethod
    def read(cls, name: str) -> SampleLog:
        """The columns of one sample."""
        text = (SAMPLES / f"{name}.csv").read_text(encoding="utf-8-sig")
        headers, *rows = csv.reader(io.StringIO(text))
        form = next(f for f in STAMPS if _reads(rows[0][0], f))
        stamps = [datetime.strptime(row[0], form) for row in rows]
        numbers = {
            h: np.array([float(row[i]) if row[i] else np.nan for row in rows])
            for i, h in enumerate(headers)
            if i
        }
        return cls(headers, stamps, form, numbers)

    @property
    def time_s(self) -> Floats:
        """Seconds since the first row."""
        return np.array([(s - self.stamps[0]).total_seconds() for s in self.stamps])

    @property
    def flying_s(self) -> tuple[float, float]:
        """The first and the last second over 10 m."""
        high = self.time_s[np.nan_to_num(self.numbers["height (m)"]) > 10.0]
        return float(high[0]), float(high[-1])

    def only(self, rows: Floats) -> None:
        """Leave the rows that are marked."""
        keep = np.flatnonzero(rows)
        self.stamps = [self.stamps[k] for k in keep]
        self.numbers = {h: v[keep] for h, v in self.numbers.items()}

    def text(self) -> str:
        """As a CSV."""
        lines = [",".join(self.headers)]
        columns = [self.numbers[h] for h in self.headers[1:]]
        for k, stamp in enumerate(self.stamps):
            cells = ("" if np.isnan(c[k]) else f"{c[k]:.10g}" for c in columns)
            lines.append(",".join([stamp.strftime(self.form)[:-3], *cells]))
        return "\n".join(lines) + "\n"


def _reads(cell: str, form: str) -> bool:
    try:
        datetime.strptime(cell, form)
    except ValueError:
        return False
    return True


@dataclass(frozen=True)
class SampleFault:
    """An edit of a log with a seeded chance, the decisions that are right, and findings of which one must be
    there; none where nothing is asked.
    """

    edit: Callable[[SampleLog, Random], None]
    decisions: tuple[str, ...]
    keys: tuple[str, ...] = ()


TOLD = ("check", "open", "stop")
QUIET = ("clear", "check")
CURRENT, CHARGE, PACK = "pack current (A)", "charge used (mAh)", "pack voltage (V)"
CELLS = tuple(f"cell {k} (V)" for k in range(1, 6))
SIDES = ("port", "starboard")


def _span(log: SampleLog, chance: Random, length_s: float) -> NDArray[np.bool_]:
    first, last = log.flying_s
    start = chance.uniform(first + 5.0, last - length_s - 5.0)
    return (log.time_s >= start) & (log.time_s < start + length_s)


def _hold(log: SampleLog, column: str, rows: NDArray[np.bool_]) -> None:
    log.numbers[column][rows] = log.numbers[column][np.flatnonzero(rows)[0]]


def _cell_stuck(log: SampleLog, chance: Random) -> None:
    rows = log.time_s > chance.uniform(*log.flying_s) * 0.5
    _hold(log, chance.choice(CELLS), rows)


def _current_stuck(log: SampleLog, chance: Random) -> None:
    _hold(log, CURRENT, _span(log, chance, 30.0))


def _voltage_stuck(log: SampleLog, chance: Random) -> None:
    _hold(log, PACK, log.time_s > chance.uniform(*log.flying_s) * 0.5)


def _current_silent(log: SampleLog, chance: Random) -> None:
    log.numbers[CURRENT][_span(log, chance, 60.0)] = np.nan


def _current_offset(log: SampleLog, chance: Random) -> None:
    log.numbers[CURRENT] += chance.choice((2.5, 3.0))


def _current_gain(log: SampleLog, chance: Random) -> None:
    log.numbers[CURRENT] *= chance.choice((0.90, 1.10))


def _counter_restarts(log: SampleLog, chance: Random) -> None:
    counter = log.numbers[CHARGE]
    after = log.time_s > chance.uniform(*log.flying_s)
    counter[after] -= counter[np.flatnonzero(after)[0]]


def _counter_scaled(log: SampleLog, chance: Random) -> None:
    log.numbers[CHARGE] *= chance.choice((0.85, 1.2))


def _ends_in_air(log: SampleLog, chance: Random) -> None:
    first, last = log.flying_s
    log.only(log.time_s < chance.uniform(first + 60.0, last - 20.0))


def _begins_in_air(log: SampleLog, chance: Random) -> None:
    first, last = log.flying_s
    log.only(log.time_s > chance.uniform(first + 10.0, last - 120.0))


def _leap(log: SampleLog, chance: Random, step: timedelta) -> None:
    row = int(np.flatnonzero(_span(log, chance, 30.0))[0])
    log.stamps = [s + step if k >= row else s for k, s in enumerate(log.stamps)]


def _stray(log: SampleLog, chance: Random, year: int) -> None:
    row = int(np.flatnonzero(_span(log, chance, 30.0))[0])
    log.stamps[row] = log.stamps[row].replace(year=year)


def _cell_high(log: SampleLog, chance: Random) -> None:
    log.numbers[chance.choice(CELLS)] += chance.choice((0.08, -0.08))


def _over_full(log: SampleLog, chance: Random) -> None:
    for column in CELLS:
        log.numbers[column] += 0.06
    log.numbers[PACK] += 0.30


def _pack_alone(log: SampleLog, chance: Random) -> None:
    log.headers = [log.headers[0], PACK]


def _without_current(log: SampleLog, chance: Random) -> None:
    log.headers = [h for h in log.headers if "current" not in h and h != CHARGE]


def _cut(log: SampleLog, chance: Random) -> None:
    side, rows = chance.choice(SIDES), _span(log, chance, 3.0)
    log.numbers[CURRENT][rows] -= log.numbers[f"{side} motor current (A)"][rows]
    log.numbers[f"{side} motor current (A)"][rows] = 0.0
    log.numbers[f"{side} propeller speed (rpm)"][rows] *= 0.45


def _poles(log: SampleLog, chance: Random) -> None:
    log.numbers[f"{chance.choice(SIDES)} propeller speed (rpm)"] *= chance.choice((6 / 7, 7 / 6))


def _low_cell(log: SampleLog, chance: Random) -> None:
    cell, drawn = chance.choice(CELLS), log.numbers[CURRENT] * 0.012
    log.numbers[cell] -= np.nan_to_num(drawn)
    log.numbers[PACK] -= np.nan_to_num(drawn)


def _every_other_row_old(log: SampleLog, chance: Random) -> None:
    for column in (CURRENT, PACK):
        held = log.numbers[column]
        held[1::2] = held[: held.size - held.size % 2 : 2][: held[1::2].size]


def _spikes(log: SampleLog, chance: Random) -> None:
    rows = np.array(chance.sample(range(len(log.stamps)), 6))
    log.numbers[CURRENT][rows] = chance.choice((400.0, 655.35))


SAMPLE_FAULTS: dict[str, SampleFault] = {
    "cell sensor stuck": SampleFault(_cell_stuck, TOLD, ("sensor_frozen", "cell_sensor")),
    "current stuck 30 s": SampleFault(_current_stuck, TOLD, ("sensor_frozen",)),
    "pack voltage stuck": SampleFault(_voltage_stuck, TOLD, ("sensor_frozen",)),
    "current silent 60 s": SampleFault(_current_silent, QUIET),
    "current reads 3 A at rest": SampleFault(_current_offset, TOLD, ("current_offset",)),
    "current gain off by 10 %": SampleFault(_current_gain, TOLD, ("current_disagrees", "charge_disagrees")),
    "counter restarts": SampleFault(_counter_restarts, QUIET, ("counter_restarted",)),
    "counter scaled": SampleFault(_counter_scaled, TOLD, ("charge_disagrees",)),
    "ends in the air": SampleFault(_ends_in_air, ("open", "stop"), ("log_cut_off", "flight_ended_hard")),
    "begins in the air": SampleFault(_begins_in_air, TOLD, ("log_cut_off",)),
    "clock leaps an hour": SampleFault(lambda g, c: _leap(g, c, timedelta(hours=1)), QUIET, ("clock_jump",)),
    "clock leaps 30 days": SampleFault(lambda g, c: _leap(g, c, timedelta(days=30)), (*QUIET, "open")),
    "clock falls a day": SampleFault(lambda g, c: _leap(g, c, timedelta(days=-1)), (*QUIET, "open")),
    "one row of 1970": SampleFault(lambda g, c: _stray(g, c, 1970), (*QUIET, "open")),
    "one row of 2099": SampleFault(lambda g, c: _stray(g, c, 2099), (*QUIET, "open")),
    "one cell reads 80 mV off": SampleFault(_cell_high, QUIET, ("cell_sensor", "overcharged")),
    "pack over full": SampleFault(_over_full, TOLD, ("overcharged", "chemistry_disagrees")),
    "pack voltage alone": SampleFault(_pack_alone, ("open",)),
    "no current at all": SampleFault(_without_current, ("open",)),
    "motor cut 3 s": SampleFault(_cut, ("stop",), ("motor_event_cut",)),
    "pole count wrong": SampleFault(_poles, QUIET, ("rpm_scale",)),
    "weak cell": SampleFault(_low_cell, ("check", "stop"), ("weak_cell_resistance",)),
    "every other row is old": SampleFault(_every_other_row_old, QUIET),
    "current spikes": SampleFault(_spikes, QUIET),
}
"""By what is wrong."""


def wrong_in(flight: dict, fault: SampleFault | None) -> tuple[str, ...]:
    """What contradicts the truth in one flight of a review's object; a sample without a fault is clear."""
    decisions, keys = (fault.decisions, fault.keys) if fault else (("clear",), ())
    said = {f["key"] for f in flight["findings"]}
    found = []
    if flight["decision"] not in decisions:
        found.append(f"decision {flight['decision']}, allowed {list(decisions)}")
    if keys and not said & set(keys):
        found.append(f"no finding of {keys}, has {sorted(said)}")
    return tuple(found)
