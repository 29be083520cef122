"""What changes over a season: a cell that grows apart, a pair that jumped, what a configuration costs.

Takes facts of flights in the order they were flown, never a Review. A cell is compared with its
neighbours in the same flight, so that cold days and warm days cancel.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from telemetry.estimate import Estimate, Undecided
from telemetry.limits import EVEN_SHAFT_POWER_FRACTION, HEALTHY_CELL_SPREAD_FRACTION
from telemetry.put_back import sensor_gain
from telemetry.season.ageing import PackAgeing, PackReading, pack_ageing
from telemetry.season.timer.model import Floats
from telemetry.sentences import counted, say, undecided


@dataclass(frozen=True, slots=True)
class SeasonFlight:
    """What a season takes of one flight; None or () where it was not known.

    Attributes
    ----------
    number : of the flight, as the owner counts them.
    cell_resistances_ohm : of each cell, one second after a step. [Ω]
    imbalance_fraction : of the pair.
    rate_mah_per_min : mean consumption. [mAh/min]
    put_back : what the log counted, and what the charger put back. [mAh]
    dated : whether anything tells when it was flown.
    pack_25c_ohm : of the whole pack, one second after a step, carried from `temperature_c` to 25 °C. [Ω, °C]
    """

    number: int
    configuration: str = ""
    pack: str = ""
    cell_resistances_ohm: tuple[float, ...] = ()
    imbalance_fraction: float | None = None
    rate_mah_per_min: float | None = None
    put_back: tuple[float, float] | None = None
    dated: bool = True
    pack_25c_ohm: float | None = None
    temperature_c: float | None = None


@dataclass(frozen=True, slots=True)
class CellTrend:
    """How a cell's resistance went against its neighbours' (their median).

    `change_fraction` is from the first flight to the last on the line through all;
    `since` the first flight from which on it stood above every flight before; verdict growing, steady or
    undecided.
    """

    cell: int
    change_fraction: Estimate
    since: int
    verdict: str


NOT_TOLD = Undecided("")
"""Nothing was asked of it."""


@dataclass(frozen=True, slots=True)
class PackCells:
    """The cells of one pack, by its name, over the flights it was in; `ageing` is that of the whole."""

    pack: str
    cells: tuple[CellTrend, ...] | Undecided
    ageing: PackAgeing | Undecided = NOT_TOLD


@dataclass(frozen=True, slots=True)
class PairStep:
    """The pair's imbalance jumped: the first flight after it, and the mean before and after."""

    since: int
    before_fraction: float
    after_fraction: float


@dataclass(frozen=True, slots=True)
class ConfigurationCost:
    """What a configuration takes more or less than the one flown most. Both as means of the log rate."""

    configuration: str
    against: str
    difference_fraction: Estimate


@dataclass(frozen=True, slots=True)
class PackGain:
    """What the sensor reads per ampere that flows, by the charges put back into one pack."""

    pack: str
    gain: Estimate | Undecided


@dataclass(frozen=True, slots=True)
class Trends:
    """Everything that a season shows; `cells` are those of the pack flown last, `packs` those of each pack,
    that one last, `gains` the current sensor's by each pack that was put back.
    """

    cells: tuple[CellTrend, ...] | Undecided
    pair: PairStep | Undecided | None
    configurations: tuple[ConfigurationCost, ...]
    packs: tuple[PackCells, ...] = ()
    gains: tuple[PackGain, ...] = ()


def season_trends(flights: Sequence[SeasonFlight]) -> Trends:
    """The trends of one aircraft's flights, in the order they were flown.

    Where a flight has no date, nobody knows that order: what grew or jumped stays undecided.
    """
    undated = sum(not f.dated for f in flights)
    if undated and len(flights) > 1:
        unknown = counted("trends", "undated", count=undated)
        no_order = undecided("trends", "order_unknown", undated=unknown)
        return Trends(no_order, no_order, configuration_costs(flights), (), sensor_gains(flights))
    flown_last = {f.pack: k for k, f in enumerate(flights) if len(f.cell_resistances_ohm) > 1}
    packs = tuple(
        PackCells(name, cell_trends([f for f in flights if f.pack == name]), _ageing(name, flights))
        for name in sorted(flown_last, key=flown_last.__getitem__)
    )
    return Trends(
        cell_trends(flights), pair_step(flights), configuration_costs(flights), packs, sensor_gains(flights)
    )


def _ageing(name: str, flights: Sequence[SeasonFlight]) -> PackAgeing | Undecided:
    """How a whole pack ages, by the flights that knew its temperature."""
    own = [f for f in flights if f.pack == name]
    return pack_ageing(
        [
            PackReading(f.number, cycle, f.pack_25c_ohm, f.temperature_c)
            for cycle, f in enumerate(own)
            if f.pack_25c_ohm is not None and f.temperature_c is not None
        ]
    )


