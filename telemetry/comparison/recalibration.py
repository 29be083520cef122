"""From flights to the few numbers a sheet could not know: pack resistance, drive gain, propeller power,
drag.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from telemetry.analysis import flights as flights_analysis
from telemetry.comparison.contradiction import contradictions
from telemetry.comparison.fitting import KEYS, Evidence, Fit, doubts_beforehand, evidence_of, fit
from telemetry.comparison.replaying import conditions_of
from telemetry.errors import BadUse
from telemetry.estimate import Estimate, Undecided, plain
from telemetry.made import MadeBy, made_by
from telemetry.prediction.assumptions import complete
from telemetry.prediction.known import Known
from telemetry.sentences import say
from telemetry.sheet import Sheet
from telemetry.sheet.merging import drive_text, pack_text
from telemetry.sheet.setup import Calibrated, Setup
from telemetry.sheet.writing import calibrated_text
from telemetry.signals import cleaned, in_sheet_terms, signals_of
from telemetry.signals.dates import date_of
from telemetry.trace import Floats, Trace


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
    text: str = field(repr=False, metadata={"json": False})
    made_by: MadeBy = field(default_factory=made_by, metadata={"json": False})

    def sheet_text(self) -> str:
        """The sheet with its [calibration], comments kept."""
        return self.text

    def to_dict(self) -> dict[str, Any]:
        """The object as JSON carries it, `sagline.calibration/1`."""
        parameters, _ = plain(self.parameters)
        undecided, _ = plain(self.unlearnt)
        made, _ = plain(self.made_by)
        return {
            "schema": "sagline.calibration/1",
            "made_by": made,
            "parameters": parameters,
            "undecided": undecided,
        }


def recalibrate(
    sheet: Sheet,
    traces: Sequence[Trace],
    *,
    configuration: str | None = None,
    pack: str | None = None,
    date: str = "",
) -> Calibration:
    """Learn from flights of one configuration; the sheet given stays as it is.

    Parameters
    ----------
    traces : logs with throttle, and current, voltage or speed. What an earlier calibration learnt counts as
        known beforehand, so give each log once only.
    date : ISO; stands where the logs' own clocks give none of their own.

    Raises
    ------
    BadUse : an unknown configuration or pack, a log that cannot be of the sheet's aircraft, or none to learn
        from.
    """
    setup = sheet.setup(configuration, pack)
    bare = replace(setup, calibration={})
    evidence = [e for trace in traces for e in _evidence(trace, bare)]
    if not evidence:
        raise BadUse(
            "none of the logs has a flight with throttle and current",
            "Give logs that hold both, and time.",
            file=sheet.file,
        )
    prior_mean, prior_sd = _beforehand(setup, complete(bare))
    found = fit(complete(bare), evidence, prior_mean=prior_mean, prior_sd=prior_sd)
    kept = tuple(key for k, key in enumerate(KEYS) if found.sd[k] < 0.75 * prior_sd[k])
    if len(kept) < len(KEYS):
        found = found.given(prior_mean, np.where([key in kept for key in KEYS], prior_sd, 1e-4))
    day = max((date_of(trace).day for trace in traces), default="") or date
    unseen_c = (
        complete(bare).air_temperature_c if any(e.conditions.pack_c is None for e in evidence) else None
    )
    learnt = {key: _calibrated(setup, found, key, len(evidence), day) for key in kept}
    if "pack_resistance" in learnt:
        learnt["pack_resistance"] = replace(learnt["pack_resistance"], temperature_c=unseen_c)
    text = calibrated_text(
        sheet.text,
        learnt,
        configuration=setup.configuration,
        drive=drive_text(setup.drives),
        pack=pack_text(setup.pack),
    )
    parameters = tuple(_parameter(setup, key, value) for key, value in learnt.items())
    missing = tuple(Unlearnt(key, say("unlearnt", key)) for key in KEYS if key not in kept)
    sources = [source for trace in traces for source in trace.sources]
    return Calibration(parameters, missing, text, made_by(setup, sources))


def _evidence(trace: Trace, setup: Setup) -> list[Evidence]:
    found = []
    trace = cleaned(in_sheet_terms(trace, setup))
    for flight in flights_analysis.find(trace):
        signals = signals_of(trace, flight)
        against = contradictions(signals, setup)
        if against:
            raise BadUse(
                f"the log does not fit the sheet: {against[0]}",
                "Give logs of the sheet's own aircraft.",
                file=trace.sources[0].file,
            )
        conditions = conditions_of(signals, setup)
        if not isinstance(conditions, Undecided):
            found += [one] if (one := evidence_of(signals, setup, conditions)) is not None else []
    return found


def _beforehand(setup: Setup, known: Known) -> tuple[Floats, Floats]:
    """Logarithms of the factors before these flights, and their doubts: the sheet's own, or an earlier
    calibration's.
    """
    before = [setup.calibration.get(key) for key in KEYS]
    mean = np.array([np.log(b.value) if b else 0.0 for b in before])
    sd = np.array(
        [
            max(b.relative_sd, 0.01) if b else doubt
            for doubt, b in zip(doubts_beforehand(known), before, strict=True)
        ]
    )
    return mean, sd


def _calibrated(setup: Setup, found: Fit, key: str, flights: int, day: str) -> Calibrated:
    k = KEYS.index(key)
    before = setup.calibration.get(key)
    together = found.correlation("drive_gain", key) if key == "propeller_power" else 0.0
    return Calibrated(
        float(np.exp(found.mean[k])),
        float(found.sd[k]),
        flights + (before.flights if before else 0),
        day,
        together,
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
