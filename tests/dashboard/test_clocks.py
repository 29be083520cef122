"""How the clocks of several recorders stood to each other, said without a bare sign."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from dashboard.paper import html_text
from dashboard.sections import log
from telemetry.debrief import review
from telemetry.estimate import Estimate
from telemetry.simulate import Scenario, simulate, taxi_only
from telemetry.trace import Clock, Source

METHOD = "what both logs felt"


@pytest.fixture(scope="module")
def reviewed():
    flown = simulate(Scenario(legs=taxi_only(20.0)), seed=1)
    return review(flown.trace())


def written(
    reviewed,
    first_s: float,
    offset_s: float,
    *,
    half_s: float = 0.02,
    drift_ppm: float = 0.0,
    duration_s: float | None = None,
) -> str:
    """The section for a first clock that read `first_s`, and another with an offset against the first log's
    start.
    """

    def source(name, clock_s, half, ppm):
        return replace(
            reviewed.trace.sources[0],
            file=name,
            sha256=name,
            clock=Clock(Estimate.around(clock_s, half, METHOD), Estimate.around(ppm, 20.0, METHOD)),
        )

    sources: tuple[Source, ...] = (
        source("receiver.csv", -first_s, 0.0, 0.0),
        source("left.csv", offset_s, half_s, drift_ppm),
    )
    found = replace(reviewed, trace=replace(reviewed.trace, sources=sources))
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", html_text(log.section(found)))).replace("\u00a0", " ")


@pytest.mark.parametrize(
    ("first_s", "offset_s", "words"),
    [
        (0.0, -185.0, "its clock was 185.00 s (184.98–185.02) ahead of that of receiver.csv"),
        (30.0, -12.5, "its clock was 17.50 s (17.48–17.52) behind that of receiver.csv"),
        (37_321.0, -37_320.995, "its clock agrees with that of receiver.csv, within 0.02 s"),
        # 2026-05-10 13:20:05 UTC is 1778419205 s after 1970
        (1_778_419_205.0, -185.0, "its clock stood at 185.00 s (184.98–185.02) when receiver.csv began"),
        (1_778_419_205.0, 2.0, "its clock began at zero 2.00 s (1.98–2.02) after receiver.csv began"),
        (0.0, -1_778_419_205.0, "its clock stood at 2026-05-10 13:20:05 when receiver.csv began"),
        (0.0, -48_005.0, "its clock stood at 13:20:05 when receiver.csv began"),
    ],
)
def test_one_clock_is_ahead_or_behind_and_by_how_much(reviewed, first_s, offset_s, words):
    assert words in written(reviewed, first_s, offset_s)


@pytest.mark.source("arithmetic: seconds that are 140 ppm long are too few, so the clock is slow")
@pytest.mark.parametrize(
    ("drift_ppm", "words"),
    [
        (140.0, "It ran slow by 140 ppm (120–160)"),
        (-95.0, "It ran fast by 95 ppm (75–115)"),
        (5.0, "It ran neither fast nor slow as far as can be seen: +5 ppm (−15 to 25)"),
    ],
)
def test_a_clock_runs_fast_or_slow(reviewed, drift_ppm, words):
    assert words in written(reviewed, 0.0, -185.0, drift_ppm=drift_ppm)


def test_the_note_of_each_clock_names_its_file(reviewed):
    assert "How the clock of left.csv was joined" in written(reviewed, 0.0, -185.0)
