"""Two groups of kept flights: what of them can be compared, and in what they were flown differently."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from telemetry.errors import BadUse
from telemetry.history import FlownMotor
from telemetry.logbook.records import KeptFlight
from telemetry.season.comparing import ComparedFlight, Comparison, compare
from telemetry.sentences import say
from telemetry.sheet.units import MM_PER_INCH

_MOST = 100_000
"""A longer range is a slip of the pen. [flights]"""
_RANGE = re.compile(r"(\d+)(?:-(\d+))?")


def numbers_of(text: str) -> tuple[int, ...]:
    """Numbers of flights, as "2-5" or "2,4,7-9".

    Raises
    ------
    BadUse : it is neither a number nor a range.
    """
    numbers: list[int] = []
    for part in text.replace(" ", "").split(","):
        found = _RANGE.fullmatch(part)
        if found is None or len(part) > 20:
            raise BadUse(f"'{text}' names no flights", "Write numbers and ranges, as 2-5 or 2,4,7-9.")
        low, high = int(found[1]), int(found[2] or found[1])
        if not low <= high <= low + _MOST:
            raise BadUse(f"'{part}' is no range of flights", "Write the lower number first, as 2-5.")
        numbers += range(low, high + 1)
    return tuple(dict.fromkeys(numbers))


def compare_groups(kept: Sequence[KeptFlight], first: Sequence[int], second: Sequence[int]) -> Comparison:
    """What changed between two groups of flights.

    Parameters
    ----------
    kept : every flight of the logbook.
    first, second : numbers of flights.

    Returns
    -------
    Of the flights that count; the notes name what was left out, and in what else the groups differ.

    Raises
    ------
    BadUse : there is no such flight, one is in both groups, or no flight of a group counts.
    """
    by_number = {f.id: f for f in kept}
    for number in (*first, *second):
        if number not in by_number:
            raise BadUse(f"the logbook has no flight {number}", "sagline flights lists what it has.")
    both = sorted(set(first) & set(second))
    if both:
        raise BadUse(f"flight {both[0]} is in both groups", "Name it in one of them.")
    asked = [[by_number[number] for number in dict.fromkeys(group)] for group in (first, second)]
    groups = [[f for f in group if not _left_out(f)] for group in asked]
    for which, group in zip(("first", "second"), groups, strict=True):
        if not group:
            raise BadUse(f"no flight of the {which} group counts", "Name flights that are in the season.")
    found = compare(*([_compared(f) for f in group] for group in groups))
    left = [
        say("compare", "left_out", number=f.id, why=why)
        for f in (*asked[0], *asked[1])
        if (why := _left_out(f))
    ]
    return replace(found, notes=(*left, *_flown_with(groups), *found.notes))


def _left_out(flight: KeptFlight) -> str:
    """Why a flight counts in no figure; "" where it counts."""
    if flight.removed:
        return say("compare", "why", "removed")
    if flight.again is not None:
        return say("compare", "why", "again", number=flight.again)
    if flight.contradicts_sheet:
        return say("compare", "why", "other_aircraft")
    return "" if flight.kind == "flight" else say("compare", "why", flight.kind)


def _compared(flight: KeptFlight) -> ComparedFlight:
    past = flight.past
    ohm = flight.pack_25c_ohm or flight.pack_ohm
    figures: dict[str, float | None] = {
        "rate_mah_per_min": past.rate_mah_per_min if past else None,
        "mean_current_a": flight.mean_current_a if past else None,
        "pack_resistance_1s_ohm": ohm.value if ohm else None,
        "lowest_cell_v": flight.lowest_cell_v,
        "imbalance_fraction": flight.imbalance_fraction.value if flight.imbalance_fraction else None,
        "least_margin_fraction": flight.least_margin_fraction,
    }
    figures |= {
        f"cell_resistance_ratio@{cell}": ratio.value
        for cell, ratio in enumerate(flight.cell_ratios, start=1)
        if ratio is not None
    }
    shares = ("imbalance_fraction", "least_margin_fraction")
    told = {k: v for k, v in figures.items() if v is not None and (v > 0.0 or k in shares)}
    return ComparedFlight(flight.id, flight.pack_called, flight.temperature_c, told)


def _flown_with(groups: Sequence[Sequence[KeptFlight]]) -> list[str]:
    """In what the aircraft of two groups differ, by their sheets."""
    notes = []
    for key, of in _FITTED.items():
        first, second = (", ".join(dict.fromkeys(filter(None, map(of, group)))) for group in groups)
        if first and second and first != second:
            notes.append(say("compare", "fitted", key, first=first, second=second))
    return notes


def fitted_differently(before: KeptFlight, after: KeptFlight) -> tuple[str, ...]:
    """What of an aircraft was changed between two flights, by their sheets.

    Parameters
    ----------
    before, after : of one aircraft.

    Returns
    -------
    A clause each, such as "propeller: 11 × 7 in, then 12 × 7 in"; none where it was told for one alone.
    """
    told = {part: (_FITTED[part](before), _FITTED[part](after)) for part in ("propeller", "motor", "mass")}
    return tuple(
        say("compare", "then", part, first=one, second=other)
        for part, (one, other) in told.items()
        if one and other and one != other
    )


def _of_motors(told: Callable[[FlownMotor], str]) -> Callable[[KeptFlight], str]:
    """What is told of a flight's motors, once where they are alike."""

    def of(flight: KeptFlight) -> str:
        motors = flight.drive.motors if flight.drive else ()
        return " / ".join(dict.fromkeys(text for text in map(told, motors) if text))

    return of


def _propeller(motor: FlownMotor) -> str:
    if motor.diameter_m is None:
        return ""
    pitch = "" if motor.pitch_m is None else f" × {1000.0 * motor.pitch_m / MM_PER_INCH:.3g}"
    blades = "" if motor.blades in (None, 2) else say("compare", "blades", count=motor.blades)
    return f"{1000.0 * motor.diameter_m / MM_PER_INCH:.3g}{pitch} in{blades}"


def _mass(flight: KeptFlight) -> str:
    mass_kg = flight.drive.mass_kg if flight.drive else None
    return "" if mass_kg is None else f"{mass_kg:.3g} kg"


_FITTED: Mapping[str, Callable[[KeptFlight], str]] = {
    "aircraft": lambda flight: flight.aircraft,
    "configuration": lambda flight: flight.configuration or say("compare", "as_it_stands"),
    "propeller": _of_motors(_propeller),
    "motor": _of_motors(lambda m: "" if m.kv_rpm_per_v is None else f"{m.kv_rpm_per_v:.0f} rpm/V"),
    "mass": _mass,
}
