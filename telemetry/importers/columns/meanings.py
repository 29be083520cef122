"""Which kind, of which subject, makes which quantity: the one table that turns words into candidates."""

from __future__ import annotations

from dataclasses import dataclass

DIMENSIONS: dict[str, tuple[str, ...]] = {
    "voltage": ("voltage",),
    "current": ("current",),
    "charge": ("charge",),
    "power": ("power",),
    "energy": ("energy",),
    "throttle": ("fraction", "pulse"),
    "rudder": ("fraction", "pulse"),
    "rotation": ("rotation", "electrical_rotation"),
    "temperature": ("temperature",),
    "altitude": ("length",),
    "climb": ("speed",),
    "airspeed": ("speed",),
    "ground_speed": ("speed",),
    "speed": ("speed",),
    "latitude": ("angle",),
    "longitude": ("angle",),
    "course": ("angle",),
    "acceleration": ("acceleration",),
    "vibration": ("acceleration",),
    "thrust": ("force",),
    "torque": ("torque",),
    "link": ("fraction",),
    "time": ("time",),
    "date": (),
    "counter": (),
    "event": (),
}
"""Dimensions of the units that a kind may carry."""

KIND_OF_DIMENSION = {
    "voltage": "voltage",
    "current": "current",
    "charge": "charge",
    "power": "power",
    "energy": "energy",
    "rotation": "rotation",
    "electrical_rotation": "rotation",
    "temperature": "temperature",
    "time": "time",
}
"""What a unit alone says, where it says one thing."""


@dataclass(frozen=True, slots=True)
class Meaning:
    """A quantity that a column may hold.

    Attributes
    ----------
    quantity : a name in `QUANTITIES`.
    kind : what the header must speak of.
    subjects : a subject and how well the header fits with it (in nats); "" is a header without a subject.
    """

    quantity: str
    kind: str
    subjects: dict[str, float]


MEANINGS = (
    Meaning("time_s", "time", {"": 6, "total": 6.5, "receiver": 4, "motor": 3}),
    Meaning(
        "pack_voltage_v",
        "voltage",
        {"pack": 6, "total": 5, "": 4, "controller": 3, "motor": 2, "electrical": 2},
    ),
    Meaning("cell_voltage_v", "voltage", {"cell": 6, "tap": 5, "": 3, "pack": 2}),
    Meaning("receiver_voltage_v", "voltage", {"receiver": 6, "": 1.5}),
    Meaning(
        "current_a",
        "current",
        {"out": 6, "pack": 6, "total": 6, "": 5, "motor": 5.5, "controller": 5.5, "electrical": 4},
    ),
    Meaning("receiver_current_a", "current", {"receiver": 6}),
    Meaning(
        "charge_mah", "charge", {"out": 6.5, "pack": 6, "total": 6, "": 5, "motor": 5.5, "controller": 5.5}
    ),
    Meaning(
        "power_w", "power", {"pack": 6, "total": 6, "": 5, "motor": 5.5, "controller": 5.5, "electrical": 5.5}
    ),
    Meaning(
        "energy_wh",
        "energy",
        {"out": 6.5, "pack": 6, "total": 6, "": 5, "motor": 5.5, "controller": 5.5, "electrical": 5.5},
    ),
    Meaning("throttle_fraction", "throttle", {"": 6, "motor": 6, "controller": 6, "total": 5, "receiver": 4}),
    Meaning("rudder_fraction", "rudder", {"": 6}),
    Meaning("rpm", "rotation", {"motor": 6, "": 6, "controller": 5, "electrical": 5, "total": 0}),
    Meaning("thrust_n", "thrust", {"": 6, "motor": 6, "total": 6}),
    Meaning("torque_nm", "torque", {"": 6, "motor": 6, "total": 6}),
    Meaning("motor_temperature_c", "temperature", {"motor": 6}),
    Meaning("controller_temperature_c", "temperature", {"controller": 6}),
    Meaning("pack_temperature_c", "temperature", {"pack": 6, "cell": 4}),
    Meaning("air_temperature_c", "temperature", {"air": 6}),
    Meaning("altitude_m", "altitude", {"": 6, "gps": 4}),
    Meaning("climb_mps", "climb", {"": 6, "total": 3}),
    Meaning("airspeed_mps", "airspeed", {"": 6, "air": 6}),
    Meaning("airspeed_mps", "speed", {"air": 6}),
    Meaning("ground_speed_mps", "ground_speed", {"": 6, "gps": 6}),
    Meaning("ground_speed_mps", "speed", {"gps": 6}),
    Meaning("latitude_deg", "latitude", {"": 6, "gps": 6}),
    Meaning("longitude_deg", "longitude", {"": 6, "gps": 6}),
    Meaning("course_deg", "course", {"": 6, "gps": 6}),
    Meaning("acceleration_mps2", "acceleration", {"": 6}),
    Meaning("vibration_mps2", "vibration", {"": 6, "motor": 5}),
    Meaning("link_fraction", "link", {"": 6, "receiver": 6}),
)
"""Every quantity that is read from numbers. Marks (`event`) are read from texts."""
