"""Packs that feed one motor each: every analysis of a pack once a pack, and what they give together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from telemetry.analysis.capacity import Capacity, PhaseCharge
from telemetry.analysis.current import Current, Margin
from telemetry.analysis.pack import Pack
from telemetry.comparison.results import Comparison
from telemetry.estimate import Undecided, total_of
from telemetry.prediction.results import Replay
from telemetry.quantities import fed_motor
from telemetry.season.timer import Timer
from telemetry.sheet.setup import Rating, Setup
from telemetry.signals import Signals
from telemetry.signals.packs import as_logged
from telemetry.trace import Decision


@dataclass(frozen=True, slots=True)
class PackReview:
    """One pack that feeds one motor, in one flight.

    Attributes
    ----------
    place : the pack's position in the log, such as "left_pack".
    signals : the flight as this pack sees it.
    setup : the share of the sheet's aircraft that it flies, None without such a sheet.
    timer : what this pack alone would allow.
    """

    place: str
    signals: Signals
    setup: Setup | None
    pack: Pack
    capacity: Capacity
    current: Current
    comparison: Comparison
    timer: Timer | Undecided

    @property
    def position(self) -> str:
        """The motor that it feeds."""
        return fed_motor(self.place)

    @property
    def decisions(self) -> tuple[Decision, ...]:
        """What was decided about its samples, at the log's positions."""
        return tuple(as_logged(d, self.place) for d in self.signals.decisions)


def setup_of_pack(setup: Setup | None, place: str) -> Setup | None:
    """The share of an aircraft that one pack flies.

    Parameters
    ----------
    setup : the whole, or None without a sheet.
    place : the pack's position.

    Returns
    -------
    None where the sheet has no pack there.
    """
    known = {one.position for one in setup.packs} if setup is not None else set()
    return setup.alone(place) if setup is not None and place in known else None


def own_ratings(setup: Setup | None, place: str) -> tuple[Rating, ...]:
    """The ratings of one pack and its plug, at the pack's own place.

    Parameters
    ----------
    setup : the whole aircraft's.
    place : the pack's position.

    Returns
    -------
    Empty without a sheet.
    """
    every = setup.ratings() if setup is not None else ()
    return tuple(replace(r, position="") for r in every if r.position == place)


def joined_capacity(whole: Capacity, packs: Sequence[PackReview], capacity_mah: float | None) -> Capacity:
    """What left all packs.

    Parameters
    ----------
    whole : by the sum of the packs' currents.
    packs : at least one.
    capacity_mah : of all together, None without a sheet. [mAh]

    Returns
    -------
    Sums of what each pack's figures are.
    """
    each = [one.capacity for one in packs]
    consumed = total_of([c.consumed_mah for c in each])
    phases = [
        PhaseCharge(same[0].name, same[0].start_s, same[0].end_s, sum(p.charge_mah for p in same))
        for same in zip(*(c.by_phase for c in each), strict=True)
    ]
    fraction: float | Undecided = whole.consumed_fraction
    if not isinstance(consumed, Undecided) and capacity_mah:
        fraction = consumed.value / capacity_mah
    return replace(
        whole,
        consumed_mah=consumed,
        logged_mah=_sum([c.logged_mah for c in each]),
        energy_wh=total_of([c.energy_wh for c in each]),
        mean_current_a=_sum([c.mean_current_a for c in each]),
        consumed_fraction=fraction,
        by_phase=tuple(phases),
        counter_restarts=sum(c.counter_restarts for c in each),
    )


def _sum(parts: Sequence[float | Undecided]) -> float | Undecided:
    missing = next((p for p in parts if isinstance(p, Undecided)), None)
    return missing if missing is not None else sum(p for p in parts if not isinstance(p, Undecided))


def joined_current(whole: Current, packs: Sequence[PackReview]) -> Current:
    """The load on all packs together, with each pack's own margins.

    Parameters
    ----------
    whole : by the sum of the packs' currents; its margins of packs are undecided.
    packs : at least one.

    Returns
    -------
    The same with those margins in place, in the sheet's order.
    """
    own: dict[tuple[str, str, float], Margin] = {
        (one.place, m.part, m.window_s): replace(m, position=one.place)
        for one in packs
        for m in one.current.limits
    }
    limits = tuple(own.get((m.position, m.part, m.window_s), m) for m in whole.limits)
    return replace(whole, limits=limits)


def joined_comparison(packs: Sequence[PackReview]) -> Comparison:
    """Every pack's flight against its share of the sheet.

    Parameters
    ----------
    packs : at least one.

    Returns
    -------
    All residuals; those of a pack stand at its position. Undecided where all are.
    """
    residuals = [
        replace(r, position=_placed(r.quantity, r.position, one.place))
        for one in packs
        if not isinstance(one.comparison.residuals, Undecided)
        for r in one.comparison.residuals
    ]
    reasons = [c for one in packs if isinstance(c := one.comparison.residuals, Undecided)]
    phases = tuple(
        replace(
            p,
            residual=replace(
                p.residual, position=_placed(p.residual.quantity, p.residual.position, one.place)
            ),
        )
        for one in packs
        for p in one.comparison.phases
    )
    replays: tuple[Replay, ...] = tuple(
        replace(r, position=_placed(r.quantity, r.position, one.place))
        for one in packs
        for r in one.comparison.replays
    )
    return Comparison(reasons[0] if reasons and not residuals else tuple(residuals), replays, phases)


def _placed(quantity: str, position: str, place: str) -> str:
    return position if position or quantity not in ("current_a", "pack_voltage_v") else place


def with_timers(
    packs: Sequence[PackReview], timers: Mapping[str, Timer | Undecided]
) -> tuple[PackReview, ...]:
    """The packs with what each alone would allow.

    Parameters
    ----------
    packs : in any order.
    timers : by position; a pack without one keeps its own.

    Returns
    -------
    In the same order.
    """
    return tuple(replace(one, timer=timers.get(one.place, one.timer)) for one in packs)
