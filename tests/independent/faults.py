"""Faults by name; each alters a plan and says what an analyser must find."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from random import Random

from .plan import Plan
from .truth import Expectation

CHECK = ("check", "stop")
QUIET = ("clear", "check")
PACKS = ("twin_5s", "trainer_3s", "four_6s", "aerobatic_4s", "big_12s", "small_2s")
TWINS = ("twin_5s", "big_12s")
FLYERS = ("twin_5s", "trainer_3s", "four_6s", "big_12s")

Alter = Callable[[Plan, Random], Expectation]


@dataclass(frozen=True)
class Fault:
    """One fault: `alter` changes the plan in place and returns what must be said.

    event: the fault's moment is the run's first event.
    """

    name: str
    group: str
    alter: Alter
    scenarios: tuple[str, ...]
    event: bool = False


FAULTS: dict[str, Fault] = {}


def fault(
    name: str, group: str, scenarios: tuple[str, ...], *, event: bool = False
) -> Callable[[Alter], Alter]:
    """Enter a fault into FAULTS."""

    def enter(alter: Alter) -> Alter:
        FAULTS[name] = Fault(name, group, alter, scenarios, event)
        return alter

    return enter


def need(plan: Plan, *keys: str) -> None:
    """Have these channels logged."""
    plan.recorder["channels"] += [key for key in keys if key not in plan.recorder["channels"]]


def spare(plan: Plan, *starts: str) -> None:
    """Leave out every channel that begins so."""
    plan.recorder["channels"] = [key for key in plan.recorder["channels"] if not key.startswith(starts)]


def side_of(plan: Plan, chance: Random) -> tuple[int, str]:
    """A motor drawn by chance, and its position."""
    i = chance.randrange(len(plan.drives))
    return i, plan.drives[i].position
