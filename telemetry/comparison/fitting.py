"""The fit behind a recalibration: Gauss-Newton on the replays of all flights, with the sheet's own doubts
beforehand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from telemetry.comparison.replaying import Measured, flown_values, measured_flows
from telemetry.prediction.known import Known
from telemetry.prediction.replay import Conditions, Flown, replay, step_means
from telemetry.prediction.sampling import Sampled, sample, with_factors
from telemetry.sheet.setup import Setup
from telemetry.signals import Signals
from telemetry.trace import Floats, Samples

KEYS = ("pack_resistance", "drive_gain", "propeller_power", "drag")

_BANDS = np.array([0.3, 0.4, 0.5, 0.65, 0.8, 1.01])
"""Bands of throttle whose means are compared."""

IN_FLIGHT_SD = 0.06
"""How far a propeller's power in the air lies from what its static power lets expect (UIUC tables: shape of
CP over the advance ratio). Relative.
"""

_STEP_S = 1.0
_LEAST_S = 3.0


@dataclass(frozen=True, slots=True)
class Evidence:
    """One flight: what drives the replay, and what it is held against.

    `speed` is an airspeed, or a ground speed that circuits average to one, good to `speed_sd` in the mean.
    """

    setup: Setup
    conditions: Conditions
    flows: tuple[Measured, ...]
    span: tuple[float, float]
    speed: Samples | None = None
    speed_sd: float = 0.03


@dataclass(frozen=True, slots=True)
class Told:
    """What flights tell of the factors' logarithms, nothing known beforehand: their normal equations.

    weight (4, 4) times the logarithms is pull (4,). Flights add up.
    """

    weight: Floats
    pull: Floats

    def __add__(self, other: Told) -> Told:
        return Told(self.weight + other.weight, self.pull + other.pull)

    def doubted(self, key: str, sd: float) -> Told:
        """The same where one factor held on those days alone, `sd` away from its own value (solved away)."""
        k = KEYS.index(key)
        column = self.weight[:, k]
        share = 1.0 / (column[k] + sd**-2)
        return Told(self.weight - share * np.outer(column, column), self.pull - share * column * self.pull[k])

    def counted(self, share: float) -> Told:
        """The same with the weight of a `share` of it."""
        return Told(share * self.weight, share * self.pull)

    def silent(self, key: str) -> Told:
        """The same with one factor left out of it."""
        told = np.array([k != key for k in KEYS], dtype=np.float64)
        return Told(self.weight * np.outer(told, told), self.pull * told)


NOTHING = Told(np.zeros((4, 4)), np.zeros(4))


@dataclass(frozen=True, slots=True)
class Belief:
    """Logarithms of the factors in the order of KEYS, (4,), and their covariance, (4, 4)."""

    mean: Floats
    covariance: Floats

    @property
    def sd(self) -> Floats:
        """(4,) standard deviations."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))

    def after(self, told: Told) -> Belief:
        """What is believed once flights were seen."""
        before = np.linalg.inv(self.covariance)
        covariance = np.asarray(np.linalg.inv(before + told.weight), dtype=np.float64)
        return Belief(covariance @ (before @ self.mean + told.pull), covariance)

    def fixed(self, keys: Sequence[str], *, sd: float = 1e-4) -> Belief:
        """The same with some factors held where they are."""
        held = np.array([key in keys for key in KEYS])
        covariance = np.where(held[:, None] | held[None, :], 0.0, self.covariance) + np.diag(held * sd**2)
        return Belief(self.mean, covariance)

    def correlation(self, one: str, other: str) -> float:
        """Between two factors."""
        i, j = KEYS.index(one), KEYS.index(other)
        return float(self.covariance[i, j] / (self.sd[i] * self.sd[j]))

    def surprise(self, told: Told, *, least: float = 0.03) -> Floats:
        """How far flights move each factor, (4,), in standard deviations of what both doubts allow.

        Parameters
        ----------
        least : share by which they must narrow a factor's doubt to speak of it; nought else.
        """
        after = self.after(told)
        allowed = np.sqrt(np.maximum(self.sd**2 - after.sd**2, 1e-12))
        return np.where(after.sd < (1.0 - least) * self.sd, (after.mean - self.mean) / allowed, 0.0)


def evidence_of(signals: Signals, setup: Setup, conditions: Conditions) -> Evidence | None:
    """Pack current, voltage and speeds of a flight, or None when it has none of them."""
    flows = tuple(f for f in measured_flows(signals, setup) if f.quantity == "rpm" or not f.position)
    span = conditions.airborne or (float(conditions.time_s[0]), float(conditions.time_s[-1]))
    if not flows:
        return None
    speed, speed_sd = signals.fresh("airspeed_mps"), 0.03
    if speed is None:
        speed, speed_sd = signals.fresh("ground_speed_mps"), 0.05
    if speed is None or speed.time_s.size < 10 or conditions.airborne is None:
        speed = None
    return Evidence(setup, conditions, flows, span, speed, speed_sd)


