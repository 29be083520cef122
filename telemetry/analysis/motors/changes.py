"""A motor's load that changed in flight, at once and for good: a shed blade, a slipping hub, a stripped gear.

What one motor carries is its torque over its speed squared; airspeed and air are the pair's own, so that the
ratio of both carries neither. A change is the split of the flight that explains this ratio best: the largest
likelihood ratio over every split, against the scatter of whole stretches (Hinkley 1970, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.analysis.motors.blocks import Blocks, blocks
from telemetry.analysis.motors.ratios import sum_deviation
from telemetry.analysis.motors.results import Event
from telemetry.analysis.motors.rows import MotorRows
from telemetry.analysis.motors.sides import MotorLog, MotorSide, held_means
from telemetry.limits import LOST_LOAD_FRACTION
from telemetry.sentences import say, undecided
from telemetry.trace import Flags, Flight, Floats, Span

IDLE_SHARE = 0.04
"""No-load current against full, where the sheet gives none (common practice, no source)."""
SPEED_PER_LOAD = 0.02
"""Least a speed rises, as a share of the load that a motor loses: with the pair's smallest share lost in the
winding (`working_point_guesses`).
"""


@dataclass(frozen=True, slots=True)
class LoadChange:
    """When the load of a pair changed, whose, and by how much.

    Attributes
    ----------
    at_s : the moment, `end_s` the last one at which the pair was compared. [s]
    motor : whose own load changed, "" where the log does not tell.
    share : what that motor carries since against before, less one; negative when it lost load. From speeds
        alone it is the speed's share that changed, which has the other sign.
    measured : "both", "current" or "rpm": from what of both motors.
    """

    at_s: float
    end_s: float
    motor: str
    share: float
    measured: str

    @property
    def is_loss(self) -> bool:
        """Whether one known motor lost load."""
        return bool(self.motor) and (self.share > 0) == (self.measured == "rpm")


@dataclass(frozen=True, slots=True)
class _Split:
    """A step in a row of windows: after which one, how large, and one sigma of it."""

    after: int
    size: float
    sd: float


def load_change(
    log: MotorLog,
    flight: Flight,
    group: Sequence[MotorRows],
    *,
    outside: Sequence[Span] = (),
    sure: float = 6.0,
    window_s: float = 1.0,
    fewest: int = 5,
    at_once: float = 0.5,
) -> LoadChange | None:
    """The largest change of a pair that stays, or None.

    Parameters
    ----------
    group : left and right motor.
    outside : spans to leave out, such as a motor's failure, which is an event of its own.
    sure : how many sigma a step must have; every split of a flight is tried, and scatter hangs together.
    window_s : short enough to tell the second.
    fewest : windows before and after, so that a passing burst or gust is no step.
    at_once : share of the step that lies between neighbouring windows: wear and heat take minutes.
    """
    pair = (group[0].position, group[1].position)
    left, right = (log.sides[p] for p in pair)
    found = blocks(log, flight, left, right, outside=outside, window_s=window_s, least_command=0.2)
    found = found.where(_at_work(found) & (np.abs(found.apart) < 0.3))
    rows = _rows(found, left, right)
    if rows is None or found.time_s.size < 2 * fewest + 4:
        return None
    measured, ratio, noise = rows
    split = _best_split(ratio, _nuisance(found), noise, fewest=fewest)
    if split is None or abs(split.size) < sure * split.sd or abs(split.size) < _least(measured):
        return None
    near = _beside(ratio, _bands(found), split.after) / split.size
    if not near > at_once or _is_a_sensor(found, split, measured):
        return None
    at_s = _moment(log, found, (left, right), split)
    motor, share = _whose(found, pair, split, measured)
    if measured == "rpm" and not motor:
        return None
    return LoadChange(at_s, float(found.time_s[-1]) + window_s / 2, motor, share, measured)


def lost_load(change: LoadChange, log: MotorLog) -> Event:
    """The event of a motor that lost load. Thrust goes with torque, about; speeds alone do not tell how much.

    Parameters
    ----------
    change : one that is a loss.
    log : may hold vibration, which a broken blade raises at once.
    """
    by_speed = change.measured == "rpm"
    shown = say("events", "lost_speed" if by_speed else "lost_load", share=abs(change.share))
    if log.vibration is not None:
        spans = (
            np.array([change.at_s - 8.0, change.at_s + 1.0]),
            np.array([change.at_s - 1.0, change.at_s + 8.0]),
        )
        before, after = (float(v) for v in held_means(log.vibration, *spans))
        if after > 1.5 * before:
            shown += say("events", "vibration", before=before, after=after)
    lost = undecided("motors", "lost_by_speed") if by_speed else -0.5 * change.share
    return Event("thrust_lost", change.motor, change.at_s, change.end_s, lost, evidence=shown)


def _at_work(found: Blocks, *, least_power: float = 0.1) -> Flags:
    """Windows in which both motors drive: below a tenth of full power a propeller follows the air as much."""
    if not found.time_s.size:
        return np.zeros(0, dtype=np.bool_)
    if found.rpm is not None:
        power = np.min(found.rpm, axis=0) ** 3
    elif found.current_a is not None:
        power = np.min(found.current_a, axis=0)
    else:
        return np.zeros(found.time_s.size, dtype=np.bool_)
    working: Flags = power > least_power * np.quantile(power, 0.95)
    return working


def _least(measured: str) -> float:
    """The smallest step that counts, in logarithms. By currents alone a sensor's own drift must not reach
    it; by speeds alone the winding shows some twentieth of the load.
    """
    least = -float(np.log1p(-LOST_LOAD_FRACTION.value))
    return {"both": least, "current": 1.6 * least, "rpm": 0.06 * least}[measured]


def _idle_a(found: Blocks, sides: tuple[MotorSide, MotorSide]) -> float:
    """No-load current of either motor, from the sheet or a share of the pair's strongest. [A]"""
    assert found.current_a is not None
    known = [p.current_a for s in sides if s.drive is not None for p in s.drive.motor.no_load_points]
    strongest = float(np.quantile(found.current_a, 0.98))
    return min(float(np.mean(known)), 0.1 * strongest) if known else IDLE_SHARE * strongest


