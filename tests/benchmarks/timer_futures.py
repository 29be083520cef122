"""How often the next flight lands in the reserve, and what the timer gives up: simulated futures.

    python tests/benchmarks/timer_futures.py [--futures 20000] [--seed 1]

For each number of past flights and each way the world may be, a table of two figures for every
spread between flights: the share of next flights that land below the reserve, and the flying time
given up against one who knows the aircraft's true mean and spread. Where past flights are independent
and the prediction honest, a last column gives the time given up against the best possible with the
same information: one who knows how the spreads and the predictions of this very table were drawn.

A future is one invented aircraft: its mean rate, its past flights, a prediction, and the flight that
comes next. Nothing of the model is in it but that rates are log-normal, and the last table drops that
too (Student's t with four degrees of freedom, and a skewed mixture of calm and hard flying).
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator
from dataclasses import astuple, dataclass

import numpy as np

from telemetry.history import PastFlight
from telemetry.season.timer import predict_rate
from telemetry.season.timer.model import Mixture

SPREADS = (0.04, 0.07, 0.11, 0.15)
FLIGHTS = (0, 1, 2, 3, 6, 12)
CAPACITY_MAH, RESERVE, CONFIDENCE, ALLOWANCE_S = 5200.0, 0.20, 0.95, 60.0
TRUE_RATE = 600.0
Z95 = 1.6448536269514722


@dataclass(frozen=True, slots=True)
class World:
    """How the world may be.

    prior_sd : of the prediction, None without one. prior_error : its factor; None draws it honestly
    from prior_sd. day_share : of the variance that is the day's. per_day : flights of one day.
    dated : whether the history says so. shape : of the scatter.
    """

    name: str
    prior_sd: float | None = None
    prior_error: float | None = None
    day_share: float = 0.0
    per_day: int = 1
    dated: bool = True
    shape: str = "normal"

    @property
    def has_best(self) -> bool:
        return self.prior_error is None and self.day_share == 0.0 and self.shape == "normal"


@dataclass(frozen=True, slots=True)
class Seen:
    """below : share of next flights below the reserve. given_up, against_best : mean share of the flying time
    given up.
    """

    below: float
    given_up: float
    against_best: float


WORLDS = (
    World("no prediction"),
    World("honest prediction, 10 %", prior_sd=0.10),
    World("prediction 20 % too low", prior_sd=0.10, prior_error=0.8),
    World("prediction 20 % too high", prior_sd=0.10, prior_error=1.2),
    World("three flights a day, half the variance the day's, dated", day_share=0.5, per_day=3),
    World("the same with an honest prediction", prior_sd=0.10, day_share=0.5, per_day=3),
    World("the same without dates", day_share=0.5, per_day=3, dated=False),
    World("heavy tails (t with 4 degrees)", shape="heavy"),
    World("one flight in five flown hard", shape="hard"),
)


def futures(world: World, flights: int, spread: float, count: int, seed: int) -> Seen:
    """Simulate so many futures of one kind."""
    rng = np.random.default_rng([seed, flights, round(spread * 1000)])
    shock = _shape(world.shape)
    below, given_up, best_s, ours_s = 0, 0.0, 0.0, 0.0
    quantile = _true_quantile(world.shape)
    usable = CAPACITY_MAH * (1 - RESERVE)
    knowing_s = usable / (TRUE_RATE * np.exp(quantile * spread)) * 60.0 - ALLOWANCE_S
    for _ in range(count):
        past, coming = _flown(world, flights, spread, rng, shock)
        prior = _prediction(world, rng)
        limit = predict_rate(past, confidence=CONFIDENCE, prior=prior).limit_mah_per_min
        alarm_s = usable / limit * 60.0 - ALLOWANCE_S
        below += coming * (alarm_s + ALLOWANCE_S) / 60.0 > usable
        given_up += 1.0 - alarm_s / knowing_s
        if world.has_best:
            best_s += usable / _best_limit(past, prior) * 60.0 - ALLOWANCE_S
            ours_s += alarm_s
    return Seen(below / count, given_up / count, 1.0 - ours_s / best_s if world.has_best else float("nan"))


def _best_limit(past: list[PastFlight], prior: tuple[float, float] | None) -> float:
    """The exact 95 % quantile of the next rate for one who knows how this table draws spreads and
    predictions.
    """
    logs = np.log([f.rate_mah_per_min for f in past])
    centre, sd = (np.log(prior[0]), prior[1]) if prior is not None else (float(logs.mean()), 5.0)
    variance = np.array(SPREADS) ** 2
    precision = 1 / sd**2 + logs.size / variance
    mean = (centre / sd**2 + logs.sum() / variance) / precision
    square = (logs**2).sum() / variance + centre**2 / sd**2 - mean**2 * precision
    log_weight = -0.5 * (logs.size * np.log(variance) + np.log(precision) + square)
    weight = np.exp(log_weight - log_weight.max())
    return float(
        np.exp(
            Mixture(
                weight / weight.sum(), mean, np.sqrt(1 / precision + variance), np.array(SPREADS)
            ).quantile([CONFIDENCE])[0]
        )
    )


def table(world: World, count: int, seed: int) -> Iterator[tuple[int, list[Seen]]]:
    """A row for each number of past flights, a figure for each spread."""
    for flights in FLIGHTS:
        if world.prior_sd is None and flights < 2:
            continue
        yield flights, [futures(world, flights, spread, count, seed) for spread in SPREADS]


def _flown(
    world: World,
    flights: int,
    spread: float,
    rng: np.random.Generator,
    shock: Callable[[np.random.Generator, int], np.ndarray],
):
    day = np.arange(flights) // world.per_day
    own = shock(rng, flights + 1) * spread * np.sqrt(1 - world.day_share)
    weather = rng.standard_normal(flights + 1) * spread * np.sqrt(world.day_share)
    logs = np.log(TRUE_RATE) + own + np.append(weather[day], weather[-1])
    past = [
        PastFlight(300.0, 5.0 * rate, date=f"2026-06-{1 + d:02d}" if world.dated else "")
        for rate, d in zip(np.exp(logs[:-1]), day, strict=True)
    ]
    return past, float(np.exp(logs[-1]))


def _prediction(world: World, rng: np.random.Generator) -> tuple[float, float] | None:
    if world.prior_sd is None:
        return None
    error = (
        world.prior_error
        if world.prior_error is not None
        else float(np.exp(world.prior_sd * rng.standard_normal()))
    )
    return TRUE_RATE * error, world.prior_sd


def _shape(name: str) -> Callable[[np.random.Generator, int], np.ndarray]:
    """Scatter of mean 0 and standard deviation 1."""
    if name == "heavy":
        return lambda rng, n: rng.standard_t(4, n) / np.sqrt(2.0)
    if name == "hard":
        return lambda rng, n: (
            (np.where(rng.random(n) < 0.2, 2.0, -0.5) + 0.5 * rng.standard_normal(n)) / np.sqrt(1.25)
        )
    return lambda rng, n: rng.standard_normal(n)


def _true_quantile(name: str) -> float:
    if name == "normal":
        return Z95
    return float(np.quantile(_shape(name)(np.random.default_rng(0), 2_000_000), CONFIDENCE))


def main() -> None:
    """Print every table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--futures", type=int, default=20_000, help="of each row, shared by the spreads")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--world", default="", help="only worlds whose name holds this")
    choices = parser.parse_args()
    each = choices.futures // len(SPREADS)
    for world in WORLDS:
        if choices.world not in world.name:
            continue
        print(f"\n{world.name} ({each * len(SPREADS)} futures a row)")
        print(
            "flights   "
            + "".join(f"{f'spread {100 * s:.0f} %':>16}" for s in SPREADS)
            + f"{'mean':>16}"
            + ("   against best" if world.has_best else "")
        )
        for flights, seen in table(world, each, choices.seed):
            mean = Seen(*(float(np.mean(column)) for column in zip(*(astuple(s) for s in seen), strict=True)))
            cells = "".join(f"{100 * s.below:>7.1f} /{100 * s.given_up:>6.1f} " for s in [*seen, mean])
            print(
                f"{flights:>7}   {cells}" + (f"{100 * mean.against_best:>14.1f}" if world.has_best else ""),
                flush=True,
            )


if __name__ == "__main__":
    main()
