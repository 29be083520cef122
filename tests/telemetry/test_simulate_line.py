"""The whole line on the sample logs: bytes in, the truth they were made from out."""

from types import SimpleNamespace

import pytest

from telemetry import read_log, review
from telemetry.sheet import Sheet
from telemetry.simulate import simulate
from telemetry.simulate.saltmarsh import SAMPLES

CELLS = ("resistance_1s_ohm", "resistance_10s_ohm", "sag_v")


@pytest.fixture(scope="module")
def judged(sample_logs):
    """Each sample's one flight as reviewed, and its truth."""
    sheet = Sheet.read(sample_logs / "saltmarsh_mail.toml")
    found = {}
    for name, make in SAMPLES.items():
        sample = make()
        traces = [read_log(sample_logs / file) for file, _ in sample.files]
        flights = review(traces, sheet, configuration=sample.configuration or None).flights
        assert len(flights) == 1, name
        found[name] = SimpleNamespace(
            review=flights[0], truth=simulate(sample.scenario, seed=sample.seed).truth
        )
    return found


@pytest.mark.parametrize("name", list(SAMPLES))
def test_charge_and_energy_are_those_that_left_the_pack(judged, name):
    capacity, truth = judged[name].review.capacity, judged[name].truth
    assert capacity.consumed_mah.value == pytest.approx(truth.consumed_mah, rel=0.006)
    # energy is taken at the pack's plug, or, without pack voltage, at the cells: up to 1 % more
    assert capacity.energy_wh.value == pytest.approx(truth.energy_wh, rel=0.012)


@pytest.mark.parametrize("name", list(SAMPLES))
def test_every_cells_resistance_lies_in_its_interval(judged, name):
    pack, truth = judged[name].review.pack, judged[name].truth
    inside = [
        getattr(cell, field).low <= getattr(true, field) <= getattr(cell, field).high
        for cell, true in zip(pack.cells, truth.cells, strict=True)
        for field in CELLS
    ]
    # 95 % each; cells share their errors
    assert sum(inside) >= 0.8 * len(inside)
    for cell, true in zip(pack.cells, truth.cells, strict=True):
        assert cell.resistance_1s_ohm.value == pytest.approx(true.resistance_1s_ohm, rel=0.05)


@pytest.mark.parametrize("name", [name for name in SAMPLES if name != "bench"])
def test_take_off_and_landing_are_found(judged, name):
    flight, truth = judged[name].review.flight, judged[name].truth
    assert flight.takeoff_s == pytest.approx(truth.takeoff_s, abs=3.0)
    assert flight.landing_s == pytest.approx(truth.landing_s, abs=5.0)


def test_the_bench_run_is_one(judged):
    assert judged["bench"].review.flight.is_bench
    assert all(not review.review.flight.is_bench for name, review in judged.items() if name != "bench")


@pytest.mark.parametrize("name", list(SAMPLES))
def test_only_the_cell_made_weak_is_weak(judged, name):
    weak = [(cell.cell, cell.kind) for cell in judged[name].review.pack.weak_cells]
    assert weak == ([(3, "resistance")] if name == "weak_cell" else [])


@pytest.mark.parametrize("name", list(SAMPLES))
def test_only_the_pair_made_uneven_is_uneven(judged, name):
    pair, true = judged[name].review.motors.pairs[0], judged[name].truth.pairs[0]
    expected = ("uneven", "propeller") if name == "heavier_right_propeller" else ("even", "none")
    assert (pair.verdict, pair.cause) == expected
    assert pair.imbalance_fraction.value == pytest.approx(true.imbalance_fraction, abs=0.01)


@pytest.mark.parametrize("name", list(SAMPLES))
def test_events_are_those_of_the_plan(judged, name):
    kinds = [event.kind for event in judged[name].review.motors.events]
    assert kinds == (["reverse_ground"] if name == "bench" else [])


def test_three_clocks_come_together(judged, sample_logs):
    files = [file for file, _ in SAMPLES["three_recorders"]().files]
    sources = review([read_log(sample_logs / file) for file in files]).trace.sources
    # the left controller wrote its first row 2.0 s after power on and called it 187 s, the right 3.1 s after
    # and called it 64 s
    for source, offset_s, drift_ppm in zip(
        sources[1:], (2.0 - 187.0, 3.1 - 64.0), (140.0, -95.0), strict=True
    ):
        # one row of the receiver's log; 110 ppm is what 250 s of flight can tell
        assert source.clock.offset_s.value == pytest.approx(offset_s, abs=0.1)
        assert source.clock.drift_ppm.value == pytest.approx(drift_ppm, abs=110.0)


def test_the_owners_sheet_predicts_the_maiden(judged):
    residuals = judged["maiden"].review.comparison.residuals
    inside = [r.low <= r.measured <= r.high for r in residuals]
    assert len(inside) >= 3
    assert all(inside)