def _rows(found: Blocks, left: MotorSide, right: MotorSide) -> tuple[str, Floats, Floats] | None:
    """What was measured, the logarithm of right ÷ left in each window, and its own noise."""
    if found.current_a is None:
        if found.rpm is None or not found.time_s.size:
            return None
        return "rpm", np.log(found.rpm[1] / found.rpm[0]), 0.002 + 0.0 * found.time_s
    if not found.time_s.size:
        return None
    strongest = float(np.quantile(found.current_a, 0.98))
    grain = max(left.current_step, right.current_step, 0.004 * strongest)
    noise = np.hypot(0.01, grain / np.min(found.current_a, axis=0))
    if found.rpm is None:
        return "current", np.log(found.current_a[1] / found.current_a[0]), noise
    idle = _idle_a(found, (left, right))
    useful = np.maximum(found.current_a - idle * found.command, 0.3 * found.current_a)
    load = np.log(useful) - 2.0 * np.log(found.rpm)
    return "both", load[1] - load[0], noise


def _nuisance(found: Blocks) -> Floats:
    """Columns that move the ratio without any change of load: a level of its own in each band of command,
    so that only like is held against like; mixed thrust. (m, k)
    """
    bands = _bands(found)
    columns = [np.where(bands == k, 1.0, 0.0) for k in np.unique(bands)]
    command = np.maximum(np.mean(found.command, axis=0), 0.05)
    if found.rudder is not None:
        columns.append(found.rudder / command)
    if np.any(found.apart):
        columns.append(found.apart)
    return np.column_stack(columns)


def _bands(found: Blocks, *, width: float = 0.1) -> Floats:
    """The band of command of each window."""
    bands: Floats = np.floor(np.mean(found.command, axis=0) / width)
    return bands


def _best_split(ratio: Floats, nuisance: Floats, noise: Floats, *, fewest: int) -> _Split | None:
    """The step of the largest likelihood ratio, None where a steady drift explains the row as well."""
    size = ratio.size
    splits = np.arange(fewest, size - fewest + 1)
    weight = 1.0 / noise
    steps = (np.arange(size)[:, None] >= splits[None, :]) * weight[:, None]
    drift = np.linspace(-1.0, 1.0, size) * weight
    base, _ = np.linalg.qr(nuisance * weight[:, None])
    data = ratio * weight

    def free(rows: Floats) -> Floats:
        left: Floats = rows - base @ (base.T @ rows)
        return left

    data, steps, drift = free(data), free(steps), free(drift)
    inner = np.maximum(np.sum(steps**2, axis=0), 1e-9)
    gain = (data @ steps) ** 2 / inner
    best = int(np.argmax(gain))
    if gain[best] <= (data @ drift) ** 2 / max(float(drift @ drift), 1e-9):
        return None
    step = steps[:, best]
    found = float(data @ step) / float(inner[best])
    rest = data - found * step
    spread = sum_deviation(rest) / np.sqrt(size)
    return _Split(int(splits[best]), found, float(spread / np.sqrt(inner[best])))


