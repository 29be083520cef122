"""The one list of quantities: name, unit, positions, plausible range, sign.

A column of a log is one quantity at one position. Values inside a trace are in
the unit that ends the quantity's name.
"""

from __future__ import annotations

from dataclasses import dataclass

MOTOR_POSITIONS = (
    "left",
    "right",
    "left_outer",
    "left_inner",
    "right_inner",
    "right_outer",
    "centre",
    "1",
    "2",
    "3",
    "4",
)
"""Where a motor sits. `1` to `4` stand until the sheet or the user says which is left."""

PAIRS = (("left", "right"), ("left_outer", "right_outer"), ("left_inner", "right_inner"), ("1", "2"))
"""Motors that mirror one another, left first."""

_OF_A_PACK = "_pack"


def pack_position(motor: str) -> str:
    """The position of the pack that feeds one motor.

    Parameters
    ----------
    motor : its position.

    Returns
    -------
    Such as "left_pack".
    """
    return motor + _OF_A_PACK


PACK_POSITIONS = tuple(pack_position(p) for p in MOTOR_POSITIONS if not p.isdigit())
"""Packs that feed one motor each."""


def pack_part(position: str) -> tuple[str, str]:
    """A position as its pack sees it.

    Parameters
    ----------
    position : of any channel.

    Returns
    -------
    The pack and the place within it: "left_pack.3" is cell "3" of "left_pack", "left_pack" is "" of it; the
    pack is "" where the position is of none.
    """
    pack, _, cell = position.partition(".")
    return (pack, cell) if pack in PACK_POSITIONS else ("", position)


def fed_motor(pack: str) -> str:
    """The motor that a pack of its own feeds.

    Parameters
    ----------
    pack : such as "left_pack".

    Returns
    -------
    The motor's position.
    """
    return pack.removesuffix(_OF_A_PACK)


@dataclass(frozen=True, slots=True)
class Quantity:
    """What a column can mean.

    Attributes
    ----------
    name : ends in its unit.
    unit : as written on screens, UCUM-like.
    positions : which positions it may have: "none", "cell" (also of a pack that feeds one motor), "motor",
        "pack" (empty for the whole, or a pack that feeds one motor), "pack or motor" (these and a motor),
        "whole or motor" (empty or a motor), "axis" (x, y, z or empty).
    low, high : the plausible range; a value outside is a fault of the recorder.
    convention : what its sign or zero means.
    counts_up : it never falls within one power-on.
    """

    name: str
    unit: str
    positions: str
    low: float
    high: float
    convention: str = ""
    counts_up: bool = False

    def admits(self, position: str) -> bool:
        """Whether the quantity may stand at this position."""
        pack, place = pack_part(position)
        if self.positions == "cell":
            return place.isdigit() and 1 <= int(place) <= 14
        if pack:
            return place == "" and position == pack and self.positions in ("pack", "pack or motor")
        if self.positions in ("none", "pack"):
            return position == ""
        if self.positions == "axis":
            return position in ("", "x", "y", "z")
        return position in MOTOR_POSITIONS or (position == "" and self.positions != "motor")


_LIST = (
    Quantity("time_s", "s", "none", 0.0, 1e10, "from the first row of the first log"),
    Quantity("pack_voltage_v", "V", "pack", 2.0, 65.0, "under load and at rest"),
    Quantity("cell_voltage_v", "V", "cell", 0.0, 4.6, "1 at the pack's negative end"),
    Quantity(
        "current_a",
        "A",
        "pack or motor",
        -200.0,
        600.0,
        "positive out of the pack; a motor's is what its controller draws from the pack",
    ),
    Quantity(
        "charge_mah",
        "mAh",
        "pack or motor",
        -1000.0,
        100_000.0,
        "counts up as charge leaves the pack",
        counts_up=True,
    ),
    Quantity("power_w", "W", "whole or motor", -5000.0, 30_000.0, "positive out of the pack"),
    Quantity("energy_wh", "Wh", "whole or motor", -100.0, 5000.0, "positive out of the pack", counts_up=True),
    Quantity("throttle_fraction", "1", "whole or motor", -1.05, 1.05, "negative is reverse"),
    Quantity("rudder_fraction", "1", "none", -1.5, 1.5, "positive is nose right"),
    Quantity("rpm", "/min", "motor", -60_000.0, 60_000.0, "propeller shaft, never electrical"),
    Quantity("thrust_n", "N", "whole or motor", -500.0, 500.0, "bench stands"),
    Quantity("torque_nm", "N.m", "whole or motor", -50.0, 50.0, "bench stands"),
    Quantity("motor_temperature_c", "Cel", "motor", -40.0, 250.0),
    Quantity("controller_temperature_c", "Cel", "motor", -40.0, 200.0),
    Quantity("pack_temperature_c", "Cel", "pack", -40.0, 120.0),
    Quantity("air_temperature_c", "Cel", "none", -60.0, 70.0),
    Quantity("receiver_voltage_v", "V", "none", 2.5, 13.0),
    Quantity("receiver_current_a", "A", "none", -5.0, 60.0),
    Quantity("altitude_m", "m", "none", -500.0, 5000.0, "above the take-off point"),
    Quantity("climb_mps", "m/s", "none", -100.0, 100.0, "up is positive"),
    Quantity("airspeed_mps", "m/s", "none", -5.0, 150.0),
    Quantity("ground_speed_mps", "m/s", "none", 0.0, 150.0),
    Quantity("latitude_deg", "deg", "none", -90.0, 90.0),
    Quantity("longitude_deg", "deg", "none", -180.0, 180.0),
    Quantity("course_deg", "deg", "none", -360.0, 720.0),
    Quantity("acceleration_mps2", "m/s2", "axis", -400.0, 400.0),
    Quantity("vibration_mps2", "m/s2", "axis", 0.0, 2000.0),
    Quantity("link_fraction", "1", "none", 0.0, 1.0, "radio link quality"),
    Quantity("event", "", "none", 0.0, 0.0, "marks and switches, kept as text"),
)

QUANTITIES: dict[str, Quantity] = {q.name: q for q in _LIST}
"""Every quantity by name, in the order of the table in DEVELOPERS.md."""

ELECTRICAL = frozenset(
    {"pack_voltage_v", "cell_voltage_v", "current_a", "charge_mah", "power_w", "energy_wh"}
)
"""At least one of these makes a log one that can be reviewed."""
