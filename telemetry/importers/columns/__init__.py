"""Table → quantities: words and units propose, physics decides, doubt is reported."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from telemetry.importers.clock import Timed
from telemetry.importers.columns.answered import answered
from telemetry.importers.columns.assignment import Chosen, assign
from telemetry.importers.columns.behaviour import ColumnGuess, guesses
from telemetry.importers.columns.candidates import Candidate, candidates, readings
from telemetry.importers.columns.corroborated import in_doubt, recorders
from telemetry.importers.columns.evidence import ColumnEvidence, held, thinning
from telemetry.importers.columns.groups import from_one, lone, siblings, sided, untapped
from telemetry.importers.columns.meanings import DIMENSIONS, KIND_OF_DIMENSION, MEANINGS
from telemetry.importers.columns.reasons import with_reason
from telemetry.importers.faults import rough
from telemetry.importers.table import RawColumn, Table
from telemetry.importers.wording import Wording, plain_letters, pole_pairs_in, read_header
from telemetry.sentences import say
from telemetry.trace import Column

__all__ = ["Understood", "understand", "untapped", "wordings"]

LEAST_MARGIN = 1.5
"""A reading that beats the next by less, e^1.5 ≈ 4.5 to 1, is doubtful."""

LEAST_MARGIN_AGAINST_A_HEADER = 3.0
"""Where a header must be wrong for the columns to agree, more is asked, 20 to 1: it may be another header
that is wrong.
"""


LEAST_TIE = 1.0
"""So much must a relation with other columns say for a reading of a header that says something else."""


DUTY = "duty"
"""What a header that says so sets aside may yet be a command, by its numbers."""


@dataclass(frozen=True, slots=True)
class Understood:
    """How one column is read; `candidate` is None when it is not used."""

    column: Column
    candidate: Candidate | None


def wordings(table: Table) -> tuple[Wording, ...]:
    """What each header says, with the words of the header rows above it."""
    found = []
    above = next((n for line in table.preamble if (n := pole_pairs_in(line))), None)
    for column in table.columns:
        spoken = f"{column.group} {column.header}" if column.group else column.header
        said = readings(*read_header(spoken, column.unit))
        # A title above the whole table names no other thing.
        own = tuple(word for word in said.unknown if word in plain_letters(column.header))
        found.append(replace(said, unknown=own, pole_pairs=pole_pairs_in(spoken) or above))
    return lone(sided(from_one(found)), table.columns)


def _thinned(timed: Timed, *, most: int = 3000) -> ColumnEvidence:
    keep = thinning(timed.time_s.size, most)
    columns = tuple(held(rough(c.numbers[keep])) for c in timed.table.columns)
    return ColumnEvidence(timed.time_s[keep], columns, has_clock=timed.first_own_s is not None)


STEADY_A = 3.0
"""A current that never changes is a running motor's from here on; radio and servos draw less. [A]"""


def _dead(i: int, timed: Timed, spoken: Sequence[Wording]) -> str:
    """Why a column holds nothing to use, "" when it does."""
    column = timed.table.columns[i]
    lowest, highest = float(np.fmin.reduce(column.numbers)), float(np.fmax.reduce(column.numbers))
    if not np.isfinite(lowest):
        return say("importers", "columns", "no_numbers")
    if lowest == highest and not _steady_load(i, lowest, timed, spoken):
        return say("importers", "columns", "zero" if lowest == 0 else "unchanging")
    return ""


def _steady_load(i: int, value: float, timed: Timed, spoken: Sequence[Wording]) -> bool:
    """Whether a column that never changes says, in its unit, that a motor ran. Beside one of a motor or the
    pack that does change it is a sensor that stopped.
    """
    unit = next((u for u in spoken[i].units if u.dimension == "current"), None)
    if unit is None or "current" not in spoken[i].kinds or value * unit.factor < STEADY_A:
        return False
    return not any(
        w.kinds & {"current", "power", "rotation"}
        and not w.aside
        and np.nanmax(c.numbers) > np.nanmin(c.numbers)
        for c, w in zip(timed.table.columns, spoken, strict=True)
        if np.isfinite(c.numbers).any()
    )


