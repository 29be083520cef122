"""The printed pages: whole, quiet, self-contained."""

import json
import re
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser

import pytest
from dash import dcc, html

from dashboard import card, report
from dashboard.paper import html_text
from telemetry.estimate import Undecided
from telemetry.made import MadeBy, UsedLog

VOID = {"meta", "link", "input", "br", "img", "hr", "path", "line", "circle", "rect"}


class Reader(HTMLParser):
    """Gathers tags, texts and addresses, and checks that what is opened is closed."""

    def __init__(self):
        super().__init__()
        self.open, self.tags, self.texts, self.addresses, self.ids = [], [], [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        found = dict(attrs)
        self.addresses += [v for k, v in found.items() if k in ("href", "src", "action") and v]
        self.ids += [found["id"]] if "id" in found else []
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if tag not in VOID:
            assert self.open.pop() == tag

    def handle_data(self, data):
        self.texts.append(data)


def read(page):
    reader = Reader()
    reader.feed(page)
    assert reader.open == []
    return reader


@pytest.mark.parametrize("kind", ["review", "bench_review", "empty_review"])
def test_a_report_is_one_page_that_asks_nobody_for_anything(kind, request):
    page = report.page(request.getfixturevalue(kind))
    reader = read(page)
    assert "script" not in reader.tags
    assert all(a.startswith("#") for a in reader.addresses)
    assert not re.search(r"url\((?!#)", page)
    assert len(set(reader.ids)) == len(reader.ids), "every id once"


def test_every_number_that_can_be_asked_has_its_note(review):
    reader = read(report.page(review))
    assert {a[1:] for a in reader.addresses if a.startswith("#how")} <= set(reader.ids)


def test_the_headline_the_findings_and_the_five_answers_stand_on_the_page(review):
    text = " ".join(read(report.page(review)).texts).replace("\u00a0", " ")
    flight = review.flights[0]
    assert flight.headline in text
    for finding in flight.findings:
        assert finding.title in text
    for answer in flight.answers:
        assert answer.short in text


def test_undecided_stands_where_the_number_would_with_its_reason(empty_review):
    text = " ".join(read(report.page(empty_review)).texts)
    assert text.count("undecided") >= 3
    assert "the log has no pack current; log it to settle this" in text


def test_names_from_a_log_are_text(review):
    hostile = "<script>alert(1)</script>.csv"
    source = replace(review.trace.sources[0], file=hostile)
    named = replace(
        review,
        trace=replace(review.trace, sources=(source,)),
        setup=replace(review.setup, name="<img src=x onerror=alert(1)>"),
    )
    page = report.page(named)
    reader = read(page)
    assert "script" not in reader.tags
    assert "img" not in reader.tags
    assert any(hostile in t for t in reader.texts)


def test_the_timer_never_stands_without_its_caution(review):
    text = " ".join(read(report.page(review)).texts)
    assert "Local rules and licensed practice come first." in text
    assert "hands go near" in text, "the propellers' caution"


def test_the_card_tells_when_to_stop_and_what_is_left_to_local_rules(review, prediction):
    reader = read(card.page(prediction, review.setup, review.flights[0].timer))
    text = " ".join(reader.texts).replace("\u00a0", " ")
    assert "4:15" in text
    assert "3.30 V" in text
    assert "local rules and licensed practice come first" in text
    assert "script" not in reader.tags


def test_the_card_names_hands_failsafe_and_what_to_do_with_one_motor_out(review, prediction):
    """Handed propellers, a failsafe that stops the motors, landing ahead on one motor: common practice, no
    source.
    """
    turning = tuple(
        replace(drive, rotation=way)
        for drive, way in zip(review.setup.drives, ("clockwise", "anticlockwise"), strict=True)
    )
    for setup, hands in (
        (replace(review.setup, drives=turning), "left clockwise, right anticlockwise"),
        (
            replace(review.setup, drives=tuple(replace(d, rotation=None) for d in turning)),
            "each pushes forward",
        ),
    ):
        text = " ".join(read(card.page(prediction, setup, review.flights[0].timer)).texts)
        assert hands in text
        assert "failsafe checked" in text
        assert "one motor out: throttle back, land ahead" in text
        assert "rests on" in text
    single = replace(review.setup, drives=review.setup.drives[:1])
    alone = " ".join(read(card.page(prediction, single, review.flights[0].timer)).texts)
    assert "one motor out" not in alone


def test_a_card_without_a_timer_says_why(review, prediction):
    text = " ".join(read(card.page(prediction, review.setup, Undecided("one flight is too few"))).texts)
    assert "one flight is too few" in text


def test_report_and_card_say_what_made_them(review, prediction):
    made = MadeBy(
        "1.2.3",
        'twin "B".toml',
        "a" * 64,
        (UsedLog("maiden.csv", "b" * 64),),
        {"maiden.csv": {"Volt 3": "ignore"}},
        {"configuration": "skis", "history": {"flights": 2, "sha256": "c" * 64}},
    )
    for page in (
        report.page(replace(review, made_by=made)),
        card.page(prediction, review.setup, review.flights[0].timer, made=made),
    ):
        (whole,) = re.findall(r'<meta name="made-by" content="([^"]*)">', page)
        assert MadeBy.from_plain(json.loads(unescape(whole))) == made
        assert (
            "Made by Sagline 1.2.3 from log maiden.csv (sha256 bbbbbbbbbbbb…), "
            'sheet twin "B".toml (sha256 aaaaaaaaaaaa…), answers about maiden.csv: 1, '
            "earlier flights: 2 (sha256 cccccccccccc…), configuration skis." in " ".join(read(page).texts)
        )


def test_paper_refuses_what_needs_a_script():
    with pytest.raises(TypeError, match="Graph"):
        html_text(html.Div(dcc.Graph()))


def test_paper_writes_attributes_and_styles():
    node = html.Label(
        "a & b", htmlFor="x", className="c", style={"marginTop": "1rem"}, **{"aria-label": '"q"'}
    )
    written = html_text(node)
    assert written.endswith(">a &amp; b</label>")
    for attribute in (' for="x"', ' class="c"', ' style="margin-top:1rem"', ' aria-label="&quot;q&quot;"'):
        assert attribute in written


def test_every_flight_of_a_log_is_in_its_report_each_with_ids_of_its_own(review):
    twice = replace(review, flights=(review.flights[0], review.flights[0]))
    page = report.page(twice)
    reader = read(page)
    text = " ".join(reader.texts).replace("\u00a0", " ")
    assert "Flight 1 of 2" in text
    assert "Flight 2 of 2" in text
    assert len(set(reader.ids)) == len(reader.ids), "every id once"
    assert {a[1:] for a in reader.addresses if a.startswith("#")} <= set(reader.ids)
    assert len(read(report.page(twice, flight=1)).texts) < len(reader.texts)


@pytest.mark.source(
    "CSS Syntax Level 3, §4.3.7: a backslash and a code point in hex is that character (from memory)"
)
def test_a_name_cannot_leave_the_foot_of_the_page(review):
    page = report.page(
        replace(review, setup=replace(review.setup, name='"; } </style> \\')), date="2025-05-04"
    )
    foot = re.search(
        r"@bottom-left \{ content: \"([^\"]*)\"; \} \}", page.split("</style>")[0].rsplit("@page", 1)[1]
    )
    assert foot
    written = re.sub(r"\\([0-9a-f]+) ", lambda m: chr(int(m[1], 16)), foot[1]).replace("\u00a0", " ")
    assert written.startswith('"; } </style> \\')
    assert written.endswith("2025-05-04")


def test_frost_has_a_true_minus_on_card_and_report(review, prediction):
    cold = replace(review.setup, site=replace(review.setup.site, temperature_c=-4.0))
    for page in (
        report.page(replace(review, setup=cold)),
        card.page(prediction, cold, Undecided("nothing was flown")),
    ):
        assert "\u22124\u00a0°C" in page
