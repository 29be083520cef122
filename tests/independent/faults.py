"""Faults by name; each alters a plan and says what an analyser must find."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from random import Random

from .plan import Event, Plan
from .truth import Expectation

CHECK = ("check", "stop")


@dataclass(frozen=True)
class Fault:
    """One fault: `alter` changes the plan in place and returns what must be said.

    sheet: the owner knows of it, so the sheet is drawn after the change. event: its moment is the run's first event.
    """

    name: str
    group: str
    alter: Callable[[Plan, Random], Expectation]
    scenarios: tuple[str, ...]
    sheet: bool = False
    event: bool = False


FAULTS: dict[str, Fault] = {}
PACKS = ("twin_5s", "trainer_3s", "four_6s", "aerobatic_4s", "big_12s", "small_2s")
TWINS = ("twin_5s", "big_12s")


def fault(name: str, group: str, scenarios: tuple[str, ...], *, sheet: bool = False, event: bool = False) -> Callable[
        [Callable[[Plan, Random], Expectation]], Callable[[Plan, Random], Expectation]]:
    """Enter a fault into FAULTS."""

    def enter(alter: Callable[[Plan, Random], Expectation]) -> Callable[[Plan, Random], Expectation]:
        FAULTS[name] = Fault(name, group, alter, scenarios, sheet, event)
        return alter

    return enter


def _weak_resistance(name: str, more: float) -> None:
    @fault(name, "pack", PACKS)
    def alter(plan: Plan, chance: Random) -> Expectation:
        c = chance.randrange(plan.pack.cells)
        for part in (plan.pack.ohmic_ohm, plan.pack.transfer_ohm, plan.pack.diffusion_ohm):
            part[c] *= 1 + more
        return Expectation(CHECK, ("weak_cell_resistance",), cell=c + 1, weak_kinds=("resistance",))


def _weak_capacity(name: str, less: float) -> None:
    @fault(name, "pack", PACKS)
    def alter(plan: Plan, chance: Random) -> Expectation:
        c = chance.randrange(plan.pack.cells)
        plan.pack.capacity_mah[c] *= 1 - less
        return Expectation(CHECK, ("weak_cell_capacity",), cell=c + 1, weak_kinds=("capacity",))


def _unbalanced(name: str, points: float) -> None:
    @fault(name, "pack", PACKS)
    def alter(plan: Plan, chance: Random) -> Expectation:
        c = chance.randrange(plan.pack.cells)
        plan.pack.start_charge[c] -= points / 100
        return Expectation(CHECK, ("weak_cell_unbalanced",), cell=c + 1, weak_kinds=("unbalanced",))


for _name, _more in (("weak_cell_25", 0.25), ("weak_cell_60", 0.60)):
    _weak_resistance(_name, _more)
for _name, _less in (("low_cell_10", 0.10), ("low_cell_20", 0.20)):
    _weak_capacity(_name, _less)
for _name, _points in (("unbalanced_5", 5.0), ("unbalanced_10", 10.0), ("unbalanced_20", 20.0)):
    _unbalanced(_name, _points)


@fault("landed_at_8", "pack", PACKS)
def _landed_low(plan: Plan, chance: Random) -> Expectation:
    plan.land_at_charge = 0.095
    return Expectation(CHECK, ("reserve_used",), weak_kinds=("any",))


@fault("shed_blade", "motor", TWINS, event=True)
def _shed(plan: Plan, chance: Random) -> Expectation:
    side = chance.randrange(2)
    plan.events.append(Event("shed", side, 70))
    return Expectation(("stop",), ("thrust_lost",), side=plan.drives[side].position, verdicts=("uneven",))


@fault("motor_cut_4s", "motor", TWINS, event=True)
def _cut(plan: Plan, chance: Random) -> Expectation:
    side = chance.randrange(2)
    plan.events.append(Event("cut", side, 60 + chance.uniform(0, 40), 4.0))
    return Expectation(CHECK, (), events_any=("cut",), side=plan.drives[side].position)
