"""A pack that ages as a whole: told from a cold season, and forecast no further than the flights carry it."""

from __future__ import annotations

import numpy as np
import pytest

from telemetry.estimate import Estimate, Undecided
from telemetry.physics.cell import ONE_SECOND_ACTIVATION, arrhenius_factor
from telemetry.season.ageing import PackReading, pack_ageing


def season(rng, flights=12, *, grows=0.0, temperatures_c=None, energy_off_kjpmol=0.0, noise=0.03):
    """Flights on one pack: each reading errs by `noise`, and what carried it to 25 °C by a wrong energy."""
    at_c = np.full(flights, 22.0) if temperatures_c is None else np.asarray(temperatures_c)
    cycles = np.arange(flights)
    ohm = 0.030 * (1 + grows) ** (cycles / (flights - 1)) * np.exp(noise * rng.standard_normal(flights))
    ohm = ohm * arrhenius_factor(at_c, energy_off_kjpmol)
    return [PackReading(k + 1, k, float(r), float(t)) for k, (r, t) in enumerate(zip(ohm, at_c, strict=True))]


def test_a_quarter_more_over_twelve_flights_is_told():
    rng = np.random.default_rng(1)
    found = [pack_ageing(season(rng, grows=0.24)) for _ in range(200)]
    assert sum(f.verdict == "ageing" for f in found) >= 190
    assert sum(f.change_fraction.low <= 0.24 <= f.change_fraction.high for f in found) >= 184


def test_a_sound_pack_is_called_ageing_at_most_once_in_forty():
    rng = np.random.default_rng(2)
    assert sum(pack_ageing(season(rng)).verdict == "ageing" for _ in range(1000)) <= 25


def test_a_season_that_ends_in_the_cold_is_not_taken_for_ageing():
    """The law that carries a resistance to 25 °C errs by 10 kJ/mol one time in three, over 20 °C a third."""
    rng = np.random.default_rng(3)
    colder = np.linspace(28.0, 6.0, 12)
    energies = ONE_SECOND_ACTIVATION.sd_kjpmol * rng.standard_normal(600)
    found = [pack_ageing(season(rng, temperatures_c=colder, energy_off_kjpmol=e)) for e in energies]
    assert sum(f.verdict == "ageing" for f in found) / 600 <= 0.035
    held = sum(f.change_fraction.low <= 0.0 <= f.change_fraction.high for f in found) / 600
    assert 0.93 <= held <= 0.985


def test_warm_and_cold_days_in_turn_are_told_from_ageing():
    rng = np.random.default_rng(4)
    turns = np.tile([8.0, 26.0], 7)
    energies = ONE_SECOND_ACTIVATION.sd_kjpmol * rng.standard_normal(200)
    found = [
        pack_ageing(season(rng, 14, grows=0.3, temperatures_c=turns, energy_off_kjpmol=e)) for e in energies
    ]
    assert sum(f.verdict == "ageing" for f in found) >= 185


def test_the_flights_left_until_it_doubles_hold_the_truth():
    """30 % over 19 flights are a doubling in 50: 31 more."""
    rng = np.random.default_rng(5)
    truth = 19 * np.log(2.0) / np.log(1.3) - 19
    left = [pack_ageing(season(rng, 20, grows=0.3)).flights_left for _ in range(300)]
    known = [one for one in left if isinstance(one, Estimate)]
    assert len(known) >= 285
    assert sum(one.low <= truth <= one.high for one in known) >= 0.93 * len(known)


@pytest.mark.parametrize("flights", [1, 4])
def test_a_few_flights_tell_no_ageing(flights):
    found = pack_ageing(season(np.random.default_rng(6), 12)[:flights])
    assert isinstance(found, Undecided)
    assert "5 are needed" in found.reason