def doubts_beforehand(known: Known) -> Floats:
    """What a sheet leaves open in each factor, (4,): its own doubt with that of the model.

    The model adds 15 % to the pack (temperature), 3 % to the gain (throttle curve), 6 % to the propeller (in
    flight).
    """
    drive = known.drives[0]
    return np.array(
        [
            np.hypot(known.cell_sd, 0.15),
            np.hypot(drive.kv_sd, 0.03),
            np.hypot(drive.cp_sd, IN_FLIGHT_SD),
            known.drag_sd,
        ]
    )


def told_by(
    one: Evidence,
    known: Known,
    before: Belief,
    *,
    rounds: int = 2,
    step: float = 0.02,
    with_speed: bool = True,
) -> Told:
    """What one flight tells of the factors that make its replay meet it.

    Parameters
    ----------
    before : believed of the factors; where the first replay starts.
    rounds : of Gauss-Newton; the model is nearly linear in the logarithms.
    step : of the differences that give the slopes, in the logarithm.
    with_speed : whether a measured airspeed is held against that of a point mass, which tells drag from
        thrust.
    """
    nominal = sample(known, draws=0)
    found, told = before, NOTHING
    for _ in range(rounds):
        at = np.clip(found.mean, before.mean - 0.6, before.mean + 0.6)
        points = np.vstack([at, at + step * np.eye(4)])
        sampled = with_factors(nominal, **{key: np.exp(points[:, k]) for k, key in enumerate(KEYS)})
        miss, weight = _misses(one, replay(sampled, one.setup.positions, one.conditions, step_s=_STEP_S))
        if one.speed is not None and with_speed:
            slower, speed_weight = _speed_miss(one, sampled)
            miss, weight = np.vstack([miss, slower]), np.append(weight, speed_weight)
        slopes = (miss[:, 1:] - miss[:, :1]) / step
        told = Told((slopes.T * weight) @ slopes, (slopes.T * weight) @ (slopes @ at - miss[:, 0]))
        found = before.after(told)
    return told


def _misses(one: Evidence, flown: Flown) -> tuple[Floats, Floats]:
    """How far the replay is from the log over the flight and in each band of throttle, (k, d), and the
    weights (k,).

    The flight as a whole weighs most: means are what a sheet is asked for, and the bands show the shape of
    the throttle curve and of the propeller, which no factor can follow.
    """
    command = np.mean(
        [step_means(one.conditions.time_s, c, flown.edges_s) for c in one.conditions.throttle.values()],
        axis=0,
    )
    inside = (flown.time_s >= one.span[0]) & (flown.time_s <= one.span[1])
    bands = [
        inside & (np.abs(command) >= _BANDS[0]),
        *(inside & (command >= low) & (command < high) for low, high in pairwise(_BANDS)),
    ]
    misses: list[Floats] = []
    weights: list[float] = []
    for flow in one.flows:
        covered = (flown.time_s > flow.samples.time_s[0]) & (flown.time_s < flow.samples.time_s[-1])
        measured = step_means(flow.samples.time_s, flow.samples.values, flown.edges_s)
        values = flown_values(flown, one.setup, flow)
        for k, band in enumerate(bands):
            mine = covered & band
            if mine.sum() * _STEP_S >= _LEAST_S:
                miss, sd = _miss(
                    flow.quantity,
                    one.setup.pack.cells,
                    float(measured[mine].mean()),
                    values[mine].mean(axis=0),
                    whole=k == 0,
                )
                misses.append(miss)
                weights.append(sd**-2)
    return np.array(misses).reshape(-1, flown.pack_v.shape[1]), np.array(weights)


def _speed_miss(one: Evidence, sampled: Sampled) -> tuple[Floats, float]:
    """How far the mean airspeed of a point mass is from the measured one, (1, d), and its weight."""
    alone = replace(one.conditions, airspeed_mps=None)
    flown = replay(sampled, one.setup.positions, alone, step_s=_STEP_S)
    start_s, end_s = one.span
    settled = (flown.time_s >= start_s + 10.0) & (flown.time_s <= end_s - 15.0)
    if one.speed is None or settled.sum() * _STEP_S < 20.0:
        return np.zeros((1, sampled.draws)), 0.0
    measured = step_means(one.speed.time_s, one.speed.values, flown.edges_s)[settled].mean()
    miss = np.log(flown.airspeed_mps[settled].mean(axis=0) / max(float(measured), 1.0))
    return miss[None, :], one.speed_sd**-2


def _miss(quantity: str, cells: int, measured: float, flown: Floats, *, whole: bool) -> tuple[Floats, float]:
    """One mean's distance and its standard deviation: logarithms of current and speed, volts of a cell.

    Of the whole flight (hand, gusts, the sensor from day to day) current is good to 1.5 %, speed to 1 %, a
    cell to 8 mV; of one band to 8 % and half an ampere, 3 %, 15 mV. Ours; proven on flights of a simulator
    with other physics.
    """
    if quantity == "pack_voltage_v":
        return (flown - measured) / cells, 0.008 if whole else 0.015
    miss = np.log(np.maximum(flown, 0.05) / max(measured, 0.05))
    if quantity == "rpm":
        return miss, 0.01 if whole else 0.03
    return miss, 0.015 if whole else float(np.hypot(0.08, 0.5 / max(measured, 0.5)))
