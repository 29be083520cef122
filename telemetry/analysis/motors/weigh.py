"""Every hypothesis on one likelihood, and what follows for the pair."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import nnls

from telemetry.analysis.motors.blocks import Blocks
from telemetry.analysis.motors.causes import NAMES, PARTS, Hypothesis, columns, commanded, hypotheses
from telemetry.analysis.motors.physics import (
    Effect,
    WorkingPoint,
    WorkingPointGuess,
    supply_effect,
    working_point,
)
from telemetry.analysis.motors.ratios import sum_deviation
from telemetry.trace import Floats

REAL = np.array([part.real for part in PARTS])

MODEL_DOUBT = 0.06
"""One sigma, from pairs simulated with such losses."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """The posterior of a pair.

    Attributes
    ----------
    cause : probability of each cause, "none" and "several" included.
    imbalance, current : (s,) draws of the differences of shaft power and of true current, right less left ÷
        mean.
    part : (s,) the part each draw's hypothesis is about, "" for none and several.
    size : (s,) that part's difference.
    mixed : (s,) the difference of shaft power that was commanded on purpose.
    """

    cause: dict[str, float]
    imbalance: Floats
    current: Floats
    part: tuple[str, ...]
    size: Floats
    mixed: Floats


@dataclass(frozen=True, slots=True)
class Data:
    """Logarithms right less left, stacked: speeds, then currents, then the pack's excess. `weight` is 1 ÷
    variance.
    """

    value: Floats
    weight: Floats
    has_rpm: bool
    has_current: bool
    has_excess: bool

    def stack(self, effect: Effect, in_sum: float = 0.0) -> Floats:
        """An effect in the order of the data."""
        parts = ([effect.speed] if self.has_rpm else []) + ([effect.current] if self.has_current else [])
        return np.concatenate([*parts, [in_sum]] if self.has_excess else parts)


def gather(blocks: Blocks, *, steady: float = 0.03, mixed: float = 0.06) -> Data:
    """The data and how sure they are.

    Parameters
    ----------
    steady : a command that moves by this much within a window doubles its variance.
    mixed : so do commands that far apart, in logarithms, or four times that of rudder: what they do is only
        known to first order.

    Notes
    -----
    The logarithm of the ratio is taken as 2·(right − left)/(right + left), equal to 0.3 % below a difference
    of a fifth and not bent by noise.
    """
    command = np.maximum(np.mean(blocks.command, axis=0), 0.05)
    base = np.column_stack([np.ones(command.size), np.log(command), 1.0 / command**2])
    if blocks.rudder is not None and blocks.rudder_rise is not None:
        base = np.column_stack([base, blocks.rudder / command, blocks.rudder_rise / command])
    if np.any(blocks.supply):
        base = np.column_stack([base, blocks.supply])
    if np.any(blocks.apart):
        base = np.column_stack([base, blocks.apart, blocks.apart_rise, blocks.apart / command])
    rough = 1.0 + (blocks.roughness / steady) ** 2 + (blocks.apart / mixed) ** 2
    if blocks.rudder is not None:
        rough = rough + (blocks.rudder / (4.0 * mixed)) ** 2
    values, weights = [], []
    for rows, rise, least in (
        (blocks.rpm, blocks.rpm_rise, 2e-4),
        (blocks.current_a, blocks.current_rise, 1e-3),
    ):
        if rows is None or rise is None:
            continue
        mean = np.mean(rows, axis=0)
        value = (rows[1] - rows[0]) / mean
        values.append(value)
        weights.append(
            1.0
            / _variance(value, mean / float(np.max(mean)), np.column_stack([base, rise / mean]), rough, least)
        )
    excess = _excess(blocks)
    if excess is not None:
        values.append(np.array([excess[0]]))
        weights.append(np.array([1.0 / excess[1]]))
    return Data(
        np.concatenate(values),
        np.concatenate(weights),
        blocks.rpm is not None,
        blocks.current_a is not None,
        excess is not None,
    )


def _excess(blocks: Blocks, *, doubt: float = 0.012) -> tuple[float, float] | None:
    """By which share of the motors' sum the pack's sensor sees more, and its variance; the receiver's
    constant draw is apart.

    Parameters
    ----------
    doubt : of the pack's sensor and of both motors' together (common practice, no source).
    """
    if blocks.pack_a is None or blocks.current_a is None:
        return None
    total = np.sum(blocks.current_a, axis=0)
    root = 1.0 / np.sqrt(1.0 + (blocks.roughness / 0.03) ** 2)
    base = np.column_stack([np.ones(total.size), total])
    rest = blocks.pack_a - total
    found = np.linalg.lstsq(base * root[:, None], rest * root, rcond=None)[0]
    spread = float(np.std((rest - base @ found) * root)) / max(
        float(np.std(total * root)) * np.sqrt(total.size / 8.0), 1e-9
    )
    return float(found[1]), doubt**2 + spread**2


def _variance(value: Floats, level: Floats, base: Floats, rough: Floats, least: float) -> Floats:
    """Variance of each window's relative difference, (m,).

    Notes
    -----
    Noise of a sensor is partly a share of the reading, partly the same at every reading, so that
    variance = rough·(a + b/level²). Both come from the residuals about `base`, tamed at three spreads,
    refitted once with the weights found; then it grows by how far neighbours hang together, and windows far
    out count less.
    """
    found = rough / level**2
    for _ in range(3):
        root = 1.0 / np.sqrt(found)
        rest = value - base @ np.linalg.lstsq(base * root[:, None], value * root, rcond=None)[0]
        spread = 1.5 * float(np.median(np.abs(rest) * root)) + 1e-12
        square = (np.clip(rest * root, -3 * spread, 3 * spread) / root) ** 2
        shape = np.column_stack([rough, rough / level**2])
        scale = found
        a, b = nnls(shape / scale[:, None], square / scale)[0]
        found = shape @ np.array([a + least**2, b + (0.1 * least) ** 2])
    score = rest / np.sqrt(found)
    spread = max(1.5 * float(np.median(np.abs(score))), 0.5)
    tamed = np.clip(score, -3 * spread, 3 * spread)
    hang = max(sum_deviation(tamed) ** 2 / max(float(tamed @ tamed), 1e-30), 1.0)
    variance: Floats = found * hang * np.maximum(np.abs(score) / (3 * spread), 1.0) ** 2
    return variance


def weigh(
    blocks: Blocks, guesses: Sequence[tuple[WorkingPointGuess, float]], *, still: bool, draws: int = 4000
) -> Weighed:
    """Compare all hypotheses over all guesses of the common working point.

    Parameters
    ----------
    guesses : each with its prior weight.
    still : the model stands.
    draws : enough for 95 % bounds to a twentieth of their width.
    """
    data = gather(blocks)
    tried = hypotheses()
    sds = np.array([h.sds for h in tried])
    about = np.array([[name == h.part for name in NAMES] for h in tried], dtype=np.float64)
    logs, means, covers = [], [], []
    for guess, prior in guesses:
        point = working_point(blocks, guess, still=still)
        design, goals = _design(blocks, point, data)
        known, goal_known = _known(blocks, point, data)
        log, mean, cover = _posterior(design, data.value - known, data.weight, sds)
        asked = np.concatenate(
            [np.broadcast_to(goals, (len(tried), *goals.shape)), about[:, None, :]], axis=1
        )
        logs.append(log + np.log(prior * np.array([h.prior for h in tried])))
        means.append((asked @ mean[:, :, None])[:, :, 0] + np.array([0.0, 0.0, goal_known, 0.0]))
        covers.append(asked @ cover @ asked.transpose(0, 2, 1))
    return _mix(tried, np.array(logs), np.array(means), np.array(covers), draws)


def _design(blocks: Blocks, point: WorkingPoint, data: Data) -> tuple[Floats, Floats]:
    """(n, K) columns as stacked in the data, and (3, K) what each part does to imbalance, true current and
    mixed imbalance.
    """
    effects = columns(blocks, point)
    stacked = np.array([data.stack(e, part.in_sum) for e, part in zip(effects, PARTS, strict=True)]).T
    by_power = point.shaft / np.sum(point.shaft)
    by_current = point.supply / np.sum(point.supply)
    shaft = np.array([e.shaft @ by_power for e in effects])
    current = np.array([e.current @ by_current for e in effects])
    mixing = np.array([part.name in ("mixed_rudder", "mixed_command", "mixed_bend") for part in PARTS])
    return stacked, np.array([shaft * REAL, current * REAL, shaft * mixing])


def _known(blocks: Blocks, point: WorkingPoint, data: Data) -> tuple[Floats, float]:
    asked = commanded(blocks, point)
    fed = data.stack(supply_effect(point, blocks.supply))
    return data.stack(asked) + fed, float(asked.shaft @ point.shaft / np.sum(point.shaft))


def _posterior(design: Floats, value: Floats, weight: Floats, sds: Floats) -> tuple[Floats, Floats, Floats]:
    """Log marginal likelihood (h,), posterior mean (h, K) and covariance (h, K, K) of a linear Gaussian
    model.

    The prior of each part is Gaussian about zero with `sds` (h, K).
    """
    used = np.any(design != 0.0, axis=0)
    width = sds[:, used]
    columns_ = design[:, used]
    inner = columns_.T @ (columns_ * weight[:, None])
    side = columns_.T @ (value * weight)
    system = np.eye(width.shape[1]) + width[:, :, None] * inner * width[:, None, :]
    part = width[:, :, None] * np.linalg.inv(system) * width[:, None, :]
    log = (
        0.5 * (part @ side) @ side
        - 0.5 * np.linalg.slogdet(system)[1]
        - 0.5 * float(value @ (value * weight))
    )
    mean, cover = np.zeros(sds.shape), sds[:, :, None] * np.eye(sds.shape[1]) * sds[:, None, :]
    mean[:, used] = part @ side
    cover[np.ix_(np.arange(sds.shape[0]), used, used)] = part
    return log, mean, cover


def _mix(tried: Sequence[Hypothesis], logs: Floats, means: Floats, covers: Floats, draws: int) -> Weighed:
    """Draw imbalance, current, mixed imbalance and size (g, h, 4) from the mixture of all components.

    What a first-order motor leaves out (iron loss, a controller's own losses) moves the imbalance by
    `MODEL_DOUBT` of the differences themselves.
    """
    share = np.exp(logs - np.max(logs))
    share /= np.sum(share)
    causes: dict[str, float] = {}
    for h, p in zip(tried, np.sum(share, axis=0), strict=True):
        causes[h.cause] = causes.get(h.cause, 0.0) + float(p)
    random = np.random.default_rng(20)
    chosen = np.repeat(np.arange(share.size), random.multinomial(draws, share.ravel()))
    values, vectors = np.linalg.eigh(covers.reshape(-1, 4, 4)[chosen])
    spread = (vectors @ (random.standard_normal((draws, 4)) * np.sqrt(np.maximum(values, 0.0)))[:, :, None])[
        :, :, 0
    ]
    drawn = means.reshape(-1, 4)[chosen] + spread
    doubt = MODEL_DOUBT * np.hypot(drawn[:, 0], drawn[:, 1]) * random.standard_normal(draws)
    parts = tuple(tried[int(k) % len(tried)].part for k in chosen)
    return Weighed(causes, drawn[:, 0] + doubt, drawn[:, 1], parts, drawn[:, 3], drawn[:, 2])
