"""The aircraft, each drawn anew by a seed: weather, wear, hand, channels and rates."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from random import Random
from typing import Any

import numpy as np

from .cells import Pack
from .drive import DriveParts
from .plan import Air, Airframe, Leg, Plan
from .propeller import make_propeller


@dataclass(frozen=True)
class Build:
    """What makes an aircraft of its kind; resistances of one winding, one cell, one controller's leads."""

    motors: tuple[str, ...]
    mass_kg: float
    span_m: float
    wing_m2: float
    drag_m2: float
    cells: int
    mah: float
    kv: float
    winding_ohm: float
    no_load: tuple[float, float]
    prop_in: tuple[float, float]
    lead_ohm: float
    cell_ohm: float
    cruise_mps: float
    rated_a: float


PAIR = ("left", "right")
FOUR = ("left_outer", "left_inner", "right_inner", "right_outer")
ONE = ("centre",)
_TWIN = Build(
    PAIR, 3.6, 1.75, 0.46, 0.045, 5, 3700, 640, 0.026, (1.3, 7000), (10.5, 7.5), 0.0035, 0.0026, 19.0, 40
)
AIRCRAFT: dict[str, Build] = {
    "twin_5s": _TWIN,
    "trainer_3s": Build(
        ONE, 1.35, 1.4, 0.34, 0.026, 3, 1500, 980, 0.045, (0.9, 9000), (10, 6), 0.005, 0.0065, 13.5, 25
    ),
    "four_6s": Build(
        FOUR, 6.4, 2.4, 0.82, 0.075, 6, 5400, 470, 0.055, (0.8, 8000), (11, 7), 0.005, 0.0019, 18.0, 25
    ),
    "aerobatic_4s": Build(
        ONE, 1.55, 1.2, 0.33, 0.024, 4, 2700, 800, 0.022, (1.6, 9000), (12, 6), 0.003, 0.0028, 18, 55
    ),
    "glider_3s": Build(
        ONE, 1.5, 2.3, 0.46, 0.012, 3, 2200, 850, 0.035, (1.1, 8000), (12, 7), 0.005, 0.0045, 11.0, 35
    ),
    "big_12s": Build(
        PAIR, 12.0, 3.0, 1.25, 0.11, 12, 5200, 190, 0.05, (1.0, 6000), (17, 10), 0.004, 0.002, 19.0, 45
    ),
    "small_2s": Build(
        ONE, 0.25, 0.85, 0.125, 0.010, 2, 300, 1900, 0.16, (0.35, 10000), (6, 4), 0.012, 0.026, 9.5, 6
    ),
    "twin_bench": _TWIN,
    "twin_trainer": replace(_TWIN, kv=590, prop_in=(11, 8), mah=4000, cruise_mps=18.0),
    "twin_taxi": _TWIN,
}
ARMS = {
    "left": -0.3,
    "right": 0.3,
    "centre": 0.0,
    "left_outer": -0.75,
    "left_inner": -0.32,
    "right_inner": 0.32,
    "right_outer": 0.75,
}


def _drives(a: Build, chance: Random) -> list[DriveParts]:
    """The motors, alike within wear of a few tenths of a per cent."""
    near = lambda spread: 1 + chance.gauss(0, spread)  # noqa: E731
    kv, ohm, chord = a.kv * near(0.02), a.winding_ohm * near(0.03), 0.098 * near(0.03)
    rpm = 0.8 * a.kv * a.cells * 3.8
    curve, dead, on = chance.uniform(-0.05, 0.2), chance.uniform(0.02, 0.05), 0.055 / a.rated_a * near(0.1)
    drives = []
    for place in a.motors:
        prop = make_propeller(*a.prop_in, rpm=rpm, chord=chord)
        wear = near(0.001)
        drives.append(
            DriveParts(
                place,
                kv * near(0.0006),
                ohm * near(0.004),
                a.no_load[0] * near(0.02),
                a.no_load[1],
                prop,
                a.lead_ohm * near(0.02),
                ARMS[place],
                on_ohm=on,
                dead_band=dead,
                curve=curve,
                rated_a=a.rated_a,
                case_j_per_k=25 + 1.6 * a.rated_a,
                case_w_per_k=0.5 + 0.008 * a.rated_a,
                controller_j_per_k=12 + 0.8 * a.rated_a,
                controller_w_per_k=0.25 + 0.006 * a.rated_a,
                thrust_scale=wear,
                torque_scale=wear,
            )
        )
    return drives


RESISTS_MORE = {"lipo": 1.0, "lihv": 1.1, "li_ion": 1.8, "lifepo4": 1.5}


