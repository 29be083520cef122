"""What a sheet must say before its prediction alone may set an alarm."""

from __future__ import annotations

from telemetry.sentences import say
from telemetry.sheet.setup import Drive, Setup


def to_fill_in(setup: Setup) -> tuple[str, ...]:
    """The keys without which the sheet describes no aircraft in particular; () when it says enough.

    Enough is the mass, and of every motor either Kv with the propeller's diameter and pitch or a static
    point, of a ducted fan a static point: what else is left out widens the prediction, without these it is a
    guess at a usual model.
    """
    wanting = [say("timer", "floor", "mass")] if setup.mass_kg is None else []
    if not setup.drives or not all(_is_known(drive) for drive in setup.drives):
        wanting.append(say("timer", "floor", "drive"))
    return tuple(wanting)


def _is_known(drive: Drive) -> bool:
    sizes = (drive.motor.kv_rpm_per_v, drive.propeller.diameter_m, drive.propeller.pitch_m)
    sized = None not in sizes and not drive.propeller.ducted
    return sized or bool(drive.propeller.static_points)
