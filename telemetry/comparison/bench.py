"""Is the model ready for its maiden? A bench run-up, check by check.

A run-up is dangerous work: the model is held down, nobody stands in the disc of a propeller, and the pack is
unplugged before hands come near. Local rules and licensed practice come first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from telemetry.analysis.current import Current, Margin
from telemetry.analysis.motors import Motors
from telemetry.analysis.pack import Pack
from telemetry.comparison.bench_checks import NOT_READY, READY, UNDECIDED, bench_item, channel_checks
from telemetry.comparison.results import Bench, BenchItem, Residual
from telemetry.comparison.steps import held_steps
from telemetry.estimate import Estimate, Undecided
from telemetry.physics.wire import lead_resistance_ohm
from telemetry.quantities import PACK_POSITIONS
from telemetry.sentences import capital, rating_words, say
from telemetry.sheet.setup import Setup
from telemetry.signals import Signals
from telemetry.trace import Flight


def judge_bench(
    flight: Flight,
    motors: Motors,
    current: Current,
    pack: Pack,
    residuals: Sequence[Residual] | Undecided,
    setup: Setup | None,
    signals: Signals | None = None,
    *,
    full_command: float = 0.9,
) -> Bench | None:
    """Every check of a bench run, or None when the flight is not one.

    Parameters
    ----------
    residuals : of this run, current, voltage, rpm and thrust at each held throttle among them.
    signals : of the run, for its throttle and what else it logged; None leaves those checks out.
    full_command : a run-up that stays below it has not shown what full throttle does.
    """
    if not flight.is_bench:
        return None
    highest = _highest_command(motors, residuals, signals)
    tried_full = highest is not None and highest >= full_command
    items = (
        *_pairs(motors, setup),
        *(channel_checks(signals, residuals, setup) if signals is not None else ()),
        *_reverse(motors, setup),
        *_ratings(current, setup, tried_full=tried_full),
        _floor(pack, setup, tried_full=tried_full),
        *_agreement(residuals, setup),
        *_lead_drop(current, pack, setup),
        *_level(pack, 0.0 if signals is None else signals.step("cell_voltage_v", "1")),
    )
    verdicts = {item.verdict for item in items}
    return Bench(False if NOT_READY in verdicts else None if UNDECIDED in verdicts else True, items)


def _highest_command(
    motors: Motors, residuals: Sequence[Residual] | Undecided, signals: Signals | None
) -> float | None:
    """The strongest command the run-up held, or None when nothing says."""
    seen = [
        float(curve.command.max()) for pair in motors.pairs for curve in pair.curves if curve.command.size
    ]
    if not isinstance(residuals, Undecided):
        seen += [r.throttle_fraction for r in residuals if r.throttle_fraction is not None]
    if signals is not None:
        seen += [step.throttle for step in held_steps(signals)]
    return max(seen, default=None)


def _pairs(motors: Motors, setup: Setup | None) -> list[BenchItem]:
    """Both motors even; asked only of an aircraft that has two or more."""
    if (len(setup.drives) if setup is not None else len(motors.positions)) < 2:
        return []
    if not motors.pairs:
        return [bench_item("even", UNDECIDED, "no_pair")]
    verdict = {"even": READY, "uneven": NOT_READY}
    return [
        BenchItem(
            say("bench", "checks", "pair_even", left=p.left, right=p.right),
            verdict.get(p.verdict, UNDECIDED),
            p.reason,
            covers=("pair_uneven",),
        )
        for p in motors.pairs
    ]


def _reverse(motors: Motors, setup: Setup | None) -> list[BenchItem]:
    """Reverse spins every motor whose controller the sheet calls reversing."""
    wanted = [] if setup is None else [d.position for d in setup.drives if d.controller.reversing]
    if not wanted:
        return []
    check = "reverse_both" if len(wanted) == 2 else "reverse_every"
    logged = [p for p in wanted if p in motors.positions]
    still = [p for p in logged if p not in motors.reverse_answered]
    names = say("bench", "and").join(p.replace("_", " ") for p in still)
    if not motors.reverse_asked:
        verdict, sentence = UNDECIDED, "not_asked"
    elif not logged:
        verdict, sentence = UNDECIDED, "not_logged"
    elif still:
        verdict, sentence = NOT_READY, "still"
    elif len(logged) < len(wanted):
        verdict, sentence = UNDECIDED, "not_all"
    else:
        verdict, sentence = READY, "turned"
    return [BenchItem(say("bench", "checks", check), verdict, say("bench", "reverse", sentence, names=names))]


def _ratings(current: Current, setup: Setup | None, *, tried_full: bool) -> list[BenchItem]:
    """Currents inside the ratings; not asked where the sheet has none."""
    if setup is None:
        return [bench_item("ratings", UNDECIDED, "no_sheet")]
    asked = setup.ratings() or current.limits
    return [_rated_load(current, tried_full=tried_full)] if asked else []


def _rated_load(current: Current, *, tried_full: bool) -> BenchItem:
    judged = [m for m in current.limits if isinstance(m.measured_a, Estimate) and m.rating_a > 0]
    if not judged:
        return bench_item("ratings", UNDECIDED, "none")
    worst = max(judged, key=lambda m: _measured(m).value / m.rating_a)
    if _measured(worst).value > worst.rating_a:
        over = bench_item("ratings", NOT_READY, "over", **_rated(worst))
        return replace(over, covers=("over_rating", "maybe_over_rating"))
    nearest = max(judged, key=lambda m: _measured(m).high / m.rating_a)
    said = say("bench", "ratings", "nearest", **_rated(nearest))
    if _measured(nearest).high > nearest.rating_a:
        return bench_item("ratings", UNDECIDED, "too_near", nearest=said)
    if not tried_full:
        return bench_item("ratings", UNDECIDED, "not_full", nearest=said)
    return bench_item("ratings", READY, "inside", nearest=capital(said))


def _rated(margin: Margin) -> dict[str, Any]:
    part = rating_words(margin.part)
    return {"part": part, "measured_a": _measured(margin).value, "rating_a": margin.rating_a}


def _measured(margin: Margin) -> Estimate:
    assert isinstance(margin.measured_a, Estimate)
    return margin.measured_a


def _floor(pack: Pack, setup: Setup | None, *, tried_full: bool) -> BenchItem:
    """Loaded voltage above the floor."""
    floor_v = pack.usual_floor.value if setup is None else setup.reserve.loaded_cell_v
    lowest = [
        (c.min_loaded_v, say("bench", "floor", "cell", cell=c.cell))
        for c in pack.cells
        if not isinstance(c.min_loaded_v, Undecided)
    ]
    whole_v, count = pack.min_voltage_v, pack.cell_count
    if not lowest and not isinstance(whole_v, Undecided) and not isinstance(count, Undecided) and count:
        lowest = [(whole_v / count, say("bench", "floor", "mean_cell"))]
    if not lowest:
        return bench_item("floor", UNDECIDED, "no_voltage")
    volts, who = min(lowest)
    values = {"who": who, "who_capital": capital(who), "volts": volts, "floor_v": floor_v}
    if volts < floor_v:
        under = bench_item("floor", NOT_READY, "under", **values)
        return replace(under, severity="stop", covers=("cell_under_floor", "pack_under_floor"))
    if not tried_full:
        return bench_item("floor", UNDECIDED, "not_full", **values)
    return bench_item("floor", READY, "above", **values)


def _agreement(residuals: Sequence[Residual] | Undecided, setup: Setup | None) -> list[BenchItem]:
    """Static current, voltage and rpm against the prediction."""
    units = {"current_a": "A", "pack_voltage_v": "V", "rpm": "rpm"}
    if isinstance(residuals, Undecided):
        why = say("bench", "no_sheet") if setup is None else residuals.reason
        sentence = say("bench", "agrees", "nothing_predicted", why=why)
        return [BenchItem(say("bench", "checks", quantity), UNDECIDED, sentence) for quantity in units]
    return [
        _agrees(quantity, unit, [r for r in residuals if r.quantity == quantity and r.statistic == "at"])
        for quantity, unit in units.items()
    ]


def _agrees(quantity: str, unit: str, found: Sequence[Residual]) -> BenchItem:
    check = say("bench", "checks", quantity)
    if not found:
        return BenchItem(check, UNDECIDED, say("bench", "agrees", "nothing_held", unit=unit))
    missed = [r for r in found if not r.kept]
    worst = max(missed or found, key=lambda r: abs(r.measured - r.predicted) / max(r.high - r.low, 1e-9))
    low, high = sorted((abs(worst.low), abs(worst.high))) if worst.measured < 0.0 else (worst.low, worst.high)
    digits = 0 if unit == "rpm" else 1
    throttle = worst.throttle_fraction or 0.0
    said = say(
        "bench",
        "agrees",
        "pack" if worst.position in PACK_POSITIONS else "motor" if worst.position else "log",
        throttle=say("bench", "agrees", "reverse" if throttle < 0.0 else "throttle", at=abs(throttle)),
        position=worst.position,
        measured=f"{abs(worst.measured):.{digits}f}",
        low=f"{low:.{digits}f}",
        high=f"{high:.{digits}f}",
        unit=unit,
    )
    verdict, sentence = (NOT_READY, "missed") if missed else (READY, "kept")
    return BenchItem(
        check,
        verdict,
        say("bench", "agrees", sentence, said=said, said_capital=capital(said)),
        covers=("prediction_missed",),
        is_effect=True,
    )


def _lead_drop(
    current: Current, pack: Pack, setup: Setup | None, *, most_fraction: float = 0.03
) -> list[BenchItem]:
    """What one controller's leads cost; not asked where the sheet does not describe them. `most_fraction` of
    the pack's voltage may be lost in them (common practice, no source).
    """
    if setup is None or setup.leads.length_m is None or setup.leads.area_mm2 is None:
        return []
    peaks = [s[0].max_mean_a for s in current.by_motor.values() if s]
    if not peaks and not isinstance(current.peak_a, Undecided) and setup.drives:
        peaks = [current.peak_a / len(setup.drives)]
    volts = pack.min_voltage_v
    if not peaks or isinstance(volts, Undecided) or volts <= 0:
        return [bench_item("lead_drop", UNDECIDED, "not_logged")]
    drop_v = max(peaks) * 2.0 * lead_resistance_ohm(setup.leads.length_m, setup.leads.area_mm2)
    values = {"drop_v": drop_v, "peak_a": max(peaks), "percent": 100 * drop_v / volts}
    if drop_v > most_fraction * volts:
        much = bench_item("lead_drop", NOT_READY, "much", most=100 * most_fraction, **values)
        return [replace(much, covers=("lead_over",))]
    return [bench_item("lead_drop", READY, "small", **values)]


def _level(pack: Pack, step_v: float, *, level_v: float = 0.03) -> list[BenchItem]:
    """Each cell level with the others, where cells were logged. Resting cells of one pack lie within
    `level_v` (common practice, no source), and read as they do within a sensor's step more.
    """
    if not pack.cells and not isinstance(pack.min_voltage_v, Undecided):
        return []
    return [_levelled(pack, level_v + step_v)]


def _levelled(pack: Pack, level_v: float) -> BenchItem:
    if isinstance(pack.weak_cell, int):
        why = (pack.weak_cell_reason or say("bench", "level", "differs")).rstrip(".")
        weak = bench_item("level", NOT_READY, "weak", cell=pack.weak_cell, why=why)
        kinds = ("resistance", "capacity", "unbalanced")
        return replace(weak, covers=tuple(f"weak_cell_{kind}" for kind in kinds))
    rest = [(c.rest_before_v, c.cell) for c in pack.cells if not isinstance(c.rest_before_v, Undecided)]
    if len(rest) < 2:
        return bench_item("level", UNDECIDED, "no_rest")
    (low, cell), (high, _) = min(rest), max(rest)
    apart_mv = 1000 * (high - low)
    if high - low > level_v:
        apart = bench_item("level", NOT_READY, "apart", cell=cell, apart_mv=apart_mv)
        return replace(apart, covers=("weak_cell_unbalanced", "cell_sensor"))
    if isinstance(pack.weak_cell, Undecided):
        return bench_item("level", UNDECIDED, "open", apart_mv=apart_mv, why=pack.weak_cell.reason)
    return bench_item("level", READY, "level", apart_mv=apart_mv)
