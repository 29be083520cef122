"""The reader against the rules others set for CSV."""

from __future__ import annotations

import clevercsv
import pytest

from telemetry.importers.text import read_table
from telemetry.importers.text.dialect import best_split, records
from telemetry.importers.units import units_named

RFC = "RFC 4180, section 2 (rules from memory; the cases are written here)"


def fields(text: str, delimiter: str = ",") -> list[tuple[str, ...]]:
    return [r.fields for r in records(text, delimiter)]


@pytest.mark.source(RFC)
@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            "aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n",
            [("aaa", "bbb", "ccc"), ("zzz", "yyy", "xxx")],
        ),  # rule 1: each record on its own line
        (
            "aaa,bbb,ccc\r\nzzz,yyy,xxx",
            [("aaa", "bbb", "ccc"), ("zzz", "yyy", "xxx")],
        ),  # rule 2: the last may lack its end
        ("a, b ,c\r\n", [("a", " b ", "c")]),  # rule 4: blanks belong to the field
        ('"aaa","b b",ccc\r\n', [("aaa", "b b", "ccc")]),  # rule 5: quotes may enclose a field
        ('"aaa","b\r\nbb","ccc"\r\n', [("aaa", "b\r\nbb", "ccc")]),  # rule 6: line ends within quotes
        ('"a,b","c;d"\r\n', [("a,b", "c;d")]),  # rule 6: delimiters within quotes
        ('"a","b ""q"" b","c"\r\n', [("a", 'b "q" b', "c")]),  # rule 7: a doubled quote is one
        ("1,,3\r\n", [("1", "", "3")]),  # an empty field is a field
        ('1,"",3\r\n', [("1", "", "3")]),
        ("a,b\n1,2\n", [("a", "b"), ("1", "2")]),  # as found in the wild: LF
        ("a,b\r1,2\r", [("a", "b"), ("1", "2")]),  # and CR
        ('"",""\r\n"",""\r\n', [("", ""), ("", "")]),
        ('{"k": 1},x\r\n', [('{"k": 1}', "x")]),  # a quote within an unquoted field stays
        ("ä,ʤ\r\n", [("ä", "ʤ")]),
    ],
)
def test_records_and_fields(text, expected):
    assert fields(text) == expected


@pytest.mark.source(RFC)
def test_a_quoted_header_may_hold_delimiters_quotes_and_line_ends():
    raw = b'"time, s","U ""pack"" (V)","line\r\nbreak"\r\n0,20.9,1\r\n1,20.8,2\r\n2,20.7,3\r\n'
    assert [c.header for c in read_table(raw, "log.csv").columns] == ["time, s", 'U "pack" (V)', "line break"]


@pytest.mark.source(
    "clevercsv, dialect detection of Van den Burg, Nazábal and Sutton (2019), as a second opinion"
)
@pytest.mark.parametrize(
    ("delimiter", "decimal"),
    [(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ","), ("|", "."), ("|", ",")],
)
@pytest.mark.parametrize("unit_row", [False, True])
def test_a_second_opinion_on_the_delimiter(delimiter, decimal, unit_row):
    lines = [delimiter.join(("Time", "Pack voltage", "Current", "Speed"))] + (
        [delimiter.join(("s", "V", "A", "rpm"))] if unit_row else []
    )
    lines += [
        delimiter.join(
            (f"{i / 10:.1f}", f"{20.9 - i % 7 / 100:.2f}", f"{i % 31:.1f}", f"{100 * (i % 31)}")
        ).replace(".", decimal)
        for i in range(120)
    ]
    text = "\n".join(lines) + "\n"
    theirs = clevercsv.Sniffer().sniff(text, verbose=False)
    assert best_split(text).delimiter == delimiter == theirs.delimiter


@pytest.mark.source(
    "international mile and knot: 1852 m, 1609.344 m, 0.3048 m exactly (BIPM and NIST SP 811, from memory); "
    "ITS-90 degrees by definition"
)
@pytest.mark.parametrize(
    ("unit", "dimension", "written", "expected"),
    [
        ("kt", "speed", 1.0, 1852 / 3600),
        ("mph", "speed", 1.0, 1609.344 / 3600),
        ("km/h", "speed", 36.0, 10.0),
        ("ft", "length", 1000.0, 304.8),
        ("ft/min", "speed", 100.0, 0.508),
        ("°F", "temperature", 212.0, 100.0),
        ("°F", "temperature", 32.0, 0.0),
        ("K", "temperature", 273.15, 0.0),
        ("Ah", "charge", 7.17, 7170.0),
        ("As", "charge", 3600.0, 1000.0),
        ("J", "energy", 3600.0, 1.0),
        ("1/s", "rotation", 150.0, 9000.0),
        ("rad/s", "rotation", 100.0, 954.9296585513721),
        ("kgf", "force", 1.0, 9.80665),
        ("lbf", "force", 1.0, 4.4482216152605),
    ],
)
def test_units_convert_as_they_are_defined(unit, dimension, written, expected):
    found = next(u for u in units_named(unit) if u.dimension == dimension)
    assert found.factor * written + found.offset == pytest.approx(expected, rel=1e-9, abs=1e-9)
