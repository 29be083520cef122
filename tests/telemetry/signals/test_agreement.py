"""The pack's current sensor against the motors', and what it reads at rest."""

from __future__ import annotations

import numpy as np
import pytest

from telemetry.analysis import flights
from telemetry.signals import Signals, signals_of
from telemetry.trace import Trace


def seen(trace: Trace) -> Signals:
    (flight,) = flights.find(trace)
    return signals_of(trace, flight)


def twin(
    hand, *, gain: float = 1.0, offset_a: float = 0.0, right: float = 1.0, spread: float = 0.3
) -> Signals:
    """Two motors share the load; the pack's sensor reads their sum with a gain and an offset."""
    rng = np.random.default_rng(9)
    own = hand.made().channels["current_a", ""].values
    noise = [rng.normal(0.0, spread, own.size) * (own > 0.5) for _ in range(3)]
    return seen(
        hand.made(
            current_a=gain * own + offset_a + noise[0],
            current_a__left=own / 2 + noise[1],
            current_a__right=right * own / 2 + noise[2],
        )
    )


def test_sensors_that_agree_have_slope_one_and_nothing_is_decided(hand):
    signals = twin(hand)
    assert signals.agreement.slope.low < 1.0 < signals.agreement.slope.high
    assert signals.agreement.slope.value == pytest.approx(1.0, abs=0.01)
    assert signals.agreement.off_fraction == signals.agreement.offset_a == 0.0
    assert {d.kind for d in signals.decisions} & {"scaled", "offset"} == set()


@pytest.mark.parametrize("gain", [0.85, 0.90, 1.12])
def test_a_gain_between_pack_and_motors_is_found_with_its_size(hand, gain):
    signals = twin(hand, gain=gain)
    assert signals.agreement.slope.value == pytest.approx(gain, abs=0.01)
    assert signals.agreement.off_fraction == pytest.approx(gain - 1.0, abs=0.01)
    (decision,) = [d for d in signals.decisions if d.kind == "scaled"]
    assert (decision.quantity, decision.position) == ("current_a", "")


def test_sensors_within_five_per_cent_agree(hand):
    # one side reads 6 % high: the sum 3 %
    assert twin(hand, right=1.06).agreement.off_fraction == 0.0


def test_the_current_of_one_motor_of_two_says_nothing_of_the_pack(hand):
    own = hand.made().channels["current_a", ""].values
    signals = seen(hand.made(current_a__left=own / 2))
    assert not hasattr(signals.agreement.slope, "value")


@pytest.mark.parametrize("offset_a", [3.0, -2.0])
def test_an_offset_is_no_gain_and_is_taken_off_the_charge(hand, offset_a):
    signals, sound = twin(hand, offset_a=offset_a), twin(hand)
    assert signals.agreement.off_fraction == 0.0
    # half an ampere of what it reads may be the receiver's
    assert signals.agreement.offset_a == pytest.approx(offset_a - 0.5, abs=0.05)
    drawn, true = (s.current.charge_mah(s.flight) for s in (signals, sound))
    assert drawn == pytest.approx(true + 0.5 * hand.END_S / 3.6, abs=10.0)
    assert signals.rest.until_s == pytest.approx(hand.ON_S, abs=0.2)


def test_what_a_receiver_draws_is_no_offset(hand):
    assert twin(hand, offset_a=0.6).agreement.offset_a == 0.0