def _highest(column: RawColumn) -> float:
    values = column.numbers[np.isfinite(column.numbers)]
    return float(np.percentile(np.abs(values[:: max(1, values.size // 20_000)]), 99)) if values.size else 0.0


def _unconnected(column: RawColumn, wording: Wording, *, least: float = 0.5) -> bool:
    """Whether a voltage column reads next to nothing in whatever unit: its lead was not connected."""
    voltage = (
        "voltage" in wording.kinds
        or any(u.dimension == "voltage" for u in wording.units)
        or bool({"cell", "tap"} & wording.subjects)
    )
    return voltage and _highest(column) < least


def _twin(i: int, table: Table) -> str | None:
    """The header of an earlier column with the same header and the same numbers."""
    own = table.columns[i]
    for other in table.columns[:i]:
        if (other.header, other.unit, other.group) == (own.header, own.unit, own.group) and np.array_equal(
            other.numbers, own.numbers, equal_nan=True
        ):
            return other.header
    return None


def understand(
    timed: Timed, spoken: tuple[Wording, ...], answers: Mapping[str, str] | None = None
) -> tuple[Understood, ...]:
    """How each column of a table on its clock is read, in file order."""
    evidence = _thinned(timed)
    given = answers or {}
    dead = [_dead(i, timed, spoken) for i in range(len(spoken))]
    open_places = recorders(spoken)
    options: list[tuple[Candidate, ...]] = []
    for i, (column, wording) in enumerate(zip(timed.table.columns, spoken, strict=True)):
        if i in timed.columns or not np.isfinite(column.numbers).any():
            options.append(())
        elif column.header in given:
            options.append(answered(given[column.header], i, wording))
        elif (
            i in open_places or dead[i] or _unconnected(column, wording) or _twin(i, timed.table) is not None
        ):
            options.append(())
        else:
            options.append(candidates(i, wording))
    assigned = assign(options, evidence)
    chosen = _with_reasons(assigned, evidence)
    taken = {
        (k.candidate.quantity, k.candidate.position): c.header
        for c, k in zip(timed.table.columns, chosen, strict=True)
        if k.candidate is not None
    }
    reports = [
        _settled(c, w, k)
        if c.header in given and i not in timed.columns and (k.candidate or given[c.header] == "ignore")
        else _report(i, dead[i], w, o, k, timed, _backed(i, k.candidate, options, evidence), taken)
        for i, (c, w, o, k) in enumerate(zip(timed.table.columns, spoken, options, chosen, strict=True))
    ]
    settled = {i for i, c in enumerate(timed.table.columns) if c.header in given} | {*timed.columns}
    for i, why in in_doubt([k.candidate for k in assigned], spoken, open_places, evidence).items():
        if i not in settled and (i in open_places or reports[i].candidate is not None) and not dead[i]:
            reports[i] = _asked(reports[i], why)
    reports = [_repeat(one, o, reports, evidence) for one, o in zip(reports, options, strict=True)]
    for group in siblings(spoken):
        _stand_together(group, reports)
    _ask_by_behaviour(timed, spoken, reports, evidence, given)
    return tuple(reports)


def _with_reasons(chosen: Sequence[Chosen], evidence: ColumnEvidence) -> tuple[Chosen, ...]:
    """The choices with the reasons of units that no header names."""
    taken = [k.candidate for k in chosen if k.candidate is not None]
    return tuple(
        k if k.candidate is None else replace(k, candidate=with_reason(k.candidate, taken, evidence))
        for k in chosen
    )


def _ask_by_behaviour(
    timed: Timed,
    spoken: Sequence[Wording],
    reports: list[Understood],
    evidence: ColumnEvidence,
    given: Mapping[str, str],
) -> None:
    """Ask about columns that no word explains but whose numbers behave like one quantity's."""
    unexplained = [
        i
        for i, (column, wording) in enumerate(zip(timed.table.columns, spoken, strict=True))
        if i not in timed.columns
        and column.header not in given
        and _is_unexplained(reports[i], wording)
        and not _dead(i, timed, spoken)
        and _twin(i, timed.table) is None
    ]
    if not unexplained:
        return
    known = {(c.quantity, c.position): c for r in reports if (c := r.candidate) is not None}
    for i, guess in guesses(unexplained, known, evidence).items():
        if _fits_words(guess, spoken[i]):
            reason = say("importers", "columns", "behaves", could_be=_could_be(guess), why=guess.why)
            reports[i] = Understood(
                Column(
                    timed.table.columns[i].header,
                    guess.quantity,
                    guess.position,
                    guess.unit,
                    "doubtful",
                    reason,
                ),
                None,
            )


def _is_unexplained(report: Understood, wording: Wording) -> bool:
    if (
        report.candidate is not None
        or report.column.quantity is not None
        or wording.kinds & {"time", "date", "counter", "event"}
    ):
        return False
    return (
        wording.aside == DUTY
        if wording.aside
        else report.column.status == "doubtful" or not (wording.kinds or wording.subjects)
    )


def _fits_words(guess: ColumnGuess, wording: Wording) -> bool:
    """Whether a header's words and unit, where it has any, leave room for a quantity."""
    kinds = {m.kind for m in MEANINGS if m.quantity == guess.quantity}
    spoken = set() if wording.bare or wording.aside else wording.kinds
    dimensions = {d for k in kinds for d in DIMENSIONS[k]}
    return (not spoken or bool(spoken & kinds)) and (
        not wording.units or any(u.dimension in dimensions for u in wording.units)
    )


def _stand_together(group: Sequence[int], reports: list[Understood]) -> None:
    """Like columns are in the same unit: where one is in doubt or read otherwise, so are its siblings."""
    used = [i for i in group if reports[i].candidate is not None]
    factors = {reports[i].candidate.factor for i in used}  # type: ignore[union-attr]
    doubtful = next(
        (
            reports[i].column.header
            for i in group
            if reports[i].column.status == "doubtful" and reports[i].column.quantity
        ),
        "",
    )
    if not used or (len(factors) == 1 and not doubtful):
        return
    why = say("importers", "columns", "like_doubtful" if doubtful else "like_otherwise", header=doubtful)
    for i in used:
        reports[i] = _asked(reports[i], why)


def _asked(one: Understood, why: str) -> Understood:
    """A column left out until the user names it."""
    reason = say("importers", "columns", "name_it", reason=why)
    return Understood(replace(one.column, status="doubtful", reason=reason), None)


def _backed(
    i: int, own: Candidate | None, options: Sequence[Sequence[Candidate]], evidence: ColumnEvidence
) -> bool:
    """Whether another column that could hold the same quantity says the same: whichever is taken, the figures
    are the same.
    """
    return own is not None and any(
        (c.quantity, c.position) == (own.quantity, own.position) and _agree(c, own, evidence, 0.005)
        for j, column in enumerate(options)
        if j != i
        for c in column
    )


def _repeat(
    one: Understood,
    options: tuple[Candidate, ...],
    others: Sequence[Understood],
    evidence: ColumnEvidence,
    *,
    near: float = 0.02,
) -> Understood:
    """A column left over because another holds the same quantity: ignored, not doubtful, where both say the
    same.
    """
    if one.column.status != "doubtful" or one.column.quantity is not None:
        return one
    for other in others:
        used = other.candidate
        if used is None or other.column.status != "used":
            continue
        for candidate in options:
            if (candidate.quantity, candidate.position) == (used.quantity, used.position) and _agree(
                candidate, used, evidence, near
            ):
                reason = say("importers", "columns", "repeats", header=other.column.header)
                return replace(one, column=replace(one.column, status="ignored", reason=reason))
    return one


def _agree(a: Candidate, b: Candidate, evidence: ColumnEvidence, near: float) -> bool:
    ours, theirs = evidence.values(a), evidence.values(b)
    both = np.isfinite(ours) & np.isfinite(theirs)
    size = float(np.max(np.abs(theirs[both]), initial=0.0))
    return bool(both.any()) and size > 0 and float(np.median(np.abs(ours[both] - theirs[both]))) < near * size


def _settled(column: RawColumn, wording: Wording, chosen: Chosen) -> Understood:
    """A column that the user named, or set aside."""
    own = chosen.candidate
    if own is None:
        said = say("importers", "columns", "answered")
        return Understood(Column(column.header, None, "", wording.unit_text, "ignored", said), None)
    return Understood(Column(column.header, own.quantity, own.position, own.unit, "used", own.reason), own)


def _report(
    i: int,
    dead: str,
    wording: Wording,
    options: tuple[Candidate, ...],
    chosen: Chosen,
    timed: Timed,
    backed: bool,
    taken: Mapping[tuple[str, str], str],
) -> Understood:
    column = timed.table.columns[i]
    if i in timed.columns:
        status = "doubtful" if timed.doubtful else "used"
        return Understood(Column(column.header, "time_s", "", timed.unit, status, timed.reason), None)
    own = chosen.candidate
    if own is None:
        status, reason = _left_out(column, dead, wording, options, _twin(i, timed.table), taken)
        return Understood(Column(column.header, None, "", wording.unit_text, status, reason), None)
    least = LEAST_MARGIN_AGAINST_A_HEADER if chosen.overruled else LEAST_MARGIN
    if chosen.margin < least or (chosen.support < LEAST_MARGIN and not backed):
        rival = chosen.runner_up if chosen.margin < least else None
        return Understood(
            Column(column.header, own.quantity, own.position, own.unit, "doubtful", _doubt(own, rival)), None
        )
    return Understood(Column(column.header, own.quantity, own.position, own.unit, "used", own.reason), own)


def _doubt(own: Candidate, other: Candidate | None) -> str:
    said = _could_be(own)
    if other is None:
        return say("importers", "columns", "weak", could_be=said)
    if (own.quantity, own.position, own.unit) == (other.quantity, other.position, other.unit):
        return say("importers", "columns", "either_sign", could_be=said)
    named = f"{other.quantity}{_at(other)}"
    return say("importers", "columns", "two_ways", could_be=said, name=named, unit=other.unit)


def _could_be(one: Candidate | ColumnGuess) -> str:
    return say("importers", "columns", "could_be", name=f"{one.quantity}{_at(one)}", unit=one.unit)


def _at(one: Candidate | ColumnGuess) -> str:
    return f"@{one.position}" if one.position else ""


def _left_out(
    column: RawColumn,
    dead: str,
    wording: Wording,
    options: tuple[Candidate, ...],
    twin: str | None,
    taken: Mapping[tuple[str, str], str],
) -> tuple[str, str]:
    if twin is not None:
        return "ignored", say("importers", "columns", "twin")
    if dead:
        return "ignored", dead
    if _unconnected(column, wording):
        return "ignored", say("importers", "columns", "unconnected")
    if wording.aside:
        return "ignored", say("importers", "columns", "aside", wording.aside)
    if "time" in wording.kinds or "date" in wording.kinds or "counter" in wording.kinds:
        return "ignored", say("importers", "columns", "another_clock")
    if options:
        return "doubtful", _unchosen(options, taken)
    if "electrical" in wording.subjects and not options:
        return "doubtful", say("importers", "columns", "electrical_speed")
    if wording.kinds - {"event"}:
        kinds = say("events", "and").join(sorted(wording.kinds))
        return "doubtful", say("importers", "columns", "kind_alone", kinds=kinds)
    if any(u.dimension in KIND_OF_DIMENSION for u in wording.units):
        return "doubtful", say("importers", "columns", "unit_alone", unit=wording.unit_text)
    return "ignored", say("importers", "columns", "unknown")


def _unchosen(options: tuple[Candidate, ...], taken: Mapping[tuple[str, str], str]) -> str:
    """Why none of a column's readings was chosen: another column took the place, or no reading fits."""
    best = max(options, key=lambda c: c.words)
    header = taken.get((best.quantity, best.position))
    if header is not None:
        return say("importers", "columns", "another_fits", header=header)
    return say("importers", "columns", "none_fits", could_be=_could_be(best))
