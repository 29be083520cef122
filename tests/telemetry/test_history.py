"""A table of past flights, as its owner keeps it."""

from __future__ import annotations

import pytest

from telemetry.errors import BadHistory
from telemetry.history import PastFlight, read_history

HEADER = "duration_s,consumed_mah,configuration"


@pytest.fixture
def table(tmp_path):
    def write(text, *, encoding="utf-8"):
        path = tmp_path / "flights.csv"
        path.write_bytes(text.encode(encoding))
        return path

    return write


def test_a_row_is_a_flight_and_300_s_for_3000_mah_are_600_a_minute(table):
    (flight,) = read_history(table(f"{HEADER}\n300,3000,skis\n"))
    assert flight == PastFlight(300.0, 3000.0, "skis")
    assert flight.rate_mah_per_min == 600.0


def test_every_optional_column_is_read_in_any_order(table):
    header = "date,pack,consumed_mah,duration_s,configuration,temperature_c,put_back_mah"
    text = f"{header}\n2026-06-14T10:03:07+02:00,B,3000,300,,-4.5,3050\n"
    for date in ("2026-06-14T10:03:07+02:00", "2026-06-14 00:30 UTC+02:00", "2026-06-14 00:30 UTC"):
        found = read_history(table(text.replace("2026-06-14T10:03:07+02:00", date)))
        assert found == (PastFlight(300.0, 3000.0, "", "2026-06-14", "B", 3050.0, -4.5),)


def test_a_list_vouches_for_full_packs_unless_it_says_how_full_they_began(table):
    (vouched,) = read_history(table(f"{HEADER}\n300,3000,\n"))
    assert vouched.start_charge_fraction == 1.0
    full, part, unknown = read_history(
        table(f"{HEADER},start_charge_fraction\n300,3000,,0.98\n300,3000,,0.6\n300,3000,,\n")
    )
    assert (full.start_charge_fraction, part.start_charge_fraction) == (0.98, 0.6)
    assert unknown.start_charge_fraction is None


def test_blank_optional_fields_are_unknown_not_zero(table):
    (flight,) = read_history(
        table("duration_s,consumed_mah,configuration,put_back_mah,temperature_c\n300,3000,,,\n")
    )
    assert flight.put_back_mah is None
    assert flight.temperature_c is None


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
def test_a_configuration_keeps_its_umlaut_in_every_encoding(table, encoding):
    assert read_history(table(f"{HEADER}\n300,3000,Räder\n", encoding=encoding))[0].configuration == "Räder"


def test_semicolons_and_decimal_commas(table):
    assert read_history(table("duration_s;consumed_mah;configuration\n300,5;3004,8;skis\n"))[0] == PastFlight(
        300.5, 3004.8, "skis"
    )


def test_the_owners_own_columns_are_left_alone(table):
    assert len(read_history(table(f"{HEADER},pilot,note\n300,3000,,me,windy\n"))) == 1


def test_a_header_alone_is_a_season_without_flights(table):
    assert read_history(table(f"{HEADER}\n")) == ()


def test_trailing_commas_and_blank_lines_do_no_harm(table):
    assert len(read_history(table(f"{HEADER}\n300,3000,,\n\n,,\n310,3100,\n"))) == 2


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "the file is empty"),
        ("seconds,mah\n300,3000\n", "the header lacks duration_s and consumed_mah and configuration"),
        (
            f"{HEADER}\n300,3000,\n0,3000,\n",
            "flights.csv, line 3, duration_s: '0' cannot be. Give the powered time",
        ),
        (f"{HEADER}\n300,nan,\n", "line 2, consumed_mah: 'nan' cannot be"),
        (f"{HEADER}\n300,,\n", "line 2, consumed_mah: nothing stands there"),
        (f"{HEADER}\n300,-5,\n", "line 2, consumed_mah: '-5' cannot be"),
        (f"{HEADER}\n300,3000\n", "line 2: 2 fields where the header has 3"),
        (f"{HEADER},date\n300,3000,,14.6.26\n", "line 2, date: '14.6.26' is not a date"),
        (f"{HEADER},date\n300,3000,,2026-06-31\n", "line 2, date: '2026-06-31' is not a date"),
        (
            f"{HEADER},put_bak_mah\n300,3000,,3100\n",
            "put_bak_mah: the header says 'put_bak_mah'. Write put_back_mah",
        ),
        (f"{HEADER},pack,pack\n300,3000,,A,B\n", "pack: the column stands there twice"),
    ],
)
def test_a_bad_table_is_one_sentence_with_its_place(table, text, says):
    with pytest.raises(BadHistory) as error:
        read_history(table(text))
    assert says in str(error.value)
    assert "\n" not in str(error.value)


def test_a_missing_file_a_folder_and_a_picture_are_refused(tmp_path):
    picture = tmp_path / "picture.png"
    picture.write_bytes(b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\xff\xfe")
    for path, says in (
        (tmp_path / "none.csv", "no such file"),
        (tmp_path, "cannot be read"),
        (picture, "not a text file"),
    ):
        with pytest.raises(BadHistory, match=says):
            read_history(path)


@pytest.mark.parametrize("value", ["9" * 5000, '"3\n61"', "x" * 200_000])
def test_a_value_without_end_or_over_two_lines_is_one_short_sentence(table, value):
    with pytest.raises(BadHistory) as caught:
        read_history(table(f"{HEADER}\n{value},3000,skis\n"))
    said = str(caught.value)
    assert said.startswith("flights.csv, line ")
    assert "duration_s: '" in said or "cannot be split" in said or "field larger" in said
    assert len(said) < 200
    assert "\n" not in said
