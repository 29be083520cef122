"""What still stands: common practice, no source — a check is open until somebody has looked again, at the
same thing.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from telemetry.finding_table import KINDS, SEVERITIES, WHOSE
from telemetry.history import FlownDrive, FlownMotor
from telemetry.season.open_checks import (
    JudgedFlight,
    Raised,
    open_checks,
    standing_for,
    standing_in,
    with_weak_cells,
)
from telemetry.season.timer import CellFacts, PackFacts
from telemetry.sheet import Sheet

WEAK_3 = Raised("check", "weak_cell_resistance", "cell 3", "Cell 3 is weak.")
RIGHT_CUT = Raised("stop", "motor_event_cut", "right motor", "The right motor cut out at 1:02.")
CELLS = tuple(f"weak:cell {n}" for n in range(1, 6))


def standing(*flights):
    return [(c.flight, c.raised.subject) for c in open_checks(flights)]


def flight(number, *, pack="A", raised=(), judged=(), configuration="", aircraft="Twin"):
    return JudgedFlight(number, aircraft, pack, configuration, raised, judged)


def test_a_weak_cell_stands_while_other_packs_are_flown():
    weak = flight(1, raised=(WEAK_3,), judged=CELLS)
    assert standing(weak, flight(2, pack="B", judged=CELLS), flight(3, pack="B", judged=CELLS)) == [
        (1, "cell 3")
    ]


def test_a_later_flight_that_found_the_same_cell_sound_clears_it():
    weak = flight(1, raised=(WEAK_3,), judged=CELLS)
    assert standing(weak, flight(2, judged=CELLS), flight(3, pack="B", judged=CELLS)) == []


def test_a_later_flight_that_could_not_judge_cells_clears_nothing():
    weak = flight(1, raised=(WEAK_3,), judged=CELLS)
    assert standing(weak, flight(2, judged=("pair:left and right",))) == [(1, "cell 3")]


def test_a_cell_found_weak_again_is_carried_once_from_the_latest_flight():
    weak = [flight(n, raised=(WEAK_3,), judged=CELLS) for n in (1, 2)]
    assert standing(*weak, flight(3, pack="B", judged=CELLS)) == [(2, "cell 3")]


def test_what_the_newest_flight_itself_says_is_not_said_twice():
    assert (
        standing(flight(1, raised=(WEAK_3,), judged=CELLS), flight(2, raised=(WEAK_3,), judged=CELLS)) == []
    )


def test_one_motor_running_well_does_not_clear_the_other():
    cut = flight(1, raised=(RIGHT_CUT,), judged=("cut:left motor", "cut:right motor"))
    assert standing(cut, flight(2, judged=("cut:left motor",))) == [(1, "right motor")]
    assert standing(cut, flight(2, pack="B", judged=("cut:left motor", "cut:right motor"))) == []


def test_a_rating_gone_over_on_skis_is_not_cleared_on_wheels():
    over = Raised(
        "stop", "over_rating", "left controller, steadily", "The left controller was over its rating."
    )
    judged = ("rating:left controller, steadily",)
    on_skis = flight(1, configuration="skis", raised=(over,), judged=judged)
    assert standing(on_skis, flight(2, judged=judged)) == [(1, "left controller, steadily")]
    assert standing(on_skis, flight(2, configuration="skis", judged=judged)) == []


def test_stops_come_first_then_the_latest_and_another_aircraft_says_nothing():
    found = open_checks(
        [
            flight(1, raised=(RIGHT_CUT,)),
            flight(2, raised=(WEAK_3,)),
            flight(3, aircraft="Other", raised=(RIGHT_CUT,)),
            flight(4, pack="B"),
        ]
    )
    assert [(c.flight, c.pack, c.raised.severity) for c in found] == [(1, "A", "stop"), (2, "A", "check")]


def test_notes_and_what_died_with_its_flight_are_not_carried():
    note = Raised("note", "motor_event_reverse_ground", "left motor", "Reverse was used on the ground.")
    sheet = Raised("stop", "sheet_contradicted", "set-up sheet", "This is another aircraft's log.")
    assert KINDS["sheet_contradicted"].topic == ""
    assert standing(flight(1, raised=(note, sheet)), flight(2)) == []


def test_a_weak_cell_comes_along_with_its_pack_into_another_aircraft():
    weak = flight(1, aircraft="Other", raised=(WEAK_3,), judged=CELLS)
    assert standing(weak, flight(2), flight(3)) == [(1, "cell 3")]
    assert standing(weak, flight(2, pack="B"), flight(3, pack="B")) == []
    assert standing(weak, flight(2, judged=CELLS), flight(3)) == []


def test_a_pack_without_a_name_is_not_taken_for_another_aircrafts():
    weak = flight(1, aircraft="Other", pack="", raised=(WEAK_3,), judged=CELLS)
    assert standing(weak, flight(2, pack=""), flight(3, pack="")) == []


def hand(name="Twin", pack="A", cells=5, kv=640):
    text = f"""
