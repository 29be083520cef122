"""What changed between two groups of flights: every figure that both tell, at equal pack and temperature.

Takes rows of figures, never a Review. What belongs to a pack is compared within each pack that flew in both
groups; what air and cells do with temperature is taken out or left in doubt.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from scipy import stats

from telemetry.estimate import Estimate, Undecided
from telemetry.limits import AIR_DENSITY_PER_C, EVEN_SHAFT_POWER_FRACTION, HEALTHY_CELL_SPREAD_FRACTION
from telemetry.physics.cell import ONE_SECOND_ACTIVATION, arrhenius_factor
from telemetry.season.timer.model import Floats
from telemetry.sentences import say, undecided

COVERAGE = 0.95
RISK = 0.01
"""How often a figure of two groups that do not differ may be called changed."""


class Figure(NamedTuple):
    """How one figure is compared.

    Attributes
    ----------
    name : as JSON has it.
    same : a change within this is none that matters: a share, or for a figure that is a share itself a
        difference.
    least_sd : no flight tells the figure better, a share or a difference likewise.
    ratio : whether its logarithm is compared.
    of_pack : whether it belongs to a pack.
    """

    name: str
    same: float
    least_sd: float = 0.002
    ratio: bool = True
    of_pack: bool = False


FIGURES = (
    Figure("rate_mah_per_min", 0.05),
    Figure("mean_current_a", 0.05),
    Figure("pack_resistance_1s_ohm", 0.10, of_pack=True),
    Figure("cell_resistance_ratio", 2.0 * HEALTHY_CELL_SPREAD_FRACTION.value, of_pack=True),
    Figure("lowest_cell_v", 0.02),
    Figure("imbalance_fraction", EVEN_SHAFT_POWER_FRACTION.value, least_sd=0.001, ratio=False),
    Figure("least_margin_fraction", 0.05, ratio=False),
)
"""In the order they are told. The margins are ours: what a change of flying style alone brings about, twice
the spread of healthy cells, and what counts as even."""


@dataclass(frozen=True, slots=True)
class ComparedFlight:
    """What a comparison takes of one flight.

    Attributes
    ----------
    number : of the flight.
    pack : its name, "" where nobody named it.
    temperature_c : of the pack or the air, None where nobody knows. [°C]
    figures : by name, `cell_resistance_ratio@3` for a cell's; resistances at 25 °C where the temperature is
        known.
    """

    number: int
    pack: str = ""
    temperature_c: float | None = None
    figures: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class ComparedFigure:
    """One figure of both groups.

    Attributes
    ----------
    figure : its name, a cell's with its number behind "@".
    first, second : means of the groups, their intervals those of the mean; at 25 °C for a resistance.
    change_fraction : of the second against the first; a difference for a figure that is a share itself.
    verdict : changed, same or undecided.
    reason : what it rests on.
    """

    figure: str
    first: Estimate | Undecided
    second: Estimate | Undecided
    change_fraction: Estimate | Undecided
    verdict: str
    reason: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two groups of flights by their numbers, and every figure that a flight of each tells."""

    first: tuple[int, ...]
    second: tuple[int, ...]
    figures: tuple[ComparedFigure, ...]
    notes: tuple[str, ...] = ()


def compare(first: Sequence[ComparedFlight], second: Sequence[ComparedFlight]) -> Comparison:
    """What changed from one group of flights to another.

    Parameters
    ----------
    first, second : flights, none of them in both.

    Returns
    -------
    A figure is changed where a test at 1 % says so and the change is one that matters, the same where two
    one-sided tests at 1 % hold it within what does not, else undecided.

    Notes
    -----
    Welch's t within each pack, its strata weighted by how many flights tell them (Welch 1947 and
    Satterthwaite 1946, from memory), with fewer degrees of freedom in small groups. What the temperature may
    have done is added to the interval on both sides.
    """
    names = [name for f in (*first, *second) for name in f.figures]
    told = [name for kind in FIGURES for name in sorted(set(names)) if name.partition("@")[0] == kind.name]
    kinds = {kind.name: kind for kind in FIGURES}
    figures = tuple(_compared(name, kinds[name.partition("@")[0]], first, second) for name in told)
    return Comparison(
        tuple(f.number for f in first), tuple(f.number for f in second), figures, _notes(first, second)
    )


