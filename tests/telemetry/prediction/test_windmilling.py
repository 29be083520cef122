"""A propeller that the air turns faster than its command does turns with the air."""

import numpy as np
import pytest

from telemetry.prediction.assumptions import complete
from telemetry.prediction.replay import Conditions, replay
from telemetry.prediction.sampling import sample
from telemetry.sheet import Sheet

PLANE = """
[aircraft]
mass_kg = 1.5
span_m = 1.2
wing_area_m2 = 0.33
[pack]
cells = 4
capacity_mah = 2700
resistance_mohm = 4.7
[motor]
kv_rpm_per_v = 780
resistance_mohm = 20
no_load_points = [{voltage_v = 11.5, current_a = 1.7, rpm = 9000}]
[propeller]
diameter_in = 12
pitch_in = 6
"""


def flown(command, airspeed_mps):
    """Speed and current of the motor, a command and an airspeed held for ten seconds. [rpm, A]"""
    setup = Sheet.from_text(PLANE).setup()
    time_s = np.linspace(0.0, 10.0, 101)
    held = Conditions(
        time_s, {"centre": np.full(101, command)}, np.full(101, airspeed_mps), airborne=(0.0, 10.0)
    )
    found = replay(sample(complete(setup), draws=0), setup.positions, held)
    return float(found.rpm[-1, 0, 0]), float(found.motor_current_a[-1, 0, 0])


@pytest.mark.source(
    "recomputed from the UIUC propeller tables: J0 = 0.17 + 0.92 P/D; the power curves end at 1.08 to 1.21 J0"
)
@pytest.mark.parametrize("command", [0.08, 0.20])
def test_at_a_low_command_in_a_dive_it_turns_at_its_advance_of_no_torque_and_draws_nothing(command):
    rpm, current_a = flown(command, 26.0)
    advance = 26.0 / (rpm / 60.0 * 12 * 0.0254)
    assert 1.08 <= advance / (0.17 + 0.92 * 0.5) <= 1.21
    assert current_a == 0.0


def test_at_full_command_the_same_dive_is_driven():
    rpm, current_a = flown(1.0, 26.0)
    assert rpm > 10_000
    assert current_a > 20.0


def test_standing_still_a_low_command_turns_it_by_its_voltage():
    rpm, current_a = flown(0.20, 0.0)
    # a fifth of 16.8 V at 780 rpm/V, less the start of the controller's curve and what the winding takes
    assert 1800 < rpm < 2600
    assert current_a > 0.0
