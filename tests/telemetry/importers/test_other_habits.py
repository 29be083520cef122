"""Habits of other recorders: units in letters, marks for "no value", steps held by a bench."""

from __future__ import annotations

import numpy as np
import pytest

from telemetry import review

ROWS = 600
TIME = 0.2 * np.arange(ROWS)
AMPS = np.where(np.arange(ROWS) < 20, 0.0, np.where((np.arange(ROWS) // 25) % 2, 12.0, 36.0))
AMPS[-15:] = 0.0
DRAWN = np.concatenate([[0.0], np.cumsum(0.2 * (AMPS[1:] + AMPS[:-1]) / 2 / 3.6)])
VOLTS = 20.9 - 0.01 * AMPS - 0.0004 * DRAWN
SPEED = np.where(AMPS > 0, 14 + 0.2 * AMPS, 0.0)


def written(header, *columns, decimals=3):
    """A log of these columns, comma separated."""
    rows = zip(*columns, strict=True)
    return "\n".join([header, *(",".join(f"{x:.{decimals}f}" for x in row) for row in rows)]) + "\n"


def consumed_mah(trace):
    return review([trace]).to_dict()["flights"][0]["capacity"]["consumed_mah"]["value"]


def read_as(trace):
    return {c.header: (c.status, c.quantity) for c in trace.sources[0].columns}


def test_units_joined_by_underscores_are_read(read):
    header = "time_s,voltage_V,current_A,charge_mA_h,airspeed_m_s,air_temp_deg_C,torque_N_m,climb_ft_min"
    trace = read(
        written(header, TIME, VOLTS, AMPS, DRAWN, SPEED, 25 + 0.02 * TIME, AMPS / 100, 600 * np.sin(TIME / 9))
    )
    assert [c.status for c in trace.sources[0].columns] == ["used"] * 8
    assert trace.channels["airspeed_mps", ""].values.max() == pytest.approx(21.2)
    assert trace.channels["climb_mps", ""].values.max() == pytest.approx(3.048, abs=0.01)
    assert trace.channels["charge_mah", ""].values.max() == pytest.approx(750.0, abs=0.1)
    assert trace.channels["torque_nm", ""].values.max() == pytest.approx(0.36)
    assert trace.channels["air_temperature_c", ""].values[0] == pytest.approx(25.0)


def test_letters_of_several_kinds_are_told_apart_by_their_unit(read):
    trace = read(written("t_s,U_V,I_A,T_N,M_N_m,v_m_s", TIME, VOLTS, AMPS, AMPS / 3, AMPS / 80, SPEED))
    assert trace.channels["thrust_n", ""].values.max() == pytest.approx(12.0)
    assert trace.channels["torque_nm", ""].values.max() == pytest.approx(0.45)
    speed = trace.sources[0].columns[-1]
    assert (speed.status, speed.quantity) == ("doubtful", None)
    assert "it speaks of speed, but not of what" in speed.reason


@pytest.mark.parametrize(
    ("unit", "newton"), [("ozf", 0.278014), ("oz", 0.278014), ("lbf", 4.448222), ("lb", 4.448222)]
)
def test_ounces_and_pounds_of_force_become_newtons(read, unit, newton):
    trace = read(written(f"Time (s),Voltage (V),Current (A),Thrust ({unit})", TIME, VOLTS, AMPS, AMPS / 2))
    assert trace.channels["thrust_n", ""].values.max() == pytest.approx(18.0 * newton, rel=1e-5)


@pytest.mark.parametrize("unit", ["ozf in", "oz-in", "in-oz", "in.ozf"])
def test_ounce_inches_become_newton_metres(read, unit):
    trace = read(written(f"Time (s),Voltage (V),Current (A),Torque ({unit})", TIME, VOLTS, AMPS, AMPS))
    assert trace.channels["torque_nm", ""].values.max() == pytest.approx(36 * 0.00706155, rel=1e-5)


def test_cells_aligned_by_blanks_around_commas_are_read(read):
    lines = ["   Time (s) ,  Voltage (V) ,  Current (A) "]
    lines += [f"{t:11.1f} , {v:12.2f} , {a:12.1f} " for t, v, a in zip(TIME, VOLTS, AMPS, strict=True)]
    trace = read("\n".join(lines))
    assert list(read_as(trace)) == ["Time (s)", "Voltage (V)", "Current (A)"]
    assert consumed_mah(trace) == pytest.approx(750.0, rel=0.002)


@pytest.mark.parametrize("mark", [-9999.0, 65535.0, 999.9, -999.25, 9999.0, 65.535])
def test_a_mark_for_no_value_is_no_reading_however_often_it_stands(read, mark):
    amps, volts, drawn = AMPS.copy(), VOLTS.copy(), DRAWN.copy()
    amps[100:140] = volts[200:230] = mark
    drawn[300:330] = mark if mark != 65.535 else drawn[300:330]
    trace = read(written("Time (s),Voltage (V),Current (A),Charge (mAh)", TIME, volts, amps, drawn))
    assert {status for status, _ in read_as(trace).values()} == {"used"}
    assert "40 values such as" in trace.sources[0].columns[2].reason
    assert np.isnan(trace.channels["current_a", ""].values[100:140]).all()
    assert np.isnan(trace.channels["pack_voltage_v", ""].values[200:230]).all()
    assert np.nanmax(trace.channels["charge_mah", ""].values) < 751
    assert consumed_mah(trace) == pytest.approx(750.0, rel=0.005)


def test_minus_one_inside_a_count_is_a_mark(read):
    drawn = DRAWN.copy()
    drawn[300:330] = -1.0
    trace = read(written("Time (s),Voltage (V),Charge (mAh)", TIME, VOLTS, drawn))
    assert consumed_mah(trace) == pytest.approx(750.0, rel=0.005)


def test_a_full_throttle_held_at_every_other_step_stays_a_reading(read):
    throttle = 100 * AMPS / 36
    trace = read(written("Time (s),Voltage (V),Current (A),Throttle (%)", TIME, VOLTS, AMPS, throttle))
    assert trace.channels["throttle_fraction", ""].values.max() == pytest.approx(1.0)


def test_even_steps_of_a_bench_are_no_slow_sensor(read):
    trace = read(written("Time (s),Voltage (V),Current (A)", TIME, VOLTS, AMPS))
    assert trace.channels["current_a", ""].refresh_interval_s == pytest.approx(0.2)
    assert consumed_mah(trace) == pytest.approx(750.0, rel=1e-4)


def test_a_column_left_out_because_it_contradicts_the_others_is_not_said_to_have_a_rival(read):
    rng = np.random.default_rng(4)
    noise = rng.normal(0.0, 40.0, ROWS)
    trace = read(written("Time (s),Voltage (V),Current (A),Charge (mAh)", TIME, VOLTS, noise, 40 * DRAWN))
    for column in trace.sources[0].columns:
        if "fits better" in column.reason:
            assert column.reason.split(" fits better")[0] in read_as(trace)
            assert column.reason.split(" fits better")[0] != column.header


def test_every_unreadable_cell_is_counted_in_its_column_and_in_all(read):
    lines = written("Time (s),Voltage (V),Current (A),Mark", TIME, VOLTS, AMPS, TIME).splitlines()
    cells = [line.split(",") for line in lines]
    for row in cells[51:91]:
        row[2] = "E#%!"
    for row in cells[201:204]:
        row[1] = "12,3V?"
    cells[301][2] = "n/a"
    for row in cells[1:]:
        row[3] = "taxi"
    source = read("\n".join(",".join(f'"{c}"' for c in row) for row in cells)).sources[0]
    assert [c.cells_unreadable for c in source.columns] == [0, 3, 40, 0]
    assert source.cells_unreadable == 43
    assert "40 cells hold no number, the first on line 52: 'E#%!'" in source.columns[2].reason
    assert source.rows_rejected == 0


def test_the_mains_is_no_pack_in_tenths_of_a_volt(read):
    mains = 230 + np.sin(TIME)
    trace = read(written("time_s,Mains voltage (V),Current (A)", TIME, mains, AMPS))
    assert read_as(trace)["Mains voltage (V)"] == ("ignored", None)
    assert ("pack_voltage_v", "") not in trace.channels


def test_a_word_nobody_knows_beside_a_voltage_is_asked_about_unless_it_sags_with_the_current(read):
    still = 12.0 + 0.01 * np.sin(TIME)
    trace = read(written("time_s,Zorblat voltage (V),Current (A)", TIME, still, AMPS))
    assert read_as(trace)["Zorblat voltage (V)"][0] == "doubtful"
    trace = read(written("time_s,Zorblat voltage (V),Current (A)", TIME, VOLTS, AMPS))
    assert read_as(trace)["Zorblat voltage (V)"] == ("used", "pack_voltage_v")


@pytest.mark.parametrize("second", [1.0, 0.97])
def test_two_recorders_told_apart_by_a_number_alone_are_asked_about_not_added(read, second):
    header = "Time (s),U1 [V],I1 [A],U2 [V],I2 [A],charge (mAh)"
    trace = read(written(header, TIME, VOLTS, AMPS, VOLTS, second * AMPS, DRAWN))
    told = read_as(trace)
    assert {told[name][0] for name in ("U1 [V]", "I1 [A]", "U2 [V]", "I2 [A]")} == {"doubtful"}
    assert not any(quantity == "current_a" for quantity, _ in trace.channels)


def test_numbered_currents_and_voltages_with_their_own_speeds_are_motors(read):
    half = AMPS / 2
    header = "Time (s),U1 [V],I1 [A],rpm 1,U2 [V],I2 [A],rpm 2"
    trace = read(written(header, TIME, VOLTS, half, 200 * half, VOLTS, 1.01 * half, 201 * half))
    assert {p for q, p in trace.channels if q == "current_a"} == {"1", "2"}


@pytest.mark.parametrize("mark", ["-1", "-999"])
def test_a_mark_below_zero_amid_a_load_is_no_current_given_back(read, mark):
    text = written("time_s,Voltage (V),Current (A)", TIME, VOLTS, AMPS).splitlines()
    for row in range(30, ROWS - 30, 40):
        text[row] = ",".join([*text[row].split(",")[:2], mark])
    trace = read("\n".join(text) + "\n")
    current = trace.channels["current_a", ""].values
    assert np.isnan(current).sum() == len(range(30, ROWS - 30, 40))
    assert np.nanmin(current) == 0.0


def test_what_a_motor_gives_back_in_several_values_stays(read):
    back = np.where((np.arange(ROWS) % 25) < 3, -1.0 - 0.1 * (np.arange(ROWS) % 3), AMPS)
    trace = read(written("time_s,Voltage (V),Current (A)", TIME, 20.9 - 0.01 * back, back))
    assert np.nanmin(trace.channels["current_a", ""].values) == pytest.approx(-1.2)


def test_amp_hours_and_watt_hours_used_are_charge_and_energy(read):
    energy = DRAWN * 20.7 / 1000
    trace = read(
        written("time_s,Batt V,Batt A,Ah used,Wh used", TIME, VOLTS, AMPS, DRAWN / 1000, energy, decimals=4)
    )
    assert [quantity for _, quantity in read_as(trace).values()][3:] == ["charge_mah", "energy_wh"]


def test_days_of_a_spreadsheet_under_a_date_are_the_time(read):
    trace = read(written("Date,Voltage (V),Current (A)", 45000.4 + TIME / 86400, VOLTS, AMPS, decimals=9))
    assert trace.duration_s == pytest.approx(TIME[-1], abs=0.01)


def test_a_point_between_two_units_is_read_in_the_wests_page(read):
    text = written("Time (µs),Voltage (V),Current (A),Torque (N·m)", 1e6 * TIME, VOLTS, AMPS, AMPS / 50)
    trace = read(text.encode("cp1252"))
    assert read_as(trace)["Torque (N·m)"] == ("used", "torque_nm")


def test_a_laboratorys_steady_load_is_no_stuck_sensor(read):
    """An hour at 1.2 A from one cell, 5 s rows: 1,200 mAh; the voltage falls and nothing else moves."""
    time = 5.0 * np.arange(760)
    amps = np.where((time >= 100) & (time < 3700), 1.2, 0.0)
    drawn = np.concatenate([[0.0], np.cumsum(5.0 * (amps[1:] + amps[:-1]) / 2 / 3.6)])
    volts = 4.15 - 0.6 * drawn / 1200 - 0.04 * amps
    trace = read(written("time_s,Voltage (V),Current (A)", time, volts, amps, decimals=4))
    charges = [f["capacity"]["consumed_mah"] for f in review([trace]).to_dict()["flights"]]
    assert sum(c["value"] for c in charges) == pytest.approx(1200.0, rel=0.005)
    assert all(c["low"] < c["value"] < c["high"] for c in charges)


def test_a_current_that_never_changes_has_the_rounding_of_its_last_decimal_for_an_interval(read):
    """20 A for 119.8 s are 665.6 mAh; half a hundredth of an ampere, evenly spread, is 0.1 mAh (one sd)."""
    steady = np.full(ROWS, 20.03)
    trace = read(written("time_s,Voltage (V),Current (A)", TIME, 12.4 - 0.002 * TIME, steady, decimals=2))
    charge = review([trace]).to_dict()["flights"][0]["capacity"]["consumed_mah"]
    assert charge["value"] == pytest.approx(20.03 * TIME[-1] / 3.6, rel=1e-4)
    assert charge["high"] - charge["value"] == pytest.approx(1.96 * 0.01 * TIME[-1] / 3.6 / 12**0.5, rel=0.02)


def test_a_mark_of_two_columns_is_one_in_a_third_where_it_stands_alone(read):
    """−999 1/min might be a propeller turned backwards; beside −999 A and −999 °C it is no reading."""
    rows = ["Time (s),Pack voltage (V),Current (A),Motor speed (rpm),Motor temperature (°C)"]
    for k in range(300):
        amps, warm = (-999 if k in (40, 90) else 20 + k % 3), (-999 if k in (60, 200) else 30 + k // 60)
        speed = -999 if k == 150 else 6000 + 10 * (k % 7)
        rows.append(f"{k / 10:.1f},{18.0 + 0.01 * (k % 3):.2f},{amps},{speed},{warm}")
    trace = read("\n".join(rows) + "\n")
    speeds = next(c for (quantity, _), c in trace.channels.items() if quantity == "rpm")
    assert np.nanmin(speeds.values) == 6000
    assert np.count_nonzero(np.isnan(speeds.values)) == 1


def test_a_unix_time_is_in_no_unit_that_puts_it_beyond_the_year_2200(read):
    """A coil's 0.8 A would make the counter's charge in minutes; the stamps would lie in the year 5240."""
    rows = ["timestamp,pack_A,consumed_Ah,cell1_mV,cell2_mV,Coil current (A)"]
    drawn_ah = 0.0
    for k in range(13):
        amps = 1.0 + 2.5 * k
        rows.append(
            f"{1722096543 + 1.975 * k:.3f},{amps:.1f},{drawn_ah:.4f},"
            f"{4138 - 3 * k},{4137 - 3 * k},{0.8 + 0.1 * (k % 3):.2f}"
        )
        drawn_ah += amps * 1.975 / 3600.0
    trace = read("\n".join(rows) + "\n")
    columns = {c.header: c for c in trace.sources[0].columns}
    assert trace.duration_s == pytest.approx(23.7, abs=0.1)
    assert (columns["pack_A"].quantity, columns["pack_A"].status) == ("current_a", "used")
    assert columns["Coil current (A)"].status != "used"


def test_a_bare_voltage_is_no_receivers_while_the_packs_is_in_doubt(read):
    """One cell at rest at 4.12 V lies where a receiver's supply does."""
    rows = ["t (s),Sensor supply (V),I_bat/A,U [V]"]
    rows += [
        f"{10 * k},{5.02 - 0.001 * (k % 4):.3f},{0.0 if k < 30 else 1.2},4.{124 - k // 30}"
        for k in range(400)
    ]
    columns = {c.header: c for c in read("\n".join(rows) + "\n").sources[0].columns}
    assert not (columns["U [V]"].status == "used" and columns["U [V]"].quantity == "receiver_voltage_v")


@pytest.mark.parametrize(
    "heading", ["Voltage of the pack (V)", "Spannung des Akkus [V]", "Tension de la batterie (V)"]
)
def test_an_article_in_a_heading_is_no_other_thing(read, heading):
    rows = [f"Time (s),{heading}"]
    rows += [f"{0.5 * k},{20.9 - 0.003 * k - (1.2 if 20 < k < 300 else 0.0):.2f}" for k in range(400)]
    (_, volts) = read("\n".join(rows) + "\n").sources[0].columns
    assert (volts.quantity, volts.status) == ("pack_voltage_v", "used")