def _compared(
    name: str, kind: Figure, first: Sequence[ComparedFlight], second: Sequence[ComparedFlight]
) -> ComparedFigure:
    groups = [[f for f in group if name in f.figures] for group in (first, second)]
    shared = {f.pack for f in groups[0]} & {f.pack for f in groups[1]}
    if kind.of_pack:
        groups = [[f for f in group if f.pack in shared] for group in groups]
    one, other = (_mean(name, kind, group) for group in groups)
    short = next((m for m in (one, other) if isinstance(m, Undecided)), None)
    if short is not None:
        why = short if shared or not kind.of_pack else undecided("compare", "other_packs")
        return ComparedFigure(name, one, other, why, "undecided", why.reason)
    strata = _strata(name, kind, groups, by_pack=kind.of_pack or all(len(_on(g, shared)) > 1 for g in groups))
    found = _difference(strata, kind.least_sd)
    if found is None:
        why = undecided("compare", "few_on_one_pack")
        return ComparedFigure(name, one, other, why, "undecided", why.reason)
    doubt, warmth = _by_temperature(kind, groups)
    verdict, reason = _verdict(kind, found, doubt)
    if warmth:
        verdict, reason = "undecided", warmth
    return ComparedFigure(name, one, other, _change(kind, found, doubt), verdict, reason)


def _on(group: Sequence[ComparedFlight], packs: set[str]) -> list[ComparedFlight]:
    return [f for f in group if f.pack in packs]


def _values(name: str, kind: Figure, group: Sequence[ComparedFlight]) -> Floats:
    values = np.array([f.figures[name] for f in group])
    return np.log(values) if kind.ratio else values


def _mean(name: str, kind: Figure, group: Sequence[ComparedFlight]) -> Estimate | Undecided:
    """The mean of a group; of logs for what is compared by them."""
    if len(group) < 2:
        return undecided("compare", "no_flight" if not group else "one_flight")
    values = _values(name, kind, group)
    back: Callable[[float], float] = np.exp if kind.ratio else float
    sd = max(float(values.std(ddof=1)), kind.least_sd)
    half = float(stats.t.ppf(0.5 + COVERAGE / 2, values.size - 1)) * sd / np.sqrt(values.size)
    middle = float(values.mean())
    return Estimate(
        float(back(middle)),
        float(back(middle - half)),
        float(back(middle + half)),
        say("methods", "group_mean"),
        kind="mean",
    )


_TRUST, _MOST_TRUST = 0.12, 0.3
"""How far to go from the smaller group's own degrees of freedom, which always hold the risk (Mickey and Brown
1966, from memory), to Satterthwaite's, which in groups of two to five call up to three in a hundred changed:
by simulation with scatters from a quarter to four times each other, groups of 2 to 30, at most 1.1 in a
hundred."""

Stratum = tuple[Floats, Floats]
"""Values of the first and the second group on one pack."""


class Difference(NamedTuple):
    """Second less first, its standard error and degrees of freedom."""

    value: float
    error: float
    freedom: float


def _strata(
    name: str, kind: Figure, groups: Sequence[Sequence[ComparedFlight]], *, by_pack: bool
) -> list[Stratum]:
    """Both groups' values, pack by pack where that is wanted, else together."""
    if not by_pack:
        return [(_values(name, kind, groups[0]), _values(name, kind, groups[1]))]
    packs = sorted({f.pack for f in groups[0]} & {f.pack for f in groups[1]})
    each = [[[f for f in group if f.pack == pack] for group in groups] for pack in packs]
    return [(_values(name, kind, one), _values(name, kind, other)) for one, other in each]


