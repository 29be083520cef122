"""An aircraft of which each motor has a pack of its own: every pack's share predicted, and what they give
together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from telemetry.estimate import Estimate, Undecided, total_of
from telemetry.made import made_by
from telemetry.prediction.results import (
    Assumed,
    PredictedFlight,
    PredictedLeg,
    PredictedMargin,
    PredictedPack,
    Prediction,
    Static,
)
from telemetry.sheet.setup import Setup


def joined(setup: Setup, shares: Sequence[Prediction], *, seed: int) -> Prediction:
    """What all packs and their motors do together.

    Parameters
    ----------
    setup : the whole aircraft.
    shares : by `Setup.alone`, in the order of its packs.
    seed : of the draws.

    Returns
    -------
    Currents, thrusts and charges are sums, as one cause puts all sides off alike; voltages and times are
    those of the pack that is lowest or empty first.
    """
    return Prediction(
        setup.configuration,
        shares[0].air_density_kgm3,
        tuple(_static(same) for same in zip(*(share.static for share in shares), strict=True)),
        _flight([share.flight for share in shares]),
        _margins(setup, shares),
        _assumed(shares),
        made_by(setup, seed=seed),
        tuple(
            PredictedPack(fed.feeds, fed.pack.name, share.static, share.flight, share)
            for fed, share in zip(setup.packs, shares, strict=True)
        ),
    )


def _static(same: Sequence[Static]) -> Static:
    return Static(
        same[0].throttle_fraction,
        _lowest([one.pack_voltage_v for one in same]),
        _sum([one.current_a for one in same]),
        _sum([one.thrust_n for one in same]),
        tuple(motor for one in same for motor in one.motors),
        max((one.lead_drop_v for one in same), key=lambda drop: drop.value),
        _sum([one.lead_heat_w for one in same]),
    )


def _flight(each: Sequence[PredictedFlight]) -> PredictedFlight:
    legs = tuple(
        PredictedLeg(
            same[0].phase,
            same[0].seconds,
            _sum([leg.current_a for leg in same]),
            _lowest([leg.pack_voltage_v for leg in same]),
        )
        for same in zip(*(one.legs for one in each), strict=True)
    )
    return PredictedFlight(
        total_of([one.level_current_a for one in each], together=True),
        _least([one.min_pack_voltage_v for one in each]),
        total_of([one.mean_current_a for one in each], together=True),
        total_of([one.consumed_mah for one in each], together=True),
        _least([one.time_to_reserve_s for one in each]),
        legs,
    )


def _margins(setup: Setup, shares: Sequence[Prediction]) -> tuple[PredictedMargin, ...]:
    """Every rating, in the sheet's order; a share calls its pack "pack"."""
    found: dict[tuple[str, float], PredictedMargin] = {}
    for fed, share in zip(setup.packs, shares, strict=True):
        name = fed.position.replace("_", " ")
        for one in share.limits:
            part = f"{name}{one.part.removeprefix('pack')}" if one.part.startswith("pack") else one.part
            found.setdefault((part, one.window_s), replace(one, part=part))
    return tuple(found.values())


def _assumed(shares: Sequence[Prediction]) -> tuple[Assumed, ...]:
    """What was assumed for any of the shares, each key once."""
    found: dict[str, Assumed] = {}
    for share in shares:
        for one in share.assumed:
            found.setdefault(one.key, one)
    return tuple(found.values())


def _sum(parts: Sequence[Estimate]) -> Estimate:
    found = total_of(parts, together=True)
    assert isinstance(found, Estimate)
    return found


def _lowest(parts: Sequence[Estimate]) -> Estimate:
    return min(parts, key=lambda part: part.value)


def _least(parts: Sequence[Estimate | Undecided]) -> Estimate | Undecided:
    missing = next((p for p in parts if isinstance(p, Undecided)), None)
    return missing if missing is not None else _lowest([p for p in parts if isinstance(p, Estimate)])
