"""A moment's drop-out does not move the level it is held against."""

import numpy as np

from telemetry.signals import level_of
from telemetry.trace import Samples

TIME_S = np.arange(0.0, 20.0, 0.2)


def test_a_current_that_drops_for_a_second_keeps_its_level():
    amps = np.where((TIME_S >= 8.0) & (TIME_S < 9.0), 1.0, 12.0)
    assert level_of(Samples(TIME_S, amps)).tolist() == [12.0] * TIME_S.size


def test_a_step_that_stays_moves_the_level_with_it():
    amps = np.where(TIME_S < 10.0, 5.0, 20.0)
    assert level_of(Samples(TIME_S, amps)).tolist() == amps.tolist()


def test_a_motor_that_turns_backwards_has_a_level_too():
    assert level_of(Samples(TIME_S, np.full(TIME_S.size, -900.0))).tolist() == [900.0] * TIME_S.size
