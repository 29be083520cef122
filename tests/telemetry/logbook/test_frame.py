"""The logbook as a table."""

from __future__ import annotations

import math

from telemetry.logbook import Logbook


def test_a_row_a_flight_with_its_facts(book, write_log, sheet):
    book.keep([write_log("2026-06-14.csv", cruise_a=24.0)], sheet=sheet, configuration="skis")
    book.keep([write_log("2026-06-21.csv", cruise_a=22.0)], sheet=sheet)
    frame, kept = book.to_frame(), book.flights()
    assert (frame.index.name, frame.index.tolist()) == ("id", [1, 2])
    assert frame["date"].tolist() == ["2026-06-14", "2026-06-21"]
    assert frame["configuration"].tolist() == ["skis", ""]
    assert frame["consumed_mah"].tolist() == [f.consumed_mah for f in kept]
    assert frame["consumed_low"].tolist() == [f.consumed.low for f in kept]
    assert (frame["consumed_low"] <= frame["consumed"]).all()
    assert frame["verdicts_cells"].tolist() == [f.verdicts["cells"] for f in kept]
    assert frame["files"].tolist() == ["2026-06-14.csv", "2026-06-21.csv"]
    assert not [c for c in frame.columns if c.startswith(("latitude", "longitude", "spark"))]


def test_the_place_is_told_only_when_asked_for(book, tmp_path):
    head = "Time s,Current A,Altitude m,Latitude,Longitude"
    rows = []
    for step in range(600):
        t = step / 2
        flying = 30 < t < 270
        current = (24.0 if flying else 0.3) + 0.05 * ((7 * step) % 5 - 2)
        height = (60.0 if flying else 0.0) + 0.1 * (step % 3)
        place = f"{52.5 + 1e-5 * step:.5f},{4.25 + 1e-5 * step:.5f}" if step >= 4 else ","
        rows.append(f"{t:.1f},{current:.2f},{height:.1f},{place}")
    located = tmp_path / "located.csv"
    located.write_text("\n".join([head, *rows]) + "\n")
    book.keep([located])
    assert "latitude_deg" not in book.to_frame()
    first = book.to_frame(position=True).loc[1]
    assert (first["latitude_deg"], first["longitude_deg"]) == (52.50004, 4.25004)


def test_a_flight_whose_log_knows_no_place_has_none(book, write_log):
    book.keep([write_log("a.csv")])
    assert math.isnan(book.to_frame(position=True).loc[1, "latitude_deg"])


def test_a_logbook_that_keeps_nothing_is_an_empty_table(tmp_path):
    frame = Logbook(tmp_path / "none").to_frame()
    assert frame.empty
    assert "date" in frame.columns
