"""What goes with the motors: the command that they follow, and the speed that follows the current."""

from __future__ import annotations

from collections.abc import Collection, Iterator

import numpy as np
from scipy.stats import rankdata

from telemetry.importers.columns.behaviour.known import ColumnGuess, KnownLog, places
from telemetry.importers.columns.candidates import COMMANDS
from telemetry.importers.columns.evidence import alike
from telemetry.sentences import say
from telemetry.trace import Flags, Floats


def _drive(log: KnownLog) -> tuple[Floats, str, tuple[float, float]] | None:
    """What the motors do, in words, and the power of the command that it goes with.

    A propeller's torque goes with the square of its speed, its current with command times
    torque: between the square and the cube, a little more or less by the pack's sag and the
    airspeed. Its speed goes with the command.
    """
    if log.amps is not None:
        return np.abs(log.amps), say("importers", "behaviour", "current"), (1.35, 4.5)
    speeds = [np.abs(log.values("rpm", p)) for p in log.positions("rpm")]
    if not speeds:
        return None
    return np.asarray(np.mean(speeds, axis=0)), say("importers", "behaviour", "speeds"), (0.35, 1.6)


def _follows(lead: Floats, drive: Floats, powers: tuple[float, float], *, least: float = 0.75) -> float:
    """How well a drive follows a lead, 0…1: their order, over working rows; 0 where the law is another's."""
    good = np.isfinite(lead) & np.isfinite(drive)
    top = float(np.percentile(drive[good], 99)) if good.sum() >= 40 else 0.0
    working = good & (drive > 0.04 * top) & (lead > 0)
    if top <= 0 or working.sum() < 30:
        return 0.0
    own, theirs = lead[working], drive[working]
    if np.ptp(own) <= 0:
        return 0.0
    order = alike(rankdata(own), rankdata(theirs))
    hard = own > 0.3 * float(np.percentile(own, 99))
    x, y = np.log(own[hard]), np.log(theirs[hard])
    if hard.sum() < 20 or np.std(x) < 0.03:
        return 0.0
    # The line through both spreads, not the regression: scatter in either would bend that.
    power = float(np.std(y) / np.std(x))
    return order if order > least and powers[0] < power < powers[1] else 0.0


def _comes_first(time_s: Floats, lead: Floats, drive: Floats, *, reach_s: float = 1.5) -> bool:
    """Whether a column moves no later than what follows it; True where the rows are too far apart to say."""
    step_s = float(np.median(np.diff(time_s))) if time_s.size > 2 else 0.0
    if not 0 < step_s <= 0.5:
        return True
    reach = max(1, round(reach_s / step_s))
    own, theirs = np.diff(np.nan_to_num(lead)), np.diff(np.nan_to_num(drive))
    size = own.size
    if size <= 2 * reach:
        return True
    together = [
        float(np.sum(own[max(0, -k) : size - max(0, k)] * theirs[max(0, k) : size - max(0, -k)]))
        for k in range(-reach, reach + 1)
    ]
    return int(np.argmax(together)) - reach >= -1


def _readings(numbers: Floats, resting: Flags) -> Iterator[tuple[str, Floats]]:
    """The ways in which numbers can be a command that rests where the motors rest."""
    for ways in COMMANDS.values():
        for way in ways:
            values = numbers * way.factor + way.offset
            good = values[np.isfinite(values)]
            if good.size < 40 or float(np.mean((good > -1.05) & (good < 1.05))) < 0.99:
                continue
            at_rest = values[resting & np.isfinite(values)]
            rest = float(np.median(at_rest)) if at_rest.size >= 5 else float(np.percentile(np.abs(good), 1))
            if float(np.percentile(np.abs(good), 99)) > 0.35 and abs(rest) < 0.12:
                yield way.name, np.abs(values)


def command(columns: Collection[int], log: KnownLog) -> dict[int, ColumnGuess]:
    """Numbers in a command's range that rest with the motors, move first, and that the current follows as a
    propeller's does.
    """
    drive = _drive(log)
    if drive is None or log.positions("throttle_fraction"):
        return {}
    level, name, powers = drive
    resting = level < 0.04 * float(np.nanpercentile(level, 99))
    seen: dict[int, tuple[float, str]] = {}
    for i in columns:
        for unit, values in _readings(log.numbers(i), resting):
            score = _follows(values, level, powers)
            if score > seen.get(i, (0.0, ""))[0] and _comes_first(log.evidence.time_s, values, level):
                seen[i] = (score, unit)
    doubt = say("importers", "behaviour", "order_guessed") if len(seen) > 1 else ""
    found = {}
    positions = places(len(seen), log.motors("current_a", "rpm"), alone="")
    for position, i in zip(positions, sorted(seen), strict=True):
        low, high = float(np.nanmin(log.numbers(i))), float(np.nanmax(log.numbers(i)))
        why = say("importers", "behaviour", "command", low=low, high=high, drive=name) + doubt
        found[i] = ColumnGuess("throttle_fraction", position, seen[i][1], why)
    if len(found) > 4:
        best = max(seen, key=lambda i: seen[i][0])
        return {best: found[best]}
    return found


def speed(columns: Collection[int], log: KnownLog) -> dict[int, ColumnGuess]:
    """Thousands that rest with the motors and go with the current as a propeller's speed does."""
    if log.amps is None or log.positions("rpm"):
        return {}
    draw = np.abs(log.amps)
    resting = draw < 0.02 * float(np.nanpercentile(draw, 99))
    seen = [i for i in columns if _turns_with(log.numbers(i), draw, resting)]
    if len(seen) > 4:
        return {}
    motors = log.motors("current_a")
    positions = places(len(seen), motors, alone=motors[0] if len(motors) == 1 else "centre")
    why = say("importers", "behaviour", "speed")
    return {i: ColumnGuess("rpm", place, "rpm", why) for i, place in zip(seen, positions, strict=True)}


def _turns_with(numbers: Floats, draw: Floats, resting: Flags) -> bool:
    good = numbers[np.isfinite(numbers)]
    if good.size < 40 or float(good.min()) < 0 or resting.sum() < 5:
        return False
    top = float(np.percentile(good, 99))
    if not 2500 < top < 45_000 or not float(np.nanpercentile(numbers[resting], 25)) < 0.05 * top:
        return False
    return bool(_follows(numbers, draw, (1.5, 4.0), least=0.55))
