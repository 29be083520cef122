"""What the log gives: pack only, motors only, coarse steps, silences, nothing at all."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from telemetry.analysis.pack import analyse
from telemetry.analysis.pack.kind import possible
from telemetry.analysis.pack.rest import charge_by_rest, of_any
from telemetry.analysis.pack.whole import count_cells
from telemetry.estimate import Estimate, Undecided, plain
from telemetry.signals import signals_of
from telemetry.trace import Flight, Stretch, Trace


def _log(truth, seed=4, **choices):
    return truth.invent(truth.vary(seed, cells=5, **choices))


@pytest.fixture(scope="module")
def plain_log(truth):
    return _log(truth)


def _without(trace, *quantities):
    return replace(trace, channels={key: c for key, c in trace.channels.items() if key[0] not in quantities})


def test_plugs_and_leads_are_in_the_packs_resistance_but_not_in_its_cells(truth):
    trace, flight, known = _log(truth, with_pack=True, lead_ohm=0.004)
    pack = analyse(signals_of(trace, flight))
    cells = sum(cell.resistance_1s_ohm.value for cell in pack.cells)
    assert pack.resistance_1s_ohm.value - cells == pytest.approx(0.004, abs=0.0006)
    assert pack.resistance_1s_ohm.low < known.resistance_1s_ohm.sum() + 0.004 < pack.resistance_1s_ohm.high


def test_a_log_of_the_pack_alone_still_tells_its_resistance(truth):
    trace, flight, known = _log(truth, pack_only=True, start_fraction=np.full(5, 0.99), lead_ohm=0.0)
    pack = analyse(signals_of(trace, flight))
    assert pack.cells == ()
    assert pack.resistance_1s_ohm.value == pytest.approx(known.resistance_1s_ohm.sum(), rel=0.02)
    assert isinstance(pack.weak_cell, Undecided)


def test_where_nothing_tells_how_many_cells_nothing_that_hangs_on_it_is_told(truth):
    """21 V are five full cells of lithium polymer, or six of lithium iron phosphate."""
    trace, flight, _ = _log(truth, pack_only=True, start_fraction=np.full(5, 0.99), lead_ohm=0.0)
    pack = analyse(signals_of(trace, flight), chemistry=None, capacity_mah=5000.0)
    assert "5 or 6 cells" in pack.cell_count.reason
    for figure in (
        pack.start_charge_fraction,
        pack.charge_left_fraction,
        pack.charge_left_by_rest_fraction,
        pack.charge_left_by_charge_fraction,
    ):
        assert "give [pack] cells" in figure.reason


def test_a_pack_that_reads_more_than_its_logged_cells_has_more_of_them(truth):
    trace, flight, _ = _log(truth, with_pack=True, lead_ohm=0.004)
    assert analyse(signals_of(trace, flight)).cell_count == 5
    fewer = {k: c for k, c in trace.channels.items() if k != ("cell_voltage_v", "5")}
    found = analyse(signals_of(replace(trace, channels=fewer), flight)).cell_count
    assert "has 4 cells" in found.reason
    assert "those of 5" in found.reason


def test_the_sum_of_the_motors_stands_for_a_missing_pack_current_and_is_said(truth):
    trace, flight, known = _log(truth, motors_only=True)
    pack = analyse(signals_of(trace, flight))
    assert "sum of 2 motors" in pack.how
    assert [c.resistance_1s_ohm.value for c in pack.cells] == pytest.approx(known.resistance_1s_ohm, rel=0.02)


@pytest.mark.parametrize(
    ("rest_v", "lowest_v", "cells"),
    [(8.4, 6.6, 2), (8.7, 7.0, 2), (6.66, 5.4, 2), (12.6, 10.0, 3), (11.4, 9.9, 3), (15.2, 13.2, 4)],
)
def test_a_pack_is_counted_where_one_number_alone_fits_any_chemistry(rest_v, lowest_v, cells):
    """Full: 4.20 V a cell, 4.35 V high-voltage lithium polymer, 3.33 V at rest lithium iron phosphate (common
    practice, no source).
    """
    assert count_cells(rest_v, lowest_v) == cells


@pytest.mark.parametrize(
    ("rest_v", "lowest_v", "counts"),
    [
        (13.2, 11.0, "3 or 4"),
        (16.8, 13.5, "4 or 5"),
        (25.2, 20.0, "6 or 7"),
        (46.0, 38.0, "11, 12, 13 or 14"),
    ],
)
def test_a_rest_voltage_that_fits_several_numbers_of_cells_is_undecided_and_names_them(
    rest_v, lowest_v, counts
):
    found = count_cells(rest_v, lowest_v)
    assert isinstance(found, Undecided)
    assert f"fits {counts} cells" in found.reason


@pytest.mark.parametrize(
    ("rest_v", "keys"),
    [
        (4.19, ("lipo", "lihv", "li_ion")),
        (4.33, ("lihv",)),
        (3.60, ("li_ion", "lifepo4")),
        (3.33, ("lifepo4",)),
        (2.5, ()),
    ],
)
def test_a_rest_before_flight_leaves_open_the_chemistries_that_can_rest_so(rest_v, keys):
    assert tuple(kind.key for kind in possible(rest_v)) == keys


def test_without_a_sheet_the_charge_left_holds_for_every_chemistry_that_the_cells_can_be_of():
    """At rest at 3.75 V a lithium-ion cell is half full (Chen et al. 2020), a lithium-polymer one a third at
    most.
    """
    resting = Estimate.around(3.751, 0.003)
    found = of_any(possible(4.19), lambda curve: charge_by_rest(resting, curve))
    assert found.low < 0.25
    assert found.high > 0.50
    assert "lithium ion" in found.method


def test_without_current_there_is_no_resistance_but_still_the_lowest_voltage(plain_log):
    trace, flight, _ = plain_log
    pack = analyse(signals_of(_without(trace, "current_a"), flight))
    assert isinstance(pack.resistance_1s_ohm, Undecided)
    assert "no pack current" in pack.cells[0].resistance_1s_ohm.reason
    lowest = trace.channels["cell_voltage_v", "1"].values.min()
    assert pack.cells[0].min_loaded_v == lowest


def test_a_log_without_any_voltage_gives_reasons_and_no_number(plain_log):
    trace, flight, _ = plain_log
    pack = analyse(signals_of(_without(trace, "cell_voltage_v"), flight))
    assert isinstance(pack.sag_v, Undecided)
    assert isinstance(pack.cell_count, Undecided)
    assert pack.cells == ()


def test_an_empty_log_gives_reasons_too():
    nothing = Trace(np.array([]), {})
    pack = analyse(
        signals_of(nothing, Flight(0.0, 0.0, Undecided("x"), Undecided("x"), Undecided("no motor ran")))
    )
    assert isinstance(pack.resistance_1s_ohm, Undecided)


def test_readings_in_steps_of_50_millivolt_still_find_the_1_s_resistance_within_5_per_cent(truth):
    trace, flight, known = _log(truth, step_v=0.05)
    found = [cell.resistance_1s_ohm for cell in analyse(signals_of(trace, flight)).cells]
    assert [e.value for e in found] == pytest.approx(known.resistance_1s_ohm, rel=0.05)
    assert all(e.low < true < e.high for e, true in zip(found, known.resistance_1s_ohm, strict=True))


def test_a_log_at_2_hz_is_less_sure_than_one_at_10_but_right(truth):
    widths = {}
    for hz in (2.0, 10.0):
        trace, flight, known = _log(truth, voltage_hz=hz, current_hz=hz)
        cells = analyse(signals_of(trace, flight)).cells
        assert all(
            c.resistance_1s_ohm.low < true < c.resistance_1s_ohm.high
            for c, true in zip(cells, known.resistance_1s_ohm, strict=True)
        )
        widths[hz] = np.mean([c.resistance_1s_ohm.high - c.resistance_1s_ohm.low for c in cells])
    assert widths[2.0] > widths[10.0]


def test_dropouts_to_nought_and_missing_values_change_nothing_much(plain_log):
    trace, flight, known = plain_log
    rng = np.random.default_rng(1)
    channels = dict(trace.channels)
    for key, channel in trace.channels.items():
        lost = rng.random(channel.values.size) < 0.01
        values = np.where(lost & channel.fresh, 0.0 if key[0] == "cell_voltage_v" else np.nan, channel.values)
        channels[key] = replace(channel, values=values, fresh=channel.fresh & np.isfinite(values))
    pack = analyse(signals_of(replace(trace, channels=channels), flight))
    assert [c.resistance_1s_ohm.value for c in pack.cells] == pytest.approx(known.resistance_1s_ohm, rel=0.02)
    assert min(c.min_loaded_v for c in pack.cells) > 2.5


def test_half_a_minute_without_current_does_not_mislead(plain_log):
    trace, flight, known = plain_log
    channel = trace.channels["current_a", ""]
    silent = (trace.time_s > 120) & (trace.time_s < 150)
    values = np.where(silent, np.nan, channel.values)
    channels = {
        **trace.channels,
        ("current_a", ""): replace(channel, values=values, fresh=channel.fresh & ~silent),
    }
    pack = analyse(signals_of(replace(trace, channels=channels), flight))
    assert [c.resistance_1s_ohm.value for c in pack.cells] == pytest.approx(known.resistance_1s_ohm, rel=0.03)


def test_a_log_that_starts_in_the_air_and_ends_under_load_says_so(plain_log):
    trace, flight, known = plain_log
    span = Stretch(80.0, flight.end_s - 70.0)
    keep = (trace.time_s >= span.start_s) & (trace.time_s <= span.end_s)
    channels = {
        key: replace(c, values=c.values[keep], fresh=c.fresh[keep]) for key, c in trace.channels.items()
    }
    pack = analyse(
        signals_of(
            Trace(trace.time_s[keep], channels),
            Flight(span.start_s, span.end_s, Undecided("x"), Undecided("x"), span),
        ),
    )
    assert isinstance(pack.cells[0].rest_after_v, Undecided)
    assert [c.resistance_1s_ohm.value for c in pack.cells] == pytest.approx(known.resistance_1s_ohm, rel=0.08)


def test_every_figure_is_finite_or_says_why_not(truth):
    trace, flight, _ = _log(truth, step_v=0.05, voltage_hz=2.0, current_hz=2.0)
    figures, reasons = plain(analyse(signals_of(trace, flight), capacity_mah=5000.0))
    assert figures["cell_count"] == 5
    assert all(entry["reason"] for entry in reasons)


@pytest.mark.parametrize(
    "lag_s", [-0.2, 1.1, pytest.param(0.0, marks=pytest.mark.slow), pytest.param(0.6, marks=pytest.mark.slow)]
)
def test_the_lag_between_the_sensors_is_found_whichever_is_late(truth, lag_s):
    trace, flight, _ = _log(truth, lag_s=lag_s)
    assert analyse(signals_of(trace, flight)).voltage_lag_s.value == pytest.approx(lag_s, abs=0.05)
