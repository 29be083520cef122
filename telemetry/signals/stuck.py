"""Sensors that stop partway: they hold their last value, or fall to zero, while what they hang together with
goes on moving.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from telemetry.frames import even_times, most_silent
from telemetry.physics.charge import charge_mah
from telemetry.sentences import say
from telemetry.signals.curve import busy
from telemetry.trace import Channel, Flags, Floats, Key, runs

_GRID_S = 0.5
_LAG = 3
_SILENT_S = 60.0
"""Of a longer silence nothing is to be learnt, and no grid holds it."""
_VOLTAGES = ("pack_voltage_v", "cell_voltage_v")
_WORKING = ("current_a", "power_w", "rpm")
_MOVING = ("altitude_m", "airspeed_mps", "ground_speed_mps")
_COUNTERS = {"charge_mah": 15.0, "energy_wh": 0.3}
"""Counters and how much must have passed before one that stands still is called frozen: far above their
steps.
"""


@dataclass(frozen=True, slots=True)
class Freeze:
    """Rows [first, last) in which a channel stands still at `value`; `against` is the header of what moved
    meanwhile, "" where everything stood.
    """

    key: Key
    first: int
    last: int
    value: float
    against: str
    with_all: bool = False


def find_freezes(
    time_s: Floats, channels: Mapping[Key, Channel], *, least_s: float = 5.0
) -> tuple[Freeze, ...]:
    """Every stretch in which a sensor had stopped.

    A steady reading alone proves nothing: a model at rest is steady. A channel is frozen
    where, for `least_s` and more, it keeps one value to the last digit, while another moves
    as it does when both move together.

    Parameters
    ----------
    time_s : (n,) [s]
    channels : as read.
    """
    if time_s.size < 40 or time_s[-1] - time_s[0] < 3 * least_s:
        return ()
    grid_s = _even_times(time_s, _GRID_S)
    changes = {
        key: _changes(time_s, c, grid_s)
        for key, c in channels.items()
        if key[0] in (*_VOLTAGES, *_WORKING, "throttle_fraction")
    }
    found: list[Freeze] = []
    for key, channel in channels.items():
        if key[0] not in (*_VOLTAGES, *_WORKING, *_MOVING):
            continue
        for first, last in _longest(time_s, _long_runs(time_s, channel, least_s)):
            against = _against(key, first, last, time_s, grid_s, channels, changes)
            if against:
                found.append(Freeze(key, first, last, float(channel.values[first]), against))
    found += _all_at_once(time_s, channels, found)
    found += _unwitnessed(time_s, channels, found)
    live = {
        key: without(c, [f for f in found if f.key == key])
        for key, c in channels.items()
        if key[0] == "current_a"
    }
    for key, channel in channels.items():
        if key[0] in _COUNTERS:
            stood = [
                (a, b, _counts_past(channel, time_s[a], time_s[min(b, time_s.size) - 1], time_s, live))
                for a, b in _long_runs(time_s, channel, least_s)
            ]
            found += [
                Freeze(key, a, b, float(channel.values[a]), against) for a, b, against in stood if against
            ]
    return tuple(found)


def without(channel: Channel, freezes: Sequence[Freeze]) -> Channel:
    """The channel silent where it was frozen; the first row of each, which was still read, stays."""
    if not freezes:
        return channel
    silent = np.zeros(channel.values.size, dtype=np.bool_)
    for freeze in freezes:
        silent[freeze.first + 1 : freeze.last] = True
    return replace(channel, values=np.where(silent, np.nan, channel.values), fresh=channel.fresh & ~silent)


def stated(freeze: Freeze, time_s: Floats) -> str:
    """The same as a clause."""
    to_the_end = freeze.last >= time_s.size
    return say(
        "decisions",
        "stuck_to_the_end" if to_the_end else "stuck",
        start_s=time_s[freeze.first],
        end_s=time_s[-1] if to_the_end else time_s[freeze.last - 1],
        value=freeze.value,
        others=say("decisions", "stuck_against", header=freeze.against)
        if freeze.against
        else say("decisions", "stuck_with_all" if freeze.with_all else "stuck_alone"),
    )


def _long_runs(time_s: Floats, channel: Channel, least_s: float) -> Iterator[tuple[int, int]]:
    """Runs of one value of at least `least_s`, as rows [first, last)."""
    finite = np.isfinite(channel.values)
    rows = (
        np.flatnonzero(finite & _may_stand(time_s, channel.values, least_s))
        if finite.all()
        else np.flatnonzero(finite)
    )
    if rows.size < 2:
        return
    ends_at = int(np.flatnonzero(finite)[-1]) if not finite[-1] else time_s.size - 1
    values = channel.values[rows]
    new = values[1:] != values[:-1]
    if finite.all():
        new |= np.diff(rows) > 1
    starts = np.concatenate(([0], np.flatnonzero(new) + 1))
    ends = np.append(starts[1:], values.size) - 1
    for k in np.flatnonzero(time_s[rows[ends]] - time_s[rows[starts]] >= least_s):
        yield int(rows[starts[k]]), time_s.size if rows[ends[k]] == ends_at else int(rows[ends[k]]) + 1


def _longest(time_s: Floats, found: Iterable[tuple[int, int]], *, most: int = 60) -> list[tuple[int, int]]:
    """The `most` longest runs, in order: a sensor that stopped stands longer than one that is merely slow."""
    ranked = sorted(found, key=lambda run: time_s[run[0]] - time_s[run[1] - 1])
    return sorted(ranked[:most])


def _may_stand(time_s: Floats, values: Floats, least_s: float) -> Flags:
    """Rows that can lie in a run of `least_s`: those around looks, half of that apart, that found the same
    value twice.
    """
    looks = np.searchsorted(time_s, _even_times(time_s, least_s / 2.0))
    looks = np.append(looks, time_s.size - 1)
    same = np.concatenate(([False], values[looks[1:]] == values[looks[:-1]], [False]))
    near = np.zeros(time_s.size, dtype=np.bool_)
    for k in np.flatnonzero(same).tolist():
        near[looks[max(k - 2, 0)] : looks[min(k + 1, looks.size - 1)] + 1] = True
    return near


def _even_times(time_s: Floats, step_s: float) -> Floats:
    return even_times(time_s, step_s, most_silent=most_silent(_SILENT_S, step_s, time_s.size))


def _changes(time_s: Floats, channel: Channel, grid_s: Floats) -> Floats:
    """How much a channel moves over a second and a half, on the grid; (grid − lag,)."""
    good = np.isfinite(channel.values)
    if np.count_nonzero(good) < 20:
        return np.zeros(max(grid_s.size - _LAG, 0))
    whole = bool(good.all())
    even = (
        np.interp(grid_s, time_s, channel.values)
        if whole
        else np.interp(grid_s, time_s[good], channel.values[good])
    )
    if channel.quantity in ("rpm", "throttle_fraction"):
        # As a propeller draws by them: taxiing moves them much and the pack hardly.
        even = np.abs(even) ** 2.5
    return np.asarray(even[_LAG:] - even[:-_LAG])


def _rests(channel: Channel, value: float, *, rest: float = 0.06) -> bool:
    """Whether a value is that of a motor at rest: a small share of the highest."""
    return abs(value) <= rest * _top(channel.values)


def _top(values: Floats, *, most: int = 20_000) -> float:
    """Nearly the highest size of a channel's values."""
    some = np.abs(values[:: max(1, values.size // most)])
    some = some[np.isfinite(some)]
    return float(np.percentile(some, 99.0)) if some.size else 0.0


def _peers(key: Key, channels: Mapping[Key, Channel], at_rest: bool) -> Iterator[Key]:
    """What must move when a channel does.

    A motor that stops takes its current and its speed to zero in earnest; only another
    sensor of the same motor, or the pack's voltage under the pack's current, shows that it
    did not.
    """
    quantity, position = key
    for other in channels:
        if other == key or other[0] not in (*_VOLTAGES, *_WORKING, "throttle_fraction"):
            continue
        same_motor = other[0] in _WORKING and other[1] == position and other[0] != quantity
        of_the_whole = position == "" and (other[0] in _VOLTAGES or other[0] == quantity)
        if not at_rest or quantity in _VOLTAGES or same_motor or of_the_whole:
            yield other


def _against(
    key: Key,
    first: int,
    last: int,
    time_s: Floats,
    grid_s: Floats,
    channels: Mapping[Key, Channel],
    changes: Mapping[Key, Floats],
    *,
    settle_s: float = 2.0,
) -> str:
    """The header of a channel that shows that this one was frozen, "" when none does."""
    channel = channels[key]
    value = float(channel.values[first])
    start_s, end_s = float(time_s[first]), float(time_s[min(last, time_s.size) - 1])
    if key[0] in _MOVING:
        return _flies_on(channel, first, last, time_s, channels)
    at_rest = key[0] in _WORKING and _rests(channel, value)
    # What happened just before and after the stop is not what the stopped sensor missed.
    centre_s = grid_s[: changes[key].size] + _LAG * _GRID_S / 2
    inside = (centre_s > start_s + settle_s) & (centre_s < end_s - settle_s)
    outside = (centre_s < start_s - _LAG * _GRID_S) | (centre_s > end_s + _LAG * _GRID_S)
    if inside.sum() < 4:
        return ""
    if key[0] == "cell_voltage_v" and (sibling := _siblings_move(key, inside, channels, changes)):
        return sibling
    if outside.sum() < 20:
        return ""
    told_the_same = key[0] in _WORKING and _command_stands(channels, time_s, start_s, end_s)
    for peer in _peers(key, channels, at_rest):
        if told_the_same and peer[0] in _VOLTAGES:
            continue
        if (
            at_rest
            and peer[0] in _WORKING
            and not _works_on(channels[peer], start_s + settle_s, end_s - settle_s, time_s)
        ):
            continue
        rounded = channels[peer].step if peer[0] in _VOLTAGES else 0.0
        if _moves_alone(changes[key], changes[peer], inside, outside, channel.step, rounded=rounded):
            return channels[peer].header
    return ""


def _command_stands(
    channels: Mapping[Key, Channel],
    time_s: Floats,
    start_s: float,
    end_s: float,
    *,
    settle_s: float = 0.5,
    still: float = 0.02,
) -> bool:
    """Whether every logged command stood still meanwhile, as on a stand: a motor's coarse reading may then
    stand too.
    """
    told = [c.values for key, c in channels.items() if key[0] == "throttle_fraction"]
    inside = (time_s > start_s + settle_s) & (time_s < end_s - settle_s)
    known = [v[inside & np.isfinite(v)] for v in told]
    return bool(known) and all(v.size > 0 and float(np.ptp(v)) <= still for v in known)


def _siblings_move(
    key: Key,
    inside: Flags,
    channels: Mapping[Key, Channel],
    changes: Mapping[Key, Floats],
    *,
    least_v: float = 0.01,
    steps: float = 2.0,
) -> str:
    """The header of another cell when all others move by `least_v` and two `steps`, which no rounding hides:
    one
    current flows through all of them, so a cell that stands still to the last digit is not read.
    """
    others = [k for k in channels if k[0] == key[0] and k != key]
    step = channels[key].step
    moving = all(float(np.std(changes[k][inside])) > max(least_v, steps * step) for k in others)
    return channels[others[0]].header if others and moving else ""


def _moves_alone(
    own: Floats,
    other: Floats,
    inside: Flags,
    outside: Flags,
    step: float,
    *,
    rounded: float = 0.0,
    together: float = 0.5,
    as_usual: float = 0.35,
) -> bool:
    """Whether another moves on as it did when both moved together, by enough to show in this one.

    `rounded` is the other's own step: one step to and fro is how it rounds, no move.
    """
    usual, theirs = float(np.std(own[outside])), float(np.std(other[outside]))
    if usual <= 0 or theirs <= 0 or float(np.max(np.abs(other[inside]))) <= 1.5 * rounded:
        return False
    alike = abs(float(np.corrcoef(own[outside], other[outside])[0, 1]))
    share = float(np.std(other[inside])) / theirs
    return alike >= together and share >= as_usual and alike * share * usual > 2.0 * step


def _works_on(channel: Channel, start_s: float, end_s: float, time_s: Floats, *, share: float = 0.8) -> bool:
    """Whether a motor's other sensor shows it at its usual work; one that windmills after a cut turns
    slower.
    """
    good = np.isfinite(channel.values)
    values = np.abs(channel.values)
    working = values[good & (values > 0.2 * _top(values))]
    inside = values[good & (time_s >= start_s) & (time_s <= end_s)]
    busy = inside[inside > 0.2 * _top(values)]
    return bool(
        busy.size >= 0.25 * inside.size > 0 and float(np.median(busy)) >= share * float(np.median(working))
    )


def _counts_past(
    counter: Channel, start_s: float, end_s: float, time_s: Floats, currents: Mapping[Key, Channel]
) -> str:
    """The current that flowed while a counter stood, by as much as the counter shows by far."""
    current = currents.get(("current_a", counter.position)) or currents.get(("current_a", ""))
    if current is None:
        return ""
    inside = (time_s >= start_s) & (time_s <= end_s) & np.isfinite(current.values)
    if inside.sum() < 5:
        return ""
    passed_mah = charge_mah(time_s[inside], current.values[inside])
    per_mah = 1.0 if counter.quantity == "charge_mah" else 0.01
    return (
        current.header if passed_mah * per_mah > max(_COUNTERS[counter.quantity], 10.0 * counter.step) else ""
    )


def _flies_on(
    channel: Channel,
    first: int,
    last: int,
    time_s: Floats,
    channels: Mapping[Key, Channel],
    *,
    least_s: float = 12.0,
    runs_longer: float = 5.0,
    wiggles: float = 0.05,
) -> str:
    """A height or speed, not that of the ground, that keeps its value to the end, far longer than it usually
    does, while a motor works.

    Parameters
    ----------
    wiggles : share of its moves that go back on the one before: a sensor without noise may well stand still.
    """
    value = float(channel.values[first])
    height = float(np.nanpercentile(np.abs(channel.values), 95.0))
    if last < time_s.size or abs(value) < 0.25 * height or time_s[-1] - time_s[first] < least_s:
        return ""
    rows = np.flatnonzero(np.isfinite(channel.values))
    high = channel.values[rows]
    starts = np.concatenate(([0], np.flatnonzero(high[1:] != high[:-1]) + 1))
    seconds = np.diff(np.append(time_s[rows[starts]], time_s[rows[-1]]))
    aloft = (np.abs(high[starts]) >= 0.25 * height) & (starts != np.searchsorted(rows, first))
    usual_s = float(np.percentile(seconds[aloft], 98)) if aloft.any() else np.inf
    moves = np.diff(high[starts][aloft])
    if (
        time_s[-1] - time_s[first] < runs_longer * usual_s
        or moves.size < 10
        or float(np.mean(moves[1:] * moves[:-1] < 0)) < wiggles
    ):
        return ""
    for key, other in channels.items():
        inside = other.values[first:last]
        if (
            key[0] in (*_WORKING, "throttle_fraction")
            and np.isfinite(inside).sum() > 5
            and not _rests(other, float(np.nanmedian(inside)))
        ):
            return other.header
    return ""


def _all_at_once(
    time_s: Floats,
    channels: Mapping[Key, Channel],
    found: list[Freeze],
    *,
    least_s: float = 3.0,
    lively_s: float = 1.0,
) -> list[Freeze]:
    """Stretches in which every lively sensor of working motors stands still at once: the link to the recorder
    was lost.
    """
    alone = {f.key for f in found}
    lively = [
        k
        for k, c in channels.items()
        if k[0] in (*_VOLTAGES, *_WORKING) and k not in alone and _usual_run_s(time_s, c) <= lively_s
    ]
    if len(lively) < 3 or not any(k[0] in _WORKING for k in lively):
        return []
    still = np.ones(time_s.size, dtype=np.bool_)
    for key in lively:
        own = np.zeros(time_s.size, dtype=np.bool_)
        for first, last in _long_runs(time_s, channels[key], least_s):
            own[first:last] = True
        still &= own
    freezes: list[Freeze] = []
    for first, last in runs(still):
        working = any(
            k[0] in _WORKING and not _rests(channels[k], float(channels[k].values[first]), rest=0.25)
            for k in lively
            if np.isfinite(channels[k].values[first])
        )
        if working and time_s[last - 1] - time_s[first] >= least_s:
            freezes += [Freeze(k, first, last, float(channels[k].values[first]), "", True) for k in lively]
    return freezes


def _unwitnessed(
    time_s: Floats,
    channels: Mapping[Key, Channel],
    found: Sequence[Freeze],
    *,
    least_s: float = 1.5,
    runs_longer: float = 4.0,
    least: int = 8,
    coarse: float = 0.01,
) -> list[Freeze]:
    """Busy currents that keep their value to the last digit far longer than they usually do, whatever else
    the log holds.

    Parameters
    ----------
    least_s : shorter stretches are single lost readings.
    runs_longer : as often as the longest 5 % of the other runs of one value.
    least : readings in a run that can be called stuck.
    coarse : at a command that stands still, a sensor whose step is this share of the reading may stand too.
    """
    freezes: list[Freeze] = []
    for key, channel in channels.items():
        if key[0] not in ("current_a", "power_w") or np.count_nonzero(channel.fresh) < 2:
            continue
        rows = np.flatnonzero(channel.fresh)
        values = channel.values[rows]
        starts = np.concatenate(([0], np.flatnonzero(np.diff(values) != 0.0) + 1))
        lengths = np.diff(np.append(starts, values.size))
        working = busy(values[starts], values)
        if not working.any():
            continue
        usual = float(np.percentile(lengths[working], 95))
        seconds = time_s[rows[starts + lengths - 1]] - time_s[rows[starts]]
        long = working & (lengths >= max(least, runs_longer * usual)) & (seconds > least_s)
        known = [(f.first, f.last) for f in found if f.key == key]
        for k in np.flatnonzero(long).tolist():
            first, last = int(rows[starts[k]]), int(rows[starts[k] + lengths[k] - 1]) + 1
            at = float(values[starts[k]])
            if channel.step >= coarse * abs(at) and _command_stands(
                channels, time_s, float(time_s[first]), float(time_s[last - 1])
            ):
                continue
            if not any(a <= first < b for a, b in known):
                freezes.append(Freeze(key, first, last, at, ""))
    return freezes


def _usual_run_s(time_s: Floats, channel: Channel, *, most: int = 50_000) -> float:
    """How long a working sensor keeps a value at most, but for one run in twenty. [s]"""
    # The middle of a long log says how long readings last.
    margin = max(0, channel.values.size - most) // 2
    time_s, own = time_s[margin : margin + most], channel.values[margin : margin + most]
    rows = np.flatnonzero(np.isfinite(own))
    if rows.size < 20:
        return np.inf
    values = own[rows]
    starts = np.concatenate(([0], np.flatnonzero(values[1:] != values[:-1]) + 1))
    busy = np.abs(values[starts]) > 0.06 * _top(channel.values)
    seconds = np.diff(np.append(time_s[rows[starts]], time_s[rows[-1]]))[busy]
    return float(np.percentile(seconds, 95)) if seconds.size >= 20 else np.inf
