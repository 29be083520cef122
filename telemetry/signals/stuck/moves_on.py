"""Another channel that moves on while one stands still, as the two move together at other times."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from telemetry.frames import even_times, most_silent
from telemetry.signals.stuck.freeze import COMMANDS, VOLTAGES, WORKING, rests, top
from telemetry.signals.stuck.same_value import SILENT_S
from telemetry.trace import Channel, Flags, Floats, Key

_GRID_S = 0.5
_LAG = 3
_PEERS = (*VOLTAGES, *WORKING, *COMMANDS)


@dataclass(frozen=True, slots=True)
class Movement:
    """How much each electrical channel moves over a second and a half, on an even grid.

    Attributes
    ----------
    time_s : (n,) the log's clock. [s]
    channels : as read, each (n,).
    centre_s : (m,) the middle of each move. [s]
    changes : (m,) by channel. [the quantity's unit]
    """

    time_s: Floats
    channels: Mapping[Key, Channel]
    centre_s: Floats
    changes: Mapping[Key, Floats]

    @classmethod
    def of(cls, time_s: Floats, channels: Mapping[Key, Channel]) -> Movement:
        """The movement of a log.

        Parameters
        ----------
        time_s : (n,) [s]
        channels : as read, each (n,).

        Returns
        -------
        That of voltages, currents, powers, speeds and commands.
        """
        grid_s = even_times(time_s, _GRID_S, most_silent=most_silent(SILENT_S, _GRID_S, time_s.size))
        changes = {key: _changes(time_s, c, grid_s) for key, c in channels.items() if key[0] in _PEERS}
        return cls(time_s, channels, grid_s[: max(grid_s.size - _LAG, 0)] + _LAG * _GRID_S / 2, changes)

    def against(self, key: Key, first: int, last: int, *, settle_s: float = 2.0) -> str:
        """What shows that a channel was frozen.

        Parameters
        ----------
        key : a voltage, current, power or speed.
        first, last : rows [first, last) in which it keeps one value.
        settle_s : what happened so shortly after the start and before the end is not what it missed. [s]

        Returns
        -------
        The header of another channel that moved on meanwhile, "" when none did.
        """
        channel = self.channels[key]
        start_s, end_s = float(self.time_s[first]), float(self.time_s[min(last, self.time_s.size) - 1])
        inside = (self.centre_s > start_s + settle_s) & (self.centre_s < end_s - settle_s)
        outside = (self.centre_s < start_s - _LAG * _GRID_S) | (self.centre_s > end_s + _LAG * _GRID_S)
        if inside.sum() < 4:
            return ""
        rows = (self.time_s > start_s + settle_s) & (self.time_s < end_s - settle_s)
        if key[0] == "cell_voltage_v" and (sibling := self._siblings_move(key, rows)):
            return sibling
        if outside.sum() < 20:
            return ""
        at_rest = key[0] in WORKING and rests(channel, float(channel.values[first]))
        told_the_same = key[0] in WORKING and command_stands(self.channels, self.time_s, start_s, end_s)
        own = self.changes[key]
        for peer in _peers(key, self.channels, at_rest):
            other = self.channels[peer]
            if told_the_same and peer[0] in VOLTAGES:
                continue
            works = at_rest and peer[0] in WORKING
            if works and not _works_on(other, start_s + settle_s, end_s - settle_s, self.time_s):
                continue
            rounded = other.step if peer[0] in VOLTAGES else 0.0
            if peer[0] in VOLTAGES and not _to_and_fro(self.changes[peer][inside], rounded):
                continue
            if _moves_alone(own, self.changes[peer], inside, outside, channel.step, rounded=rounded):
                return other.header
        return ""

    def _siblings_move(self, key: Key, rows: Flags, *, least_v: float = 0.03, steps: float = 3.0) -> str:
        """The header of another cell when all others move by `least_v` and three `steps`, which no rounding
        hides: one current flows through all of them, so a cell that stands still to the last digit is not
        read.
        """
        others = [c for k, c in self.channels.items() if k[0] == key[0] and k != key]
        known = [(c, c.values[rows & np.isfinite(c.values)]) for c in others]
        moving = all(v.size > 0 and float(np.ptp(v)) > max(least_v, steps * c.step) for c, v in known)
        return others[0].header if others and moving else ""


def command_stands(
    channels: Mapping[Key, Channel],
    time_s: Floats,
    start_s: float,
    end_s: float,
    *,
    settle_s: float = 0.5,
    still: float = 0.02,
) -> bool:
    """Whether every logged command stood still, as on a stand: a motor's coarse reading may then stand too.

    Parameters
    ----------
    channels : every channel of the log, each (n,).
    time_s : (n,) [s]
    start_s, end_s : the stretch. [s]
    settle_s : left out at either end. [s]
    still : how far a command that stands may wander. [1]

    Returns
    -------
    False without a command, or with one that was silent.
    """
    told = [c.values for key, c in channels.items() if key[0] in COMMANDS]
    inside = (time_s > start_s + settle_s) & (time_s < end_s - settle_s)
    known = [v[inside & np.isfinite(v)] for v in told]
    return bool(known) and all(v.size > 0 and float(np.ptp(v)) <= still for v in known)


def _changes(time_s: Floats, channel: Channel, grid_s: Floats) -> Floats:
    """How much a channel moves over a second and a half, on the grid; (grid − lag,)."""
    good = np.isfinite(channel.values)
    if np.count_nonzero(good) < 20:
        return np.zeros(max(grid_s.size - _LAG, 0))
    even = np.interp(grid_s, time_s[good], channel.values[good])
    if channel.quantity in ("rpm", *COMMANDS):
        # As a propeller draws by them: taxiing moves them much and the pack hardly.
        even = np.abs(even) ** 2.5
    return np.asarray(even[_LAG:] - even[:-_LAG])


def _peers(key: Key, channels: Mapping[Key, Channel], at_rest: bool) -> Iterator[Key]:
    """What must move when a channel does.

    A motor that stops takes its current and its speed to zero in earnest; only another
    sensor of the same motor, or the pack's voltage under the pack's current, shows that it
    did not.
    """
    quantity, position = key
    for other in channels:
        if other == key or other[0] not in _PEERS:
            continue
        same_motor = other[0] in WORKING and other[1] == position and other[0] != quantity
        of_the_whole = position == "" and (other[0] in VOLTAGES or other[0] == quantity)
        if not at_rest or quantity in VOLTAGES or same_motor or of_the_whole:
            yield other


def _to_and_fro(changes: Floats, rounded: float, *, least: float = 0.1) -> bool:
    """Whether a voltage rises as well as falls: under a steady current it goes one way alone, as the pack is
    drawn from or filled. `least` is the rarer way's share of the moves.
    """
    up, down = (np.count_nonzero(way * changes > 1.5 * rounded) for way in (1.0, -1.0))
    return bool(min(up, down) >= least * (up + down))


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
    least = 0.2 * top(values)
    working = values[good & (values > least)]
    inside = values[good & (time_s >= start_s) & (time_s <= end_s)]
    busy = inside[inside > least]
    return bool(
        busy.size >= 0.25 * inside.size > 0 and float(np.median(busy)) >= share * float(np.median(working))
    )
