"""Sensors that stop partway are silent from there on, and the review says since when."""

from __future__ import annotations

import numpy as np
import pytest

import telemetry
from telemetry.signals import cleaned

RNG = np.random.default_rng(5)
TIME = 0.1 * np.arange(2400)
AT_S = [0, 20, 21, 30, 31, 40, 55, 57, 80, 82, 100, 101, 130, 133, 160, 170, 171, 200, 205, 215, 240]
STICK = np.interp(
    TIME,
    AT_S,
    [0, 0, 0.2, 0.2, 1, 0.95, 0.6, 0.75, 0.7, 0.5, 0.6, 0.85, 0.8, 0.55, 0.7, 0.65, 0.9, 0.5, 0.2, 0, 0],
)
FELT = np.convolve(np.pad(STICK, (4, 0), mode="edge"), np.ones(5) / 5, mode="valid")
GUST = 1 + 0.04 * np.sin(TIME / 0.9) * (FELT > 0.3) + 0.01 * RNG.standard_normal(TIME.size)
LEFT, RIGHT = 22.0 * FELT**2.5 * GUST, 21.6 * FELT**2.5 * GUST
AMPS = 0.3 + LEFT + RIGHT
CHARGE = np.concatenate([[0.0], np.cumsum(0.1 * (AMPS[1:] + AMPS[:-1]) / 2)]) / 3.6
CELL = 4.16 - 0.003 * AMPS - 0.0001 * CHARGE
FLOWN = {
    "time (s)": np.round(TIME, 1),
    "pack voltage (V)": np.round(5 * CELL, 2),
    "current (A)": np.round(AMPS, 1),
    "current left (A)": np.round(LEFT, 1),
    "current right (A)": np.round(RIGHT, 1),
    "rpm left": np.round(9000 * FELT**0.9 * GUST, -1),
    "rpm right": np.round(9000 * FELT**0.9 * GUST, -1),
    "cell 1 (V)": np.round(CELL, 3),
    "cell 2 (V)": np.round(CELL - 0.004, 3),
    "used (mAh)": np.round(CHARGE),
    "throttle (%)": np.round(100 * STICK),
}
STOPS = 1500  # 150 s, in the middle of the flight


def log(columns) -> str:
    return (
        "\n".join(
            [
                ",".join(columns),
                *(",".join(f"{x:.6g}" for x in row) for row in zip(*columns.values(), strict=True)),
            ]
        )
        + "\n"
    )


def stopped(header: str, *, at_zero: bool = False, until: int | None = None) -> dict:
    values = FLOWN[header].copy()
    values[STOPS:until] = 0.0 if at_zero else values[STOPS]
    return FLOWN | {header: values}


def frozen(trace) -> dict[str, str]:
    stuck = [d for d in cleaned(trace).decisions if d.kind == "stuck"]
    return {trace.channels[d.quantity, d.position].header: d.reason for d in stuck}


def test_a_sound_log_has_no_frozen_sensor(read):
    assert frozen(read(log(FLOWN))) == {}


@pytest.mark.parametrize("header", [h for h in FLOWN if h not in ("time (s)", "throttle (%)")])
def test_a_sensor_that_holds_its_last_value_is_silent_from_there_on(read, header):
    trace = read(log(stopped(header)))
    assert list(frozen(trace)) == [header]
    assert frozen(trace)[header].startswith(("from 2:30 to the end", "from 2:29 to the end"))
    channel = next(c for c in cleaned(trace).channels.values() if c.header == header)
    assert channel.fresh[: STOPS - 20].any()
    assert not channel.fresh[STOPS + 10 :].any()
    assert np.isnan(channel.values[STOPS + 10 :]).all()


@pytest.mark.parametrize("header", ["current left (A)", "rpm right"])
def test_a_sensor_that_falls_to_zero_while_its_motor_works_on_is_frozen(read, header):
    assert list(frozen(read(log(stopped(header, at_zero=True))))) == [header]


def test_a_pack_current_that_falls_to_zero_is_frozen_or_in_doubt_but_never_used_so(read):
    columns = stopped("current (A)", at_zero=True)
    trace = read(log(columns))
    assert not trace.has("current_a")
    assert [c.status for c in trace.sources[0].columns if c.header == "current (A)"] == ["doubtful"]
    alone = {
        h: v for h, v in columns.items() if h not in ("current left (A)", "current right (A)", "used (mAh)")
    }
    assert list(frozen(read(log(alone)))) == ["current (A)"]


def test_a_sensor_that_comes_back_is_heard_again(read):
    trace = read(log(stopped("rpm left", until=1750)))
    assert frozen(trace)["rpm left"].startswith("from 2:30 to 2:5")
    assert cleaned(trace).channels["rpm", "left"].fresh[1760:].any()


def test_a_motor_that_stops_in_earnest_is_not_a_frozen_sensor(read):
    cut = {"current left (A)": np.where(np.arange(TIME.size) >= STOPS, 0.0, FLOWN["current left (A)"])}
    cut["rpm left"] = np.where(np.arange(TIME.size) >= STOPS, 0.0, FLOWN["rpm left"])
    cut["current (A)"] = np.where(
        np.arange(TIME.size) >= STOPS, np.round(0.3 + RIGHT, 1), FLOWN["current (A)"]
    )
    assert frozen(read(log(FLOWN | cut))) == {}


def test_a_stick_held_still_is_not_a_frozen_sensor(read):
    assert frozen(read(log(stopped("throttle (%)", until=1750)))) == {}


def test_a_lost_link_freezes_everything_at_once(read):
    held = {
        h: np.where((np.arange(TIME.size) >= STOPS) & (np.arange(TIME.size) < STOPS + 80), v[STOPS], v)
        for h, v in FLOWN.items()
        if h != "time (s)"
    }
    assert {"current (A)", "pack voltage (V)", "rpm left"} <= set(frozen(read(log(FLOWN | held))))


def test_the_review_says_when_a_sensor_froze_and_takes_the_charge_from_the_counter(read):
    review = telemetry.review(read(log(stopped("current (A)"))))
    found = [f for f in review.flights[0].findings if f.key == "sensor_frozen"]
    assert [f.subject for f in found] == ["current (A)"]
    assert "2:30" in found[0].evidence
    consumed = review.flights[0].capacity.consumed_mah
    assert consumed.low <= CHARGE[-1] <= consumed.high
    assert consumed.value == pytest.approx(CHARGE[-1], rel=0.01)


def test_without_a_counter_the_interval_holds_what_the_frozen_current_hides(read):
    columns = {
        h: v
        for h, v in stopped("current (A)").items()
        if h not in ("used (mAh)", "current left (A)", "current right (A)")
    }
    consumed = telemetry.review(read(log(columns))).flights[0].capacity.consumed_mah
    assert consumed.low <= CHARGE[-1] <= consumed.high


def test_a_height_that_ends_aloft_and_never_wavers_again_is_frozen(read):
    height = np.clip(TIME - 40, 0, 50) * np.clip(215 - TIME, 0, 40) / 40 + 0.4 * RNG.standard_normal(
        TIME.size
    )
    height[1700:] = height[1700]
    assert list(frozen(read(log(FLOWN | {"altitude (m)": np.round(height, 1)})))) == ["altitude (m)"]


def test_a_height_without_noise_may_stand_still(read):
    assert frozen(read(log(FLOWN | {"altitude (m)": np.round(np.clip(TIME - 40, 0, 50), 1)}))) == {}
