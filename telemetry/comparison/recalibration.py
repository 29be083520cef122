"""From flights to the few numbers a sheet could not know: pack resistance, drive gain, propeller power,
drag.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from telemetry.analysis import flights as flights_analysis
from telemetry.comparison.belonging import (
    LeftOut,
    Lesson,
    agreeing,
    another_aircraft,
    readings_of,
    same_flight,
    shares_of,
    unusual,
)
from telemetry.comparison.fitting import (
    IN_FLIGHT_SD,
    KEYS,
    NOTHING,
    Belief,
    Evidence,
    Told,
    doubts_beforehand,
    evidence_of,
    told_by,
)
from telemetry.comparison.replaying import conditions_of
from telemetry.errors import BadUse
from telemetry.estimate import Estimate, Undecided, plain
from telemetry.made import MadeBy, made_by
from telemetry.physics.cell import arrhenius_factor
from telemetry.prediction.assumptions import complete
from telemetry.prediction.known import Known
from telemetry.sentences import say
from telemetry.sheet import Sheet
from telemetry.sheet.merging import drive_text, packs_text
from telemetry.sheet.setup import Calibrated, Setup
from telemetry.sheet.writing import calibrated_text
from telemetry.signals import (
    Signals,
    cleaned,
    in_sheet_terms,
    in_terms_of_packs,
    of_the_aircraft,
    packs_of,
    signals_of,
)
from telemetry.signals.dates import date_of
from telemetry.trace import Trace


@dataclass(frozen=True, slots=True)
class Learnt:
    """One factor on the sheet's own value. shift_fraction = new ÷ old − 1; old is 1 when nothing was learnt
    before.
    """

    key: str
    old: float
    new: Estimate
    shift_fraction: float
    flights: int


@dataclass(frozen=True, slots=True)
class Unlearnt:
    """What the flights don't tell, and why."""

    subject: str
    reason: str


@dataclass(frozen=True, slots=True)
class Calibration:
    """What flights taught."""

    parameters: tuple[Learnt, ...]
    unlearnt: tuple[Unlearnt, ...]
    left_out: tuple[LeftOut, ...]
    text: str = field(repr=False, metadata={"json": False})
    made_by: MadeBy = field(default_factory=made_by, metadata={"json": False})

    def sheet_text(self) -> str:
        """The sheet with its [calibration], comments kept."""
        return self.text

    def to_dict(self) -> dict[str, Any]:
        """The object as JSON carries it, `sagline.calibration/1`."""
        parameters, _ = plain(self.parameters)
        undecided, _ = plain(self.unlearnt)
        left_out, _ = plain(self.left_out)
        made, _ = plain(self.made_by)
        return {
            "schema": "sagline.calibration/1",
            "made_by": made,
            "parameters": parameters,
            "left_out": left_out,
            "undecided": undecided,
        }


def recalibrate(
    sheet: Sheet,
    traces: Sequence[Trace],
    *,
    configuration: str | None = None,
    pack: str | None = None,
    date: str = "",
    insist: bool = False,
) -> Calibration:
    """Learn from flights of one configuration; the sheet given stays as it is.

    Parameters
    ----------
    traces : logs with throttle, and current, voltage or speed. What an earlier calibration learnt counts as
        known beforehand, and stays where these flights cannot improve it.
    date : ISO; stands where the logs' own clocks give none of their own.
    insist : learn from flights that would be left out too, but for those of another aircraft.

    Raises
    ------
    BadUse : an unknown configuration or pack, or no flight to learn from.

    Notes
    -----
    Where each motor has a pack of its own, every pack's share of a flight teaches what the motors have in
    common; its own resistance is solved away.
    """
    setup = sheet.setup(configuration, pack)
    bare = replace(setup, calibration={})
    known = complete(_first_share(bare))
    before = _beforehand(setup, known)
    lessons, left_out = _lessons(traces, bare, before, insist=insist)
    if not insist:
        lessons, against = agreeing(lessons, before, learnt=tuple(setup.calibration))
        left_out += against
    if not lessons:
        raise BadUse(
            say("left_out", "nothing", file=left_out[0].file, reason=left_out[0].reason)
            if left_out
            else say("left_out", "no_flight"),
            say("left_out", "what_to_give"),
            file=sheet.file,
        )
    day = max((date_of(trace).day for trace in traces), default="") or date
    learnt = _learnt(setup, known, _beforehand(setup, known, least=0.0), lessons, day)
    text = calibrated_text(
        sheet.text,
        learnt,
        configuration=setup.configuration,
        drive=drive_text(setup.drives),
        pack=packs_text(setup.pack, setup.packs),
        taught_by=tuple(dict.fromkeys((*setup.taught_by, *(one.mark for one in lessons)))),
    )
    parameters = tuple(_parameter(setup, key, value) for key, value in learnt.items())
    missing = tuple(Unlearnt(key, _untold(key, setup)) for key in KEYS if key not in learnt)
    sources = [source for trace in traces for source in trace.sources]
    return Calibration(parameters, missing, tuple(left_out), text, made_by(setup, sources))


