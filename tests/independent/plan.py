"""What an aircraft is and what is to be done with it: the inputs of one simulated run."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from .cells import Pack
from .drive import DriveParts


@dataclass
class Airframe:
    """Point mass with a polar."""

    mass_kg: float
    span_m: float
    wing_m2: float
    drag_m2: float
    lift_max: float = 1.25
    oswald: float = 0.78
    rolling: float = 0.05
    drag_speed_power: float = -0.12

    @property
    def induced(self) -> float:
        return self.wing_m2 / (3.14159265 * self.oswald * self.span_m**2)


@dataclass
class Air:
    """Weather of the day."""

    temperature_c: float = 16.0
    pressure_pa: float = 100800.0
    wind_mps: float = 3.0
    gust_mps: float = 0.8
    gust_length_m: float = 60.0

    @property
    def density(self) -> float:
        return self.pressure_pa / 287.053 / (self.temperature_c + 273.15)


@dataclass
class Leg:
    """One part of the pilot's plan."""

    kind: str
    seconds: float = 0.0
    altitude_m: float = 50.0
    speed_mps: float = 18.0
    throttle: float = 0.0
    bank_deg: float = 35.0
    straight_s: float = 6.0
    cuts: tuple[float, ...] = ()


@dataclass
class Event:
    """Something that happens to a motor while the run goes on.

    It begins at the first moment from `after_s` on at which the motor is commanded over `needs` (and, when
    `airborne`, the aircraft flies straight); `began_s` and `ended_s` are filled in by the run.
    `land_after_s`: so long the pilot goes on.
    """

    kind: str
    motor: int = 0
    after_s: float = 0.0
    seconds: float = 1e9
    value: float = 0.0
    needs: float = 0.3
    airborne: bool = True
    land_after_s: float = 1e9
    began_s: float | None = None
    ended_s: float | None = None


@dataclass
class Plan:
    """Aircraft, weather, pilot and recorder of one run, before and after faults have altered it."""

    name: str
    seed: int
    kind: str
    airframe: Airframe
    pack: Pack
    drives: list[DriveParts]
    air: Air
    legs: list[Leg]
    land_at_charge: float = 0.32
    receiver_a: float = 0.0
    mixed_thrust: float = 0.0
    own_commands: bool = False
    events: list[Event] = field(default_factory=list)
    recorder: dict[str, Any] = field(default_factory=dict)
    sheet: dict[str, Any] = field(default_factory=dict)
    edits: list[Callable[..., None]] = field(default_factory=list)
    roughness: float = 1.0
    receiver_v: float = 5.5
    receiver_dips: list[tuple[float, float, float]] = field(default_factory=list)
