"""Columns that belong together by their names: numbered from zero, or taps that are running sums."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from telemetry.importers.columns.meanings import KIND_OF_DIMENSION
from telemetry.importers.faults import rough
from telemetry.importers.freshness import freshness
from telemetry.importers.table import RawColumn, Table
from telemetry.importers.units import vocabulary_file
from telemetry.importers.wording import Wording
from telemetry.sentences import say
from telemetry.trace import Floats, Note

_SIDES = frozenset({"left", "right"})


def _numbered(wordings: Sequence[Wording]) -> list[list[int]]:
    """Columns whose names differ by their number alone, each group in order of that number."""
    groups: dict[tuple[object, ...], list[int]] = defaultdict(list)
    for i, wording in enumerate(wordings):
        if wording.number is not None and not wording.aside:
            groups[wording.kinds, wording.subjects, wording.positions, wording.units, wording.unknown].append(
                i
            )
    return [
        sorted(group, key=lambda i: wordings[i].number or 0) for group in groups.values() if len(group) > 1
    ]


def _like(i: int, wordings: Sequence[Wording]) -> list[Wording]:
    """The other columns that speak of the same in the same unit."""
    own = wordings[i]
    return [
        w
        for j, w in enumerate(wordings)
        if j != i and (w.kinds, w.subjects, w.units) == (own.kinds, own.subjects, own.units)
    ]


def sided(wordings: Sequence[Wording]) -> tuple[Wording, ...]:
    """Give letters that only make sense beside one another their sides: "L" and "P", "E" and "D".

    A letter that no pair explains, beside a column that names a side, stands for some place
    that is not known: it is not taken for the whole.
    """
    pairs = [pair.lower() for pair in vocabulary_file()["pairs"]["letters"]]
    mates = [mate for a, b in pairs for mate in ((a, b, "left"), (b, a, "right"))]
    found = list(wordings)
    for i, wording in enumerate(wordings):
        like = _like(i, wordings) if wording.unknown else []
        if _may_be_other_side(wording, like):
            found[i] = replace(wording, positions=_SIDES)
        elif letter := _lone_letter(wording):
            others = {w.unknown[0] for w in like if len(w.unknown) == 1}
            others |= {"l" if "left" in w.positions else "d" for w in like if w.positions & _SIDES}
            sides = {side for own, other, side in mates if own == letter and other in others}
            if len(sides) == 1:
                found[i] = replace(wording, positions=frozenset(sides), unknown=())
            elif any(w.positions for w in like):
                found[i] = replace(wording, positions=_SIDES)
    return tuple(found)


def _lone_letter(wording: Wording) -> str:
    """The one letter of a header that nobody knows, where nothing else says a place; "" without one."""
    placed = wording.positions or wording.bare or wording.aside
    return wording.unknown[0] if len(wording.unknown) == 1 == len(wording.unknown[0]) and not placed else ""


def _may_be_other_side(own: Wording, like: Sequence[Wording], *, least: int = 3) -> bool:
    """Whether a column with a word that nobody knows stands beside its like of one side only: the word may be
    the other side, misspelt.
    """
    if own.positions or own.aside or own.number is not None or not own.kinds:
        return False
    misspelt = any(len(word) >= least for word in own.unknown)
    return misspelt and len({side for w in like for side in w.positions & _SIDES}) == 1


def siblings(wordings: Sequence[Wording]) -> list[list[int]]:
    """Columns that say the same of different places: the cells of a pack, the motors' currents."""
    groups: dict[tuple[object, ...], list[int]] = defaultdict(list)
    for i, wording in enumerate(wordings):
        if not wording.aside and (wording.number is not None or wording.positions):
            groups[wording.kinds, wording.subjects, wording.units, wording.unknown].append(i)
    return [group for group in groups.values() if len(group) > 1]


def from_one(wordings: Sequence[Wording]) -> tuple[Wording, ...]:
    """Count cells and motors from one where the recorder counts them from zero."""
    found = list(wordings)
    for group in _numbered(wordings):
        numbers = [wordings[i].number for i in group]
        if numbers == list(range(len(group))):
            for i in group:
                found[i] = replace(found[i], number=(found[i].number or 0) + 1)
    return tuple(found)


_OF_THE_WHOLE = frozenset({"pack", "total", "out"})
_OF_A_MOTOR = frozenset({"motor", "controller"})


def lone(wordings: Sequence[Wording], columns: Sequence[RawColumn]) -> tuple[Wording, ...]:
    """Put a motor's or controller's column that stands beside the pack's own into the centre: both speak of
    one aircraft with one motor, whose controller draws what the pack gives, less the receiver. Its voltage is
    the pack's, less the leads'.

    Of a kind with columns of several places there is no lone motor.
    """
    found = list(wordings)
    for kind in ("voltage", "current", "charge", "power", "energy"):
        like = [i for i, w in enumerate(wordings) if _speaks_of(w, kind)]
        motors = [i for i in like if wordings[i].subjects & _OF_A_MOTOR]
        whole = [i for i in like if wordings[i].subjects <= _OF_THE_WHOLE]
        placed = any(wordings[i].positions or wordings[i].number is not None for i in like)
        if not len(motors) == len(whole) == 1 or placed or not wordings[motors[0]].subjects <= _OF_A_MOTOR:
            continue
        if kind != "voltage":
            found[motors[0]] = replace(wordings[motors[0]], positions=frozenset({"centre"}))
        elif _reads_as(columns[motors[0]], columns[whole[0]]):
            found[motors[0]] = replace(wordings[motors[0]], aside="controller_voltage")
    return tuple(found)


