"""What the intervals of a pack's figures hold, on flights of every chemistry with other physics."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

CELLS = ("resistance_ohm", "resistance_1s_ohm", "resistance_10s_ohm", "sag_v")


@pytest.fixture(scope="module")
def benchmark() -> ModuleType:
    path = Path(__file__).parents[1] / "benchmarks" / "chemistry_campaign.py"
    spec = importlib.util.spec_from_file_location("chemistry_campaign", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["chemistry_campaign"] = module
    spec.loader.exec_module(module)
    return module


def test_a_current_sensor_that_smooths_leaves_the_ohmic_resistance_in_its_interval(benchmark):
    seen = benchmark.campaign("lipo", range(50_000, 50_002))
    assert seen.coverage("cell resistance_ohm") == 1.0
    assert seen.half_width("cell resistance_ohm") < 0.08
    assert seen.weak == []


@pytest.mark.slow
@pytest.mark.parametrize("chemistry", ("lipo", "lihv", "li_ion", "lifepo4"))
def test_nine_of_ten_intervals_of_every_figure_hold_the_truth(benchmark, chemistry):
    seen = benchmark.campaign(chemistry, range(50_000, 50_016))
    assert seen.flights == 16
    for figure in CELLS:
        assert seen.coverage(f"cell {figure}") >= 0.9, figure
    for figure in ("start_charge_fraction", "charge_left_fraction"):
        assert seen.coverage(figure) >= 0.9, figure
    assert seen.half_width("cell resistance_ohm") <= 0.08
    assert seen.half_width("cell resistance_1s_ohm") <= 0.04
    assert seen.half_width("charge_left_fraction") <= 0.10
    assert seen.weak == []
