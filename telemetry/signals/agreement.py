"""Do the current sensors agree? The pack's against the sum of its motors', and what it reads at rest."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from scipy import stats

from telemetry.derived import is_every_motor
from telemetry.estimate import Estimate, Undecided, value_of
from telemetry.limits import CURRENT_AGREES_FRACTION
from telemetry.physics.charge import AS_PER_MAH
from telemetry.sentences import say, undecided
from telemetry.signals.flow import Flow
from telemetry.signals.zero import Zero
from telemetry.trace import Decision, Flags, Flight, Floats


@dataclass(frozen=True, slots=True)
class Agreement:
    """What the current sensors say of one another: pack = rest_a + slope × sum of the motors.

    Attributes
    ----------
    slope : what the pack's sensor reads per ampere that the motors' sensors read together.
    rest_a : what the pack's sensor reads while no motor runs, receiver and servos included. [A]
    offset_a : the part of it that is the sensor's, 0 where a receiver may draw it all. [A]
    decisions : of the kinds `scaled` and `offset`, on the pack's current.
    """

    slope: Estimate | Undecided
    rest_a: float | Undecided
    offset_a: float = 0.0
    decisions: tuple[Decision, ...] = ()

    @property
    def off_fraction(self) -> float:
        """By how much the pack's sensor surely reads apart from the motors', 0 where they agree."""
        if isinstance(self.slope, Undecided):
            return 0.0
        nearest = min(max(1.0, self.slope.low), self.slope.high)
        apart = abs(nearest - 1.0) > CURRENT_AGREES_FRACTION.value
        return self.slope.value - 1.0 if apart else 0.0


def agreement_of(
    flight: Flight,
    pack: Flow | Undecided,
    motors: Mapping[str, Flow],
    expected: int,
    zero: Zero,
    *,
    alone: bool = False,
) -> Agreement:
    """The pack's sensor against the motors'.

    Parameters
    ----------
    flight : the span looked at.
    pack : its own current; one that was worked out from others agrees with them by itself.
    motors : the motors' currents that were logged, by position.
    expected : how many motors the aircraft has, as far as is known.
    zero : of the pack's sensor, already taken off its current.
    alone : the pack feeds one motor of several alone.

    Returns
    -------
    What can be told; slope and reading are undecided with a reason where it cannot.
    """
    slope: Estimate | Undecided = undecided("signals", "no_own_current")
    if isinstance(pack, Flow) and not pack.how:
        every = len(motors) >= expected and (alone or is_every_motor(tuple(motors)))
        slope = _slope(flight, pack, motors if every else {})
    found = Agreement(slope, *zero)
    return replace(found, decisions=_decisions(found, flight))


def _decisions(found: Agreement, flight: Flight) -> tuple[Decision, ...]:
    decisions = []
    if found.offset_a:
        reason = say("decisions", "offset", rest_a=value_of(found.rest_a), offset_a=found.offset_a)
        decisions.append(Decision("offset", "current_a", "", flight.start_s, flight.end_s, reason))
    if found.off_fraction:
        more = say("decisions", "reads_more" if found.off_fraction > 0 else "reads_less")
        reason = say("decisions", "scaled", by=abs(found.off_fraction), more=more)
        decisions.append(Decision("scaled", "current_a", "", flight.start_s, flight.end_s, reason))
    return tuple(decisions)


def _slope(
    flight: Flight,
    pack: Flow,
    motors: Mapping[str, Flow],
    *,
    most_blocks: int = 300,
    least_s: float = 2.0,
    least_blocks: int = 15,
    varies: float = 0.3,
) -> Estimate | Undecided:
    """Median slope of the pack's mean on the motors' over stretches of the flight, idle ones included.

    Parameters
    ----------
    most_blocks, least_s : means over so long a stretch feel no lag between the sensors; a long log has longer
        ones.
    least_blocks, varies : fewer stretches, or a load that spans less than this share of its highest, tell no
        slope from an offset.

    Notes
    -----
    The median of the slopes of all pairs of points bears outliers in three of ten. Source: Theil 1950, Sen
    1968 (from memory).
    """
    if not motors:
        return undecided("signals", "not_every_motor")
    span_s = flight.end_s - flight.start_s
    count = int(min(most_blocks, span_s / least_s))
    if count < least_blocks:
        return undecided("signals", "too_few_blocks")
    edges_s = np.linspace(flight.start_s, flight.end_s, count + 1)
    flows = (pack, *motors.values())
    heard = np.logical_and.reduce([_heard(flow, edges_s) for flow in flows])
    means = np.array([np.diff(flow.charge_at(edges_s)) * AS_PER_MAH / np.diff(edges_s) for flow in flows])
    heard &= np.all(np.isfinite(means), axis=0)
    if np.count_nonzero(heard) < least_blocks:
        return undecided("signals", "too_few_blocks")
    own, *sides = means[:, heard]
    every = np.sum(sides, axis=0)
    low, high = np.percentile(every, [2.0, 98.0])
    if high <= 0.0 or high - low < varies * high:
        return undecided("signals", "load_hardly_varies")
    value = _median_slope(own, every, varies * high)
    return Estimate.around(value, _arm(own, every, varies * high), say("signals", "slope_method"))


def _median_slope(own: Floats, every: Floats, apart: float) -> float:
    """The median slope of all pairs of points that lie so far apart: idle against idle tell none."""
    first, second = np.triu_indices(own.size, 1)
    steps = every[second] - every[first]
    far = np.abs(steps) >= apart
    return float(np.median((own[second] - own[first])[far] / steps[far])) if far.any() else 1.0


def _arm(own: Floats, every: Floats, apart: float, *, parts: int = 8) -> float:
    """Half of its 95 % interval, by leaving out one part of the flight after another (jackknife)."""
    part = np.arange(own.size) * parts // own.size
    slopes = [_median_slope(own[part != k], every[part != k], apart) for k in range(parts)]
    sd = np.sqrt((parts - 1) * float(np.var(slopes)))
    return float(stats.t.ppf(0.975, parts - 1) * sd)


def _heard(flow: Flow, edges_s: Floats) -> Flags:
    """Which stretches hold a fresh reading and no silence: (blocks,)."""
    counts = np.histogram(flow.fresh.time_s, edges_s)[0]
    heard = np.asarray(counts > 0)
    for silence in flow.bridges:
        heard &= (edges_s[1:] <= silence.start_s) | (edges_s[:-1] >= silence.end_s)
    return heard
