"""One drawing, two renderers: both show the same marks at the same places."""

import re
from xml.etree import ElementTree

import numpy as np
import pytest

from dashboard.drawings import charge, load, pair
from dashboard.drawings.marks import (
    Axis,
    Band,
    Bar,
    Dimension,
    Dot,
    Drawing,
    Label,
    LimitLine,
    Line,
    Margins,
    Rule,
    Tick,
)
from dashboard.renderers.plotly import figure
from dashboard.renderers.plotly.colours import LIGHT
from dashboard.renderers.svg import svg
from dashboard.thinning import keep
from telemetry.derived import pack_current

HOSTILE = '<script>alert("x")</script>&'


@pytest.fixture
def drawing():
    x = np.linspace(0, 10, 50)
    marks = (
        Band(x, x, x + 1, "band"),
        LimitLine(8, 0, 10, "above"),
        Line(x, x, "ink", "measured"),
        Dot(5, 5, "ring"),
        Dimension(2, 2, 2, 6),
        Bar(1, 3, 9),
        Rule(4, 0, 10),
        Label(5, 5, HOSTILE, "strong", "end", dx=-8, dy=4),
    )
    axis = Axis(0, 10, (Tick(0, "0"), Tick(10, "10")), HOSTILE)
    return Drawing("test", HOSTILE, HOSTILE, axis, axis, marks, 400, 200, Margins(40, 20, 60, 30), HOSTILE)


def elements(drawing):
    return list(ElementTree.fromstring(svg(drawing)).iter())


def test_a_point_of_data_lies_where_both_pens_put_it(drawing):
    circle = next(e for e in elements(drawing) if e.tag == "circle")
    # by hand: frame 40…340 wide and 20…170 high, so x = 5 is 190 and y = 5 is 95
    assert (float(circle.get("cx")), float(circle.get("cy"))) == (190, 95)
    drawn = figure(drawing)
    dot = next(t for t in drawn["data"] if t["mode"] == "markers" and len(t["x"]) == 1)
    assert (dot["x"], dot["y"]) == ([5], [5])
    margin = drawn["layout"]["margin"]
    assert (margin["l"], margin["t"], margin["r"], margin["b"]) == (40, 20, 60, 30)
    assert drawn["layout"]["xaxis"]["range"] == [0, 10]


def test_both_pens_write_every_word(drawing):
    shown = {(e.text or "") for e in elements(drawing) if e.tag == "text"}
    written = {
        re.sub("</?b>", "", a["text"]).replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&")
        for a in figure(drawing)["layout"]["annotations"]
    }
    assert HOSTILE in shown
    assert written <= shown


def test_a_name_with_a_script_in_it_is_text_for_both_pens(drawing):
    assert "<script" not in svg(drawing)
    assert all("<script" not in a["text"] for a in figure(drawing)["layout"]["annotations"])


def test_every_colour_has_a_name_that_the_style_sheet_knows(drawing):
    from importlib.resources import files

    look = files("dashboard").joinpath("assets", "look.css").read_text(encoding="utf-8")
    for name, colour in LIGHT.items():
        assert f"{name}: {colour}" in look.split("@media")[0], name


@pytest.mark.parametrize("narrow", [False, True])
def test_every_drawing_of_a_flight_goes_through_both_pens(review, narrow):
    flight = review.flights[0]
    samples = pack_current(review.trace, within=flight.flight).samples
    drawings = [
        load.over_time(samples, flight.flight, flight.current, narrow=narrow),
        load.windows_of_pack(flight.current),
        load.windows_of_motors(flight.current),
        pair.mirrored(
            flight.motors.pairs[0], flight.flight, flight.current, flight.motors.events, narrow=narrow
        ),
        pair.against_command(flight.motors.pairs[0], "rpm"),
        pair.causes(flight.motors.pairs[0]),
        charge.futures(flight.timer, None, narrow=narrow),
    ]
    for one in drawings:
        ElementTree.fromstring(svg(one))
        drawn = figure(one)
        assert all(len(t["x"]) == len(t["y"]) for t in drawn["data"])


def test_on_a_logarithmic_axis_plotly_wants_words_by_their_logarithm(review):
    drawing = load.windows_of_pack(review.flights[0].current)
    drawn = figure(drawing)
    dot = next(m for m in drawing.marks if isinstance(m, Dot))
    word = next(a for a in drawn["layout"]["annotations"] if "% left" in a["text"])
    assert word["x"] == pytest.approx(np.log10(dot.x))
    assert drawn["layout"]["xaxis"]["type"] == "log"


def test_thinning_keeps_both_extremes_and_both_ends():
    rng = np.random.default_rng(7)
    x, y = np.arange(100_000.0), rng.normal(size=100_000)
    y[54_321], y[12_345] = 50, -60
    kept = keep(x, y, 800)
    assert kept.size < 1000
    assert {0, 54_321, 12_345, 99_999} <= set(kept.tolist())
    assert np.all(np.diff(kept) > 0)


def test_a_silent_stretch_stays_a_gap():
    x = np.arange(10.0)
    y = np.where((x > 3) & (x < 6), np.nan, 1.0)
    drawing = Drawing("gap", "", "", Axis(0, 9), Axis(0, 2), (Line(x, y),))
    assert svg(drawing).count("M") == 2
    assert figure(drawing)["data"][0]["y"][4:6] == [None, None]
