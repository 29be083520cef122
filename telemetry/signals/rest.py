"""When the pack rests in a flight, and what it reads there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.estimate import Undecided
from telemetry.sentences import undecided
from telemetry.trace import Flight, Samples


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
        """The last reading after the load; undecided in a log that ends under load."""
        rested_s = float(samples.time_s[-1] - self.from_s) if samples.time_s.size else 0.0
        if rested_s <= 0.0:
            no = undecided("signals", "ends_under_load")
            return RestReading(no, no)
        return RestReading(float(samples.values[-1]), rested_s)


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
    current : of the pack within the flight, or None where it was not logged. [s, A]
    shows_load : whether the log holds anything that shows a running motor; else nobody knows when it rests.
    offset_a : what its sensor reads though nothing flows. [A]
    idle, least_a : a share of the highest current and an amount, above both of which the pack is loaded: more
        than radio and servos take.
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
