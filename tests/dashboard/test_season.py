"""The list of flights and the season over it, from facts written by hand."""

from __future__ import annotations

import pytest

from dashboard.drawings import season
from dashboard.drawings.marks import Dot, Line
from dashboard.pages import flights
from dashboard.paper import html_text
from telemetry.logbook import KeptFlight
from telemetry.season.open_checks import OpenCheck, Raised


def kept(number, *, pack="A", configuration="", kind="flight", aircraft="Twin", date="", ohm=(0.004,) * 5, **more):
    facts = {
        "duration_s": 300.0, "airborne_s": 280.0, "consumed_mah": 1800.0, "headline": "Fly again, with the timer at 6 min.",
        "verdicts": {}, "severities": {}, "first_severity": "", "first_key": "", "first_finding": "", "lowest_cell_v": 3.6, "lowest_cell": 2,
        "least_margin_fraction": 0.4, "least_margin_part": "pack", "imbalance_fraction": None, "alarm_s": 360.0, "spark_a": (), "files": (),
    }  # fmt: skip
    return KeptFlight(
        id=number,
        date=date,
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
    flown = [kept(1), kept(2, pack="B"), kept(3), kept(4, configuration="skis"), kept(5, configuration="skis"), kept(6, pack="B")]
    assert joined(season.season(flown)[0]) == [(1.0, 3.0), (2.0, 6.0), (4.0, 5.0)]


def test_the_season_is_in_the_order_flown_and_of_one_aircraft():
    flown = [kept(1, date="2026-06-02"), kept(2, date="2026-06-01"), kept(3, aircraft="Other", date="2026-05-01"), kept(4, date="2026-06-03")]
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
    return [html_text(h.children) if isinstance(h.children, str) else h.children.children for h in head.children.children], body.children


def test_a_bench_run_shows_neither_a_timer_nor_a_time_in_the_air():
    head, rows = table_rows(kept(2, kind="bench", airborne_s=None, configuration=""), kept(1))
    said = dict(zip(head, cells_of(rows[0]), strict=False))
    assert said["kind"] == "bench run"
    assert said["in the air, min:s"] == said["timer next, min:s"] == ""
    assert dict(zip(head, cells_of(rows[1]), strict=False))["timer next, min:s"] == "6:00"


def test_columns_that_would_be_empty_are_left_out():
    head, _ = table_rows(kept(1), kept(2))
    assert not {"kind", "date", "fitted with"} & set(head)
    head, _ = table_rows(kept(1, date="2026-06-01", configuration="skis"), kept(2))
    assert {"date", "fitted with"} <= set(head)


def test_an_open_check_is_carried_under_the_newest_answer():
    still = OpenCheck(2, "B", Raised("check", "weak_cell_resistance", "cell 3", "Cell 3 is weak."))
    newest = kept(6, headline="Fly again, with the timer at 9 min 15 s.")
    text = flights.opening((newest, kept(2, pack="B")), newest, (still,))
    title, todo = text.children
    assert "Flight 6: Fly again, with the timer at 9\u00a0min 15\u00a0s." in html_text(title)
    (line,) = todo.children
    assert [c.href for c in line.children if hasattr(c, "href")] == ["/flights/2"]
    assert line.className == "is-check"


def test_a_logbook_with_nothing_open_says_nothing_of_it():
    newest = kept(1)
    assert len(flights.opening((newest,), newest, ()).children) == 1
