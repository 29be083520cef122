"""Whether a past flight was flown with the drive of the sheet in hand: only then does it tell what the next
flight will take.

The drive is motors, propellers, number of cells and configuration, with mass and drag area; the pack is no
part of it. What one of two sheets leaves out contradicts nothing, except under the name that a new sheet
carries: there any difference may be another aircraft.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from telemetry.history import FlownDrive, FlownMotor, PastFlight
from telemetry.sentences import say
from telemetry.sheet.setup import Setup
from telemetry.sheet.writing import TEMPLATE_NAME

ALIKE_FRACTION = 0.05
"""Mass and drag area of one drive lie within this."""


def drive_of(setup: Setup) -> FlownDrive:
    """What a set-up flies with."""
    motors = tuple(
        FlownMotor(
            drive.position,
            drive.motor.kv_rpm_per_v,
            drive.motor.resistance_ohm,
            drive.propeller.diameter_m,
            drive.propeller.pitch_m,
            drive.propeller.blades,
            drive.propeller.ducted,
        )
        for drive in setup.drives
    )
    named = setup.name != TEMPLATE_NAME
    pack = setup.pack
    return FlownDrive(pack.cells, motors, setup.mass_kg, setup.drag_area_m2, pack.capacity_mah, named)


def of_this_drive(history: Sequence[PastFlight], setup: Setup) -> tuple[PastFlight, ...]:
    """The flights that are evidence for a timer of this set-up.

    Parameters
    ----------
    history : of one aircraft by its name; a row without a drive counts as the sheet's own.
    """
    names, ours = (setup.configuration, *setup.also_called), drive_of(setup)
    return tuple(
        row
        for row in history
        if row.configuration in names and (row.drive is None or not difference(row.drive, ours))
    )


def difference(flown: FlownDrive, ours: FlownDrive) -> str:
    """What tells two drives apart, as a clause; "" where nothing does."""
    return next(_differences(flown, ours), "")


def one_aircraft(one: FlownDrive | None, other: FlownDrive | None) -> bool:
    """Whether two flights under one name may be of one aircraft: not where the name is a new sheet's own and
    anything else differs.
    """
    if one is None or other is None or (one.is_named and other.is_named):
        return True
    return not difference(one, other)


def same_motors(flown: FlownDrive | None, ours: FlownDrive | None) -> bool:
    """Whether two sheets may speak of the same motors; a flight without a sheet contradicts nothing."""
    if flown is None or ours is None:
        return True
    return not any(_motors_differ(flown, ours, strict=not (flown.is_named and ours.is_named)))


def _differences(flown: FlownDrive, ours: FlownDrive) -> Iterator[str]:
    strict = not (flown.is_named and ours.is_named)
    if _apart(flown.cells, ours.cells, 0.0, strict):
        yield say("drive", "cells")
    if strict and _apart(flown.capacity_mah, ours.capacity_mah, 0.0, strict):
        yield say("drive", "capacity")
    yield from _motors_differ(flown, ours, strict=strict)
    if _apart(flown.mass_kg, ours.mass_kg, ALIKE_FRACTION, strict):
        yield say("drive", "mass")
    if _apart(flown.drag_area_m2, ours.drag_area_m2, ALIKE_FRACTION, strict):
        yield say("drive", "drag")


def _motors_differ(
    flown: FlownDrive, ours: FlownDrive, *, strict: bool, written: float = 0.002, metered: float = 0.05
) -> Iterator[str]:
    """`written` is the rounding of a figure given in another unit, `metered` what two measurements of one
    winding differ by.
    """
    if not strict and not (flown.motors and ours.motors):
        return
    if [m.position for m in flown.motors] != [m.position for m in ours.motors]:
        yield say("drive", "motors")
        return
    for one, other in zip(flown.motors, ours.motors, strict=True):
        if _apart(one.kv_rpm_per_v, other.kv_rpm_per_v, written, strict) or _apart(
            one.resistance_ohm, other.resistance_ohm, metered, strict
        ):
            yield say("drive", "motor")
        if one.ducted != other.ducted or any(
            _apart(getattr(one, name), getattr(other, name), written, strict)
            for name in ("diameter_m", "pitch_m", "blades")
        ):
            yield say("drive", "propeller")


def _apart(flown: float | None, ours: float | None, share: float, strict: bool) -> bool:
    """Whether two figures contradict each other; `strict` takes one that is left out for another."""
    if flown is None or ours is None:
        return strict and flown is not ours
    return abs(flown - ours) > share * abs(ours) + 1e-9
