"""A time without a unit: sure, told by a counter, asked, or answered."""

from __future__ import annotations

import numpy as np
import pytest

from telemetry import read_log, review
from telemetry.errors import BadLog, BadUse


def steady_hour(folder, *, counter=False, headings=True, fall_v=0.0):
    """An hour of 3 A from a 3S supply, a row every ten seconds, its time in a column without a unit."""
    time = np.arange(0, 3600, 10)
    current = np.where((time < 30) | (time > 3560), 0.2, 3.0)
    charge = np.concatenate([[0.0], np.cumsum(np.diff(time) * (current[1:] + current[:-1]) / 2 / 3.6)])
    volts = 12.6 - fall_v * time / 3600 - 0.02 * current
    names = "Time,Voltage (V),Current (A)" + (",Charge (mAh)" if counter else "")
    rows = [
        f"{t},{v:.2f},{i:.2f}" + (f",{q:.0f}" if counter else "")
        for t, v, i, q in zip(time, volts, current, charge, strict=True)
    ]
    path = folder / "hour.csv"
    path.write_text("\n".join([*([names] if headings else []), *rows]) + "\n", encoding="utf-8")
    return path, float(charge[-1])


def test_an_hour_at_ten_second_rows_may_be_milliseconds_and_is_asked_about(tmp_path):
    path, _ = steady_hour(tmp_path)
    trace = read_log(path)
    column = trace.sources[0].columns[0]
    assert column.status == "doubtful"
    assert "it may be s as well" in column.reason
    flight = review([trace]).to_dict()["flights"][0]
    assert flight["decision"] == "open"
    assert "clock" in {o["what"] for o in flight["open"]}


def test_a_pack_that_falls_by_its_use_tells_the_unit_of_time(tmp_path):
    # 0.9 of 12.6 V at rest is a third of a pack: in an hour 0.3 C, in 3.6 s 330 C
    path, charge_mah = steady_hour(tmp_path, fall_v=0.9)
    trace = read_log(path)
    column = trace.sources[0].columns[0]
    assert (column.status, column.unit) == ("used", "s")
    assert "only in s could a pack fall as Voltage (V) does" in column.reason
    consumed = review([trace]).to_dict()["flights"][0]["capacity"]["consumed_mah"]["value"]
    assert consumed == pytest.approx(charge_mah, rel=0.005)


def test_minutes_without_a_unit_are_asked_about_and_nothing_is_integrated(tmp_path):
    path = tmp_path / "minutes.csv"
    rows = [f"{k / 60:.4f},{11.1 - 0.01 * (k % 7):.2f},{4 + k % 7}" for k in range(600)]
    path.write_text("\n".join(["Time,Voltage (V),Current (A)", *rows]) + "\n", encoding="utf-8")
    trace = read_log(path)
    assert trace.sources[0].columns[0].status == "doubtful"
    flights = review([trace]).to_dict()["flights"]
    assert all(flight["capacity"]["consumed_mah"] is None for flight in flights)


def test_a_counter_of_charge_tells_the_unit_of_time(tmp_path):
    path, charge_mah = steady_hour(tmp_path, counter=True)
    trace = read_log(path)
    column = trace.sources[0].columns[0]
    assert (column.status, column.unit) == ("used", "s")
    consumed = review([trace]).to_dict()["flights"][0]["capacity"]["consumed_mah"]["value"]
    assert consumed == pytest.approx(charge_mah, rel=0.005)


def test_an_answer_names_the_unit(tmp_path):
    path, charge_mah = steady_hour(tmp_path)
    trace = read_log(path, answers={"Time": "time_s in s"})
    assert trace.sources[0].columns[0].status == "used"
    assert trace.time_s[-1] == 3590.0
    consumed = review([trace]).to_dict()["flights"][0]["capacity"]["consumed_mah"]["value"]
    assert consumed == pytest.approx(charge_mah, rel=0.005)


def test_a_current_answered_in_milliamperes_is_read_so(tmp_path):
    path, _ = steady_hour(tmp_path)
    trace = read_log(path, answers={"Time": "time_s in s", "Current (A)": "current_a in mA"})
    assert float(np.max(trace.channels["current_a", ""].values)) == pytest.approx(0.003)


def test_a_unit_that_is_none_of_the_quantity_is_refused(tmp_path):
    path, _ = steady_hour(tmp_path)
    with pytest.raises(BadUse, match="'mAh' is no unit of time"):
        read_log(path, answers={"Time": "time_s in mAh"})


def test_a_log_without_headings_shows_its_columns_and_is_read_once_they_are_named(tmp_path):
    path, charge_mah = steady_hour(tmp_path, counter=True, headings=False)
    with pytest.raises(BadLog) as refused:
        read_log(path)
    assert [name for name, _ in refused.value.columns] == [f"column {n}" for n in (1, 2, 3, 4)]
    answers = {
        "column 1": "time_s in s",
        "column 2": "pack_voltage_v in V",
        "column 3": "current_a in A",
        "column 4": "charge_mah in mAh",
    }
    trace = read_log(path, answers=answers)
    consumed = review([trace]).to_dict()["flights"][0]["capacity"]["consumed_mah"]["value"]
    assert consumed == pytest.approx(charge_mah, rel=0.005)


@pytest.mark.parametrize(("step", "unit"), [(0.1, "s"), (1.0, "s"), (50.0, "ms"), (100.0, "ms")])
def test_a_flight_at_a_usual_rate_needs_no_unit(tmp_path, step, unit):
    rows = 4000 if step != 1.0 else 400
    time = np.arange(rows) * step
    path = tmp_path / "flight.csv"
    lines = [f"{t:g},{16 - 0.0002 * k:.3f},{10 + k % 7}" for k, t in enumerate(time)]
    path.write_text("\n".join(["Time,Voltage (V),Current (A)", *lines]) + "\n", encoding="utf-8")
    column = read_log(path).sources[0].columns[0]
    assert (column.status, column.unit) == ("used", unit)
