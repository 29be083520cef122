"""One small log for each way in which times, days and letters are written elsewhere."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from telemetry.importers.clock.compact import compact_times, days_of
from telemetry.importers.text.codepages import code_page

N = 300
TIME = 0.2 * np.arange(N)
AMPS = np.where(np.arange(N) < 20, 0.0, np.where((np.arange(N) // 25) % 2, 12.0, 36.0))
CHARGE = np.concatenate([[0.0], np.cumsum(0.2 * (AMPS[1:] + AMPS[:-1]) / 2 / 3.6)])
VOLTS = 20.9 - 0.01 * AMPS - 0.0002 * CHARGE
TAKEN_AT = datetime(2025, 6, 14, 9, 23, 41, tzinfo=UTC)


def flown(
    stamps: list[str],
    header: str = "Time,Voltage (V),Current (A),Charge (mAh)",
    decimal: str = ".",
    mark: str = ",",
) -> str:
    lines = [header]
    for stamp, volts, amps, charge in zip(stamps, VOLTS, AMPS, CHARGE, strict=True):
        lines.append(
            mark.join(
                [
                    stamp,
                    *(
                        text.replace(".", decimal)
                        for text in (f"{volts:.2f}", f"{amps:.1f}", f"{charge:.0f}")
                    ),
                ]
            )
        )
    return "\n".join(lines) + "\n"


def stamps(form: str | Callable[[datetime], str], begin: datetime = TAKEN_AT) -> list[str]:
    moments = [begin + timedelta(milliseconds=200 * i) for i in range(N)]
    return [
        form(m) if callable(form) else m.strftime(form)[: -3 if form.endswith("%f") else None]
        for m in moments
    ]


def is_the_flight(trace) -> bool:
    return (
        trace.duration_s == pytest.approx(59.8, abs=0.2)
        and trace.channels["current_a", ""].values.max() == pytest.approx(36.0)
        and trace.channels["charge_mah", ""].values.max() == pytest.approx(CHARGE[-1], abs=0.6)
        and trace.has("pack_voltage_v")
    )


@pytest.mark.parametrize(
    "begin", [TAKEN_AT, TAKEN_AT.replace(hour=0, minute=0), TAKEN_AT.replace(hour=23, minute=59)]
)
@pytest.mark.parametrize(
    "form",
    [
        "%H%M%S",
        "%H%M%S.%f",
        "%H%M%S%f",
        "%H:%M:%S.%f",
        "%Y%m%d%H%M%S.%f",
        "%Y%m%d_%H%M%S.%f",
        "%Y%m%d %H%M%S.%f",
        "%Hh%Mm%S.%f",
    ],
)
def test_a_time_without_colons_is_a_time(read, form, begin):
    trace = read(flown(stamps(form, begin)))
    assert is_the_flight(trace)
    assert np.all(np.diff(trace.time_s) < 0.41)


def test_an_hour_of_one_digit_has_lost_its_zero(read):
    assert is_the_flight(read(flown([s.lstrip("0") for s in stamps("%H%M%S.%f")])))


@pytest.mark.parametrize(
    "form",
    [
        lambda m: f"{1000 * m.timestamp():.0f}",
        lambda m: f"{1e6 * m.timestamp():.0f}",
        lambda m: f"{round(1000 * m.timestamp()) * 1_000_000}",
        lambda m: f"{m.timestamp():.3f}",
        # spreadsheets count days from 30 December 1899 (ECMA-376 part 1, 18.17.4, from memory)
        lambda m: f"{m.timestamp() / 86_400 + 25_569:.8f}",
    ],
)
def test_seconds_since_1970_in_any_size_and_a_spreadsheet_s_days(read, form):
    trace = read(flown(stamps(form)))
    assert is_the_flight(trace)
    assert -trace.sources[0].clock.offset_s.value == pytest.approx(TAKEN_AT.timestamp(), abs=0.01)


@pytest.mark.parametrize(
    "day", ["20250614", "14062025", "14.06.2025", "14. 6. 2025", "2025.06.14.", "2025-06-14", "06/14/25"]
)
@pytest.mark.parametrize("form", ["%H%M%S.%f", "%H:%M:%S.%f"])
def test_a_day_in_a_column_of_its_own_joins_the_time_of_day(read, day, form):
    trace = read(
        flown([f"{day},{s}" for s in stamps(form)], "Date,Time,Voltage (V),Current (A),Charge (mAh)")
    )
    assert is_the_flight(trace)
    assert -trace.sources[0].clock.offset_s.value == pytest.approx(TAKEN_AT.timestamp(), abs=0.01)


@given(
    st.floats(0, 5000),
    st.sampled_from([0.02, 0.05, 0.1, 0.2, 0.25, 0.5, 1.0, 2.0]),
    st.integers(70, 1000),
    st.sampled_from([1.0, 1e3, 1e6]),
)
@settings(max_examples=200, deadline=None)
def test_a_plain_count_of_seconds_is_no_time_of_day(start, step, seconds, per_second):
    assert compact_times(np.round((start + np.arange(0.0, seconds, step)) * per_second, 3)) is None


def test_numbers_that_name_no_day_are_none():
    assert days_of(np.array([20251301.0])) is None
    assert days_of(np.array([20250614.5])) is None


CZECH = "Čas (s);Napětí (V);Odběr proudu (A);Spotřebovaná kapacita (mAh)"
HUNGARIAN = "Idő (s);Feszültség (V);Áram (A);Felhasznált töltés (mAh)"
POLISH = "Czas (s);Napięcie pakietu (V);Natężenie prądu (A);Zużyta pojemność (mAh)"
RUSSIAN = "Время, с;Напряжение батареи, В;Ток, А;Израсходовано, мАч"


@pytest.mark.parametrize(
    ("header", "page"),
    [
        *(
            (h, page)
            for h in (CZECH, HUNGARIAN, POLISH)
            for page in ("cp1250", "iso8859-2", "utf-8", "utf-16", "utf-32")
        ),
        *((RUSSIAN, page) for page in ("cp1251", "koi8-r", "utf-8")),
    ],
)
def test_headings_of_the_east_are_read_in_their_code_page(read, header, page):
    trace = read(flown([f"{t:.1f}".replace(".", ",") for t in TIME], header, ",", ";"), encoding=page)
    assert is_the_flight(trace)
    assert [c.header for c in trace.sources[0].columns] == header.split(";")


@pytest.mark.parametrize(
    "header",
    [
        "Zeit;Höhe (m);Kapazität;Änderung",
        "Temps;Régime à gauche;Énergie",
        "Tensão;Rotação;Altitude",
        "Spänning;Varvtal höger",
        "Größe;T (°C);µs",
    ],
)
def test_headings_of_the_west_stay_in_theirs(header):
    assert code_page(header.encode("latin-1")) == "latin-1"
    assert code_page((header + ";€").encode("cp1252")) == "cp1252"


def test_an_accent_does_not_make_a_letter_beside_it_a_symbol(read):
    # "töltés" holds a lone t only for who takes ö for a gap
    trace = read(flown([f"{t:.1f}" for t in TIME], "Time (s),Voltage (V),Current (A),Föltêsé (mAh)"))
    assert trace.sources[0].columns[3].quantity == "charge_mah"
    assert trace.duration_s == pytest.approx(59.8)


BODY = flown([f"{t:.1f}" for t in TIME], "Time,Voltage,Current,Charge").splitlines()
UNITS = "[s],[V],[A],[mAh]"


@pytest.mark.parametrize(
    "lines",
    [
        [BODY[0], UNITS, *BODY[1:]],
        [BODY[0], UNITS.replace("[", "(").replace("]", ")"), *BODY[1:]],
        [BODY[0], UNITS, *BODY[1:100], BODY[0], UNITS, *BODY[100:]],
        [*BODY, "", "Total,,,", "Max,20.9,36.0,358", "Mean,19.5,22.1,"],
        [*BODY, "Flight time;00:01:00", "MAX: 36 A"],
        [*BODY[:100], "\x00" * 64, *BODY[100:]],
        [*BODY, "\x00" * 4096],
        [*BODY, "\x1a"],
    ],
    ids=[
        "unit row []",
        "unit row ()",
        "header twice with units",
        "summary",
        "words after the end",
        "nul row",
        "nul tail",
        "end mark",
    ],
)
def test_what_stands_around_the_rows_is_not_read_as_rows(read, lines):
    for text in ("\n".join(lines), "\r\n".join(lines) + "\r\n"):
        trace = read(text)
        assert is_the_flight(trace)
        assert trace.time_s.size == N


@pytest.mark.parametrize("group", [",", "'", "\u202f", "\u00a0", " "])
def test_thousands_may_be_grouped_by_any_sign(read, group):
    lines = ["Time (s);Voltage (mV);Current (mA);Charge (mAh)"]
    lines += [
        f"{t:.1f};{1000 * v:,.0f};{1000 * a:,.0f};{q:.0f}".replace(",", group)
        for t, v, a, q in zip(TIME, VOLTS, AMPS, CHARGE, strict=True)
    ]
    assert is_the_flight(read("\n".join(lines)))


def test_one_broken_letter_does_not_change_the_code_page_of_the_rest(read):
    raw = (
        flown([f"{t:.1f}".replace(".", ",") for t in TIME], POLISH, ",", ";")
        .encode()
        .replace("Zużyta".encode(), b"Zu\xf5yta")
    )
    trace = read(raw)
    assert trace.sources[0].encoding == "utf-8"
    assert trace.sources[0].columns[2].header == "Natężenie prądu (A)"
