"""When motors and pack rest in a flight, and what the pack reads there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from telemetry.estimate import Undecided
from telemetry.sentences import undecided
from telemetry.trace import Flags, Flight, Floats, Samples, Span


@dataclass(frozen=True, slots=True)
class RestReading:
    """A voltage at rest, and the rest it had had. [V, s]"""

    volts: float | Undecided
    rested_s: float | Undecided


@dataclass(frozen=True, slots=True)
class Rest:
    """The pack rests up to `until_s`, its first load, and from `from_s` on, its last. [s]"""

    until_s: float
    from_s: float

    def before(self, samples: Samples, *, settled_s: float = 3.0) -> float | Undecided:
        """The last settled reading before load, a lone first one included.

        Parameters
        ----------
        samples : of a voltage within the flight. [s, V]
        settled_s : the middle of the last three readings within so long of the last.

        Returns
        -------
        Volts, or why there is no such reading: the first one was taken under load.
        """
        ready = samples.time_s <= self.until_s
        if not ready.any():
            return undecided("signals", "starts_under_load")
        time_s, volts = samples.time_s[ready], samples.values[ready]
        return float(np.median(volts[time_s >= time_s[-1] - settled_s][-3:]))

    def after(self, samples: Samples) -> RestReading:
        """The last reading after the load.

        Parameters
        ----------
        samples : of a voltage within the flight. [s, V]

        Returns
        -------
        Undecided in a log that ends under load.
        """
        rested_s = float(samples.time_s[-1] - self.from_s) if samples.time_s.size else 0.0
        if rested_s <= 0.0:
            no = undecided("signals", "ends_under_load")
            return RestReading(no, no)
        return RestReading(float(samples.values[-1]), rested_s)


def standing(
    times_s: Floats,
    powered: Span,
    *,
    commands: Sequence[Samples | None],
    speeds: Sequence[Samples | None],
    settle_s: float = 1.0,
    closed: float = 0.01,
    still_rpm: float = 60.0,
) -> Flags:
    """Moments in which motors surely stand: what a current sensor reads there is none of theirs.

    Before the first throttle-up and after the last motor stop; in between only with the command closed and
    the propeller seen to stand, as one that windmills drives its motor.

    Parameters
    ----------
    times_s : (n,) [s]
    powered : first throttle-up to last motor stop. [s]
    commands, speeds : of the motors in question, None or empty where not logged; without any, nothing but the
        current itself shows when they run. [s, −1…1], [s, rpm]
    settle_s : for a motor to start and to spin down.
    closed : a command below it asks for nothing.
    still_rpm : a propeller below it stands; sensors round by as much.

    Returns
    -------
    (n,), false throughout without command and speed.
    """
    asked, turned = (
        [np.abs(np.interp(times_s, *s)) < below for s in logged if s is not None and s.time_s.size]
        for logged, below in ((commands, closed), (speeds, still_rpm))
    )
    if not asked and not turned:
        return np.zeros(times_s.size, dtype=np.bool_)
    still = np.all(turned, axis=0) if turned else np.ones(times_s.size, dtype=np.bool_)
    outside = (times_s < powered.start_s - settle_s) | (times_s > powered.end_s + settle_s)
    paused = np.all(asked, axis=0) if asked and turned else np.zeros(times_s.size, dtype=np.bool_)
    return np.asarray(still & (outside | paused))


def rest_of(
    flight: Flight,
    current: Samples | None,
    *,
    shows_load: bool = True,
    offset_a: float = 0.0,
    idle: float = 0.03,
    least_a: float = 1.0,
) -> Rest:
    """When the pack rests.

    Before the first throttle-up and after the last motor stop; a current that already flows there ends the
    rest before the first row that shows it. Where no motor ran the pack rests throughout. A log that begins
    or ends in the air or under power shows no rest there.

    Parameters
    ----------
    flight : the span looked at.
    current : of the pack within the flight, or None where it was not logged. [s, A]
    shows_load : whether the log holds anything that shows a running motor; else nobody knows when it rests.
    offset_a : what its sensor reads though nothing flows. [A]
    idle, least_a : a share of the highest current and an amount, above both of which the pack is loaded: more
        than radio and servos take.

    Returns
    -------
    Up to when and from when on it rests, minus and plus infinity where it shows no rest.
    """
    if isinstance(flight.powered, Undecided):
        return Rest(flight.end_s, flight.end_s) if shows_load else Rest(-np.inf, np.inf)
    from_s = np.inf if flight.cut_off in ("end", "both") else flight.powered.end_s
    if flight.cut_off in ("start", "both"):
        return Rest(-np.inf, from_s)
    until_s = flight.powered.start_s
    if current is not None and current.time_s.size:
        drawn_a = current.values - offset_a
        loaded = drawn_a > max(least_a, idle * float(np.max(drawn_a)))
        first = int(np.argmax(loaded))
        if loaded[first] and current.time_s[first] <= until_s:
            before = current.time_s[:first]
            until_s = (
                float(before[-1]) if before.size else float(np.nextafter(current.time_s[first], -np.inf))
            )
    return Rest(until_s, from_s)
