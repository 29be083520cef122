"""Two groups of flights: what changed is said, what did not is said, what the scatter hides is neither."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.stats

from telemetry.estimate import Undecided
from telemetry.physics.cell import ONE_SECOND_ACTIVATION, arrhenius_factor
from telemetry.season.comparing import ComparedFlight, compare

RATE = "rate_mah_per_min"


def group(values, *, name=RATE, first=1, pack="A", at_c=20.0):
    packs = [pack] * len(values) if isinstance(pack, str) else pack
    return [ComparedFlight(first + k, packs[k], at_c, {name: float(value)}) for k, value in enumerate(values)]


def figure(one, other, name=RATE):
    found = compare(one, other)
    return next(f for f in found.figures if f.figure == name)


def flown(rng, count, *, mean=300.0, scatter=0.04, **choices):
    return group(mean * np.exp(scatter * rng.standard_normal(count)), **choices)


def test_large_groups_on_one_pack_are_welchs_test_as_scipy_has_it():
    """In small ones it is more careful: its risk holds there, Welch's does not."""
    rng = np.random.default_rng(3)
    one, other = flown(rng, 40), flown(rng, 60, mean=309.0, first=101)
    found = figure(one, other)
    logs = [np.log([f.figures[RATE] for f in side]) for side in (other, one)]
    expected = scipy.stats.ttest_ind(*logs, equal_var=False)
    low, high = expected.confidence_interval(0.95)
    assert found.change_fraction.value == pytest.approx(np.expm1(logs[0].mean() - logs[1].mean()), rel=1e-9)
    assert (found.change_fraction.low, found.change_fraction.high) == pytest.approx(
        (np.expm1(low), np.expm1(high)), rel=0.02
    )


@pytest.mark.parametrize(("one", "other"), [(2, 2), (2, 8), (3, 5), (6, 6), (8, 2)])
@pytest.mark.parametrize("scatters", [(0.04, 0.04), (0.08, 0.02)])
def test_groups_that_do_not_differ_are_called_changed_at_most_once_in_a_hundred(one, other, scatters):
    rng = np.random.default_rng(41)
    verdicts = [
        figure(flown(rng, one, scatter=scatters[0]), flown(rng, other, scatter=scatters[1], first=11)).verdict
        for _ in range(1500)
    ]
    assert verdicts.count("changed") / 1500 <= 0.0165  # two standard errors over 1 % of 1,500


@pytest.mark.parametrize("change", [0.05, -0.05])
def test_a_change_that_just_matters_is_called_the_same_at_most_once_in_a_hundred(change):
    rng = np.random.default_rng(42)
    verdicts = [
        figure(
            flown(rng, 5, scatter=0.02), flown(rng, 5, mean=300.0 * np.exp(change), scatter=0.02, first=11)
        ).verdict
        for _ in range(1500)
    ]
    assert verdicts.count("same") / 1500 <= 0.0165


def test_a_propeller_that_takes_a_tenth_more_is_found_in_six_flights_each():
    rng = np.random.default_rng(5)
    found = [figure(flown(rng, 6, scatter=0.03), flown(rng, 6, mean=330.0, scatter=0.03)) for _ in range(200)]
    assert sum(f.verdict == "changed" for f in found) >= 180
    assert sum(f.change_fraction.low <= 0.1 <= f.change_fraction.high for f in found) >= 180


def test_intervals_of_the_change_hold_it_in_nineteen_of_twenty_or_a_little_more():
    rng = np.random.default_rng(6)
    held = 0
    for _ in range(2000):
        found = figure(flown(rng, 4), flown(rng, 6, mean=360.0, first=11))
        held += found.change_fraction.low <= 0.2 <= found.change_fraction.high
    assert 0.94 <= held / 2000 <= 0.985


OHM = "pack_resistance_1s_ohm"


def test_a_resistance_is_compared_within_each_pack_whoever_flew_more_of_them():
    """Pack B has half as much again; the second group flew it more often, and nothing changed."""
    rng = np.random.default_rng(7)

    def on(packs, first):
        values = [0.030 * (1.5 if p == "B" else 1.0) * np.exp(0.01 * rng.standard_normal()) for p in packs]
        return group(values, name=OHM, pack=list(packs), first=first)

    verdicts = [figure(on("AAAAB", 1), on("ABBBB", 11), OHM).verdict for _ in range(400)]
    assert verdicts.count("changed") <= 8
    assert verdicts.count("same") >= 320


def test_a_resistance_of_two_packs_that_never_met_is_not_compared():
    found = figure(group([0.03, 0.031], name=OHM), group([0.04, 0.041], name=OHM, pack="B", first=11), OHM)
    assert found.verdict == "undecided"
    assert isinstance(found.change_fraction, Undecided)
    assert "no pack was flown in both groups" in found.reason


def test_a_resistance_without_a_temperature_shows_its_change_and_no_verdict():
    found = figure(
        group([0.030, 0.0301, 0.0299], name=OHM, at_c=None),
        group([0.040, 0.0401, 0.0399], name=OHM, at_c=None, first=11),
        OHM,
    )
    assert found.change_fraction.value == pytest.approx(1 / 3, abs=0.01)
    assert found.verdict == "undecided"
    assert "temperature" in found.reason


def test_a_colder_day_widens_what_a_change_of_resistance_can_be():
    """Carried to 25 °C by a law that errs: over 20 °C the doubt of its energy is what the interval gains."""
    one = group([0.030, 0.0301, 0.0299, 0.0300], name=OHM, at_c=25.0)
    warm = figure(one, group([0.033, 0.0331, 0.0329, 0.0330], name=OHM, at_c=25.0, first=11), OHM)
    cold = figure(one, group([0.033, 0.0331, 0.0329, 0.0330], name=OHM, at_c=5.0, first=11), OHM)
    doubt = np.log(arrhenius_factor(5.0, ONE_SECOND_ACTIVATION.sd_kjpmol))
    gained = np.log1p(cold.change_fraction.high) - np.log1p(warm.change_fraction.high)
    assert gained == pytest.approx(doubt, rel=1e-6)
    assert warm.verdict == "changed"


def test_air_of_another_density_explains_a_small_change_of_consumption():
    """Dry air is 10 % denser at 2 °C than at 30 °C (ideal gas law): a tenth more may be the air's."""
    one = group([300.0, 301.0, 299.0, 300.5], at_c=30.0)
    assert figure(one, group([318.0, 319.0, 317.0, 318.5], at_c=30.0, first=11)).verdict == "changed"
    assert figure(one, group([318.0, 319.0, 317.0, 318.5], at_c=2.0, first=11)).verdict == "undecided"


def test_a_single_flight_is_no_group():
    found = figure(group([300.0]), group([310.0, 312.0], first=11))
    assert (found.verdict, found.reason) == ("undecided", "one flight shows no scatter; a group takes two")
    assert found.second.value == pytest.approx(311.0, rel=1e-3)


def test_the_pairs_balance_is_told_as_a_difference():
    name = "imbalance_fraction"
    found = figure(
        group([0.001, 0.003, 0.002, 0.002], name=name),
        group([0.051, 0.053, 0.052, 0.052], name=name, first=11),
        name,
    )
    assert found.verdict == "changed"
    assert found.change_fraction.value == pytest.approx(0.05)


def test_other_packs_and_temperatures_are_said_beside_the_figures():
    found = compare(group([300.0, 301.0], at_c=24.0), group([300.0, 301.0], pack="B", at_c=9.0, first=11))
    assert found.notes == (
        "the first group flew on A, the second on B",
        "the first group was flown at 24 °C, the second at 9 °C",
    )
