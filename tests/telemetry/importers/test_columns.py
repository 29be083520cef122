"""Words and units propose, physics decides, doubt is left out."""

from __future__ import annotations

import numpy as np
import pytest

from telemetry.importers.columns.candidates import readings
from telemetry.importers.units import units_named
from telemetry.importers.wording import read_header
from telemetry.quantities import QUANTITIES


def log(**columns: np.ndarray | list[float]) -> str:
    """A CSV of these columns, the header spelled by the keyword; values as they are."""
    names = list(columns)
    return (
        "\n".join(
            [
                ",".join(names),
                *(",".join(f"{v:.10g}" for v in row) for row in zip(*columns.values(), strict=True)),
            ]
        )
        + "\n"
    )


TIME = np.round(np.arange(0, 90, 0.2), 1)
AMPS = np.where(TIME < 6, 0.4, np.where((TIME // 7) % 2 == 1, 14.0, 38.0)) + 0.1 * np.sin(TIME)
CHARGE = np.concatenate([[0.0], np.cumsum(0.2 * (AMPS[1:] + AMPS[:-1]) / 2)]) / 3.6
CELL = 4.18 - 0.0022 * AMPS - 0.00012 * CHARGE
PACK = 5 * CELL
CELLS = {f"cell {n} (V)": np.round(CELL + 0.002 * n, 3) for n in range(1, 6)}


def status(trace) -> dict[str, str]:
    return {c.header: c.status for c in trace.sources[0].columns}


def test_the_counter_and_the_sag_say_which_way_a_negative_current_flows(read):
    trace = read(
        log(**{"time (s)": TIME, "voltage (V)": PACK, "current (A)": -AMPS, "charge (mAh)": np.round(CHARGE)})
    )
    assert np.allclose(trace.channels["current_a", ""].values, AMPS)
    assert "turned" in next(c.reason for c in trace.sources[0].columns if c.header == "current (A)")


def test_cells_under_the_name_of_volts_that_read_thousands_are_millivolts(read):
    wrong = {k: np.round(1000 * v) for k, v in CELLS.items()}
    trace = read(log(**{"time (s)": TIME, **wrong, "current (A)": AMPS}))
    assert trace.channels["cell_voltage_v", "3"].values[0] == pytest.approx(CELL[0] + 0.006, abs=0.001)
    column = next(c for c in trace.sources[0].columns if c.header == "cell 3 (V)")
    assert column.unit == "mV"
    assert "the header says V" in column.reason


def test_a_current_in_tenths_is_found_by_the_charge_counter(read):
    trace = read(
        log(
            **{
                "time (s)": TIME,
                "voltage (V)": PACK,
                "current (A)": np.round(10 * AMPS),
                "charge used (mAh)": np.round(CHARGE),
            }
        )
    )
    assert np.allclose(trace.channels["current_a", ""].values, AMPS, atol=0.06)


def test_a_current_in_tenths_that_nothing_can_settle_is_not_used(read):
    trace = read(log(**{"time (s)": TIME, "current (A)": np.round(10 * AMPS), **CELLS}))
    channel = trace.channels.get(("current_a", ""))
    assert channel is None or np.allclose(channel.values, AMPS, atol=0.06)


def test_ampere_hours_are_thousand_milliampere_hours(read):
    trace = read(
        log(
            **{
                "time (s)": TIME,
                "voltage (V)": PACK,
                "current (A)": AMPS,
                "capacity": np.round(CHARGE / 1000, 4),
            }
        )
    )
    assert trace.channels["charge_mah", ""].values[-1] == pytest.approx(CHARGE[-1], abs=0.1)


def test_balance_taps_are_taken_apart(read):
    taps = {f"tap {n} (V)": np.round(n * CELL, 3) for n in range(1, 6)}
    trace = read(log(**{"time (s)": TIME, **taps, "current (A)": AMPS}))
    assert trace.positions("cell_voltage_v") == ("1", "2", "3", "4", "5")
    assert np.allclose(trace.channels["cell_voltage_v", "4"].values, CELL, atol=0.002)


def test_cells_counted_from_zero_are_counted_from_one(read):
    cells = {f"cell {n} (V)": np.round(CELL + 0.002 * n, 3) for n in range(4)}
    trace = read(log(**{"time (s)": TIME, **cells, "current (A)": AMPS}))
    assert trace.positions("cell_voltage_v") == ("1", "2", "3", "4")
    assert trace.channels["cell_voltage_v", "1"].header == "cell 0 (V)"


def test_dead_cells_are_ignored_and_never_enter_a_figure(read):
    trace = read(
        log(
            **{
                "time (s)": TIME,
                **CELLS,
                "cell 6 (V)": np.zeros(TIME.size),
                "cell 7 (V)": 0.0002 * (TIME % 3 > 1),
                "current (A)": AMPS,
            }
        )
    )
    assert trace.positions("cell_voltage_v") == ("1", "2", "3", "4", "5")
    assert status(trace)["cell 6 (V)"] == status(trace)["cell 7 (V)"] == "ignored"


def test_of_two_nameless_supplies_the_one_that_sags_is_the_pack(read):
    steady = 5.95 + 0.02 * np.sin(TIME / 3) + 0.01 * np.cos(TIME * 1.7)
    trace = read(
        log(
            **{
                "time (s)": TIME,
                "U1 (V)": np.round(steady, 3),
                "U2 (V)": np.round(PACK / 5 * 2, 3),
                "current (A)": AMPS,
            }
        )
    )
    assert trace.channels["pack_voltage_v", ""].header == "U2 (V)"
    assert trace.channels["receiver_voltage_v", ""].header == "U1 (V)"


def test_a_temperature_that_names_no_part_is_doubtful(read):
    trace = read(
        log(
            **{"time (s)": TIME, "voltage (V)": PACK, "current (A)": AMPS, "T2 (°C)": 20 + np.round(TIME / 3)}
        )
    )
    assert status(trace)["T2 (°C)"] == "doubtful"


def test_heights_and_speeds_without_a_unit_are_doubtful_unless_physics_settles_them(read):
    height = np.clip(TIME - 10, 0, 40) + 6 * np.sin(TIME / 5)
    climb = np.gradient(height, TIME)
    alone = read(
        log(**{"time (s)": TIME, "voltage (V)": PACK, "current (A)": AMPS, "altitude": np.round(height, 1)})
    )
    assert status(alone)["altitude"] == "doubtful"
    settled = read(
        log(
            **{
                "time (s)": TIME,
                "voltage (V)": PACK,
                "current (A)": AMPS,
                "altitude": np.round(height, 1),
                "climb (m/s)": np.round(climb, 2),
            }
        )
    )
    assert settled.channels["altitude_m", ""].values[-1] == pytest.approx(height[-1], abs=0.06)


@pytest.mark.parametrize(
    ("header", "numbers"),
    [
        ("throttle (%)", lambda x: 100 * x),
        ("throttle (%)", lambda x: 200 * x - 100),
        ("throttle", lambda x: x),
        ("throttle (µs)", lambda x: 1000 + 1000 * x),
        ("throttle", lambda x: 1000 + 1000 * x),
    ],
)
def test_a_command_is_a_fraction_however_it_is_written(read, header, numbers):
    command = np.clip((AMPS - 0.5) / 45, 0, 1)
    trace = read(
        log(
            **{
                "time (s)": TIME,
                "voltage (V)": PACK,
                "current (A)": AMPS,
                header: np.round(numbers(command), 3),
            }
        )
    )
    assert np.allclose(trace.channels["throttle_fraction", ""].values, command, atol=0.006)


def test_a_reversing_controller_rests_in_the_middle_of_its_pulse(read):
    command = np.clip((AMPS - 0.5) / 45, 0, 1)
    trace = read(
        log(
            **{
                "time (s)": TIME,
                "voltage (V)": PACK,
                "current (A)": AMPS,
                "throttle (µs)": np.round(1500 + 500 * command),
            }
        )
    )
    assert np.allclose(trace.channels["throttle_fraction", ""].values, command, atol=0.006)


def test_electrical_speed_needs_pole_pairs(read):
    rpm = np.round(7 * 250 * np.sqrt(AMPS))
    trace = read(log(**{"time (s)": TIME, "voltage (V)": PACK, "current (A)": AMPS, "electrical rpm": rpm}))
    assert not trace.positions("rpm")
    assert status(trace)["electrical rpm"] == "doubtful"
    told = read(
        log(
            **{
                "time (s)": TIME,
                "voltage (V)": PACK,
                "current (A)": AMPS,
                "electrical rpm, 7 pole pairs": rpm,
            }
        ).replace("electrical rpm, 7 pole pairs", '"electrical rpm, 7 pole pairs"')
    )
    assert np.allclose(told.channels["rpm", "centre"].values, rpm / 7)


def test_motors_keep_their_numbers_until_someone_says_which_is_left(read):
    trace = read(
        log(
            **{
                "time (s)": TIME,
                "voltage (V)": PACK,
                "current motor 1 (A)": AMPS / 2,
                "current motor 2 (A)": AMPS / 2 + 0.1,
            }
        )
    )
    assert trace.positions("current_a") == ("1", "2")


def test_a_repeat_of_a_column_is_ignored_not_doubtful(read):
    text = log(**{"time (s)": TIME, "voltage (V)": PACK, "current (A)": AMPS, "again": AMPS}).replace(
        "again", "current (A)"
    )
    trace = read(text)
    assert [c.status for c in trace.sources[0].columns] == ["used", "used", "used", "ignored"]


def test_an_answer_settles_a_doubt_and_may_set_a_column_aside(read):
    text = log(**{"time (s)": TIME, "voltage (V)": PACK, "current (A)": AMPS, "T2": 20 + np.round(TIME / 3)})
    assert status(read(text))["T2"] == "doubtful"
    told = read(text, answers={"T2": "controller_temperature_c@right"})
    assert told.channels["controller_temperature_c", "right"].values[-1] == pytest.approx(
        20 + round(TIME[-1] / 3)
    )
    assert status(read(text, answers={"T2": "ignore"}))["T2"] == "ignored"


@pytest.mark.parametrize(
    ("header", "kinds", "subjects", "positions"),
    [
        ("Motordrehzahl links", {"rotation"}, {"motor"}, {"left"}),
        ("Empfängerspannung", {"voltage"}, {"receiver"}, set()),
        ("Empfaengerspannung", {"voltage"}, {"receiver"}, set()),
        ("Hohe", {"altitude"}, set(), set()),
        ("H\ufffdhe", {"altitude"}, set(), set()),
        ("Tension batterie", {"voltage"}, {"pack"}, set()),
        ("Corriente motor izquierdo", {"current"}, {"motor"}, {"left"}),
        ("Toerental rechts", {"rotation"}, set(), {"right"}),
        ("Varvtal höger", {"rotation"}, set(), {"right"}),
        ("Prąd silnika lewego", {"current"}, {"motor"}, {"left"}),
        ("Temperatura do motor esquerdo", {"temperature"}, {"motor"}, {"left"}),
        ("Giri motore sx", {"rotation"}, {"motor"}, {"left"}),
        ("vbat", {"voltage"}, {"pack"}, set()),
        ("rpmL", {"rotation"}, set(), {"left"}),
        ("ESCTempR", {"temperature"}, {"controller"}, {"right"}),
    ],
)
def test_words_of_many_languages_are_known_with_accents_kept_or_lost(header, kinds, subjects, positions):
    found = readings(*read_header(header))
    assert (set(found.kinds), set(found.subjects), set(found.positions)) == (kinds, subjects, positions)


@pytest.mark.parametrize("header", ["U (V)", "U [V]", "U/V", "U in V", "U_V", "U, V", "U V", "U{V}"])
def test_a_unit_is_found_wherever_it_stands(header):
    found = readings(*read_header(header))
    assert found.kinds == {"voltage"}
    assert found.units[0].name == "V"


@pytest.mark.parametrize(
    "header",
    [
        "Lowest cell (V)",
        "Max current (A)",
        "Contact resistance(mO)",
        "Satellites",
        "RSSI (dB)",
        "Remaining capacity (mAh)",
        "Kleinste Zelle",
        "dQ/dV(mAh/V)",
        "current limit (A)",
    ],
)
def test_what_is_no_reading_of_ours_is_set_aside(header):
    assert readings(*read_header(header)).aside


def test_every_quantity_read_from_numbers_can_be_said_in_words():
    from telemetry.importers.columns.meanings import MEANINGS

    assert {m.quantity for m in MEANINGS} == set(QUANTITIES) - {"event"}


def test_every_kind_has_its_words_in_the_vocabulary():
    from telemetry.importers.columns.meanings import DIMENSIONS
    from telemetry.importers.units import vocabulary_file

    assert set(vocabulary_file()["kinds"]) == set(DIMENSIONS)


@pytest.mark.parametrize(
    ("text", "dimension"),
    [
        ("mAh", "charge"),
        ("1/min", "rotation"),
        ("°F", "temperature"),
        ("kt", "speed"),
        ("[V]", "voltage"),
        ("MAH", "charge"),
    ],
)
def test_units_are_known_in_any_spelling(text, dimension):
    assert units_named(text)[0].dimension == dimension


@pytest.mark.parametrize(("left", "right"), [("L", "P"), ("E", "D"), ("I", "D"), ("V", "H"), ("G", "D")])
def test_letters_that_name_the_sides_are_understood_beside_one_another(read, left, right):
    trace = read(
        log(
            **{
                "time (s)": TIME,
                "voltage (V)": PACK,
                f"motor current {left} (A)": AMPS / 2,
                f"motor current {right} (A)": AMPS / 2 + 0.3,
            }
        )
    )
    assert trace.channels["current_a", "left"].header == f"motor current {left} (A)"
    assert trace.channels["current_a", "right"].header == f"motor current {right} (A)"


def test_a_column_of_an_unknown_place_beside_a_sided_one_is_not_the_whole(read):
    trace = read(
        log(
            **{
                "time (s)": TIME,
                "voltage (V)": PACK,
                "motor current L (A)": AMPS / 2,
                "motor current K (A)": AMPS / 2 + 0.3,
            }
        )
    )
    assert not trace.has("current_a")
    assert status(trace)["motor current K (A)"] == "doubtful"


def test_height_counts_from_the_take_off_point(read):
    trace = read(
        log(
            **{
                "time (s)": TIME,
                "voltage (V)": PACK,
                "current (A)": AMPS,
                "gps altitude (m)": np.round(312 + np.clip(TIME - 10, 0, 40), 1),
            }
        )
    )
    heights = trace.channels["altitude_m", ""].values
    assert heights[0] == pytest.approx(0.0)
    assert heights.max() == pytest.approx(40.0)
    assert "312 m" in trace.sources[0].columns[3].reason


def test_a_temperature_without_a_unit_is_settled_by_the_day(read):
    warm = 17 + np.round(TIME / 3)
    for written, expected in ((warm, 17.0), (np.round(1.8 * warm + 32), 17.0)):
        trace = read(
            log(**{"time (s)": TIME, "voltage (V)": PACK, "current (A)": AMPS, "motor temperature": written})
        )
        assert trace.channels["motor_temperature_c", "centre"].values[0] == pytest.approx(expected, abs=0.4)


def test_a_unit_that_no_header_names_comes_with_what_decided_it(read):
    trace = read(log(time=TIME, voltage=PACK, current=AMPS, capacity=np.round(CHARGE)))
    said = {c.header: c.reason for c in trace.sources[0].columns}
    assert said["current"].startswith("no unit is given; in A their sum over time is what the counter counts")
    assert said["capacity"] == "no unit is given; in mAh they count what the current brings"
    assert "sag" in said["voltage"]
    wrong = read(
        log(**{"time (s)": TIME, "voltage (V)": PACK, "current (A)": AMPS, "charge (Ah)": np.round(CHARGE)})
    )
    assert (
        wrong.sources[0].columns[3].reason
        == "the header says Ah, but only mAh fits with the numbers: in mAh they count what the current brings"
    )


def test_each_column_shows_its_first_values_as_the_file_has_them(read):
    lines = log(**{"time (s)": TIME, "voltage (mV)": 1000 * PACK, "current (A)": AMPS}).splitlines()
    text = "\n".join(
        [lines[0] + ",mark", *(line + (",start" if i == 7 else ",") for i, line in enumerate(lines[1:]))]
    )
    columns = {c.header: c.first_values for c in read(text).sources[0].columns}
    assert columns["voltage (mV)"] == tuple(f"{1000 * v:.10g}" for v in PACK[:3])
    assert columns["mark"] == ("start",)


def test_the_table_of_columns_tells_the_answer_to_give(read):
    from telemetry.cli.terminal import column_table

    text = column_table(
        read(
            log(
                **{
                    "time (s)": TIME,
                    "voltage (V)": PACK,
                    "current (A)": AMPS,
                    "T2 (°C)": 20 + np.round(TIME / 3),
                    "altitude": np.round(TIME, 1),
                }
            )
        ).sources[0]
    )
    assert "begins 0, 0.2, 0.4" in text or "begins 0, 0.1, 0.2" in text
    assert '--answer "altitude=altitude_m"' in text


def test_a_misspelt_side_is_neither_the_whole_nor_the_middle(read):
    rpm = np.round(1500 * np.sqrt(AMPS))
    trace = read(
        log(
            **{"time (s)": TIME, "voltage (V)": PACK, "current (A)": AMPS, "rpm right": rpm, "rpm lfoot": rpm}
        )
    )
    assert trace.positions("rpm") == ("right",)
    assert status(trace)["rpm lfoot"] == "doubtful"


def one_motor(names: dict[str, str]) -> str:
    """A single's log with the current of its pack and that of its motor, which is less by the receiver's."""
    rng = np.random.default_rng(3)
    time_s = np.arange(0.0, 120.0, 0.2)
    motor = np.where(time_s < 8, 0.0, 14 + 8 * np.sin(time_s / 4)) + rng.normal(0, 0.08, time_s.size)
    pack = motor + 0.25
    values = {
        "pack": np.round(pack, 1),
        "motor": np.round(motor, 1),
        "volts": np.round(12.5 - 0.03 * pack, 2),
        "esc_volts": np.round(12.5 - 0.036 * pack, 2),
        "throttle": np.round(np.clip(motor / 22, 0, 1) * 100),
        "pulse": np.round(1000 + 1000 * np.clip(motor / 22, 0, 1)),
    }
    chosen = [("Time (s)", time_s), *((header, values[key]) for key, header in names.items())]
    rows = zip(*(v for _, v in chosen), strict=True)
    return "\n".join([",".join(h for h, _ in chosen), *(",".join(f"{x:g}" for x in row) for row in rows)])


@pytest.mark.parametrize(
    "names",
    [
        {"volts": "Pack voltage (V)", "pack": "Pack current (A)", "motor": "Motor current (A)"},
        {"volts": "Voltage (V)", "pack": "Current (A)", "motor": "ESC current (A)"},
        {"motor": "Controller current (A)", "pack": "Battery current (A)", "volts": "Battery voltage (V)"},
        {"volts": "Pack voltage", "pack": "Total current", "motor": "Motor current"},
    ],
)
@pytest.mark.parametrize("command", [{"throttle": "Throttle (%)"}, {"pulse": "Throttle (µs)"}])
def test_the_current_of_a_lone_motor_beside_the_packs_own(read, names, command):
    trace = read(one_motor({**names, **command, "esc_volts": "ESC voltage (V)"}))
    assert trace.positions("current_a") == ("", "centre")
    assert trace.channels["current_a", ""].header == names["pack"]
    assert trace.channels["pack_voltage_v", ""].header == names["volts"]
    assert trace.has("throttle_fraction")
    assert "doubtful" not in [c.status for c in trace.sources[0].columns]


def test_a_motors_current_alone_is_what_the_aircraft_draws(read):
    trace = read(
        one_motor({"volts": "Pack voltage (V)", "motor": "Motor current (A)", "throttle": "Throttle"})
    )
    assert trace.positions("current_a") == ("",)
