"""A pack charged between two runs: what the charger put in is no use of it, whatever the log counts."""

from __future__ import annotations

import numpy as np
import pytest

from telemetry import read_log, review

STEP_S = 0.5
CHARGER_A = 2.0


def two_runs(charger_a: float = CHARGER_A):
    """Five minutes at 15 A, twenty on the charger, five at 15 A, from a 3S pack of 3 Ah and 30 mΩ: seconds,
    volts, amperes.
    """
    rng = np.random.default_rng(1)
    parts = ((30, 0.0), (300, 15.0), (60, 0.0), (1200, -charger_a), (60, 0.0), (300, 15.0), (30, 0.0))
    amps = np.concatenate([np.full(int(seconds / STEP_S), level) for seconds, level in parts])
    noise = np.where(amps > 0, 0.5, np.where(amps < 0, 0.01, 0.0))
    amps = np.round(amps + noise * rng.normal(size=amps.size), 2)
    time_s = STEP_S * np.arange(amps.size)
    left = 1 - np.cumsum(amps) * STEP_S / 3.6 / 3000
    return time_s, 3 * (3.5 + 0.7 * left) - 0.03 * amps, amps


def counted(amps):
    """A counter of these amperes. [mAh]"""
    return np.cumsum(amps) * STEP_S / 3.6


def reviewed(folder, header, *columns):
    path = folder / "log.csv"
    rows = zip(*columns, strict=True)
    path.write_text("\n".join([header, *(",".join(f"{x:.3f}" for x in row) for row in rows)]) + "\n")
    return review([read_log(path)]).to_dict()["flights"]


WITH_CURRENT = "Time (s),Voltage (V),Current (A),Charge (mAh)"
COUNTERS = {
    "net": counted,
    "either way": lambda amps: counted(np.abs(amps)),
    "out only": lambda amps: counted(np.maximum(amps, 0.0)),
}


@pytest.mark.parametrize("counter", COUNTERS.values(), ids=COUNTERS)
def test_a_negative_current_for_minutes_is_a_charger_whatever_the_counter_counts(tmp_path, counter):
    time_s, volts, amps = two_runs()
    used = counted(np.maximum(amps, 0.0))[-1]
    (flight,) = reviewed(tmp_path, WITH_CURRENT, time_s, volts, amps, counter(amps))
    assert flight["capacity"]["consumed_mah"]["value"] == pytest.approx(used, rel=0.002)
    assert flight["capacity"]["logged_mah"] == pytest.approx(used, rel=0.002)
    assert "charging" in {f["key"] for f in flight["findings"]}
    assert "charge_disagrees" not in {f["key"] for f in flight["findings"]}


@pytest.mark.parametrize("counts", [True, False])
def test_a_current_without_a_sign_charges_where_the_voltage_rises_for_minutes(tmp_path, counts):
    time_s, volts, amps = two_runs()
    used = counted(np.maximum(amps, 0.0))[-1]
    columns = [time_s, volts, np.abs(amps), *([counted(np.abs(amps))] if counts else [])]
    header = WITH_CURRENT if counts else WITH_CURRENT.rpartition(",")[0]
    flights = reviewed(tmp_path, header, *columns)
    assert sum(f["capacity"]["consumed_mah"]["value"] for f in flights) == pytest.approx(used, rel=0.005)
    assert "charging" in {finding["key"] for f in flights for finding in f["findings"]}


def test_a_counter_alone_that_counts_while_the_voltage_rises_counts_a_charger(tmp_path):
    time_s, volts, amps = two_runs()
    header = "Time (s),Voltage (V),Charge (mAh)"
    flights = reviewed(tmp_path, header, time_s, volts, counted(np.abs(amps)))
    used = counted(np.maximum(amps, 0.0))[-1]
    assert sum(f["capacity"]["consumed_mah"]["value"] for f in flights) == pytest.approx(used, rel=0.005)


def test_a_pack_that_recovers_on_a_light_load_is_not_charged(tmp_path):
    """After 40 A a glide on 0.6 A: the voltage recovers for four minutes, as it does without a charger."""
    amps = np.concatenate([np.zeros(60), np.full(360, 40.0), np.full(480, 0.6), np.zeros(20)])
    time_s = STEP_S * np.arange(amps.size)
    since = np.maximum(time_s - time_s[420], 0.5)
    recovered = np.where(amps == 0.6, 0.04 * np.log(since / 0.5), 0.0)
    volts = 12.6 - 0.0004 * counted(amps) - 0.03 * amps + recovered
    flights = reviewed(tmp_path, WITH_CURRENT, time_s, volts, amps, counted(amps))
    assert sum(f["capacity"]["consumed_mah"]["value"] for f in flights) == pytest.approx(
        counted(amps)[-1], rel=0.005
    )
    assert "charging" not in {finding["key"] for f in flights for finding in f["findings"]}


def test_a_current_that_never_changes_is_a_running_motor(tmp_path):
    """5 A for 20 min are 1,665 mAh; the log ends under load, so nothing is said of a rest."""
    time_s = np.arange(0.0, 1200.0)
    amps = np.full(time_s.size, 5.0)
    drawn = 5.0 * time_s / 3.6
    (flight,) = reviewed(tmp_path, WITH_CURRENT, time_s, 12.45 - 0.00075 * drawn, amps, drawn)
    assert flight["capacity"]["consumed_mah"]["value"] == pytest.approx(1665.3, abs=0.5)
    assert flight["capacity"]["mean_current_a"] == pytest.approx(5.0)
    assert flight["cut_off"] == "both"
    assert (flight["pack"] or {}).get("start_voltage_v") is None