def _difference(strata: Sequence[Stratum], least_sd: float) -> Difference | None:
    """Welch's difference within each stratum, weighted together; None where a group has no spread to judge
    by.
    """
    counts = np.array([[one.size, other.size] for one, other in strata], dtype=float)
    weights = counts.prod(axis=1) / counts.sum(axis=1)
    weights = weights / weights.sum()
    value = float(sum(w * (o.mean() - f.mean()) for w, (f, o) in zip(weights, strata, strict=True)))
    variances, freedoms = [], []
    for side in (0, 1):
        freedom = float(counts[:, side].sum() - len(strata))
        if freedom < 1:
            return None
        spread = sum(float(((s[side] - s[side].mean()) ** 2).sum()) for s in strata) / freedom
        variances.append(max(spread, least_sd**2) * float((weights**2 / counts[:, side]).sum()))
        freedoms.append(freedom)
    whole = sum(variances)
    welch = whole**2 / sum(v**2 / f for v, f in zip(variances, freedoms, strict=True))
    least = min(freedoms)
    trust = min(_TRUST * (least - 1.0), _MOST_TRUST)
    return Difference(value, float(np.sqrt(whole)), least + trust * (welch - least))


def _by_temperature(kind: Figure, groups: Sequence[Sequence[ComparedFlight]]) -> tuple[float, str]:
    """What the groups' temperatures may have to do with a change, as a share, and why a resistance cannot be
    judged without them.
    """
    of_resistance = kind.name == "pack_resistance_1s_ohm"
    known = [[f.temperature_c for f in group if f.temperature_c is not None] for group in groups]
    if any(len(k) < len(g) for k, g in zip(known, groups, strict=True)):
        return 0.0, say("compare", "no_temperature") if of_resistance else ""
    one_c, other_c = (float(np.mean(k)) for k in known)
    if of_resistance:
        doubts = [np.log(arrhenius_factor(c, ONE_SECOND_ACTIVATION.sd_kjpmol)) for c in (one_c, other_c)]
        return abs(float(doubts[1] - doubts[0])), ""
    if kind.name in ("rate_mah_per_min", "mean_current_a"):
        return AIR_DENSITY_PER_C.value * abs(other_c - one_c), ""
    return 0.0, ""


def _verdict(kind: Figure, found: Difference, doubt: float) -> tuple[str, str]:
    """Changed, same or undecided, with the sentence on it."""
    away, inside = abs(found.value) - doubt, kind.same - abs(found.value) - doubt
    chance = 2.0 * float(stats.t.sf(max(away, 0.0) / found.error, found.freedom))
    holds = float(stats.t.sf(inside / found.error, found.freedom)) if inside > 0 else 1.0
    if chance <= RISK and abs(found.value) >= 0.5 * kind.same:
        return "changed", say("compare", "changed", chance=chance)
    if holds <= RISK:
        return "same", say("compare", "same", within=kind.same)
    if chance <= RISK:
        return "undecided", say("compare", "small", within=kind.same)
    return "undecided", say("compare", "scatter")


def _change(kind: Figure, found: Difference, doubt: float) -> Estimate:
    half = float(stats.t.ppf(0.5 + COVERAGE / 2, found.freedom)) * found.error + doubt
    back: Callable[[float], float] = np.expm1 if kind.ratio else float
    value, low, high = (float(back(found.value + arm)) for arm in (0.0, -half, half))
    return Estimate(value, low, high, say("methods", "welch"), kind="mean")


def _notes(first: Sequence[ComparedFlight], second: Sequence[ComparedFlight]) -> tuple[str, ...]:
    """In what else the groups differ."""
    notes = []
    packs = [sorted({f.pack for f in group if f.pack}) for group in (first, second)]
    if all(packs) and packs[0] != packs[1]:
        notes.append(say("compare", "packs", first=", ".join(packs[0]), second=", ".join(packs[1])))
    known = [[f.temperature_c for f in group if f.temperature_c is not None] for group in (first, second)]
    if all(known):
        one_c, other_c = (float(np.mean(k)) for k in known)
        if abs(other_c - one_c) >= 5.0:
            notes.append(say("compare", "temperatures", first_c=one_c, second_c=other_c))
    return tuple(notes)
