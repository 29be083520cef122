"""A season: cells that grow apart, pairs that jump, configurations that cost. Seasons are simulated,
seeded.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import scipy.stats

from telemetry.estimate import Undecided
from telemetry.season.trends import SeasonFlight, cell_trends, configuration_costs, pair_step, season_trends


def season(rng, flights=14, *, grows=0.0, cell=3, noise=0.015, weather=0.15):
    """Flights on one pack of five; resistances fall and rise with the weather, each cell's reading errs by
    `noise`.
    """
    warmth = 1 + weather * np.sin(np.arange(flights))
    own = 0.006 * (1 + 0.02 * rng.standard_normal(5))
    found = []
    for k in range(flights):
        ohm = own * warmth[k] * (1 + noise * rng.standard_normal(5))
        ohm[cell - 1] *= 1 + grows * k / (flights - 1)
        found.append(SeasonFlight(k + 1, cell_resistances_ohm=tuple(ohm)))
    return found


def growing(flights):
    return [t.cell for t in cell_trends(flights) if t.verdict == "growing"]


def test_a_cell_that_grows_by_a_tenth_is_found_and_no_other():
    rng = np.random.default_rng(1)
    assert sum(growing(season(rng, grows=0.10)) == [3] for _ in range(100)) >= 90


def test_a_sound_pack_is_called_growing_less_than_one_season_in_twenty_whatever_the_weather():
    rng = np.random.default_rng(2)
    assert sum(bool(growing(season(rng))) for _ in range(300)) <= 15


def test_the_interval_of_a_cells_change_holds_it():
    rng = np.random.default_rng(3)
    held = [
        t.change_fraction.low <= 0.08 <= t.change_fraction.high
        for _ in range(200)
        for t in cell_trends(season(rng, grows=0.08))
        if t.cell == 3
    ]
    assert np.mean(held) >= 0.95


@pytest.mark.source("scipy.stats.linregress, standard error of the slope")
def test_the_change_is_the_regressions():
    flights = season(np.random.default_rng(4), grows=0.1)
    ohm = np.array([f.cell_resistances_ohm for f in flights])
    apart = np.log(ohm[:, 2] / np.median(np.delete(ohm, 2, axis=1), axis=1))
    line = scipy.stats.linregress(np.linspace(0, 1, 14), apart)
    change = cell_trends(flights)[2].change_fraction
    assert change.value == pytest.approx(np.expm1(line.slope), rel=1e-9)
    assert change.high == pytest.approx(
        np.expm1(line.slope + scipy.stats.t.ppf(1 - 0.05 / 10, 12) * line.stderr), rel=1e-9
    )


def test_another_pack_starts_a_season_of_its_own():
    flights = [
        *season(np.random.default_rng(5), grows=0.2),
        *(SeasonFlight(20 + k, pack="B", cell_resistances_ohm=(0.006,) * 5) for k in range(2)),
    ]
    assert cell_trends(flights) == Undecided(
        "two flights on this pack tell its cells' resistance; 5 are needed"
    )


def test_a_new_propeller_shows_as_a_jump_at_its_first_flight():
    rng = np.random.default_rng(6)
    found = []
    for _ in range(100):
        values = np.where(np.arange(14) >= 11, 0.06, 0.005) + 0.005 * rng.standard_normal(14)
        found.append(
            pair_step([SeasonFlight(k + 1, imbalance_fraction=float(v)) for k, v in enumerate(values)])
        )
    assert sum(step is not None and step.since == 12 for step in found) >= 98
    assert np.mean([step.after_fraction - step.before_fraction for step in found]) == pytest.approx(
        0.055, abs=0.002
    )


def test_a_pair_that_only_scatters_has_not_jumped():
    rng = np.random.default_rng(7)
    seasons = (
        [SeasonFlight(k, imbalance_fraction=float(v)) for k, v in enumerate(0.01 * rng.standard_normal(14))]
        for _ in range(300)
    )
    assert sum(pair_step(one) is not None for one in seasons) <= 6


@pytest.mark.source("scipy.stats.ttest_ind, Welch's, 95 % interval")
def test_skis_cost_what_the_means_say():
    wheels, skis = [490.0, 501.0, 485.0, 497.0, 502.0], [549.0, 561.0, 540.0]
    flights = [
        SeasonFlight(k, "wheels" if k < 5 else "skis", rate_mah_per_min=r)
        for k, r in enumerate([*wheels, *skis])
    ]
    (cost,) = configuration_costs(flights)
    low, high = scipy.stats.ttest_ind(np.log(skis), np.log(wheels), equal_var=False).confidence_interval(0.95)
    assert (cost.configuration, cost.against) == ("skis", "wheels")
    assert cost.difference_fraction.low == pytest.approx(np.expm1(low), rel=1e-9)
    assert cost.difference_fraction.high == pytest.approx(np.expm1(high), rel=1e-9)


def test_the_interval_of_a_configurations_cost_holds_it_though_cold_days_scatter_more():
    # truth made here: a fifth more on skis, whose four flights scatter three times as much as eight on wheels
    rng, held = np.random.default_rng(32), 0
    for _ in range(400):
        wheels = 500 * np.exp(0.03 * rng.standard_normal(8))
        skis = 600 * np.exp(0.09 * rng.standard_normal(4))
        (cost,) = configuration_costs(
            [
                SeasonFlight(k, "wheels" if k < 8 else "skis", rate_mah_per_min=float(rate))
                for k, rate in enumerate([*wheels, *skis])
            ]
        )
        held += cost.difference_fraction.low <= 0.2 <= cost.difference_fraction.high
    assert held / 400 >= 0.93  # 0.95 less two standard deviations of the count; with pooled variance 0.84


def test_flights_that_repeat_to_the_last_digit_are_no_group_to_compare():
    same = [SeasonFlight(k, "wheels" if k < 3 else "skis", rate_mah_per_min=500.0) for k in range(6)]
    assert configuration_costs(same) == ()


def test_too_few_flights_tell_no_trend():
    few = [SeasonFlight(k, cell_resistances_ohm=(0.005,) * 5, imbalance_fraction=0.0) for k in range(3)]
    assert isinstance(cell_trends(few), Undecided)
    assert isinstance(pair_step(few), Undecided)
    assert isinstance(cell_trends([]), Undecided)
    assert configuration_costs(few) == ()


def test_each_pack_is_judged_by_its_own_flights():
    rng = np.random.default_rng(31)
    worn, sound = season(rng, grows=0.3), season(rng)
    mixed = [
        replace(f, pack=name, number=2 * f.number - (name == "A"))
        for pair in zip(worn, sound, strict=True)
        for name, f in zip("AB", pair, strict=True)
    ]
    found = {p.pack: [c.cell for c in p.cells if c.verdict == "growing"] for p in season_trends(mixed).packs}
    assert found == {"A": [3], "B": []}
    assert list(found) == ["A", "B"]  # the one flown last stands last
    short = season_trends([*mixed[:-2], replace(mixed[-1], pack="C")]).packs
    assert isinstance(short[-1].cells, Undecided)


def test_where_a_flight_has_no_date_nobody_knows_what_grew():
    grown = [
        SeasonFlight(n, pack="A", cell_resistances_ohm=(0.004, 0.004, 0.004 + 0.0002 * n)) for n in range(8)
    ]
    assert season_trends(grown).cells[2].verdict == "growing"
    found = season_trends([*grown, SeasonFlight(9, pack="A", dated=False)])
    assert "one flight has no date, so the order in which they were flown is unknown" in found.cells.reason
    assert found.pair == found.cells
    assert season_trends([SeasonFlight(1, dated=False)]).pair != found.pair, "one flight has no order"