def _beside(row: Floats, bands: Floats, after: int, *, count: int = 8) -> float:
    """How far a row differs after a split from before, at equal command and as near to the split as such
    windows are; NaN where it is never the same on both sides. The two windows at the split are mixed.
    """
    known = np.isfinite(row)
    index = np.arange(row.size)
    before, behind = known & (index < after - 1), known & (index > after)
    common = np.isin(bands, np.intersect1d(bands[before], bands[behind]))
    last, first = np.nonzero(before & common)[0][-count:], np.nonzero(behind & common)[0][:count]
    differ = [
        (np.median(row[first[bands[first] == k]]) - np.median(row[last[bands[last] == k]]), pairs)
        for k in np.intersect1d(bands[last], bands[first])
        if (pairs := min(np.count_nonzero(bands[first] == k), np.count_nonzero(bands[last] == k)))
    ]
    if not differ:
        return float("nan")
    return float(np.average([d for d, _ in differ], weights=[n for _, n in differ]))


def _is_a_sensor(found: Blocks, split: _Split, measured: str) -> bool:
    """Whether only a current sensor changed: then speeds do not answer the load, or the pack's own sensor
    does not see it.
    """
    if found.current_a is None:
        return False
    if measured == "both" and found.rpm is not None:
        speed = _beside(np.log(found.rpm[1] / found.rpm[0]), _bands(found), split.after)
        if -speed / split.size < SPEED_PER_LOAD * 0.5:
            return True
    if found.pack_a is None:
        return False
    total = np.sum(found.current_a, axis=0)
    keep = found.pack_a > 0.05 * float(np.max(found.pack_a))
    excess = np.log(np.maximum(found.pack_a, 1e-3) / total)
    seen = _beside(np.where(keep, excess, np.nan), _bands(found), split.after)
    return bool(abs(seen) > 0.25 * abs(split.size))


def _whose(found: Blocks, pair: tuple[str, str], split: _Split, measured: str) -> tuple[str, float]:
    """The motor whose own figure changed, and by which share; "" and the ratio's where neither stands out.

    Both feel the same airspeed, so that the sound one moves little and smoothly beside the changed one.
    """
    command = np.log(np.maximum(found.command, 0.05))
    volts = np.log(found.voltage_v)
    if measured == "both" and found.current_a is not None and found.rpm is not None:
        own = np.log(found.current_a) - 2.0 * np.log(found.rpm)
    elif found.current_a is not None:
        own = np.log(found.current_a) - 3.0 * command - 2.0 * volts
    else:
        assert found.rpm is not None
        own = np.log(found.rpm) - command - volts
    left, right = (_beside(row, _bands(found), split.after) for row in own)
    share = float(np.expm1(split.size))
    if abs(right) > 1.5 * abs(left) and right * split.size > 0:
        return pair[1], share
    if abs(left) > 1.5 * abs(right) and left * split.size < 0:
        return pair[0], float(np.expm1(-split.size))
    return "", share


def _moment(
    log: MotorLog, found: Blocks, sides: tuple[MotorSide, MotorSide], split: _Split, *, reach_s: float = 4.0
) -> float:
    """The second of a change: where short windows around the split fall apart best. [s]"""
    at = float(found.time_s[split.after - 1] + found.time_s[split.after]) / 2.0
    pick = [(s.current, 1.0) for s in sides] if found.current_a is not None else [(s.rpm, 1.0) for s in sides]
    parts = [p for p, _ in pick if p is not None]
    step = max(0.2, *(float(np.median(np.diff(p.time_s))) for p in parts))
    starts = np.arange(at - reach_s, at + reach_s, step)
    one, two = (held_means(p, starts, starts + step) for p in parts)
    known: Flags = np.isfinite(one) & np.isfinite(two) & (one > 0) & (two > 0)
    if np.count_nonzero(known) < 8:
        return at
    row = np.log(two[known] / one[known])
    total, count = np.cumsum(row), np.arange(1, row.size + 1)
    between = (total[-1] * count / row.size - total) ** 2 / (count * (row.size - count) + 1e-9)
    best = int(np.argmax(between[1:-2])) + 1
    return float(starts[known][best] + step)
