"""A drawing holds the result's own numbers: it never computes one."""

from dataclasses import replace
from functools import partial

import numpy as np
import pytest

from dashboard.drawings import cells, charge, load, pair, predicted, strips
from dashboard.drawings.axes import apart, decades, linear, snug, timeline
from dashboard.drawings.marks import Band, Bar, Dimension, Dot, Label, LimitLine, Line
from dashboard.renderers.svg import svg
from telemetry.derived import pack_current
from telemetry.estimate import Estimate, Undecided
from telemetry.prediction.results import PredictedLeg, PredictedMargin, Static


def marks_of(drawing, kind):
    return [m for m in drawing.marks if isinstance(m, kind)]


def test_the_sag_dimension_spans_open_circuit_and_loaded_voltage_where_they_are_furthest_apart(review):
    pack = review.flights[0].pack
    third = cells.small_multiples(pack)[2]
    (dimension,) = marks_of(third, Dimension)
    curve = pack.curves[2]
    at = int(np.argmin(np.abs(curve.time_s - dimension.x0)))
    assert dimension.y0 - dimension.y1 == pytest.approx(np.max(curve.open_circuit_v - curve.loaded_v))
    assert dimension.y1 == curve.loaded_v[at]


def test_only_the_weak_cell_is_ringed(review):
    rings = [
        [d for d in marks_of(drawing, Dot) if d.role == "ring"]
        for drawing in cells.small_multiples(review.flights[0].pack)
    ]
    assert [len(r) for r in rings] == [0, 0, 1, 0, 0]


def test_small_multiples_share_their_scales(review):
    drawings = cells.small_multiples(review.flights[0].pack)
    assert len({(d.y.low, d.y.high, d.x.low, d.x.high) for d in drawings}) == 1


def test_the_floor_is_hatched_below(review):
    for drawing in cells.small_multiples(review.flights[0].pack, floor_v=3.3):
        (floor,) = marks_of(drawing, LimitLine)
        assert (floor.at, floor.side) == (3.3, "below")


def test_a_rating_is_drawn_only_over_the_lengths_it_speaks_of(review):
    drawing = load.windows_of_pack(review.flights[0].current)
    stretches = {limit.at: (limit.start, limit.end) for limit in marks_of(drawing, LimitLine)}
    assert stretches[104.0][0] == 30.0, "a steady rating starts at its 30 s"
    assert stretches[156.0][1] == 10.0, "a burst rating ends at its 10 s"


def test_the_curve_of_means_stands_on_a_logarithmic_axis(review):
    drawing = load.windows_of_pack(review.flights[0].current)
    assert drawing.x.logarithmic
    (curve,) = marks_of(drawing, Line)
    assert curve.y.tolist() == [s.max_mean_a for s in review.flights[0].current.sustained]


def test_left_is_above_and_right_below_one_shared_axis(review):
    flight = review.flights[0]
    drawing = pair.mirrored(flight.motors.pairs[0], flight.flight, flight.current, flight.motors.events)
    left, right = (line for line in marks_of(drawing, Line))
    assert left.role == "left"
    assert left.y.min() >= 0
    assert right.role == "right"
    assert right.y.max() <= 0
    assert drawing.y.low == -drawing.y.high


def test_a_late_start_is_marked_on_its_own_side(review):
    flight = review.flights[0]
    drawing = pair.mirrored(flight.motors.pairs[0], flight.flight, flight.current, flight.motors.events)
    (event,) = (bar for bar in marks_of(drawing, Bar) if bar.role == "red")
    assert event.y < 0
    assert event.x0 == 44.0


def test_the_strip_of_the_pair_holds_value_and_interval(review):
    drawing = strips.pair(review.flights[0].motors.pairs[0])
    (bar,) = marks_of(drawing, Bar)
    assert (bar.x0, bar.x1) == pytest.approx((5.5, 8.1))
    even = marks_of(drawing, Band)[0]
    assert even.x.tolist() == pytest.approx([-1.2, 1.2])


def test_a_residual_outside_its_interval_lies_outside_the_band(review):
    drawing = strips.predicted(review.flights[0].comparison)
    named = [d for d in marks_of(drawing, Dot) if d.role == "dot"]
    assert [d.name for d in named] == ["mean right current"]
    assert named[0].x > 1


def test_the_reserve_is_hatched_from_where_it_begins_to_an_empty_pack(review):
    flight = review.flights[0]
    drawing = charge.futures(flight.timer, None)
    (reserve,) = marks_of(drawing, LimitLine)
    assert reserve.at == flight.timer.usable_mah == 4160
    assert reserve.until == pytest.approx(5200)
    alarm = next(label for label in marks_of(drawing, Label) if "4:15" in label.text)
    assert alarm.x == pytest.approx(255 / 60)


