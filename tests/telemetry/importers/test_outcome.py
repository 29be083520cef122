"""What an answer does to the numbers of its column and of its log, shown before anybody relies on it."""

from __future__ import annotations

import numpy as np
import pytest

from telemetry.importers.columns.answered import units_of
from telemetry.importers.columns.meanings import DIMENSIONS, MEANINGS
from telemetry.importers.log import read_log
from telemetry.importers.outcome import column_effect, log_effect, numbers_as, outcome_of
from telemetry.importers.table import RawColumn
from telemetry.importers.units import unit_of
from telemetry.quantities import QUANTITIES


@pytest.fixture
def log(tmp_path):
    """A quarter of an hour, a row every 10 s, the motor at 20 A: 20 A · 900 s ÷ 3.6 = 5000 mAh."""
    time = np.arange(0, 910, 10)
    voltage = 22.0 - time / 400.0
    rows = [f"{t},20.0,{v:.3f},{20 + t // 30}" for t, v in zip(time, voltage, strict=True)]
    rows[5] = rows[5].replace(",20.0,", ",n.c.,")
    rows[9] = rows[9].replace(",20.0,", ",,")
    path = tmp_path / "hour.csv"
    path.write_text("\n".join(["time [s],current [A],pack voltage [V],T7", *rows]), encoding="utf-8")
    return path


def test_a_unit_of_time_moves_duration_and_charge_alike(log):
    before, after = outcome_of(log, {}), outcome_of(log, {"time [s]": "time_s in ms"})
    assert (before.duration_s, before.consumed_mah) == (900.0, pytest.approx(5000.0))
    assert (after.duration_s, after.consumed_mah) == (pytest.approx(0.9), pytest.approx(5.0))
    assert log_effect(before, after, {"time [s]"}) == (
        "The whole log before: 15:00 min:s, 5000 mAh by its current; after: 0.9 s, 5 mAh by its current.",
    )


def test_a_column_that_was_left_out_shows_what_it_would_be_read_as(log):
    answers = {"T7": "controller_temperature_c@left in °C"}
    before, after = outcome_of(log, {}), outcome_of(log, answers)
    told = column_effect(before.columns["T7"], after.columns["T7"])
    # each of 20 to 49 three times and 50 once: 3155 ÷ 91
    numbers = "first 20, lowest 20, mean 34.67, highest 50 °C"
    assert told.startswith(f"Before: left out ({before.columns['T7'].reason}). After: left controller ")
    assert told.endswith(f"temperature, {numbers}.")
    assert log_effect(before, after, answers) == (
        "The whole log stays at 15:00 min:s, 5000 mAh by its current.",
    )


def test_a_column_moved_by_another_s_answer_is_told(log):
    answers = {"T7": "current_a in A"}
    told = log_effect(outcome_of(log, {}), outcome_of(log, answers), answers)
    assert any("“current [A]” changes with it. Before: current, first 20" in line for line in told)


def test_a_choice_reads_a_column_as_the_log_would_be_read():
    raw = RawColumn("T7", "", "", np.array([68.0, 212.0, np.nan, 32.0]))
    found = numbers_as(raw, "motor_temperature_c@left in °F")
    # 68 °F is 20 °C, water boils at 212 °F or 100 °C and freezes at 32 °F or 0 °C, by definition
    assert (found.first, found.lowest, found.highest) == pytest.approx((20.0, 0.0, 100.0))
    assert numbers_as(raw, "ignore") is None


def test_every_cell_is_accounted_for_once(log):
    columns = {c.header: c for c in read_log(log).sources[0].columns}
    current, left = columns["current [A]"], columns["T7"]
    assert (current.cells_read, current.cells_unreadable, current.cells_blank) == (89, 1, 1)
    assert (left.cells_read, left.cells_left_out) == (0, 91)
    for c in columns.values():
        assert c.cells_read + c.cells_unreadable + c.cells_left_out + c.cells_blank == 91


@pytest.mark.parametrize("quantity", [q for q in QUANTITIES if q != "event"])
def test_every_unit_that_is_offered_is_one_and_the_first_is_the_quantity_s_own(quantity):
    kind = next(m.kind for m in MEANINGS if m.quantity == quantity)
    units = [unit_of(name, quantity, DIMENSIONS[kind]) for name in units_of(quantity)]
    own = 0.01 if QUANTITIES[quantity].unit == "1" else 1.0
    assert units[0].factor == own
    assert len({(u.factor, u.offset) for u in units}) == len(units)


def test_what_the_user_named_stands_beside_its_like_in_another_unit(tmp_path):
    rows = [f"{t},{20 + t % 3},{30 + t // 40},{70 + t // 20}" for t in range(120)]
    path = tmp_path / "two.csv"
    path.write_text("\n".join(["time [s],current [A],Temp 1,Temp 2", *rows]), encoding="utf-8")
    named = {"Temp 1": "pack_temperature_c in °C", "Temp 2": "controller_temperature_c@left in °F"}
    columns = {c.header: c for c in read_log(path, answers=named).sources[0].columns}
    assert [(c.quantity, c.unit, c.status) for c in (columns["Temp 1"], columns["Temp 2"])] == [
        ("pack_temperature_c", "°C", "used"),
        ("controller_temperature_c", "°F", "used"),
    ]