def _pack(a: Build, chance: Random, air_c: float, chemistry: str = "lipo") -> Pack:
    """A healthy pack: cells alike within 1 % in capacity, 2–3 % in resistance, 0.3 points in charge."""
    n, draw = a.cells, np.random.default_rng(chance.randrange(1 << 30))
    ohmic = (
        RESISTS_MORE[chemistry]
        * a.cell_ohm
        * chance.uniform(0.92, 1.15)
        * (1 + np.clip(draw.normal(0, 0.012, n), -0.025, 0.025))
    )
    mah = a.mah * chance.uniform(0.96, 1.01)
    start = 1.0 - chance.uniform(0.0, 0.012) + np.clip(draw.normal(0, 0.0015, n), -0.003, 0.003)
    return Pack(
        chemistry,
        mah * (1 + np.clip(draw.normal(0, 0.004, n), -0.01, 0.01)),
        start,
        ohmic,
        0.35 * ohmic * (1 + draw.normal(0, 0.01, n)),
        0.8 * ohmic * (1 + draw.normal(0, 0.01, n)),
        air_c + chance.uniform(0, 6),
        pouch_share=chance.uniform(0, 0.15),
        self_heat_j_per_k=0.024 * mah * n,
        cooling_w_per_k=0.25 + 0.02 * n * (mah / 1000) ** 0.6,
        transfer_bend_a=18 * mah / 1000,
        hysteresis_v=chance.uniform(0.002, 0.006),
        plug_ohm=0.0005 + 0.0012 * (1000 / mah),
    )


def _flight_legs(a: Build, chance: Random, kind: str = "circuit") -> list[Leg]:
    high = chance.uniform(35, 80)
    main = Leg(
        kind,
        900,
        high,
        a.cruise_mps * chance.uniform(0.96, 1.06),
        bank_deg=chance.uniform(30, 45),
        straight_s=chance.uniform(5, 9),
    )
    return [
        Leg("idle", chance.uniform(9, 25)),
        Leg("takeoff", throttle=chance.uniform(0.85, 1.0)),
        Leg("climb", altitude_m=high, throttle=chance.uniform(0.7, 0.85)),
        main,
        Leg("approach", throttle=chance.uniform(0.12, 0.2)),
        Leg("rollout"),
        Leg("idle", chance.uniform(15, 40)),
    ]


def _recorder(
    plan_motors: tuple[str, ...], cells: int, chance: Random, *, bench: bool = False
) -> dict[str, Any]:
    """Which channels, how often, in what wording."""
    channels = ["pack_v"] + [f"cell.{i + 1}" for i in range(cells)] + ["current"]
    if chance.random() < 0.75:
        channels.append("used")
    many = len(plan_motors) > 1
    channels.append("throttle")
    if many or chance.random() < 0.7:
        for kind in ("current.", "rpm."):
            channels += [kind + place for place in plan_motors]
    for kind, odds in (("motor_c.", 0.6), ("controller_c.", 0.6)):
        if chance.random() < odds:
            channels += [kind + place for place in plan_motors]
    if bench:
        channels += [k + place for k in ("thrust.", "torque.") for place in plan_motors]
    channels += ["altitude", "receiver_v"] + (["airspeed"] if chance.random() < 0.6 else ["ground"])
    channels += [
        key
        for key, odds in (("pack_c", 0.7), ("link", 0.8), ("vibration", 0.5), ("climb", 0.3))
        if chance.random() < odds
    ]
    heading, scale, decimals = chance.choice(
        (("Time (s)", 1.0, 2), ("Time (s)", 1.0, 3), ("Elapsed time (ms)", 1e3, 0))
    )
    cell = {"step": chance.choice((0.001, 0.001, 0.005, 0.01)), "refresh_s": chance.choice((0.0, 0.0, 0.2))}
    return {
        "channels": channels,
        "sensors": {"cell": cell},
        "used_sensors": {},
        "wording": chance.randrange(3),
        "rate_hz": chance.choice((4.0, 5.0, 8.0, 10.0, 10.0, 20.0, 25.0)),
        "jitter_s": 0.01,
        "dropped": 0.005,
        "drift_ppm": chance.uniform(-40, 40),
        "delimiter": chance.choice((",", ",", ",", ";")),
        "time_heading": heading,
        "time_scale": scale,
        "time_decimals": decimals,
    }


def _base(name: str, seed: int, chemistry: str = "lipo") -> tuple[Plan, Build, Random]:
    chance, a = Random(f"{name}/{seed}"), AIRCRAFT[name]
    air = Air(
        chance.uniform(8, 27), chance.uniform(99500, 102500), chance.uniform(0, 5), chance.uniform(0.2, 1.2)
    )
    frame = Airframe(
        a.mass_kg * chance.uniform(0.98, 1.02), a.span_m, a.wing_m2, a.drag_m2 * chance.uniform(0.93, 1.07)
    )
    plan = Plan(
        name,
        seed,
        "flight",
        frame,
        _pack(a, chance, air.temperature_c, chemistry),
        _drives(a, chance),
        air,
        _flight_legs(a, chance),
        land_at_charge=chance.uniform(0.34, 0.45),
    )
    plan.recorder = _recorder(a.motors, a.cells, chance)
    plan.sheet["capacity_mah"] = int(a.mah)
    return plan, a, chance