def cell_trends(
    flights: Sequence[SeasonFlight], *, least_flights: int = 5, coverage: float = 0.95
) -> tuple[CellTrend, ...] | Undecided:
    """Each cell of the pack flown last, against its neighbours, on a straight line over its flights.

    `coverage` holds for all cells together (Bonferroni), so that a sound pack of many cells is not
    called growing more often than a small one. Below five flights a line through them says nothing.

    Source: ordinary least squares with Student's t; Bonferroni's inequality.
    """
    known = [f for f in flights if len(f.cell_resistances_ohm) > 1]
    if not known:
        return undecided("trends", "no_cells")
    last = known[-1]
    same = [
        f
        for f in known
        if f.pack == last.pack and len(f.cell_resistances_ohm) == len(last.cell_resistances_ohm)
    ]
    if len(same) < least_flights:
        told = counted("trends", "cells_told", count=len(same))
        return undecided("trends", "few_cells", told=told, needed=least_flights)
    ohm = np.array([f.cell_resistances_ohm for f in same])
    apart = np.column_stack(
        [np.log(ohm[:, k] / np.median(np.delete(ohm, k, axis=1), axis=1)) for k in range(ohm.shape[1])]
    )
    quantile = float(stats.t.ppf(1 - (1 - coverage) / (2 * ohm.shape[1]), len(same) - 2))
    return tuple(
        _cell_trend(k + 1, apart[:, k], [f.number for f in same], quantile) for k in range(ohm.shape[1])
    )


def _cell_trend(cell: int, apart: Floats, numbers: Sequence[int], quantile: float) -> CellTrend:
    line = stats.linregress(np.linspace(-0.5, 0.5, apart.size), apart)
    half = quantile * float(np.nan_to_num(line.stderr))  # not a number where all values are equal
    change = _of_logs(line.slope, line.slope - half, line.slope + half, say("methods", "line"))
    healthy = HEALTHY_CELL_SPREAD_FRACTION.value
    verdict = "undecided"
    if change.low > 0 and change.value >= healthy:
        verdict = "growing"
    elif change.high < 2 * healthy:
        verdict = "steady"
    above = [k for k in range(1, apart.size) if apart[k:].min() > apart[:k].max()]
    return CellTrend(cell, change, numbers[above[0] if above else 0], verdict)


def pair_step(
    flights: Sequence[SeasonFlight], *, least_each: int = 2, risk: float = 0.01
) -> PairStep | Undecided | None:
    """The one jump of the pair's imbalance that cannot be chance, or None.

    Every place between two flights is tried; the two-sample t of the best one is judged at the risk
    divided by the number of places (Bonferroni). A jump smaller than what counts as even is none.

    Both sides scatter by the same sensors, so their variance is pooled: on its own, a side of two or three
    flights shows far too small a scatter now and then, and jumps that are none are found.

    Source: Student's two-sample t.
    """
    known = [(f.number, f.imbalance_fraction) for f in flights if f.imbalance_fraction is not None]
    if len(known) < 2 * least_each + 1:
        return undecided("trends", "few_pairs", flights=len(known), needed=2 * least_each + 1)
    values = np.array([v for _, v in known])
    places = range(least_each, len(known) - least_each + 1)
    chances = [_chance(values[:k], values[k:]) for k in places]
    best = int(np.argmin(chances))
    at = places[best]
    before, after = float(values[:at].mean()), float(values[at:].mean())
    if chances[best] * len(chances) > risk or abs(after - before) < EVEN_SHAFT_POWER_FRACTION.value:
        return None
    return PairStep(known[at][0], before, after)


def _chance(one: Floats, other: Floats, *, least_sd: float = 0.001) -> float:
    """How likely two samples of one mean lie this far apart. `least_sd`: no imbalance is known better than
    0.1 %.
    """
    one_sd, other_sd = (max(float(side.std(ddof=1)), least_sd) for side in (one, other))
    found = stats.ttest_ind_from_stats(one.mean(), one_sd, one.size, other.mean(), other_sd, other.size)
    return float(found.pvalue)


def configuration_costs(
    flights: Sequence[SeasonFlight], *, coverage: float = 0.95
) -> tuple[ConfigurationCost, ...]:
    """What each configuration of two flights or more takes against the one flown most.

    Flights that repeat to the last digit show no spread and are no group.

    Source: Welch's t on the logarithm of the rate; cold days on skis may scatter more than wheels in summer.
    """
    rates: dict[str, list[float]] = {}
    for flight in flights:
        if flight.rate_mah_per_min:
            rates.setdefault(flight.configuration, []).append(math.log(flight.rate_mah_per_min))
    enough = {name: np.array(logs) for name, logs in rates.items() if len(set(logs)) > 1}
    if len(enough) < 2:
        return ()
    most = max(enough, key=lambda name: enough[name].size)
    return tuple(_cost(name, enough[name], most, enough[most], coverage) for name in enough if name != most)


def _cost(name: str, logs: Floats, most: str, base: Floats, coverage: float) -> ConfigurationCost:
    low, high = stats.ttest_ind(logs, base, equal_var=False).confidence_interval(coverage)
    middle = logs.mean() - base.mean()
    return ConfigurationCost(name, most, _of_logs(middle, low, high, say("methods", "log_rates")))


def sensor_gains(flights: Sequence[SeasonFlight]) -> tuple[PackGain, ...]:
    """What the sensor reads per ampere that flows, for each pack whose charger was read, the one flown last
    last.
    """
    charged = [f for f in flights if f.put_back is not None]
    flown_last = {f.pack: k for k, f in enumerate(charged)}
    return tuple(
        PackGain(name, sensor_gain([f.put_back for f in charged if f.pack == name and f.put_back]))
        for name in sorted(flown_last, key=flown_last.__getitem__)
    )


def _of_logs(middle: float, low: float, high: float, method: str) -> Estimate:
    """A relative change from its logarithm."""
    return Estimate(math.expm1(middle), math.expm1(low), math.expm1(high), method, kind="mean")
