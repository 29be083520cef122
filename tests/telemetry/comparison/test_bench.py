"""Ready for the maiden or not, check by check."""

import dataclasses

import numpy as np
import pytest

from telemetry.analysis.current import Current, Margin, Sustained
from telemetry.analysis.motors import Motors, Pair, SideCurve
from telemetry.analysis.pack import Cell, Pack
from telemetry.comparison.bench import judge_bench
from telemetry.comparison.results import Residual
from telemetry.estimate import Estimate, Undecided
from telemetry.sheet.setup import Controller, Drive, Leads, PackSetup, Setup
from telemetry.trace import Flight, Stretch

NO = Undecided("not of interest here")
RUN = Flight(0.0, 90.0, NO, NO, Stretch(10.0, 80.0), (), True)
FULL = np.array([0.25, 0.5, 1.0])
CURVES = tuple(SideCurve(p, FULL * 60.0, FULL, 30.0 * FULL, 9000.0 * FULL) for p in ("left", "right"))
EVEN = Pair(
    "left",
    "right",
    Estimate(0.002, -0.006, 0.01),
    NO,
    NO,
    "even",
    "none",
    "At the same command both shafts do the same.",
    (),
    CURVES,
)
MOTORS = Motors(("left", "right"), (EVEN,), (), reverse_asked=True, reverse_answered=("left", "right"))
LOADED = Sustained(1.0, 30.0, 40.0)
CURRENT = Current(
    60.0,
    40.0,
    20.0,
    (LOADED,),
    (Margin("left controller, steadily", "left", 32.0, 30.0, Estimate(28.0, 27.5, 28.5), 0.125, 40.0),),
    {"left": (LOADED,), "right": (LOADED,)},
)


def cell(number, rest_v=4.18, loaded_v=3.62):
    return Cell(number, rest_v, loaded_v, 40.0, NO, NO, NO, NO, rest_v, 10.0, NO)


def pack(*cells, weak=None, reason=None):
    return Pack(
        "",
        len(cells),
        20.9,
        sum(c.min_loaded_v for c in cells),
        NO,
        NO,
        NO,
        NO,
        NO,
        cells,
        weak,
        None,
        reason,
        (),
        NO,
    )


PACK = pack(*(cell(n) for n in range(1, 6)))
SETUP = Setup(
    "Saltmarsh Mail",
    "wheels",
    PackSetup("main", 5, 5200.0),
    tuple(Drive(p, controller=Controller(reversing=True)) for p in ("left", "right")),
    leads=Leads(length_m=0.5, area_mm2=4.0),
)
SEEN = (("current_a", 60.0), ("pack_voltage_v", 18.1), ("rpm", 9000.0))
AGREEING = tuple(
    Residual(q, "", "at", 1.0, value, 0.95 * value, 1.05 * value, value, 0.0, "") for q, value in SEEN
)


def judged(**changes):
    given = {
        "flight": RUN,
        "motors": MOTORS,
        "current": CURRENT,
        "pack": PACK,
        "residuals": AGREEING,
        "setup": SETUP,
        **changes,
    }
    return judge_bench(*given.values())


def verdict(bench, check):
    return next(item for item in bench.items if check in item.check)


def test_a_flight_is_no_bench_run():
    assert judged(flight=dataclasses.replace(RUN, is_bench=False)) is None


def test_ready_when_every_check_is():
    bench = judged()
    assert {item.verdict for item in bench.items} == {"ready"}
    assert bench.ready is True


def test_every_item_is_one_plain_sentence():
    for bench in (
        judged(),
        judged(setup=None, residuals=NO),
        judged(motors=Motors((), (), NO)),
        judged(pack=pack()),
    ):
        for item in bench.items:
            assert item.sentence[0].isupper() and item.sentence.endswith(".") and len(item.sentence) > 20


@pytest.mark.parametrize(
    ("check", "changes"),
    [
        (
            "even",
            {
                "motors": dataclasses.replace(
                    MOTORS, pairs=(dataclasses.replace(EVEN, verdict="uneven", cause="propeller"),)
                )
            },
        ),
        ("reverse", {"motors": dataclasses.replace(MOTORS, reverse_answered=("left",))}),
        (
            "ratings",
            {
                "current": dataclasses.replace(
                    CURRENT, limits=(dataclasses.replace(CURRENT.limits[0], rating_a=25.0),)
                )
            },
        ),
        ("floor", {"pack": pack(cell(1), cell(2, loaded_v=3.05), cell(3))}),
        (
            "current as predicted",
            {"residuals": (dataclasses.replace(AGREEING[0], measured=70.0), *AGREEING[1:])},
        ),
        ("lead drop", {"setup": dataclasses.replace(SETUP, leads=Leads(length_m=1.6, area_mm2=1.5))}),
        ("cells level", {"pack": pack(cell(1), cell(2, rest_v=4.10), cell(3))}),
        (
            "cells level",
            {
                "pack": pack(
                    cell(1), cell(2), weak=2, reason="its resistance is a quarter above its neighbours'"
                )
            },
        ),
    ],
)
def test_one_thing_wrong_is_not_ready_and_named(check, changes):
    bench = judged(**changes)
    assert bench.ready is False
    assert [item.verdict for item in bench.items if item.verdict != "ready"] == ["not_ready"]
    assert verdict(bench, check).verdict == "not_ready"


def test_the_motor_that_stands_still_in_reverse_is_named():
    bench = judged(motors=dataclasses.replace(MOTORS, reverse_answered=("left",)))
    assert "right motor did not turn" in verdict(bench, "reverse").sentence


def test_reverse_not_tried_is_undecided_and_a_plain_controller_is_not_asked():
    assert (
        verdict(
            judged(motors=dataclasses.replace(MOTORS, reverse_asked=False, reverse_answered=())), "reverse"
        ).verdict
        == "undecided"
    )
    plain = dataclasses.replace(SETUP, drives=tuple(Drive(p) for p in ("left", "right")))
    assert not any("reverse" in item.check for item in judged(setup=plain).items)


def test_without_a_sheet_what_needs_none_is_still_judged():
    bench = judged(setup=None, residuals=Undecided("no set-up sheet was given"))
    assert bench.ready is None
    assert (
        verdict(bench, "even").verdict
        == verdict(bench, "floor").verdict
        == verdict(bench, "cells level").verdict
        == "ready"
    )
    assert verdict(bench, "ratings").verdict == verdict(bench, "static rpm").verdict == "undecided"


def test_a_run_up_to_half_throttle_has_not_shown_the_full_load():
    half = tuple(dataclasses.replace(c, command=c.command / 2) for c in CURVES)
    bench = judged(
        motors=dataclasses.replace(MOTORS, pairs=(dataclasses.replace(EVEN, curves=half),)),
        residuals=tuple(dataclasses.replace(r, throttle_fraction=0.5) for r in AGREEING),
    )
    assert verdict(bench, "ratings").verdict == verdict(bench, "floor").verdict == "undecided"
    assert bench.ready is None


@pytest.mark.source(
    "IEC 60028 resistivity of copper, 1/58 Ω·mm²/m (from memory); 2 × 0.5 m × 30 A ÷ 58 ÷ 4 mm² by hand"
)
def test_the_lead_drop_is_ohms_law_over_both_conductors():
    assert "0.13 V at 30.0 A" in verdict(judged(), "lead drop").sentence
