"""Bytes to a table: encodings, delimiters, decimal signs, headers, broken rows."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from telemetry.errors import BadLog
from telemetry.importers.text import read_table
from telemetry.importers.text.numbers import NumberStyle, style_of, to_numbers


def table(text: str | bytes, encoding: str = "utf-8"):
    return read_table(text if isinstance(text, bytes) else text.encode(encoding), "log.csv")


def numbers(text: str | bytes, encoding: str = "utf-8") -> dict[str, list[float]]:
    return {c.header: c.numbers.tolist() for c in table(text, encoding).columns}


ROWS = [(0.0, 20.9, 1.5), (0.1, 20.8, 12.25), (0.2, 20.7, 36.0), (0.3, 20.75, 9.5)]


def written(delimiter: str, decimal: str, newline: str = "\n") -> str:
    lines = [delimiter.join(("t", "U", "I"))] + [
        delimiter.join(str(v).replace(".", decimal) for v in row) for row in ROWS
    ]
    return newline.join(lines) + newline


@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize(
    ("delimiter", "decimal"),
    [(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ","), ("|", ","), ("   ", ".")],
)
def test_every_delimiter_decimal_sign_and_line_end_gives_the_same_numbers(delimiter, decimal, newline):
    found = numbers(written(delimiter, decimal, newline))
    assert found == {"t": [r[0] for r in ROWS], "U": [r[1] for r in ROWS], "I": [r[2] for r in ROWS]}


@pytest.mark.parametrize(
    ("encoding", "said"),
    [
        ("utf-8", "utf-8"),
        ("utf-8-sig", "utf-8"),
        ("utf-16", "utf-16"),
        ("utf-16-le", "utf-16-le"),
        ("utf-16-be", "utf-16-be"),
        ("latin-1", "latin-1"),
    ],
)
def test_the_encoding_is_found_and_the_header_keeps_its_accents(encoding, said):
    found = table("Zeit;Höhe\n0,0;1,5\n0,1;2,5\n0,2;3,5\n", encoding)
    assert found.dialect.encoding == said
    assert [c.header for c in found.columns] == ["Zeit", "Höhe"]


def test_a_stray_byte_costs_its_cell_only():
    raw = b"t,U,I\n0,20.9,1\n1,20.8,2\n2,2\xff.7,3\n3,20.6,4\n"
    found = numbers(raw)
    assert np.isnan(found["U"][2])
    assert found["I"] == [1, 2, 3, 4]


def test_fifty_lines_of_preamble_are_no_header():
    preamble = "".join(f"setting {i}: {i * 3}\n" for i in range(50))
    found = table(preamble + written(",", "."))
    assert [c.header for c in found.columns] == ["t", "U", "I"]
    assert found.header_line == 51
    assert len(found.preamble) == 50


def test_a_row_of_units_is_not_joined_to_the_header():
    found = table("time;cell 1;current\ns;mV;A\n0,0;4182;1,5\n0,1;4181;1,4\n0,2;4181;1,6\n")
    assert [c.header for c in found.columns] == ["time", "cell 1", "current"]
    assert [c.unit for c in found.columns] == ["s", "mV", "A"]


def test_a_header_of_three_levels_keeps_the_lowest_name_and_the_words_above_it():
    found = table(
        "Recorder,Motor left,,Motor "
        "right,\ntime,current,rpm,current,rpm\ns,A,1/min,A,1/min\n0,1,100,1,100\n1,2,200,2,210\n2,3,300,3,320\n"
    )
    assert [c.header for c in found.columns] == ["time", "current", "rpm", "current", "rpm"]
    assert [c.group for c in found.columns] == [
        "Recorder",
        "Motor left",
        "Motor left",
        "Motor right",
        "Motor right",
    ]
    assert found.columns[2].unit == "1/min"


def test_headers_are_trimmed_and_unquoted_and_duplicates_keep_their_text():
    found = table('" t ","Temp","Temp"\n0,20,21\n1,20,22\n2,21,23\n')
    assert [c.header for c in found.columns] == ["t", "Temp", "Temp"]


def test_a_delimiter_after_the_last_value_makes_no_column():
    assert numbers("t;U\n0;1;\n1;2;\n2;3;\n") == {"t": [0, 1, 2], "U": [1, 2, 3]}
    assert numbers("t;U;\n0;1;\n1;2;\n2;3;\n") == {"t": [0, 1, 2], "U": [1, 2, 3]}


def test_a_row_cut_off_by_a_power_loss_is_rejected_with_its_line():
    found = table("t,U,I\n0,20.9,1\n1,20.8,2\n2,20.7,3\n3,20.")
    assert found.rows == 3
    assert [(r.line, r.reason) for r in found.rejected] == [(5, "2 fields where the header has 3")]


def test_remarks_repeated_headers_and_blank_lines_are_no_rows():
    found = table("t,U\n0,1\n# mark\n1,2\n\nt,U\n2,3\n3,4\n")
    assert found.columns[0].numbers.tolist() == [0, 1, 2, 3]
    assert found.rejected == ()
    assert any("restarted" in n.reason for n in found.notes)


def test_a_summary_after_the_rows_is_rejected_not_read():
    found = table("t,U\n0,1\n1,2\n2,3\n\nSummary\nhighest voltage: 21 V\n")
    assert found.rows == 3
    assert [r.line for r in found.rejected] == [6, 7]


@pytest.mark.parametrize("mark", ["-", "--", "---", "n/a", "NaN", "", "N/A"])
def test_marks_for_no_value_are_silent_not_zero(mark):
    found = numbers(f"t,U,I\n0,1,2\n1,{mark},2\n2,1,2\n3,1,2\n")
    assert np.isnan(found["U"][1])
    assert found["I"] == [2, 2, 2, 2]


def test_a_row_of_nul_bytes_is_no_row_and_one_with_some_is_rejected():
    found = table(b"t,U\n0,1\n\x00\x00\x00\x00\n1,2\n2,\x00\x00\n3,4\n4,5\n")
    assert found.columns[0].numbers.tolist() == [0, 1, 3, 4]
    assert [r.line for r in found.rejected] == [5]


@pytest.mark.parametrize(
    ("cells", "file_decimal", "expected"),
    [
        (["987", "9.312", "10.250"], ",", [987, 9312, 10250]),
        (["9.312", "10.250", "8.001"], ",", [9312, 10250, 8001]),
        (["9,312", "12,000", "640"], ".", [9312, 12000, 640]),
        (["9.31", "10.2", "8.0"], ",", [9.31, 10.2, 8.0]),
        (["0.912", "9.312"], ".", [0.912, 9.312]),
        (["1.234,5", "987,0"], ".", [1234.5, 987.0]),
        (["1,234.5", "987.0"], ",", [1234.5, 987.0]),
        (["9 312", "12 000"], ",", [9312, 12000]),
        (["9'312", "12'000"], ".", [9312, 12000]),
        (["20.9 V", "20.8 V"], ".", [20.9, 20.8]),
        (["\u22125,5", "+3,25"], ",", [-5.5, 3.25]),
    ],
)
def test_decimal_signs_and_thousands_marks(cells, file_decimal, expected):
    assert to_numbers(cells, style_of(cells, file_decimal)).tolist() == expected


def test_more_fields_than_names_is_refused_not_shifted():
    with pytest.raises(BadLog, match="3 names and the rows have 5 fields"):
        table("t,U,I\n" + "".join(f"{i},0,20,{i},1{i}\n" for i in range(5)))


def test_decimal_commas_between_commas_are_refused():
    with pytest.raises(BadLog, match="semicolons"):
        table("time,voltage\n0,1,20,93\n0,2,20,92\n0,3,20,91\n0,4,20,94\n")


def test_a_large_clean_file_gives_the_same_either_way():
    text = "t,U,I\n" + "".join(f"{i / 10:.1f},{20 + (i % 7) / 100:.2f},{i % 40}\n" for i in range(3000))
    fast, careful = (read_table(text.encode(), "log.csv", bulk_from=limit) for limit in (0, 10**9))
    for ours, theirs in zip(fast.columns, careful.columns, strict=True):
        assert np.array_equal(ours.numbers, theirs.numbers)
    assert np.array_equal(fast.lines, careful.lines)
    assert fast.dialect == careful.dialect


@pytest.mark.parametrize("oddity", ["\n# remark\n", "\n1.0,2\n", "\n---,x,y\n", "\n\n", "\nt,U,I\n"])
def test_an_oddity_deep_in_a_large_file_sends_it_the_careful_way(oddity):
    lines = [f"{i / 10:.1f},{20 + (i % 7) / 100:.2f},{i % 40}" for i in range(6000)]
    text = "t,U,I\n" + "\n".join(lines[:5500]) + oddity + "\n".join(lines[5500:]) + "\n"
    found = read_table(text.encode(), "log.csv", bulk_from=0)
    kept = found.columns[0].numbers
    assert np.array_equal(kept[np.isfinite(kept)], [i / 10 for i in range(6000)])


@given(
    st.lists(st.floats(-1e6, 1e6).map(lambda x: round(x, 4)), min_size=1, max_size=30),
    st.sampled_from([".", ","]),
)
@settings(max_examples=60, deadline=None)
def test_what_is_written_with_a_decimal_sign_is_read_back(values, decimal):
    cells = [f"{v:.4f}".replace(".", decimal) for v in values]
    assert to_numbers(cells, NumberStyle(decimal)).tolist() == [float(f"{v:.4f}") for v in values]


@given(st.lists(st.integers(0, 99_999), min_size=6, max_size=30), st.sampled_from([".", ",", " ", "'"]))
@settings(max_examples=60, deadline=None)
def test_thousands_marks_are_read_back_or_the_column_is_read_plain(values, mark):
    values = [*values, 987, 9312]
    cells = [f"{v:,}".replace(",", mark) for v in values]
    file_decimal = "," if mark == "." else "."
    assert to_numbers(cells, style_of(cells, file_decimal)).tolist() == values


@given(
    st.sampled_from([",", ";", "\t", "|"]),
    st.lists(
        st.tuples(
            st.integers(0, 999),
            st.floats(0, 60).map(lambda x: round(x, 2)),
            st.floats(0, 99).map(lambda x: round(x, 1)),
        ),
        min_size=4,
        max_size=40,
    ),
    st.booleans(),
)
@settings(max_examples=60, deadline=None)
def test_any_plain_table_is_read_back(delimiter, rows, quoted):
    def line(fields):
        return delimiter.join(f'"{f}"' if quoted else str(f) for f in fields)

    text = "\n".join([line(("a", "b", "c")), *(line((x, f"{y:.2f}", f"{z:.1f}")) for x, y, z in rows)])
    found = numbers(text)
    assert found["a"] == [float(r[0]) for r in rows]
    assert found["b"] == [float(f"{r[1]:.2f}") for r in rows]


@given(st.binary(max_size=400))
@settings(max_examples=150, deadline=None)
def test_no_bytes_make_the_reader_fall_over(raw):
    try:
        read_table(raw, "log.csv")
    except BadLog as error:
        assert str(error).startswith("log.csv")


def test_a_sentinel_of_three_digits_does_not_turn_decimals_into_thousands():
    cells = [f"4.{n}" for n in range(100, 300)] + ["-999", "999"]
    assert to_numbers(cells, style_of(cells, "."))[0] == 4.1


def test_a_remark_above_aligned_columns_is_no_header_row():
    text = (
        "# line 49: nothing to see\n time  motor_1  motor_2\n  0.0      1.5      2.5\n  0.1      1.6      "
        "2.4\n  0.2      1.7      2.6\n"
    )
    assert [(c.header, c.group) for c in table(text).columns] == [
        ("time", ""),
        ("motor_1", ""),
        ("motor_2", ""),
    ]


def test_a_superscript_is_no_digit_and_a_number_beyond_reason_no_reading():
    cells = ["0²", "1e308", "3"]
    found = to_numbers(cells, style_of(cells, "."))
    assert np.isnan(found[:2]).all()
    assert found[2] == 3


def test_a_row_that_lost_a_field_is_not_shifted_under_the_wrong_headings():
    lines = ["t,U,I,", *(f"{0.1 * i:.1f},20.{i % 10},{i % 7}," for i in range(60))]
    lines[31] = lines[31].replace(",", "", 1)
    found = table("\n".join(lines))
    assert found.rows == 59
    assert [r.line for r in found.rejected] == [32]
