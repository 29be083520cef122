"""The list of flights and the season over it, from facts written by hand."""

from __future__ import annotations

import pytest

from dashboard.drawings import season, trends
from dashboard.drawings.marks import Dot, Label, Line, Rule
from dashboard.pages import flights
from dashboard.paper import html_text
from dashboard.plots import PaperPlots
from dashboard.sections import season as sections
from telemetry.estimate import Estimate
from telemetry.logbook import KeptFlight
from telemetry.season.open_checks import OpenCheck, Raised
from telemetry.season.trends import season_trends


def kept(
    number, *, pack="A", configuration="", kind="flight", aircraft="Twin", date=None, ohm=(0.004,) * 5, **more
):
    facts = {
        "duration_s": 300.0,
        "airborne_s": 280.0,
        "consumed_mah": 1800.0,
        "headline": "Nothing in this log speaks against the next flight; timer 6 min from a full pack.",
        "verdicts": {},
        "severities": {},
        "first_severity": "",
        "first_key": "",
        "first_finding": "",
        "lowest_cell_v": 3.6,
        "lowest_cell": 2,
        "least_margin_fraction": 0.4,
        "least_margin_part": "pack",
        "imbalance_fraction": None,
        "alarm_s": 360.0,
        "spark_a": (),
        "files": (),
    }
    return KeptFlight(
        id=number,
        date=f"2026-05-{number:02d}" if date is None else date,
        kind=kind,
        aircraft=aircraft,
        configuration=configuration,
        pack=pack,
        cell_resistances_ohm=ohm,
        **(facts | more),
    )


def joined(drawing):
    """The places that each line joins, each once."""
    return sorted({tuple(line.x.tolist()) for line in drawing.marks if isinstance(line, Line)})


def cells_of(row):
    """The texts of a table row, its link left out."""
    return ["", *(html_text(cell.children) for cell in row.children[1:])]


def test_no_line_joins_two_packs_or_two_configurations():
    flown = [
        kept(1),
        kept(2, pack="B"),
        kept(3),
        kept(4, configuration="skis"),
        kept(5, configuration="skis"),
        kept(6, pack="B"),
    ]
    assert joined(season.season(flown)[0]) == [(1.0, 3.0), (2.0, 6.0), (4.0, 5.0)]


def test_the_season_is_in_the_order_flown_and_of_one_aircraft():
    flown = [
        kept(1, date="2026-06-02"),
        kept(2, date="2026-06-01"),
        kept(3, aircraft="Other", date="2026-05-01"),
        kept(4, date="2026-06-03"),
    ]
    axis = season.season(flown)[0].x
    assert [t.text for t in axis.ticks] == ["2", "1", "4"]


def test_the_cell_called_weak_is_the_red_one():
    raised = (Raised("check", "weak_cell_resistance", "cell 3", "Cell 3 is weak."),)
    flown = [kept(1), kept(2, ohm=(0.004, 0.004, 0.006, 0.0041, 0.004), raised=raised)]
    (red,) = [d for d in season.season(flown)[0].marks if isinstance(d, Dot) and d.role == "red"]
    assert (red.x, red.y) == (2.0, pytest.approx(6.0))


def table_rows(*found):
    table = flights.table(found, "number", descending=True)
    _, head, body = table.children
    return [
        html_text(h.children) if isinstance(h.children, str) else h.children.children
        for h in head.children.children
    ], body.children


def test_a_bench_run_shows_neither_a_timer_nor_a_time_in_the_air():
    head, rows = table_rows(kept(2, kind="bench", airborne_s=None, configuration=""), kept(1))
    said = dict(zip(head, cells_of(rows[0]), strict=False))
    assert said["kind"] == "bench run"
    assert said["in the air, min:s"] == said["timer next, full pack, min:s"] == ""
    assert dict(zip(head, cells_of(rows[1]), strict=False))["timer next, full pack, min:s"] == "6:00"


def test_columns_that_would_be_empty_are_left_out():
    head, _ = table_rows(kept(1, date=""), kept(2, date=""))
    assert not {"kind", "date", "fitted with"} & set(head)
    head, _ = table_rows(kept(1, date="2026-06-01", configuration="skis"), kept(2))
    assert {"date", "fitted with"} <= set(head)


def test_an_open_check_is_carried_under_the_newest_answer():
    still = OpenCheck(2, "B", Raised("check", "weak_cell_resistance", "cell 3", "Cell 3 is weak."))
    newest = kept(6, headline="One check before the next flight; timer 9 min 15 s from a full pack.")
    text = flights.opening((newest, kept(2, pack="B")), newest, (still,))
    title, todo = text.children
    assert (
        "Flight 6: One check before the next flight; timer 9\u00a0min 15\u00a0s from a full pack."
        in html_text(title)
    )
    (line,) = todo.children
    assert [c.href for c in line.children if hasattr(c, "href")] == ["/flights/2"]
    assert line.className == "is-check"


