"""The joint fit against thevenin's circuit model, and its interval machinery against statsmodels."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
import thevenin
from statsmodels.stats.sandwich_covariance import cov_hac

from telemetry.analysis.pack import analyse
from telemetry.analysis.pack.spread import Influence, by_block
from telemetry.signals import signals_of
from telemetry.trace import Channel, Flight, Stretch, Trace

R0, R1, TAU1, R2, TAU2 = 0.0036, 0.0014, 0.9, 0.0018, 26.0
CAPACITY_AH = 5.0


def _open_circuit(left):
    return 3.62 + 0.30 * left + 0.26 * left**2 - 0.3 * np.exp(-left / 0.05)


def _currents() -> list[tuple[float, float]]:
    """Rest, take-off, climb, then pulls and cuts as a pilot makes them, approach, rest: (seconds,
    amperes).
    """
    rng = np.random.default_rng(5)
    plan = [(15.0, 0.4), (8.0, 82.0), (20.0, 60.0)]
    while sum(s for s, _ in plan) < 230:
        plan += [
            (float(rng.uniform(4, 14)), float(rng.uniform(30, 42))),
            (float(rng.uniform(2, 7)), float(rng.choice([8.0, 65.0, 80.0]))),
        ]
    return [*plan, (15.0, 14.0), (30.0, 0.4)]


@pytest.fixture(scope="module")
def thevenin_flight() -> tuple[Trace, Flight]:
    """One cell of thevenin under a flight's currents, logged at 10 Hz in steps of 5 mV, the voltage 0.15 s
    late.
    """
    model = thevenin.Simulation(
        {
            "num_RC_pairs": 2,
            "soc0": 0.99,
            "capacity": CAPACITY_AH,
            "ce": 1.0,
            "gamma": 0.0,
            "mass": 0.12,
            "isothermal": True,
            "Cp": 1000.0,
            "T_inf": 298.15,
            "h_therm": 10.0,
            "A_therm": 0.02,
            "ocv": lambda soc: _open_circuit(soc),
            "M_hyst": lambda soc: 0.0 * soc,
            "R0": lambda soc, _kelvin: R0 + 0.0 * soc,
            "R1": lambda soc, _kelvin: R1 + 0.0 * soc,
            "C1": lambda soc, _kelvin: TAU1 / R1 + 0.0 * soc,
            "R2": lambda soc, _kelvin: R2 + 0.0 * soc,
            "C2": lambda soc, _kelvin: TAU2 / R2 + 0.0 * soc,
        }
    )
    experiment = thevenin.Experiment(max_step=0.5, rtol=1e-8)
    for seconds, amperes in _currents():
        experiment.add_step("current_A", amperes, (seconds, 0.05))
    found = model.run(experiment)
    time_s, first = np.unique(found.vars["time_s"], return_index=True)
    current = np.asarray(found.vars["current_A"])[first]
    volts = np.asarray(found.vars["voltage_V"])[first]
    rows_s = np.arange(0.0, time_s[-1], 0.1)
    logged = np.round(np.interp(rows_s - 0.15, time_s, volts) / 0.005) * 0.005
    fresh = np.ones(rows_s.size, dtype=bool)
    channels = {
        ("current_a", ""): Channel(
            "current_a", "", np.interp(rows_s, time_s, current), fresh, "A", 0.1, 0.01
        ),
        ("cell_voltage_v", "1"): Channel("cell_voltage_v", "1", logged, fresh, "V", 0.1, 0.005),
    }
    end_s = float(rows_s[-1])
    return Trace(rows_s, channels), Flight(0.0, end_s, 23.0, end_s - 40, Stretch(15.0, end_s - 30))


@pytest.mark.source("thevenin 0.2.1, two RC pairs (current positive on discharge)")
def test_the_constants_of_thevenins_cell_come_back(thevenin_flight):
    trace, flight = thevenin_flight
    pack = analyse(signals_of(trace, flight))
    cell = pack.cells[0]

    def drop(seconds: float) -> float:
        return R0 + R1 * (1 - np.exp(-seconds / TAU1)) + R2 * (1 - np.exp(-seconds / TAU2))

    assert cell.resistance_ohm.value == pytest.approx(R0, rel=0.05)
    assert cell.resistance_1s_ohm.value == pytest.approx(drop(1.0), rel=0.02)
    assert cell.resistance_10s_ohm.value == pytest.approx(drop(10.0), rel=0.02)
    for found, true in (
        (cell.resistance_ohm, R0),
        (cell.resistance_1s_ohm, drop(1.0)),
        (cell.resistance_10s_ohm, drop(10.0)),
    ):
        assert found.low < true < found.high
    assert pack.voltage_lag_s.value == pytest.approx(0.15, abs=0.03)


@pytest.mark.source("statsmodels 0.15: HAC covariance, Newey & West 1987, one neighbour")
def test_the_spread_of_a_mean_over_blocks_agrees_with_newey_and_west():
    rng = np.random.default_rng(11)
    noise = np.convolve(rng.standard_normal(3060), np.ones(60) / 60, mode="valid")[:3000]
    block = np.arange(3000) // 100
    sums = by_block(block, noise[:, None] / noise.size, 30)
    ours = Influence(sums - sums.mean(), np.zeros((1, 1))).variance(spent=0.0)[0]
    means = sums[:, 0] * 30
    hac = cov_hac(sm.OLS(means, np.ones(30)).fit(), nlags=1, use_correction=False)[0, 0]
    # a neighbour counts by half in either: the same law, written in influences
    assert ours == pytest.approx(hac, rel=1e-6)
