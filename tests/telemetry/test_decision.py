"""What is decided of a flight, and what is left open: the log's fault is never the pilot's leave to fly."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from telemetry import review
from telemetry.debrief import FlightReview, OwnerSaid, flown_with
from telemetry.history import PastFlight
from telemetry.importers.log import read_log
from telemetry.sheet import read_sheet
from telemetry.sheet.setup import Drive, Motor, PackSetup, RatedLoad, Setup
from telemetry.signals import cleaned
from telemetry.trace import Decision, Trace

PACK = PackSetup("A", 3, 2500.0)
RATED = replace(PACK, ratings=(RatedLoad(70.0),))
SETUP = Setup("Saltmarsh Mail", "", RATED, drives=(Drive("centre", Motor()),))


def decided(trace: Trace, setup: Setup | None = SETUP, *, bench: bool = False) -> FlightReview:
    (one,) = review(trace, setup, bench=bench).flights
    return one


def keys(one: FlightReview, severity: str = "") -> set[str]:
    return {f.key for f in one.findings if severity in ("", f.severity)}


def whats(one: FlightReview) -> list[str]:
    return [o.what for o in one.open]


def test_an_ordinary_flight_is_clear_and_the_headline_says_what_the_log_shows(hand):
    one = decided(hand.made())
    assert (one.decision, one.open) == ("clear", ())
    assert one.headline.startswith("Nothing in this log speaks against the next flight; ")


def test_a_log_of_pack_voltage_alone_leaves_the_cells_and_the_load_open(hand):
    no = ("throttle_fraction", "current_a", "altitude_m", "airspeed_mps", "receiver_voltage_v")
    one = decided(hand.made(without=no))
    assert one.decision == "open"
    assert whats(one) == ["cells", "load"]
    assert "timer" not in one.headline


def test_a_log_without_any_voltage_leaves_the_cells_open(hand):
    one = decided(hand.made(without=("pack_voltage_v",)))
    assert (one.decision, whats(one)) == ("open", ["cells"])


def test_a_voltage_that_was_last_read_half_way_leaves_the_cells_open(hand):
    volts = hand.made().channels["pack_voltage_v", ""].values
    one = decided(hand.made(pack_voltage_v=np.where(hand.TIME_S < 120.0, volts, np.nan)))
    assert (one.decision, whats(one)) == ("open", ["cells"])


def test_a_cell_count_that_neither_sheet_nor_log_tells_is_open(hand):
    # 25.3 V at rest may be six full cells or seven half-full ones
    volts = hand.made().channels["pack_voltage_v", ""].values * 25.3 / 12.57
    one = decided(hand.made(pack_voltage_v=volts), None)
    assert (one.decision, whats(one)) == ("open", ["cells"])
    assert "cells" in one.headline


def test_parts_that_the_sheet_rates_are_open_without_a_current_and_not_without_a_rating(hand):
    log = hand.made(without=("current_a",))
    assert whats(decided(log)) == ["load"]
    assert "load" not in whats(decided(log, replace(SETUP, pack=PACK)))


def test_a_log_that_ends_in_the_air_leaves_open_how_the_flight_ended_and_what_was_left(hand):
    one = decided(hand.made(until_s=150.0))
    assert one.flight.cut_off == "end"
    assert (one.decision, whats(one)) == ("open", ["flight"])
    assert "log_cut_off" in keys(one, "check")
    assert not hasattr(one.pack.charge_left_fraction, "value")
    assert "timer" not in one.headline


def test_a_flight_that_was_cut_off_is_no_evidence_for_a_timer(hand):
    # powered for 135 of 200 s: a row of it would say that 200 s use two thirds of what they do
    whole, cut = review(hand.made(), SETUP), review(hand.made(until_s=150.0), SETUP)
    assert len(flown_with(whole, whole.flights[0])) == 1
    assert flown_with(cut, cut.flights[0]) == ()


def test_a_landing_far_below_the_reserve_is_why_there_is_no_alarm_in_headline_and_answer_alike(hand):
    setup = replace(SETUP, reserve=replace(SETUP.reserve, loaded_cell_v=2.5))
    (one,) = review(hand.made(drawn=0.93), setup, FLOWN).flights
    assert one.headline == "This speaks against the next flight: the flight landed below the reserve."
    assert one.answer("timer").verdict == "undecided"
    assert one.answer("timer").sentence == (
        "Undecided. A stop stands: The pack landed with 6 % left, below the reserve of 20 %; "
        "no alarm before it is settled."
    )
    settled = {0: OwnerSaid(settled=("reserve_used",))}
    (after,) = review(hand.made(drawn=0.93), setup, FLOWN, said=settled).flights
    assert after.timer.flights_used == 3, "its 2325 mAh still tell what a flight takes"
    assert after.headline.startswith("Nothing in this log speaks against the next flight; timer ")
    assert [f.settled for f in after.findings if f.key == "reserve_used"] == [True]


FLOWN = (PastFlight(200.0, 1500.0), PastFlight(200.0, 1550.0))


def test_the_timer_beside_a_flight_that_was_cut_off_says_that_it_rests_on_earlier_ones_alone(hand):
    whole, cut = (review(hand.made(until_s=s), SETUP, FLOWN).flights[0] for s in (hand.END_S, 150.0))
    assert (whole.timer.flights_used, cut.timer.flights_used) == (3, 2)
    said = cut.answer("timer").sentence
    assert said.startswith("2 min 40 s from throttle-up, from a full pack, without this flight. ")
    assert "no evidence for it, as the log ends in the air or under power" in said
    assert "the time stands for two earlier flights alone" in said
    assert cut.timer.weakest_assumption.startswith("the flight gave no evidence, as the log ends in the air")
    assert "without this flight" not in whole.answer("timer").sentence
    assert "timer" not in cut.headline


def test_without_earlier_flights_it_stands_for_the_prediction_alone(sample_logs):
    log = read_log(sample_logs / "maiden.csv")
    cut = replace(
        log,
        time_s=log.time_s[: log.time_s.size // 2],
        channels={
            key: replace(c, values=c.values[: c.values.size // 2], fresh=c.fresh[: c.fresh.size // 2])
            for key, c in log.channels.items()
        },
    )
    (one,) = review(cut, read_sheet(sample_logs / "saltmarsh_mail.toml")).flights
    assert (one.flight.cut_off, one.timer.flights_used) == ("end", 0)
    assert "the time stands for the prediction alone." in one.answer("timer").sentence


def test_a_current_that_is_missing_in_large_parts_leaves_the_cells_undecided_and_the_timer_says_so(hand):
    """The voltage under load was read throughout, so nothing is open; no cell could be compared."""
    log, rows = hand.made(), np.arange(hand.TIME_S.size)
    volts, amps = (log.channels[q, ""].values for q in ("pack_voltage_v", "current_a"))
    rng = np.random.default_rng(1)
    cells = {f"cell_voltage_v__{k}": volts / 3 + rng.normal(0.0, 0.002, volts.size) for k in (1, 2, 3)}
    silent = hand.made(**cells, current_a=np.where(rows % 80 < 40, amps, np.nan))
    (one,) = review(silent, SETUP, FLOWN).flights
    assert (one.decision, one.open) == ("clear", ())
    assert one.answer("cells").verdict == "undecided"
    why = "fewer than 60 readings of the cells stand beside a current"
    assert f"The cells are undecided: {why}." in one.answer("timer").sentence
    assert one.timer.weakest_assumption.startswith(f"the flight left the cells undecided: {why}; ")
    assert one.pack.resistance_1s_ohm.reason == why, "the pack's own voltage is no better off"


def test_a_clock_that_could_not_be_repaired_is_open(hand):
    log = hand.made()
    broken = Decision("clock_open", "time_s", "", 100.0, 101.0, "the clock may have leapt either way")
    one = decided(replace(cleaned(log), decisions=(broken,)))
    assert (one.decision, whats(one)) == ("open", ["clock"])
    assert "leapt" in one.headline


def test_a_current_that_fills_the_pack_while_the_motors_run_is_open(hand):
    amps = hand.made().channels["current_a", ""].values
    one = decided(hand.made(current_a=-amps))
    assert "charge" in whats(one)


def test_a_stop_outranks_what_is_open(hand):
    volts = hand.made().channels["receiver_voltage_v", ""].values
    low = np.where((hand.TIME_S > 80.0) & (hand.TIME_S < 80.6), 3.9, volts)
    one = decided(hand.made(receiver_voltage_v=low, until_s=150.0))
    assert one.decision == "stop" and "flight" in whats(one)
    assert one.headline == "This speaks against the next flight: the receiver's supply fell to 3.90 V."


@pytest.mark.source("common practice, no source: land with about 20 % in the pack")
@pytest.mark.parametrize(
    ("began", "drawn", "decision"),
    [
        (0.99, 0.66, "clear"),  # lands at 33 %
        (0.75, 0.46, "clear"),  # lands at 29 %, begun part-charged
        (0.99, 0.83, "check"),  # at 16 %
        (0.75, 0.59, "check"),  # at 16 % with only 59 % drawn: not to be told by the charge drawn alone
        (0.99, 0.93, "stop"),  # at 6 %
        (0.75, 0.70, "stop"),  # at 5 %
    ],
)
def test_the_reserve_is_judged_by_what_was_left_not_by_what_was_drawn(hand, began, drawn, decision):
    setup = replace(SETUP, reserve=replace(SETUP.reserve, loaded_cell_v=2.5))
    one = decided(hand.made(began=began, drawn=drawn), setup)
    assert one.decision == decision
    assert ("reserve_used" in keys(one)) == (decision != "clear")
    assert ("not_full" in keys(one)) == (began < 0.9)
    assert one.pack.start_charge_fraction.value == pytest.approx(began, abs=0.03)
    assert one.pack.charge_left_fraction.value == pytest.approx(began - drawn, abs=0.04)


@pytest.mark.parametrize(("rest_v", "severity"), [(4.22, ""), (4.26, "check"), (4.33, "stop")])
def test_a_cell_that_rests_above_full_was_overcharged(hand, rest_v, severity):
    volts = hand.made().channels["pack_voltage_v", ""].values
    at_rest = hand.TIME_S < 14.95
    one = decided(hand.made(pack_voltage_v=np.where(at_rest, 3 * rest_v, volts)))
    found = [f.severity for f in one.findings if f.key == "overcharged"]
    assert found == ([severity] if severity else [])


def test_the_second_flight_on_one_charge_begins_with_what_the_first_left(hand):
    first, second = hand.made(drawn=0.30), hand.made(began=0.69, drawn=0.30)
    end_s = first.time_s[-1] + 0.1
    channels = {
        key: replace(
            c,
            values=np.concatenate((c.values, second.channels[key].values)),
            fresh=np.concatenate((c.fresh, second.channels[key].fresh)),
        )
        for key, c in first.channels.items()
    }
    log = Trace(np.concatenate((first.time_s, second.time_s + end_s)), channels)
    flights = review(log, SETUP).flights
    assert len(flights) == 2
    assert flights[1].pack.start_charge_fraction.value == pytest.approx(0.69, abs=0.05)
    assert flights[1].pack.charge_left_fraction.value == pytest.approx(0.39, abs=0.06)


def test_a_run_up_with_an_undecided_item_is_open(hand):
    one = decided(hand.made(without=("altitude_m", "airspeed_mps")), bench=True)
    assert one.bench is not None
    undecided = sum(item.verdict == "undecided" for item in one.bench.items)
    assert len([o for o in one.open if o.of_bench]) == undecided > 0
    assert one.decision in ("open", "stop")