def test_a_logbook_with_nothing_open_says_nothing_of_it():
    newest = kept(1)
    assert len(flights.opening((newest,), newest, ()).children) == 1


def in_full(n, *, pack="A", **more):
    """A flight whose resistances are known at 25 °C, with intervals."""
    ohm = Estimate(0.020, 0.0195, 0.0205)
    cell = Estimate(0.004, 0.0039, 0.0041)
    return kept(
        n,
        pack=pack,
        pack_25c_ohm=ohm,
        cells_25c_ohm=(cell,) * 5,
        cell_ratios=(Estimate(1.0, 0.98, 1.02),) * 5,
        **more,
    )


def page_text(*found):
    """The season page of these flights, drawn as on paper."""
    flown = season.flown_by_one(found)
    changed = season_trends([p.flight.in_season for p in flown])
    parts = [
        sections.packs(flown, changed, PaperPlots()),
        sections.consumption(flown, changed, PaperPlots()),
        sections.pair(flown, changed, PaperPlots()),
        sections.timer(flown, PaperPlots()),
    ]
    return f"{sections.headline(flown, changed)} {html_text([p for p in parts if p is not None])}"


def test_each_pack_has_its_own_line_and_interval():
    drawing = trends.pack_resistance(season.flown_by_one([in_full(1), in_full(2, pack="B"), in_full(3)]))
    assert joined(drawing) == [(1.0, 3.0)]
    bars = [(r.at, r.start, r.end) for r in drawing.marks if isinstance(r, Rule)]
    assert bars == [(at, pytest.approx(19.5), pytest.approx(20.5)) for at in (1.0, 3.0, 2.0)]
    assert [m.text for m in drawing.marks if isinstance(m, Label)] == ["pack A", "pack B"]


def test_resistances_without_a_pack_temperature_are_not_said_to_be_at_25_degrees():
    flown = season.flown_by_one([kept(n, pack_ohm=Estimate(0.02, 0.019, 0.021)) for n in (1, 2)])
    assert trends.kind_of(flown) == "own"
    assert "25 °C" not in trends.pack_resistance(flown).title
    mixed = season.flown_by_one([in_full(1), in_full(2), kept(3)])
    assert trends.left_out(mixed) == [3]


def test_what_is_too_early_to_tell_is_said_to_be_undecided():
    text = page_text(in_full(1), in_full(2, configuration="skis"))
    assert "2 flights are too few to tell what changes." in text
    assert "(two flights on this pack tell its cells" in text
    assert "one flight; two are needed to compare" in text


def test_what_a_configuration_costs_is_said_with_its_interval():
    # 1800 mAh against 1500 mAh in the same 300 s: a fifth more. By hand, Welch's: √(1e-4 ÷ 3 + 2e-4 ÷ 2) is
    # 0.01155; (1e-4 ÷ 3 + 2e-4 ÷ 2)² ÷ ((1e-4 ÷ 3)² ÷ 2 + (2e-4 ÷ 2)²) are 1.68 degrees of freedom, Student's
    # 5.18 there: ± 0.0598 on the logarithm, 13 to 27 %
    light = [in_full(n, consumed_mah=1500.0 * k) for n, k in ((1, 0.99), (2, 1.01), (3, 1.0))]
    heavy = [in_full(n, consumed_mah=1800.0 * k, configuration="skis") for n, k in ((4, 0.99), (5, 1.01))]
    text = page_text(*light, *heavy)
    assert "On skis it takes 20\u00a0% more charge a minute than as the sheet stands." in text
    assert "On skis it takes 20\u00a0% (13–27) more charge a minute" in text


def test_the_axis_of_the_timer_is_minutes_and_seconds_and_no_line_joins_configurations():
    flown = season.flown_by_one(
        [
            kept(1),
            kept(2, configuration="skis", alarm_s=255.0),
            kept(3),
            kept(4, configuration="skis", alarm_s=270.0),
        ]
    )
    drawing = trends.timers(flown)
    assert all(":" in t.text for t in drawing.y.ticks)
    assert joined(drawing) == [(1.0, 3.0), (2.0, 4.0)]


def test_a_cell_that_grows_is_the_headline():
    flown = [kept(n, ohm=(0.004, 0.004, 0.004 * (1 + 0.05 * n), 0.00401, 0.004)) for n in range(1, 8)]
    # 5 % of the start a flight: 35 ÷ 105 from the first to the last
    text = page_text(*flown)
    assert text.startswith("Cell 3 of pack A has been growing apart since flight 2.")