def _first_share(setup: Setup) -> Setup:
    """What the first pack flies, all of it where one feeds all."""
    return setup.alone(setup.packs[0].position) if setup.packs else setup


def _untold(key: str, setup: Setup) -> str:
    """Why flights did not teach a factor."""
    return say("unlearnt", "own_packs" if key == "pack_resistance" and setup.packs else key)


def _lessons(
    traces: Sequence[Trace], setup: Setup, before: Belief, *, insist: bool
) -> tuple[list[Lesson], list[LeftOut]]:
    """Every flight that may teach, and why the others may not."""
    found: list[Lesson] = []
    out: list[LeftOut] = []
    for file, signals in _flown(traces, setup):
        evidence = _evidence(signals, setup)
        reason = evidence if isinstance(evidence, str) else "" if insist else unusual(signals, setup)
        if reason or isinstance(evidence, str):
            out.append(LeftOut(file, reason))
            continue
        told = _told(evidence, before, own_packs=bool(setup.packs))
        if signals.flight.is_bench:
            told = told.silent("drag").doubted("propeller_power", IN_FLIGHT_SD)
        one = Lesson(file, evidence[0], told, readings_of(signals))
        twin = next((o.file for o in found if same_flight(one.readings, o.readings)), None)
        if insist or (twin is None and one.mark not in setup.taught_by):
            found.append(one)
        else:
            out.append(
                LeftOut(file, say("left_out", "again", file=twin) if twin else say("left_out", "taught"))
            )
    return found, out


def _evidence(signals: Signals, setup: Setup) -> list[Evidence] | str:
    """What a flight shows of each pack and all that it feeds, or why it cannot teach."""
    found = []
    for own, share in shares_of(signals, setup):
        against = another_aircraft(own, share)
        if against:
            return against
        conditions = conditions_of(own, share)
        evidence = None if isinstance(conditions, Undecided) else evidence_of(own, share, conditions)
        if evidence is None:
            return conditions.reason if isinstance(conditions, Undecided) else say("left_out", "no_flight")
        found.append(evidence)
    return found


def _told(evidence: Sequence[Evidence], before: Belief, *, own_packs: bool) -> Told:
    """What a flight tells. Several packs' shares of it count as one flight: what is off on a day is off on
    all sides. What is a pack's own is no factor of all.
    """
    told = (told_by(one, complete(one.setup), before) for one in evidence)
    if not own_packs:
        return next(told)
    doubt = float(before.sd[KEYS.index("pack_resistance")])
    shares = [one.doubted("pack_resistance", doubt).silent("pack_resistance") for one in told]
    return sum(shares, start=NOTHING).counted(1.0 / len(shares))


def _flown(traces: Sequence[Trace], setup: Setup) -> Iterator[tuple[str, Signals]]:
    """Every flight of every log with its name."""
    for trace in traces:
        whole = in_terms_of_packs(cleaned(in_sheet_terms(trace, setup)), setup)
        fed = packs_of(whole, setup)
        flights = flights_analysis.find(of_the_aircraft(whole, fed))
        for k, flight in enumerate(flights):
            file = trace.sources[0].file if trace.sources else ""
            yield (
                f"{file}, flight {k + 1}" if len(flights) > 1 else file,
                signals_of(whole, flight, packs=fed),
            )


