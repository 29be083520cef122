"""Faults of motors, controllers and propellers in the air."""

from __future__ import annotations

from random import Random

from .faults import CHECK, QUIET, TWINS, fault, need, side_of
from .plan import Event, Plan
from .truth import Expectation

PAIRS = ("twin_5s", "big_12s", "four_6s")


def _uneven(plan: Plan, side: str, *causes: str) -> Expectation:
    need(plan, *(k + d.position for k in ("current.", "rpm.") for d in plan.drives))
    return Expectation(
        CHECK, ("pair_uneven",), side=side, verdicts=("uneven",), causes=(*causes, "undecided")
    )


def _heavier(name: str, more: float) -> None:
    @fault(name, "motor", PAIRS)
    def alter(plan: Plan, chance: Random) -> Expectation:
        i, side = side_of(plan, chance)
        plan.drives[i].torque_scale *= 1 + more
        plan.drives[i].thrust_scale *= 1 + 0.7 * more
        return _uneven(plan, side, "propeller")


_heavier("propeller_6", 0.06)
_heavier("propeller_12", 0.12)


@fault("shed_blade", "motor", TWINS, event=True)
def _shed(plan: Plan, chance: Random) -> Expectation:
    i, side = side_of(plan, chance)
    plan.events.append(Event("shed", i, chance.uniform(70, 110), land_after_s=30))
    need(plan, "vibration", *(k + d.position for k in ("current.", "rpm.") for d in plan.drives))
    return Expectation(
        ("stop",), ("thrust_lost",), side=side, at_tolerance_s=4.0, verdicts=("uneven",), weak_kinds=None
    )


@fault("wrong_kv_3", "motor", PAIRS)
def _kv(plan: Plan, chance: Random) -> Expectation:
    i, side = side_of(plan, chance)
    plan.drives[i].kv_rpm_per_v *= 1 + chance.choice((-0.03, 0.03))
    return _uneven(plan, side, "kv")


@fault("dragging_bearing", "motor", TWINS)
def _bearing(plan: Plan, chance: Random) -> Expectation:
    i, side = side_of(plan, chance)
    parts = plan.drives[i]
    parts.drag_nm = 2.2 * parts.no_load_a * 9.549 / parts.kv_rpm_per_v
    return _uneven(plan, side, "drag")


@fault("winding_30", "motor", TWINS)
def _winding(plan: Plan, chance: Random) -> Expectation:
    i, side = side_of(plan, chance)
    plan.drives[i].winding_ohm *= 1.3
    expectation = _uneven(plan, side, "winding")
    expectation.verdicts = ("uneven", "undecided")
    return expectation


@fault("end_point_95", "motor", PAIRS)
def _end_point(plan: Plan, chance: Random) -> Expectation:
    i, side = side_of(plan, chance)
    plan.drives[i].end_point = 0.95
    return _uneven(plan, side, "endpoint")


@fault("propeller_backwards", "motor", PAIRS)
def _backwards(plan: Plan, chance: Random) -> Expectation:
    i, side = side_of(plan, chance)
    plan.drives[i].thrust_scale *= 0.72
    plan.drives[i].torque_scale *= 0.90
    return _uneven(plan, side, "propeller")


def _event(
    name: str,
    kinds: tuple[str, ...],
    event: Event,
    decisions: tuple[str, ...] = CHECK,
    scenarios: tuple[str, ...] = TWINS,
) -> None:
    """A fault that is one event of one motor, in the air unless the event says otherwise."""

    @fault(name, "motor", scenarios, event=True)
    def alter(plan: Plan, chance: Random) -> Expectation:
        i, side = side_of(plan, chance)
        after = event.after_s + (chance.uniform(0, 50) if event.airborne else 0.0)
        plan.events.append(
            Event(
                event.kind,
                i,
                after,
                event.seconds,
                event.value,
                event.needs,
                event.airborne,
                event.land_after_s,
            )
        )
        need(plan, *(k + d.position for k in ("current.", "rpm.") for d in plan.drives))
        if event.kind == "reverse":
            plan.drives[i].reversing = True
            need(plan, *("throttle." + d.position for d in plan.drives))
        return Expectation(
            decisions, events_any=kinds, side=side, verdicts=("even", "undecided"), keys_none=("pair_uneven",)
        )


_event("motor_cut_4s", ("cut",), Event("cut", after_s=60, seconds=4.0))
_event("motor_cut_to_end", ("cut",), Event("cut", after_s=90, land_after_s=3.0))
_event(
    "single_motor_cut_to_end",
    ("cut",),
    Event("cut", after_s=90, land_after_s=2.0),
    scenarios=("trainer_3s", "aerobatic_4s"),
)
_event("out_of_step_2s", ("out_of_step", "stall"), Event("out_of_step", after_s=60, seconds=2.0, value=0.6))
_event("late_start", ("late_start",), Event("cut", seconds=0.9, needs=0.05, airborne=False), decisions=CHECK)
_event(
    "stall_at_start",
    ("stall", "late_start", "out_of_step"),
    Event("stall", seconds=1.6, value=0.5, needs=0.05, airborne=False),
)
_event("reverse_in_air", ("reverse_air",), Event("reverse", after_s=60, seconds=1.6, value=0.4))


@fault("overheating_motor", "motor", TWINS)
def _hot(plan: Plan, chance: Random) -> Expectation:
    i, side = side_of(plan, chance)
    parts = plan.drives[i]
    parts.case_w_per_k *= 0.12
    parts.extra_heat_w = 32 * parts.case_w_per_k * 5.8
    need(plan, *("motor_c." + d.position for d in plan.drives))
    return Expectation(
        CHECK, events_any=("overheating",), side=side, verdicts=("even", "undecided", "uneven")
    )


@fault("pole_count_wrong", "motor", TWINS)
def _poles(plan: Plan, chance: Random) -> Expectation:
    _, side = side_of(plan, chance)
    need(plan, *(k + d.position for k in ("current.", "rpm.") for d in plan.drives))
    plan.recorder["sensors"][f"rpm.{side}"] = {"gain": 7 / 6}
    return Expectation(
        QUIET, ("rpm_scale",), side=side, verdicts=("even", "undecided"), figures_off=("rpm_ratio",)
    )


@fault("limited_at_low_voltage", "motor", ("twin_5s", "trainer_3s"))
def _limited(plan: Plan, chance: Random) -> Expectation:
    for parts in plan.drives:
        parts.cut_off_v = 3.60 * plan.pack.cells
    plan.land_at_charge = 0.12
    need(plan, *(k + d.position for k in ("current.", "rpm.") for d in plan.drives))
    return Expectation(
        CHECK,
        ("controller_limited", "reserve_used"),
        events_any=(),
        border=True,
        note="the limiter works late in the flight",
    )


@fault("side_current_reads_high", "sensor", TWINS)
def _side_gain(plan: Plan, chance: Random) -> Expectation:
    _, side = side_of(plan, chance)
    need(plan, *(k + d.position for k in ("current.", "rpm.") for d in plan.drives))
    plan.recorder["sensors"][f"current.{side}"] = {"gain": 1.06}
    return Expectation(
        QUIET,
        keys_none=("pair_uneven",),
        verdicts=("even", "undecided"),
        causes=("sensor", "none", "undecided"),
        figures_off=("current_ratio",),
    )