def _plain(name: str) -> Callable[[int, str], Plan]:
    return lambda seed, chemistry: _base(name, seed, chemistry)[0]


def _trainer(seed: int, chemistry: str) -> Plan:
    plan, _, _ = _base("trainer_3s", seed, chemistry)
    if "current.centre" not in plan.recorder["channels"]:
        plan.recorder["channels"] += ["current.centre", "rpm.centre"]
    return plan


def _aerobatic(seed: int, chemistry: str) -> Plan:
    plan, _, chance = _base("aerobatic_4s", seed, chemistry)
    plan.legs[3].kind, plan.legs[3].straight_s = "aerobatics", chance.uniform(5, 10)
    plan.legs[3].altitude_m += 70
    return plan


def _glider(seed: int, chemistry: str) -> Plan:
    plan, _, chance = _base("glider_3s", seed, chemistry)
    plan.legs[3] = Leg(
        "bursts", chance.uniform(280, 340), 200, 10.5, chance.uniform(0.85, 1.0), 25, chance.uniform(10, 16)
    )
    plan.legs[4].throttle = -0.4
    for parts in plan.drives:
        parts.folds = True
    plan.land_at_charge = 0.30
    return plan


def _bench(seed: int, chemistry: str) -> Plan:
    plan, a, chance = _base("twin_bench", seed, chemistry)
    plan.kind = "bench"
    plan.legs = [Leg("idle", 10)]
    for throttle in (0.25, 0.5, 0.75, 1.0):
        plan.legs += [
            Leg("step", chance.uniform(7, 10), throttle=throttle),
            Leg("step", chance.uniform(5, 8)),
        ]
    plan.legs.append(Leg("step", 15))
    plan.recorder = _recorder(a.motors, a.cells, chance, bench=True)
    plan.airframe.rolling = 50.0
    return plan


def _training(seed: int, chemistry: str) -> Plan:
    """Regeneration in descents, thrust mixed with rudder, one motor throttled back on purpose."""
    plan, _, chance = _base("twin_trainer", seed, chemistry)
    cruise = plan.legs[3]
    down = Leg("descend", 7, throttle=chance.uniform(0.12, 0.2), bank_deg=15)
    part = Leg(
        "circuit",
        80,
        cruise.altitude_m,
        cruise.speed_mps,
        bank_deg=cruise.bank_deg,
        straight_s=cruise.straight_s,
    )
    school = Leg(
        "circuit", 110, cruise.altitude_m, cruise.speed_mps, bank_deg=30, straight_s=12, cuts=(0.15, 0.15)
    )
    plan.legs[3:4] = [part, down, school, down, part, down]
    plan.mixed_thrust, plan.own_commands = 0.15, True
    for parts in plan.drives:
        parts.regenerates = True
    channels = plan.recorder["channels"]
    plan.recorder["channels"] = [k for k in channels if k != "throttle"] + [
        "throttle.left",
        "throttle.right",
        "rudder",
    ]
    return plan


def _taxi(seed: int, chemistry: str) -> Plan:
    plan, _, chance = _base("twin_taxi", seed, chemistry)
    plan.kind, plan.mixed_thrust, plan.own_commands = "taxi", 0.2, True
    plan.legs = [
        Leg("idle", 10),
        Leg("roll", chance.uniform(90, 150), speed_mps=4.0, throttle=0.3),
        Leg("rollout"),
        Leg("idle", 20),
    ]
    channels = plan.recorder["channels"]
    plan.recorder["channels"] = [k for k in channels if k != "throttle"] + [
        "throttle.left",
        "throttle.right",
        "rudder",
    ]
    return plan


SCENARIOS: dict[str, Callable[[int, str], Plan]] = {
    "twin_5s": _plain("twin_5s"),
    "trainer_3s": _trainer,
    "four_6s": _plain("four_6s"),
    "aerobatic_4s": _aerobatic,
    "glider_3s": _glider,
    "big_12s": _plain("big_12s"),
    "small_2s": _plain("small_2s"),
    "twin_bench": _bench,
    "twin_trainer": _training,
    "twin_taxi": _taxi,
}


def scenario(name: str, seed: int, chemistry: str = "lipo") -> Plan:
    """The aircraft, weather, pilot and recorder of that name, drawn by the seed."""
    return SCENARIOS[name](seed, chemistry)