def _reads_as(one: RawColumn, other: RawColumn, *, near: float = 0.05) -> bool:
    """Whether two columns read alike: a pack's voltage loses a few parts in a hundred on the way."""
    return abs(_level(one) - _level(other)) < near * _level(other)


def _speaks_of(wording: Wording, kind: str) -> bool:
    """Whether a header names a kind, or no kind and a unit of it."""
    kinds = wording.kinds or {KIND_OF_DIMENSION.get(u.dimension, "") for u in wording.units}
    return kind in kinds and not wording.aside


def _level(column: RawColumn) -> float:
    some = column.numbers[:: max(1, column.numbers.size // 20_000)]
    values = some[np.isfinite(some)]
    return float(np.median(values)) if values.size else 0.0


def _are_running_sums(levels: Sequence[float], low: float, high: float) -> bool:
    steps = np.diff([0.0, *levels])
    return any(
        bool(np.all((steps * factor > low) & (steps * factor < high))) for factor in (1.0, 0.001, 0.01)
    )


def _difference(upper: Floats, lower: Floats, *, most_change_v: float = 0.1, reach_rows: int = 20) -> Floats:
    """One tap less the one below it, at the rows where the upper one is new; repeats hold it.

    Where the lower tap is read in other rows, a straight line between its readings before
    and after stands for it, unless they differ by more than `most_change_v` of a volt or
    lie far apart: then nothing can be said. `upper` and `lower` are in the same unit.
    """
    rows = np.arange(upper.size, dtype=float)
    new_upper, new_lower = freshness(rows, upper).fresh, freshness(rows, lower).fresh
    if new_upper.mean() > 0.9 and new_lower.mean() > 0.9:
        return upper - lower
    own = np.flatnonzero(new_lower)
    if own.size < 2:
        return np.full(upper.size, np.nan)
    after = np.clip(np.searchsorted(own, rows, side="left"), 1, own.size - 1)
    before = np.where(own[after] == rows, after, after - 1)
    after = np.where(own[after] <= rows, after, after)
    sure = np.abs(lower[own[after]] - lower[own[before]]) <= most_change_v * _volt(lower)
    sure &= (own[after] - own[before] <= reach_rows) & (rows >= own[0]) & (rows <= own[-1])
    found = np.where(new_upper & sure, upper - np.interp(rows, own, lower[own]), np.nan)
    # A row that repeats the upper tap repeats the difference; one that could not be formed stays silent.
    source = np.maximum.accumulate(np.where(new_upper, np.arange(upper.size), -1))
    return np.where(np.isfinite(upper) & (source >= 0), found[np.maximum(source, 0)], np.nan)


def _volt(numbers: Floats) -> float:
    """How many of the numbers make a volt: taps are read in volts, hundredths or thousandths."""
    level = float(np.nanmedian(np.abs(numbers)))
    return 1.0 if level < 70 else 100.0 if level < 2100 else 1000.0


def _distinct(group: Sequence[int], wordings: Sequence[Wording], columns: Sequence[RawColumn]) -> list[int]:
    """The group without columns that repeat another's number and readings."""
    kept: dict[int | None, int] = {}
    for i in group:
        first = kept.setdefault(wordings[i].number, i)
        if first != i and not np.array_equal(columns[first].numbers, columns[i].numbers, equal_nan=True):
            return list(group)
    return list(kept.values())


def _live_readings(numbers: Floats) -> Floats:
    """A tap's readings without its faults; silent throughout when it never moves, for then two cells cannot
    be known.
    """
    cleaned = rough(numbers)
    good = cleaned[np.isfinite(cleaned)]
    return np.full(numbers.size, np.nan) if good.size and good.min() == good.max() else cleaned


def _is_voltage(wording: Wording) -> bool:
    named = "voltage" in wording.kinds or {"cell", "tap"} & wording.subjects
    return bool(named) or any(u.dimension == "voltage" for u in wording.units)


def untapped(
    table: Table, wordings: Sequence[Wording], *, low_v: float = 2.3, high_v: float = 4.45
) -> tuple[Table, tuple[Wording, ...]]:
    """Turn balance taps into cells: each tap reads the sum of the cells below it.

    A group of voltages numbered from one is taken for taps when each lies above the one
    before it by what a cell may read; cells of a pack lie beside one another.
    """
    columns, found, notes = list(table.columns), list(wordings), []
    for group in _numbered(wordings):
        live = [i for i in _distinct(group, wordings, columns) if _level(columns[i]) > 0]
        numbers = [found[i].number for i in live]
        if not _is_voltage(found[group[0]]) or len(live) < 2 or numbers != list(range(1, len(live) + 1)):
            continue
        if not _are_running_sums([_level(columns[i]) for i in live], low_v, high_v):
            continue
        readings = [_live_readings(table.columns[i].numbers) for i in live]
        for n, i in enumerate(live, start=1):
            cell_v = readings[n - 1]
            if n > 1:
                cell_v = np.round(_difference(cell_v, readings[n - 2]), 6)
            columns[i] = replace(columns[i], numbers=cell_v)
            reason = say("importers", "columns", "tap" if n > 1 else "first_tap", cell=n, below=n - 1)
            notes.append(Note("taps", columns[i].header, "used", reason))
        for i in group:
            found[i] = replace(found[i], subjects=frozenset({"cell"}), kinds=frozenset({"voltage"}))
    return replace(table, columns=tuple(columns)).noted(*notes), tuple(found)
