"""What may stand for the whole pack when the log has no sensor there."""

from __future__ import annotations

import numpy as np
import pytest

from telemetry.derived import motor_positions, pack_current, pack_voltage, pairs_of, throttle
from telemetry.trace import Channel, Trace

TIME_S = np.arange(0.0, 10.0, 0.5)


def trace(**amperes: float) -> Trace:
    """Channels named quantity__position, each at a steady value."""
    channels = {}
    for name, value in amperes.items():
        quantity, _, position = name.partition("__")
        values = np.full(TIME_S.size, value)
        channels[(quantity, position)] = Channel(
            quantity, position, values, np.ones(TIME_S.size, bool), name, 0.5
        )
    return Trace(TIME_S, channels)


def test_two_motors_make_the_pack_current_when_nothing_else_measures_it():
    derived = pack_current(trace(current_a__left=10.0, current_a__right=12.0))
    assert derived.how == "sum of 2 motors"
    assert derived.samples.values == pytest.approx(22.0)


def test_one_motor_of_a_pair_is_not_the_pack():
    assert pack_current(trace(current_a__left=10.0)) is None


def test_an_only_motor_draws_all_there_is():
    assert pack_current(trace(current_a__centre=10.0)).samples.values == pytest.approx(10.0)


def test_a_logged_pack_current_stands_before_any_sum():
    derived = pack_current(trace(current_a=25.0, current_a__left=10.0, current_a__right=12.0))
    assert derived.how == ""
    assert derived.samples.values == pytest.approx(25.0)


def test_three_inner_and_outer_motors_are_not_all_four():
    three = {"current_a__left_outer": 5.0, "current_a__left_inner": 5.0, "current_a__right_outer": 5.0}
    assert pack_current(trace(**three)) is None
    four = pack_current(trace(**three, current_a__right_inner=5.0))
    assert four.samples.values == pytest.approx(20.0)


def test_five_cells_make_the_pack_voltage():
    derived = pack_voltage(trace(**{f"cell_voltage_v__{c}": 3.8 for c in range(1, 6)}))
    assert derived.how == "sum of 5 cells"
    assert derived.samples.values == pytest.approx(19.0)


def test_the_common_command_of_two_motors_is_their_mean():
    assert throttle(trace(throttle_fraction__left=0.4, throttle_fraction__right=0.6)).values == pytest.approx(
        0.5
    )


def test_motors_come_left_first_and_pair_with_their_mirror_image():
    four = trace(rpm__right_outer=1.0, rpm__left_inner=1.0, rpm__left_outer=1.0, rpm__right_inner=1.0)
    assert motor_positions(four) == ("left_outer", "left_inner", "right_inner", "right_outer")
    assert pairs_of(motor_positions(four)) == (("left_outer", "right_outer"), ("left_inner", "right_inner"))


def test_power_over_voltage_says_what_it_was_worked_out_from():
    parts = {
        "power_w__left": 100.0,
        "power_w__right": 120.0,
        "cell_voltage_v__1": 4.0,
        "cell_voltage_v__2": 4.0,
    }
    derived = pack_current(trace(**parts))
    assert derived.samples.values == pytest.approx(27.5)
    assert derived.how == (
        "power ÷ voltage, as the log has no current (sum of 2 motors' powers and sum of 2 cells)"
    )
