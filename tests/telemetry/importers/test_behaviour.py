"""Columns named by words that no vocabulary knows: asked about by what they do, never used and never dropped
in silence.
"""

from __future__ import annotations

import numpy as np
import pytest

TIME = 0.1 * np.arange(900)
RNG = np.random.default_rng(11)
AT_S = [0, 8, 9, 18, 20, 30, 32, 45, 47, 60, 62, 70, 72, 80, 81, 90]
STICK = np.interp(TIME, AT_S, [0, 0, 0.2, 0.2, 0.95, 0.9, 0.6, 0.7, 0.5, 0.65, 0.9, 0.8, 0.3, 0.15, 0, 0])
FELT = np.convolve(np.pad(STICK, (3, 0), mode="edge"), np.ones(4) / 4, mode="valid")
# Ideal propeller on a direct drive: torque with the square of its speed, so the pack's current with the cube
# of the command.
LEFT = 20.0 * FELT**2.6 * (1 + 0.03 * np.sin(TIME / 2))
RIGHT = 1.04 * LEFT
AMPS = 0.3 + LEFT + RIGHT + RNG.normal(0, 0.05, TIME.size)
CHARGE = np.concatenate([[0.0], np.cumsum(0.1 * (AMPS[1:] + AMPS[:-1]) / 2)]) / 3.6
CELL = 4.15 - 0.0025 * AMPS - 0.00008 * CHARGE
PACK = 5 * CELL
BASE = {"time (s)": np.round(TIME, 1), "voltage (V)": np.round(PACK, 2), "current (A)": np.round(AMPS, 1)}


def log(**columns) -> str:
    lines = [",".join(columns)]
    lines += [",".join(f"{x:.6g}" for x in row) for row in zip(*columns.values(), strict=True)]
    return "\n".join(lines) + "\n"


def asked(trace) -> dict[str, tuple[str | None, str]]:
    return {
        c.header: (c.quantity, c.position) for s in trace.sources for c in s.columns if c.status == "doubtful"
    }


@pytest.mark.parametrize("word", ["cmd", "output", "servo3", "PWM", "aux 2", "kanal"])
@pytest.mark.parametrize(
    "numbers",
    [lambda x: 1000 + 1000 * x, lambda x: 100 * x, lambda x: 200 * x - 100, lambda x: 1500 + 500 * x],
)
def test_a_command_by_another_name_is_asked_about_and_answered(read, word, numbers):
    text = log(**BASE, **{word: np.round(numbers(STICK))})
    assert asked(read(text)) == {word: ("throttle_fraction", "")}
    assert not read(text).has("throttle_fraction")
    told = read(text, answers={word: "throttle_fraction"})
    assert np.allclose(told.channels["throttle_fraction", ""].values, STICK, atol=0.006)


def test_each_motor_of_a_twin_may_have_its_command_under_another_name(read):
    motors = {"current left (A)": np.round(LEFT, 2), "current right (A)": np.round(RIGHT, 2)}
    trace = read(log(**BASE, **motors, s1=np.round(1000 + 1000 * STICK), s2=np.round(1000 + 990 * STICK)))
    assert asked(trace) == {"s1": ("throttle_fraction", "left"), "s2": ("throttle_fraction", "right")}
    assert "guess" in trace.sources[0].columns[-1].reason


def test_columns_that_add_up_to_the_pack_are_its_cells(read):
    cells = {
        name: np.round(1000 * (CELL + 0.002 * n))
        for n, name in enumerate(("aa", "bb", "cc", "dd", "ee"), start=-2)
    }
    assert asked(read(log(**BASE, **cells))) == {
        name: ("cell_voltage_v", str(n)) for n, name in enumerate(cells, start=1)
    }


def test_a_cell_under_another_name_is_the_one_that_is_missing(read):
    named = {f"cell {n} (V)": np.round(CELL + 0.001 * n, 3) for n in (1, 2, 4, 5)}
    assert asked(read(log(**BASE, **named, blip=np.round(CELL, 3)))) == {"blip": ("cell_voltage_v", "3")}