def _beforehand(setup: Setup, known: Known, *, least: float = 0.01) -> Belief:
    """Logarithms of the factors before these flights, and their doubts: the sheet's own, or an earlier
    calibration's.

    Parameters
    ----------
    least : doubt that an earlier calibration has at least; one flight lies that far from another.
    """
    before = [setup.calibration.get(key) for key in KEYS]
    mean = np.array([np.log(b.value) if b else 0.0 for b in before])
    sd = np.array(
        [
            max(b.relative_sd, least, 1e-4) if b else doubt
            for doubt, b in zip(doubts_beforehand(known), before, strict=True)
        ]
    )
    covariance = np.diag(sd**2)
    power, gain = KEYS.index("propeller_power"), KEYS.index("drive_gain")
    learnt = before[power]
    if learnt is not None and before[gain] is not None:
        covariance[power, gain] = covariance[gain, power] = (
            float(np.clip(learnt.correlation, -0.99, 0.99)) * sd[power] * sd[gain]
        )
    return Belief(mean, covariance)


def _learnt(
    setup: Setup, known: Known, before: Belief, lessons: Sequence[Lesson], day: str, *, least: float = 0.75
) -> dict[str, Calibrated]:
    """Every factor that these flights or earlier ones taught.

    Parameters
    ----------
    least : a factor counts as learnt once flights narrow its doubt to this share; one learnt before stays,
        improved by whatever these flights tell of it.
    """
    unseen = [one.evidence.conditions.pack_c is None for one in lessons]
    warmth_sd = _warmth_sd(known)
    earlier = "pack_resistance" in setup.calibration
    told = sum(
        (
            one.told.doubted("pack_resistance", warmth_sd) if cold and earlier else one.told
            for one, cold in zip(lessons, unseen, strict=True)
        ),
        start=NOTHING,
    )
    first = before.after(told)
    kept = [
        key
        for k, key in enumerate(KEYS)
        if first.sd[k] < (0.99 if key in setup.calibration else least) * before.sd[k]
    ]
    found = before.fixed([key for key in KEYS if key not in kept]).after(told)
    learnt: dict[str, Calibrated] = {}
    for key in KEYS:
        if key in kept:
            learnt[key] = _calibrated(setup, found, key, len(lessons), day)
        elif key in setup.calibration:
            learnt[key] = setup.calibration[key]
    if "pack_resistance" in kept and any(unseen) and not earlier:
        one = learnt["pack_resistance"]
        learnt["pack_resistance"] = replace(
            one,
            relative_sd=float(np.hypot(one.relative_sd, warmth_sd)),
            temperature_c=known.air_temperature_c,
        )
    return learnt


def _warmth_sd(known: Known, *, carried_k: float = 4.0) -> float:
    """Relative doubt of a resistance at 25 °C when the log has no temperature: the air's doubt, and packs
    that were carried in a pocket or kept in the shade.
    """
    warmer_c = known.air_temperature_c + float(np.hypot(known.air_temperature_sd_c, carried_k))
    here, there = (
        arrhenius_factor(t, known.chemistry.one_second.kjpmol) for t in (known.air_temperature_c, warmer_c)
    )
    return abs(float(np.log(here / there)))


def _calibrated(setup: Setup, found: Belief, key: str, flights: int, day: str) -> Calibrated:
    k = KEYS.index(key)
    before = setup.calibration.get(key)
    together = found.correlation("drive_gain", key) if key == "propeller_power" else 0.0
    return Calibrated(
        float(np.exp(found.mean[k])),
        float(found.sd[k]),
        flights + (before.flights if before else 0),
        day,
        together,
        None if before is None else before.temperature_c,
    )


def _parameter(setup: Setup, key: str, value: Calibrated) -> Learnt:
    before = setup.calibration.get(key)
    old = before.value if before else 1.0
    spread = float(np.exp(1.96 * value.relative_sd))
    new = Estimate(
        value.value,
        value.value / spread,
        value.value * spread,
        say("methods", "recalibration"),
    )
    return Learnt(key, old, new, value.value / old - 1.0, value.flights)
