"""When motors surely stand, so that what their sensors read is no current of theirs."""

import numpy as np

from telemetry.signals.rest import standing
from telemetry.trace import Samples, Stretch

TIME_S = np.arange(0.0, 60.0, 1.0)
POWERED = Stretch(10.0, 50.0)
PAUSE = (TIME_S >= 30.0) & (TIME_S < 40.0)
COMMAND = Samples(TIME_S, np.where((TIME_S >= 10.0) & (TIME_S < 50.0) & ~PAUSE, 0.6, 0.0))


def stood_s(*, command=COMMAND, rpm=None) -> list[float]:
    speeds = [None if rpm is None else Samples(TIME_S, rpm)]
    return TIME_S[standing(TIME_S, POWERED, commands=[command], speeds=speeds)].tolist()


BEFORE, AFTER = TIME_S[TIME_S < 9.0].tolist(), TIME_S[TIME_S > 51.0].tolist()


def test_a_motor_stands_before_the_first_throttle_up_and_after_the_last_stop():
    assert stood_s() == BEFORE + AFTER


def test_a_pause_between_two_steps_is_a_rest_where_the_propeller_is_seen_to_stand():
    turning = np.where(COMMAND.values > 0.0, 8000.0, 0.0)
    assert stood_s(rpm=turning) == TIME_S[COMMAND.values == 0.0].tolist()


def test_a_propeller_that_windmills_in_the_glide_is_no_rest():
    windmills = np.where(COMMAND.values > 0.0, 8000.0, 2500.0)
    assert stood_s(rpm=windmills) == []


def test_without_command_and_speed_no_moment_is_surely_one_of_rest():
    assert stood_s(command=None) == []


def test_a_recorder_with_speeds_alone_shows_the_rest_at_either_end():
    assert stood_s(command=None, rpm=np.where(COMMAND.values > 0.0, 8000.0, 0.0)) == BEFORE + AFTER
