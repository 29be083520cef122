"""A real lithium-polymer cell (jsimonclark/five-star-battery-data, CC BY 4.0), read in fifteen dialects."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from telemetry.importers.log import read_log
from telemetry.trace import Trace

pytestmark = [
    pytest.mark.open_data,
    pytest.mark.source(
        "five-star-battery-data 3c6231cc, raw_data_output_from_cycler.csv, steps 20 and 21: its own DChg. "
        "Cap. 7.1700 Ah, energy 26.0986 Wh, peak 59.463 A"
    ),
]


@pytest.fixture(scope="module")
def rows() -> list[list[str]]:
    path = Path(os.environ["SAGLINE_OPEN_DATA"]) / "lipo_rate_test" / "discharge_59A.csv"
    return list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"))))


def as_text(
    rows: list[list[str]], delimiter: str = ",", decimal: str = ".", quote: bool = False, newline: str = "\n"
) -> str:
    out = io.StringIO()
    writer = csv.writer(
        out,
        delimiter=delimiter,
        quoting=csv.QUOTE_ALL if quote else csv.QUOTE_MINIMAL,
        lineterminator=newline,
    )
    head, *body = rows
    numeric = {
        i for i, c in enumerate(body[0]) if c.replace(".", "").replace("-", "").isdigit() and "-" not in c[1:]
    }
    writer.writerow(head)
    writer.writerows(
        [c.replace(".", decimal) if i in numeric else c for i, c in enumerate(row)] for row in body
    )
    return out.getvalue()


def scaled(rows: list[list[str]], header: str, new: str, factor: float) -> list[list[str]]:
    at = rows[0].index(header)
    return [
        [*r[:at], new if i == 0 else f"{float(r[at]) * factor:.10g}", *r[at + 1 :]]
        for i, r in enumerate(rows)
    ]


def unit_row(rows: list[list[str]]) -> list[list[str]]:
    head = rows[0]
    names = [h.split("(")[0] for h in head]
    units = [h.split("(")[1].rstrip(")") if "(" in h else "" for h in head]
    return [names, units, *rows[1:]]


def only(rows: list[list[str]], *headers: str) -> list[list[str]]:
    at = [rows[0].index(h) for h in headers]
    return [[r[i] for i in at] for r in rows]


def renamed(rows: list[list[str]], **names: str) -> list[list[str]]:
    return [[names.get(h.split("(")[0].replace(" ", "_"), h) for h in rows[0]], *rows[1:]]


German = {
    "Total_Time": "Zeit (s)",
    "Current": "Strom (A)",
    "Voltage": "Spannung (V)",
    "DChg._Cap.": "Entnommene Ladung (Ah)",
    "Power": "Leistung (W)",
}
Four = ("Total Time(s)", "Current(A)", "Voltage(V)", "DChg. Cap.(Ah)")

DIALECTS: dict[str, Callable[[list[list[str]]], bytes]] = {
    "as published": lambda r: as_text(r).encode(),
    "byte order mark": lambda r: as_text(r).encode("utf-8-sig"),
    "UTF-16": lambda r: as_text(r).encode("utf-16"),
    "semicolon, decimal comma": lambda r: as_text(r, ";", ",").encode(),
    "tab, decimal comma": lambda r: as_text(r, "\t", ",").encode(),
    "bar": lambda r: as_text(r, "|").encode(),
    "every field quoted, decimal comma between commas": lambda r: as_text(r, ",", ",", quote=True).encode(),
    "CRLF": lambda r: as_text(r, newline="\r\n").encode(),
    "CR": lambda r: as_text(r, newline="\r").encode(),
    "a row of units": lambda r: as_text(unit_row(r)).encode(),
    "preamble": lambda r: ("cell tester\nchannel 3\n\n" + as_text(r)).encode(),
    "milliamperes and millivolts": lambda r: as_text(
        scaled(scaled(r, "Current(A)", "Current(mA)", 1000), "Voltage(V)", "Voltage(mV)", 1000)
    ).encode(),
    "positive current": lambda r: as_text(
        scaled(scaled(r, "Current(A)", "Current(A)", -1), "Power(W)", "Power(W)", -1)
    ).encode(),
    "German, Latin-1": lambda r: as_text(renamed(r, **German), ";", ",").encode("latin-1"),
    "four columns, milliseconds": lambda r: as_text(
        scaled(only(r, *Four), "Total Time(s)", "Total Time(ms)", 1000)
    ).encode(),
}


@pytest.fixture(params=list(DIALECTS))
def trace(request, rows, tmp_path) -> Trace:
    path = tmp_path / "discharge.csv"
    path.write_bytes(DIALECTS[request.param](rows))
    return read_log(path)


def test_the_charge_is_7_170_ampere_hours_in_every_dialect(trace):
    samples = trace.fresh("current_a")
    assert samples.values.min() >= 0
    # the file's own counter is rounded to 0.1 mAh; a line between samples 10 s apart loses less than 0.1 %
    assert np.trapezoid(samples.values, samples.time_s) / 3.6 == pytest.approx(7170.0, rel=1e-3)
    assert trace.channels["charge_mah", ""].values[-1] == pytest.approx(7170.0, rel=1e-4)
    assert trace.channels["charge_mah", ""].header.startswith(("DChg. Cap.", "Entnommene"))


def test_the_peak_and_the_lowest_voltage_are_exact(trace):
    assert trace.fresh("current_a").values.max() == pytest.approx(59.4627, abs=5e-4)
    assert trace.fresh("pack_voltage_v").values.min() == pytest.approx(2.9997, abs=5e-5)


def test_what_is_not_connected_and_what_is_no_reading_stays_out(trace):
    assert trace.positions("cell_voltage_v") == ()
    assert {
        c.status for c in trace.sources[0].columns if c.header.startswith(("V1", "V2", "V3", "Contact"))
    } <= {"ignored"}


def test_the_energy_is_within_a_fifth_of_a_percent(trace):
    samples, volts = trace.fresh("current_a"), trace.fresh("pack_voltage_v")
    assert np.trapezoid(samples.values * volts.values, samples.time_s) / 3600 == pytest.approx(
        26.0986, rel=2e-3
    )