@pytest.mark.parametrize(("per_mah", "unit"), [(1.0, "mAh"), (0.001, "Ah"), (3.6, "As")])
def test_a_column_that_counts_the_current_is_the_counter(read, per_mah, unit):
    trace = read(log(**BASE, blip=np.round(per_mah * CHARGE, 3)))
    assert asked(trace) == {"blip": ("charge_mah", "")}
    assert trace.sources[0].columns[-1].unit == unit


def test_a_column_whose_sum_is_the_counter_is_the_current(read):
    trace = read(
        log(
            **{
                "time (s)": np.round(TIME, 1),
                "voltage (V)": np.round(PACK, 2),
                "used (mAh)": np.round(CHARGE, 1),
            },
            blip=np.round(1000 * AMPS),
        )
    )
    assert asked(trace) == {"blip": ("current_a", "")}
    assert trace.sources[0].columns[-1].unit == "mA"


def test_the_other_motor_under_another_name_is_the_mate_of_the_one_that_is_named(read):
    rpm = 9000 * FELT**0.9
    trace = read(
        log(
            **BASE,
            **{"rpm left": np.round(rpm), "current left (A)": np.round(LEFT, 2)},
            blip=np.round(0.99 * rpm),
            brix=np.round(RIGHT, 2),
        )
    )
    assert asked(trace) == {"blip": ("rpm", "right"), "brix": ("current_a", "right")}


def test_power_and_speed_of_rotation_are_known_by_what_they_go_with(read):
    trace = read(log(**BASE, blip=np.round(PACK * AMPS), brix=np.round(9000 * FELT**0.9)))
    assert asked(trace) == {"blip": ("power_w", ""), "brix": ("rpm", "centre")}


def test_what_only_happens_to_move_is_not_asked_about(read):
    slow = np.convolve(AMPS, np.exp(-np.arange(600) / 200) / 200)[: TIME.size]
    others = {
        "blip1": np.cumsum(RNG.normal(size=TIME.size)),
        "blip2": RNG.uniform(0, 100, TIME.size),
        "blip3": 50 + 50 * np.sin(TIME / 5),
        "blip4": 3 * TIME,
        "blip5": 20 + slow,
        "blip6": np.clip(20 + AMPS + RNG.normal(0, 6, TIME.size), 0, 100),
        "blip7": np.abs(RNG.normal(size=TIME.size)) * AMPS,
        "blip8": np.where(TIME % 40 > 20, 2000.0, 1000.0),
        "blip9": 1500 + 100 * RNG.normal(size=TIME.size),
    }
    trace = read(log(**BASE, **others))
    assert asked(trace) == {}
    assert {c.status for c in trace.sources[0].columns[3:]} == {"ignored"}


def test_a_command_is_not_asked_about_twice(read):
    trace = read(log(**BASE, **{"throttle (%)": np.round(100 * STICK)}, servo3=np.round(1000 + 1000 * STICK)))
    assert "throttle_fraction" not in {q for q, _ in asked(trace).values()}


def test_an_answer_moves_a_numbered_motor_to_its_side(read):
    supply = {"time (s)": np.round(TIME, 1), "voltage (V)": np.round(PACK, 2)}
    text = log(
        **supply, **{"current motor 1 (A)": np.round(LEFT, 2), "current motor 2 (A)": np.round(RIGHT, 2)}
    )
    trace = read(
        text, answers={"current motor 1 (A)": "current_a@right", "current motor 2 (A)": "current_a@left"}
    )
    assert trace.channels["current_a", "right"].header == "current motor 1 (A)"


def test_an_answer_settles_a_unit_that_nothing_else_could(read):
    text = log(**BASE, altitude=np.round(40 * np.clip(TIME - 20, 0, 1) + 0.1 * TIME, 1))
    assert asked(read(text)) == {"altitude": ("altitude_m", "")}
    assert read(text, answers={"altitude": "altitude_m"}).channels[
        "altitude_m", ""
    ].values.max() == pytest.approx(49.0, abs=0.2)
