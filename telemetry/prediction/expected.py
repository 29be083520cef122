"""`predict`: the held-still figures, the plan flown, the margins to the ratings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from telemetry.made import made_by
from telemetry.physics.charge import AS_PER_MAH
from telemetry.physics.motor import shaft_power_w
from telemetry.physics.wire import lead_heat_w
from telemetry.prediction import mission
from telemetry.prediction.airframe import least_power_speed_mps, stall_speed_mps, thrust_needed_n
from telemetry.prediction.assumptions import complete
from telemetry.prediction.known import Known
from telemetry.prediction.powertrain import Balance, balance, hold, planned_duty
from telemetry.prediction.results import (
    Assumed,
    PredictedFlight,
    PredictedLeg,
    PredictedMargin,
    Prediction,
    Static,
    StaticMotor,
)
from telemetry.prediction.sampling import Sampled, estimate, interval_shares, sample
from telemetry.sentences import say
from telemetry.sheet.setup import Leg, Rating, Setup
from telemetry.trace import Floats

STATIC_THROTTLES = (0.25, 0.5, 0.75, 1.0)
"""None below zero: nobody should try a figure of full reverse, it can unscrew an adapter (common practice, no
source).
"""
HELD_S = 10.0
"""Seconds into a held throttle at which its figures are taken."""

_HELD = say("methods", "static")
_FLOWN = say("methods", "plan")


def predict(setup: Setup, *, seed: int = 0, draws: int = 512, flight_draws: int = 256) -> Prediction:
    """What a set-up should do.

    Parameters
    ----------
    setup : one configuration with one pack; what it leaves out is assumed and listed.
    seed : of the draws of the sheet's unknowns.
    draws, flight_draws : how many, held still and along the plan. At 512 the ends of an interval repeat
        within a twentieth of its width from seed to seed.

    Returns
    -------
    Values from the sheet as it stands, intervals of 95 % from the draws.
    """
    known = complete(setup)
    sampled = sample(known, draws=draws, seed=seed, held_still=True)
    static = tuple(static_at(sampled, setup.positions, throttle) for throttle in STATIC_THROTTLES)
    in_flight = sample(known, draws=flight_draws, seed=seed)
    assumed = list(known.assumed)
    flight, level_shares = _flight(setup, known, in_flight, assumed)
    shares = interval_shares(sampled, held_still(sampled, 1.0).current_a)
    assumed = [_with_share(a, (shares, level_shares)) for a in assumed]
    return Prediction(
        setup.configuration,
        known.density_kgm3,
        static,
        flight,
        _margins(setup, sampled),
        tuple(assumed),
        made_by(setup, seed=seed),
    )


def held_still(sampled: Sampled, throttle: float, *, seconds: float = HELD_S) -> Balance:
    """Equilibrium some seconds into a held throttle, on a full pack, reverse below zero.

    The charge drawn meanwhile, the slow part of the pack's resistance and the warmth of pack and windings are
    in it.
    """
    state = mission.at_rest(sampled)
    still = np.zeros(sampled.draws)
    duty = planned_duty(sampled, throttle)
    found = balance(
        sampled, mission.supply(sampled, state), duty, still, winding_c=state.winding_c, reverse=throttle < 0
    )
    for _ in range(3):
        then = mission.after(sampled, state, found, seconds)
        found = balance(
            sampled,
            mission.supply(sampled, then),
            duty,
            still,
            winding_c=then.winding_c,
            reverse=throttle < 0,
            start_rpm=found.rpm,
            rounds=4,
        )
    return found


def static_at(sampled: Sampled, positions: Sequence[str], throttle: float) -> Static:
    """The figures of one held throttle.

    Parameters
    ----------
    positions : of the motors, as the sampled drives have them.
    throttle : −1…1, reverse below zero.

    Returns
    -------
    Values of the sheet as it stands, intervals of the draws.
    """
    found = held_still(sampled, throttle)
    shaft = shaft_power_w(found.torque_nm, np.abs(found.rpm))
    supplied = found.drawn_a * (found.pack_v[:, None] - sampled.lead_ohm[:, None] * found.drawn_a)
    share = shaft / np.maximum(supplied, 1e-9)
    motors = tuple(
        StaticMotor(
            position,
            *(
                estimate(values[:, k], _HELD)
                for values in (
                    found.motor_v,
                    found.drawn_a,
                    found.rpm,
                    found.torque_nm,
                    shaft,
                    found.thrust_n,
                    share,
                )
            ),
        )
        for k, position in enumerate(positions)
    )
    drop = found.drawn_a * sampled.lead_ohm[:, None]
    return Static(
        throttle_fraction=throttle,
        pack_voltage_v=estimate(found.pack_v, _HELD),
        current_a=estimate(found.current_a, _HELD),
        thrust_n=estimate(np.sum(found.thrust_n, axis=-1), _HELD),
        motors=motors,
        lead_drop_v=estimate(np.max(drop, axis=-1), _HELD),
        lead_heat_w=estimate(np.sum(lead_heat_w(found.drawn_a, sampled.lead_ohm[:, None]), axis=-1), _HELD),
    )


def _flight(
    setup: Setup, known: Known, sampled: Sampled, assumed: list[Assumed]
) -> tuple[PredictedFlight, dict[str, float]]:
    plan = known.plan
    if not plan:
        plan = mission.DEFAULT_PLAN
        said = ", ".join(f"{leg.phase} {leg.seconds:g} s" for leg in plan)
        assumed.append(Assumed("plan.legs", said, say("assumed", "plan", pace=_pace(sampled))))
    elif any(mission.cruises(leg) for leg in plan):
        assumed.append(Assumed("plan.legs", "cruise", say("assumed", "cruise", pace=_pace(sampled))))
    steps = mission.fly(sampled, plan)
    seconds = np.array([step.seconds for step in steps])
    current = np.stack([step.balance.current_a for step in steps])
    voltage = np.stack([step.balance.pack_v for step in steps])
    consumed = seconds @ current / AS_PER_MAH
    mean = seconds @ current / seconds.sum()
    usable = (1.0 - setup.reserve.fraction) * known.capacity_ah * 3600.0
    legs = []
    for number, leg in enumerate(plan):
        mine = np.array([step.leg == number for step in steps])
        weight = seconds[mine] / seconds[mine].sum()
        legs.append(
            PredictedLeg(
                leg.phase,
                leg.seconds,
                estimate(weight @ current[mine], _FLOWN),
                estimate(weight @ voltage[mine], _FLOWN),
            )
        )
    level = _level_current(sampled, plan, assumed)
    flown = PredictedFlight(
        level_current_a=estimate(level, say("methods", "level")),
        min_pack_voltage_v=estimate(voltage.min(axis=0), _FLOWN),
        mean_current_a=estimate(mean, _FLOWN),
        consumed_mah=estimate(consumed, _FLOWN),
        time_to_reserve_s=estimate(usable / np.maximum(mean, 1e-6), _FLOWN),
        legs=tuple(legs),
    )
    paced = {k: v for k, v in interval_shares(sampled, mean).items() if k == "plan.legs"}
    return flown, interval_shares(sampled, level) | paced


def _pace(sampled: Sampled) -> str:
    speed_mps = mission.CRUISE_SHARE * float(stall_speed_mps(sampled)[0])
    return say("assumed", "pace", speed_mps=speed_mps, share=mission.CRUISE_SHARE)


def _with_share(assumed: Assumed, shares: Sequence[Mapping[str, float]]) -> Assumed:
    """What an assumption adds to the intervals; a static point stands for its current and its thrust."""
    keys = {
        "propeller.static_points": ("propeller.static_points.current_a", "propeller.static_points.thrust_n"),
        "leads.length_m": ("leads.area_mm2",),
    }
    wanted = keys.get(assumed.key, (assumed.key,))
    found = [sum(s[k] for k in wanted) for s in shares if all(k in s for k in wanted)]
    return replace(assumed, interval_share=max(found)) if found else assumed


def _level_current(
    sampled: Sampled, plan: Sequence[Leg], assumed: list[Assumed], *, charge_left: float = 0.6
) -> Floats:
    """Current of level flight at the plan's cruise, pack at 60 % charge, a minute into it."""
    speeds = [leg.airspeed_mps for leg in plan if leg.phase == "cruise" and leg.airspeed_mps is not None]
    if speeds:
        speed = np.full(sampled.draws, speeds[0])
    else:
        speed = np.full(sampled.draws, float(least_power_speed_mps(sampled)[0]))
        slow = bool(speed[0] < 1.1 * stall_speed_mps(sampled)[0])
        reason = say("assumed", "least_power_stall" if slow else "least_power")
        assumed.append(Assumed("plan.legs.airspeed_mps", round(float(speed[0]), 1), reason))
    state = mission.at_rest(sampled, charge_left=charge_left)
    thrust = thrust_needed_n(sampled, speed, 0.0)
    found = hold(sampled, mission.supply(sampled, state), thrust, speed, winding_c=state.winding_c)
    for _ in range(2):
        then = mission.after(sampled, state, found, 60.0)
        kept = mission.State(state.used_ah, then.slow_v, then.pack_c, then.winding_c, speed)
        found = hold(sampled, mission.supply(sampled, kept), thrust, speed, winding_c=kept.winding_c)
    return found.current_a


def _margins(setup: Setup, sampled: Sampled) -> tuple[PredictedMargin, ...]:
    """Full throttle held still for each rating's window, from a full pack, against the rating."""
    found: list[PredictedMargin] = []
    held: dict[float, Balance] = {}
    for rating in setup.ratings():
        drawn = _held_for(setup, sampled, rating, held)
        if drawn is not None:
            load = estimate(drawn, say("methods", "rating"))
            found.append(
                PredictedMargin(
                    rating.part, rating.rating_a, rating.window_s, load, 1.0 - load.value / rating.rating_a
                )
            )
    return tuple(found)


def _held_for(setup: Setup, sampled: Sampled, rating: Rating, held: dict[float, Balance]) -> Floats | None:
    """The current a part carries, about halfway into its window."""
    if rating.position and rating.position not in setup.positions:
        return None
    middle = min(rating.window_s, 120.0) / 2.0
    if middle not in held:
        held[middle] = held_still(sampled, 1.0, seconds=middle)
    if not rating.position:
        return held[middle].current_a
    return held[middle].drawn_a[:, setup.positions.index(rating.position)]