def test_the_prediction_is_a_band_with_the_measured_line_over_it(review):
    found = review.flights[0].comparison.replays[0]
    drawing = predicted.replay(found)
    order = [type(m) for m in drawing.marks if isinstance(m, Band | Line)]
    assert order == [Band, Line, Line]
    assert drawing.marks[2].role == "fine"


def test_a_zoomed_plot_shows_the_window_and_keeps_its_phases(review):
    flight = review.flights[0]
    samples = pack_current(review.trace, within=flight.flight)
    drawing = load.over_time(samples.samples, flight.flight, flight.current, window=(330.0, 342.0))
    assert (drawing.x.low, drawing.x.high) == (330.0, 342.0)
    assert any(label.text == "go-around" for label in marks_of(drawing, Label))


def test_where_nothing_was_logged_nothing_is_drawn(empty_review):
    flight = empty_review.flights[0]
    assert strips.cells(flight.pack) is None
    assert strips.load(flight.current) is None
    assert strips.predicted(flight.comparison) is None
    assert cells.small_multiples(flight.pack) == ()
    assert load.windows_of_pack(flight.current) is None


def test_an_undecided_imbalance_has_no_strip(review):
    pair_ = replace(review.flights[0].motors.pairs[0], imbalance_fraction=Undecided("speed only"))
    assert strips.pair(pair_) is None


def test_ticks_are_few_and_round():
    assert [t.at for t in linear([0.0, 83.2]).ticks] == [0, 20, 40, 60, 80, 100]
    assert [t.text for t in timeline(0, 450).ticks][:3] == ["0:00", "1:00", "2:00"]
    assert [t.at for t in decades(0.2, 354, also=(30,)).ticks] == [0.2, 1, 10, 30, 100, 354]
    assert snug([83.2]).high < 90


def test_labels_keep_their_distance_and_order():
    moved = apart([3.0, 3.01, 3.02, 9.0], 0.5)
    assert moved == sorted(moved)
    assert min(np.diff(moved)) >= 0.5 - 1e-6
    assert moved[3] == 9.0


def legs(*currents_a):
    phases = zip(("takeoff", "climb", "cruise", "approach"), (4.0, 6.0, 330.0, 36.0), currents_a, strict=True)
    return [
        PredictedLeg(phase, seconds, Estimate(a, 0.8 * a, 1.3 * a), Estimate(19.0, 18.5, 19.5))
        for phase, seconds, a in phases
    ]


@pytest.mark.parametrize("narrow", [False, True])
def test_every_leg_of_the_plan_is_named_beside_its_own_current(narrow):
    drawing = predicted.plan(legs(67.0, 46.0, 25.0, 3.0), narrow=narrow)
    assert [label.text for label in marks_of(drawing, Label)] == [
        "take-off 67 A",
        "climb 46 A",
        "cruise 25 A",
        "approach 3 A",
    ]
    assert [line.y.tolist() for line in marks_of(drawing, Line)] == [
        [67.0, 67.0],
        [46.0, 46.0],
        [25.0, 25.0],
        [3.0, 3.0],
    ]


def still_at(share, current_a):
    zero = Estimate(0.0, 0.0, 0.0)
    return Static(share, zero, Estimate(current_a, 0.9 * current_a, 1.1 * current_a), zero, (), zero, zero)


def test_the_packs_first_rating_is_hatched_over_the_stick_only_when_full_stick_comes_near_it():
    held = [still_at(0.5, 14.0), still_at(1.0, 78.0)]
    near = PredictedMargin("pack plug, steadily", 60.0, 30.0, Estimate(77.0, 70.0, 85.0), 1.0 - 77.0 / 60.0)
    far = PredictedMargin("pack, 10 s", 260.0, 10.0, Estimate(79.0, 71.0, 87.0), 1.0 - 79.0 / 260.0)
    (limit,) = marks_of(predicted.against_stick(held, [far, near]), LimitLine)
    assert (limit.at, limit.side) == (60.0, "above")
    assert marks_of(predicted.against_stick(held, [far]), LimitLine) == []


def test_neither_cloud_of_a_pair_hides_the_other(review):
    drawing = pair.against_command(review.flights[0].motors.pairs[0], "current_a")
    left, right = (part.split("M")[1] for part in svg(drawing).split('class="cloud ')[1:])
    assert "v5" in left
    assert "h5" in right


def test_strips_and_neighbours_are_redrawn_for_a_phone(review):
    flight = review.flights[0]
    drawn = [
        *(
            d(narrow=True)
            for d in (
                partial(strips.cells, flight.pack),
                partial(strips.load, flight.current),
                partial(strips.predicted, flight.comparison),
            )
        ),
        strips.pair(flight.motors.pairs[0], narrow=True),
        cells.against_neighbours(flight.pack, narrow=True),
    ]
    # a phone of 390 px leaves 358 beside its margins
    assert {d.width for d in drawn} == {358.0}