[aircraft]
name = "{name}"
[pack]
name = "{pack}"
cells = {cells}
capacity_mah = 5200
[motor]
kv_rpm_per_v = {kv}
"""
    return Sheet.from_text(text).setup()


def carried(flights, **chosen):
    return [(c.flight, c.raised.subject) for c in standing_for(flights, hand(**chosen))]


def test_a_packs_check_comes_into_every_aircraft_that_carries_it():
    weak = flight(1, raised=(WEAK_3,), judged=CELLS)
    assert carried([weak], name="Other") == [(1, "cell 3")]
    assert carried([weak], name="Other", pack="B") == []
    of_five = replace(weak, drive=FlownDrive(cells=5))
    assert carried([of_five], name="Other", cells=3) == [], "another pack of that name"


def test_a_motors_stop_stays_with_its_motors():
    flown_with_640 = FlownDrive(motors=(FlownMotor("centre", kv_rpm_per_v=640.0),))
    cut = replace(flight(1, raised=(RIGHT_CUT,)), drive=flown_with_640)
    assert carried([cut], pack="B") == [(1, "right motor")]
    assert carried([cut], kv=700) == [], "the motors were replaced"
    assert carried([cut], name="Other") == []


def test_the_flight_flown_last_counts_for_the_next_one():
    assert carried([flight(1), flight(2, raised=(WEAK_3,), judged=CELLS)]) == [(2, "cell 3")]


def test_what_its_owner_settled_does_not_stand():
    weak = flight(1, raised=(WEAK_3, RIGHT_CUT), judged=CELLS)
    assert carried([replace(weak, cleared=("weak_cell_resistance",))]) == [(1, "right motor")]


def test_a_weak_cell_goes_on_shortening_the_timer_as_its_flight_measured_it():
    measured = (CellFacts(2, 0.003), CellFacts(3, 0.0045, weak=True, excess_ohm=0.0015))
    weak = replace(flight(1, raised=(WEAK_3,), judged=CELLS), cells=measured)
    standing = standing_for([weak, flight(2)], hand())
    assert with_weak_cells(PackFacts(), standing).cells == (measured[1],)
    unmeasured = standing_for([flight(1, raised=(WEAK_3,), judged=CELLS)], hand())
    assert with_weak_cells(PackFacts(), unmeasured).cells == (CellFacts(3, None, 0.1, weak=True),)


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda k: k.key)
def test_every_row_of_the_table_is_whole(kind):
    assert kind.severities and set(kind.severities) <= set(SEVERITIES)
    assert kind.whose in WHOSE
    assert bool(kind.topic) == bool(kind.cleared_by)
    assert not kind.topic or (kind.whose != "log" and kind.severities != ("note",))


PAIR_OF_PACKS = {"left_pack": "A", "right_pack": "B"}
RIGHT_2 = Raised("check", "weak_cell_resistance", "right pack, cell 2", "Right pack: cell 2 is weak.")
CELLS_OF_BOTH = tuple(f"weak:{side} pack, cell {n}" for side in ("left", "right") for n in range(1, 6))


def on_two_packs(number, *, raised=(), judged=(), names=PAIR_OF_PACKS):
    weak = CellFacts(2, 0.009, missing_fraction=0.12)
    cells = {"right_pack": (weak,)}
    return JudgedFlight(number, "Twin", "", "", raised, judged, cells_of_packs=cells, pack_names=names)


def single(pack):
    text = f'[aircraft]\nname = "Trainer"\n[pack]\nname = "{pack}"\ncells = 5\ncapacity_mah = 3000\n'
    return Sheet.from_text(text).setup()


def pair(left, right):
    packs = f'[[packs]]\nname = "{left}"\nfeeds = ["left"]\n[[packs]]\nname = "{right}"\nfeeds = ["right"]\n'
    motors = '[[motors]]\nposition = "left"\n[[motors]]\nposition = "right"\n'
    text = f'[aircraft]\nname = "Other twin"\n[pack]\ncells = 5\ncapacity_mah = 3000\n{packs}{motors}'
    return Sheet.from_text(text).setup()


def test_a_weak_cell_of_a_pack_of_two_goes_with_that_pack_into_an_aircraft_of_one_pack():
    (found,) = standing_for([on_two_packs(1, raised=(RIGHT_2,), judged=CELLS_OF_BOTH)], single("B"))
    assert (found.pack, found.raised.subject, found.raised.title) == ("B", "cell 2", "Cell 2 is weak.")
    (weak,) = with_weak_cells(PackFacts(), [found]).cells
    assert (weak.cell, weak.missing_fraction, weak.weak) == (2, 0.12, True)
    assert standing_for([on_two_packs(1, raised=(RIGHT_2,))], single("A")) == ()


def test_a_weak_cell_of_a_single_pack_is_told_of_the_side_on_which_that_pack_now_feeds_a_motor():
    weak = flight(1, pack="C", raised=(WEAK_3,), judged=CELLS)
    (found,) = standing_for([weak], pair("C", "D"))
    assert (found.raised.subject, found.raised.title) == ("left pack, cell 3", "Left pack: cell 3 is weak.")
    assert [c.raised.subject for c in standing_in([found], "left_pack")] == ["cell 3"]
    assert standing_in([found], "right_pack") == ()


def test_packs_that_changed_sides_take_their_weak_cells_along():
    raised = on_two_packs(1, raised=(RIGHT_2,), judged=CELLS_OF_BOTH)
    (found,) = standing_for([raised], pair("B", "A"))
    assert found.raised.subject == "left pack, cell 2"
    swapped = {"left_pack": "B", "right_pack": "A"}
    right_sound = on_two_packs(2, judged=("weak:right pack, cell 2",), names=swapped)
    assert len(standing_for([raised, right_sound], pair("B", "A"))) == 1, "that was pack A"
    left_sound = on_two_packs(2, judged=("weak:left pack, cell 2",), names=swapped)
    assert standing_for([raised, left_sound], pair("B", "A")) == ()


def test_a_pack_flown_alone_clears_what_was_found_in_it_beside_another():
    raised = on_two_packs(1, raised=(RIGHT_2,), judged=CELLS_OF_BOTH)
    alone = flight(2, pack="B", aircraft="Trainer", judged=CELLS)
    assert standing_for([raised, alone], single("B")) == ()
    assert standing(raised, alone) == [], "and for the aircraft flown last"
    assert standing(raised, flight(2, pack="B", aircraft="Trainer")) == [(1, "right pack, cell 2")]
