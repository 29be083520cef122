"""Faults of cells and packs."""

from __future__ import annotations

from random import Random

from .faults import CHECK, FLYERS, PACKS, QUIET, fault, need, spare
from .plan import Plan
from .recording import Recording
from .truth import Expectation


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
        plan.land_at_charge = 0.26
        return Expectation(CHECK, ("weak_cell_capacity",), cell=c + 1, weak_kinds=("capacity",))


def _unbalanced(name: str, points: float) -> None:
    @fault(name, "pack", PACKS)
    def alter(plan: Plan, chance: Random) -> Expectation:
        c = chance.randrange(plan.pack.cells)
        plan.pack.start_charge[c] -= points / 100
        plan.land_at_charge = 0.42
        return Expectation(CHECK, ("weak_cell_unbalanced",), cell=c + 1, weak_kinds=("unbalanced",))


for _name, _more in (("weak_cell_25", 0.25), ("weak_cell_60", 0.60)):
    _weak_resistance(_name, _more)
for _name, _less in (("low_cell_10", 0.10), ("low_cell_20", 0.20)):
    _weak_capacity(_name, _less)
for _name, _points in (("unbalanced_5", 5.0), ("unbalanced_10", 10.0), ("unbalanced_20", 20.0)):
    _unbalanced(_name, _points)


@fault("cell_sensor_80mv", "pack", PACKS)
def _offset(plan: Plan, chance: Random) -> Expectation:
    c = chance.randrange(plan.pack.cells) + 1
    plan.recorder["sensors"][f"cell.{c}"] = {"offset": chance.choice((-0.08, 0.08))}
    return Expectation(
        QUIET,
        ("cell_sensor",),
        cell=c,
        figures_off=("rest_before_v", "min_loaded_v"),
        note="offset all along",
    )


def _spoil(name: str, value: float | None) -> None:
    @fault(name, "pack", ("twin_5s", "four_6s", "trainer_3s"))
    def alter(plan: Plan, chance: Random) -> Expectation:
        c, after = chance.randrange(plan.pack.cells) + 1, chance.uniform(60, 120)

        def edit(recording: Recording) -> None:
            log = recording.logs[0]
            values, late = log.columns[f"cell.{c}"].values, log.true_s >= after
            values[late] = values[~late][-1] if value is None else value

        plan.edits.append(edit)
        return Expectation(
            (*QUIET, "open"),
            ("cell_sensor",),
            cell=c,
            at_s=after,
            at_tolerance_s=20.0,
            figures_off=("min_loaded_v",),
        )


_spoil("cell_sensor_stuck", None)
_spoil("cell_sensor_dead", 0.0)


@fault("aged_pack", "pack", PACKS)
def _aged(plan: Plan, chance: Random) -> Expectation:
    pack = plan.pack
    pack.capacity_mah *= 0.8
    for part in (pack.ohmic_ohm, pack.transfer_ohm, pack.diffusion_ohm):
        part *= 1.35
    plan.land_at_charge = 0.30
    return Expectation(
        (*QUIET, "stop"),
        border=True,
        note="charge_left_fraction must not be read off the sheet's capacity alone",
    )


@fault("cold_pack", "pack", FLYERS)
def _cold(plan: Plan, chance: Random) -> Expectation:
    plan.air.temperature_c, plan.pack.temperature_c = 1.0, 3.0
    plan.sheet.setdefault("changes", {})["field"] = {"temperature_c": 1}
    need(plan, "pack_c")
    return Expectation(QUIET, keys_none=("weak_cell_resistance",))


@fault("began_at_75", "pack", FLYERS)
def _began_low(plan: Plan, chance: Random) -> Expectation:
    plan.pack.start_charge -= plan.pack.start_charge.mean() - 0.75
    plan.land_at_charge = 0.19
    return Expectation(CHECK, ("reserve_used",))


@fault("began_at_75_landed_high", "pack", FLYERS)
def _began_low_only(plan: Plan, chance: Random) -> Expectation:
    plan.pack.start_charge -= plan.pack.start_charge.mean() - 0.75
    plan.land_at_charge = 0.36
    return Expectation(QUIET, ("not_full",), keys_none=("reserve_used",))


@fault("landed_at_8", "pack", FLYERS)
def _landed_low(plan: Plan, chance: Random) -> Expectation:
    plan.land_at_charge = 0.095
    return Expectation(CHECK, ("reserve_used",), weak_kinds=("any",))


@fault("pack_over_full", "pack", PACKS)
def _over_full(plan: Plan, chance: Random) -> Expectation:
    plan.pack.start_charge += 1.0 + 0.06 / 1.05 + 0.005 - plan.pack.start_charge.mean()
    return Expectation(CHECK, ("overcharged",), figures_off=("start_charge_fraction",))


@fault("cell_over_full", "pack", PACKS)
def _cell_over_full(plan: Plan, chance: Random) -> Expectation:
    c = chance.randrange(plan.pack.cells)
    plan.pack.start_charge[c] = 1.0 + 0.06 / 1.05 + 0.005
    return Expectation(
        CHECK, ("overcharged",), cell=c + 1, weak_kinds=("any",), figures_off=("start_charge_fraction",)
    )


@fault("cell_under_floor", "pack", FLYERS)
def _under_floor(plan: Plan, chance: Random) -> Expectation:
    c = chance.randrange(plan.pack.cells)
    plan.pack.capacity_mah[c] *= 0.74
    plan.land_at_charge = 0.24
    return Expectation(
        ("stop",),
        ("cell_under_floor",),
        cell=c + 1,
        weak_kinds=("capacity",),
        figures_off=("charge_left_fraction",),
    )


@fault("pack_swapped", "pack", FLYERS)
def _swapped(plan: Plan, chance: Random) -> Expectation:
    plan.pack.capacity_mah *= 0.72
    for part in (plan.pack.ohmic_ohm, plan.pack.transfer_ohm, plan.pack.diffusion_ohm):
        part *= 1.3
    plan.land_at_charge = 0.36
    return Expectation(
        (*QUIET, "stop", "open"),
        border=True,
        note="charge_left_fraction must not be read off the sheet's capacity alone",
    )


@fault("lihv_on_lipo_sheet", "pack", FLYERS)
def _other_chemistry(plan: Plan, chance: Random) -> Expectation:
    plan.pack.chemistry = "lihv"
    return Expectation(
        CHECK,
        ("chemistry_disagrees", "overcharged"),
        weak_kinds=("any",),
        figures_off=("start_charge_fraction", "charge_left_fraction"),
    )


@fault("lifepo4_on_lipo_sheet", "pack", ("trainer_3s", "twin_5s"))
def _iron_phosphate(plan: Plan, chance: Random) -> Expectation:
    plan.pack.chemistry = "lifepo4"
    return Expectation(
        (*CHECK, "open"),
        ("chemistry_disagrees",),
        weak_kinds=("any",),
        figures_off=("start_charge_fraction", "charge_left_fraction", "safe_flying_s"),
    )


@fault("no_cells", "log", ("twin_5s", "trainer_3s", "aerobatic_4s"))
def _no_cells(plan: Plan, chance: Random) -> Expectation:
    spare(plan, "cell.")
    return Expectation(QUIET, figures_off=("cells",), note="the pack's voltage alone; no cell may be named")
