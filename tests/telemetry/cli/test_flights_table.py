"""`sagline flights` as a table: a header with units, a flight a line."""

from __future__ import annotations

import re

import pytest

from telemetry.cli.listing import flight_table
from telemetry.logbook import KeptFlight


def kept(number=1, **said):
    plain = {
        "date": "2025-04-06 09:42",
        "kind": "flight",
        "aircraft": "Test Twin",
        "configuration": "",
        "pack": "",
        "duration_s": 308.0,
        "airborne_s": 276.0,
        "consumed_mah": 1758.4,
        "headline": "",
        "verdicts": {},
        "severities": {},
        "first_severity": "",
        "first_key": "",
        "first_finding": "",
        "lowest_cell_v": None,
        "lowest_cell": None,
        "least_margin_fraction": None,
        "least_margin_part": "",
        "imbalance_fraction": None,
        "alarm_s": 485.0,
        "cell_resistances_ohm": (),
        "spark_a": (),
        "files": ("maiden.csv",),
    }
    return KeptFlight(id=number, **{**plain, **said})


def cells(line: str) -> list[str]:
    return re.split(r" {2,}", line.strip())


def test_a_header_with_units_then_a_flight_a_line():
    header, line = flight_table([kept()]).splitlines()
    said = dict(zip(cells(header), cells(line), strict=True))
    assert said == {
        "no.": "1",
        "flown": "2025-04-06 09:42",
        "fitted with": "as it stands",
        "aloft, min:s": "4:36",
        "powered, min:s": "5:08",
        "drawn, mAh": "1758",
        "timer, min:s": "8:05",
        "what to do": "-",
    }


def test_a_bench_run_has_no_timer_and_no_time_in_the_air():
    table = flight_table([kept(1, kind="bench"), kept(2)]).splitlines()
    bench = dict(zip(cells(table[0]), cells(table[1]), strict=True))
    assert bench["kind"] == "bench run"
    assert bench["timer, min:s"] == bench["aloft, min:s"] == "-"
    assert bench["powered, min:s"] == "5:08"


def test_what_is_unknown_is_a_dash_and_what_is_unknown_of_all_is_no_column():
    undated = kept(1, date="", duration_s=None, airborne_s=None, consumed_mah=None, alarm_s=None, aircraft="")
    table = flight_table([undated, kept(2, aircraft="", pack="B")]).splitlines()
    assert "fitted with" not in table[0]
    first = dict(zip(cells(table[0]), cells(table[1]), strict=True))
    assert {
        first[k] for k in ("flown", "pack", "aloft, min:s", "powered, min:s", "drawn, mAh", "timer, min:s")
    } == {"-"}


def test_columns_stand_under_their_headings():
    lines = flight_table(
        [kept(9, consumed_mah=980.0), kept(10, configuration="skis", pack="spare one")]
    ).splitlines()
    ends = [line.index("8:05") + 4 for line in lines[1:]]
    assert ends == [lines[0].index("timer, min:s") + len("timer, min:s")] * 2


@pytest.mark.parametrize(("columns", "whole"), [("400", True), ("120", False)])
def test_what_to_do_is_a_first_sentence_and_fits_the_terminal(columns, whole, monkeypatch):
    monkeypatch.setenv("COLUMNS", columns)
    finding = "Cell 3 fell to 3.12 V under load. Do not fly this pack before you know why."
    said = flight_table([kept(first_severity="stop", first_finding=finding)]).splitlines()[1]
    assert said.endswith("stop: Cell 3 fell to 3.12 V under load." if whole else "…")
    assert whole or len(said) <= int(columns)


@pytest.mark.parametrize(
    ("columns", "left_out"),
    [
        ("130", set()),
        ("110", {"powered, min:s"}),
        ("104", {"powered, min:s", "pack"}),
        ("80", {"powered, min:s", "pack", "fitted with"}),
    ],
)
def test_a_narrow_terminal_leaves_out_what_tells_least(columns, left_out, monkeypatch):
    monkeypatch.setenv("COLUMNS", columns)
    table = flight_table(
        [kept(1, pack="B", first_severity="check", first_finding="Cell 3 is weak. Measure it."), kept(2)]
    ).splitlines()
    headings = {"powered, min:s", "pack", "fitted with", "drawn, mAh", "timer, min:s", "what to do"}
    assert headings - set(cells(table[0])) == left_out
    assert max(map(len, table)) <= int(columns)


def test_a_logbook_of_two_aircraft_names_them():
    assert "aircraft" in flight_table([kept(1), kept(2, aircraft="Other Twin")]).splitlines()[0]
    assert "aircraft" not in flight_table([kept(1), kept(2)]).splitlines()[0]
