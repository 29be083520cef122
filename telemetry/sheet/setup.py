"""The aircraft as one configuration with one pack: what the sheet says, in SI units, nothing assumed.

`Sheet.setup(configuration, pack)` makes one. What the sheet leaves out is None or
empty here; who needs a number assumes it and says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from telemetry.limits import (
    LANDING_ALLOWANCE_S,
    LOADED_CELL_FLOOR_V,
    RESERVE_FRACTION,
    STEADY_WINDOW_S,
    TIMER_CONFIDENCE,
)
from telemetry.physics.chemistry import LIPO, Chemistry
from telemetry.quantities import pack_position


@dataclass(frozen=True, slots=True)
class Rating:
    """What a part carries, and for how long.

    Attributes
    ----------
    part : as it is said to the user, such as "left controller, steadily" or "pack, 10 s".
    position : "" for the whole pack current, a motor's position, or "receiver".
    rating_a : amperes. [A]
    window_s : the mean over any window of this length must stay below. [s]
    """

    part: str
    position: str
    rating_a: float
    window_s: float


@dataclass(frozen=True, slots=True)
class RatedLoad:
    """An entry of a `ratings` list: amperes or multiples of capacity, over some seconds."""

    current_a: float | None = None
    c_rate: float | None = None
    seconds: float = STEADY_WINDOW_S.value


@dataclass(frozen=True, slots=True)
class NoLoadPoint:
    """A motor without a propeller."""

    current_a: float
    voltage_v: float | None = None
    rpm: float | None = None


@dataclass(frozen=True, slots=True)
class StaticPoint:
    """One motor with its propeller, held still."""

    rpm: float
    current_a: float | None = None
    voltage_v: float | None = None
    thrust_n: float | None = None
    density_kgm3: float = 1.225


@dataclass(frozen=True, slots=True)
class Motor:
    """First-order constants of one motor."""

    kv_rpm_per_v: float | None = None
    resistance_ohm: float | None = None
    no_load_points: tuple[NoLoadPoint, ...] = ()
    pole_pairs: int | None = None
    ratings: tuple[RatedLoad, ...] = ()
    max_temperature_c: float | None = None


@dataclass(frozen=True, slots=True)
class Propeller:
    """Size and measured points of one propeller, or of a `ducted` fan, which has no pitch."""

    diameter_m: float | None = None
    pitch_m: float | None = None
    blades: int = 2
    static_points: tuple[StaticPoint, ...] = ()
    ducted: bool = False


@dataclass(frozen=True, slots=True)
class Controller:
    """One speed controller."""

    ratings: tuple[RatedLoad, ...] = ()
    reversing: bool | None = None
    neutral_fraction: float = 0.0
    max_temperature_c: float | None = None
    resistance_ohm: float | None = None


@dataclass(frozen=True, slots=True)
class Drive:
    """Everything at one motor position.

    `rotation` is "clockwise" or "anticlockwise" seen from behind, or None. `logged_as` is the
    number a recorder gives this motor ("1", "2"), or None.
    """

    position: str
    motor: Motor = Motor()
    propeller: Propeller = Propeller()
    controller: Controller = Controller()
    rotation: str | None = None
    arm_m: float | None = None
    logged_as: str | None = None


@dataclass(frozen=True, slots=True)
class Leads:
    """From the pack's plug to one controller, one way. `length_m` holds the added length."""

    length_m: float | None = None
    added_length_m: float = 0.0
    area_mm2: float | None = None
    plug_ratings: tuple[RatedLoad, ...] = ()


@dataclass(frozen=True, slots=True)
class PackSetup:
    """The battery. `resistance_ohm` is per cell at 25 °C, the value a meter shows; `chemistry`
    ends at the full voltage of the sheet, and is taken as lithium polymer where it is not `chemistry_stated`;
    `is_first` says that it is the sheet's [pack], which flights without a pack's name were flown on.
    """

    name: str
    cells: int
    capacity_mah: float
    parallel: int = 1
    ratings: tuple[RatedLoad, ...] = ()
    chemistry: Chemistry = LIPO
    chemistry_stated: bool = False
    resistance_ohm: float | None = None
    is_first: bool = True

    @property
    def full_cell_v(self) -> float:
        """What a charger ends at. [V]"""
        return self.chemistry.curve.full_cell_v


@dataclass(frozen=True, slots=True)
class Reserve:
    """What must be left at landing, and how sure."""

    fraction: float = RESERVE_FRACTION.value
    confidence: float = TIMER_CONFIDENCE.value
    landing_allowance_s: float = LANDING_ALLOWANCE_S.value
    loaded_cell_v: float = LOADED_CELL_FLOOR_V.value
    go_around_s: float = 0.0


@dataclass(frozen=True, slots=True)
class FedPack:
    """A pack that feeds one motor alone, and what must be left in it."""

    feeds: str
    pack: PackSetup
    reserve: Reserve = Reserve()

    @property
    def position(self) -> str:
        """Where a log has its channels, such as "left_pack"."""
        return pack_position(self.feeds)


@dataclass(frozen=True, slots=True)
class Site:
    """Where it flies."""

    elevation_m: float | None = None
    temperature_c: float | None = None
    pressure_pa: float | None = None
    relative_humidity_fraction: float | None = None


@dataclass(frozen=True, slots=True)
class Leg:
    """A part of the plan: one of throttle, climb or airspeed is given."""

    phase: str
    seconds: float
    throttle: float | None = None
    climb_mps: float | None = None
    airspeed_mps: float | None = None


@dataclass(frozen=True, slots=True)
class Calibrated:
    """A factor learnt from flights: multiply by `value`; `relative_sd` is its doubt, `correlation` that with
    drive_gain.

    `temperature_c` is the air in which a pack's resistance was learnt without its own temperature, else None.
    """

    value: float
    relative_sd: float
    flights: int
    date: str = ""
    correlation: float = 0.0
    temperature_c: float | None = None


@dataclass(frozen=True, slots=True)
class Setup:
    """One configuration of the aircraft with one pack.

    `configuration` is "" for the sheet as it stands. `calibration` is keyed
    drive_gain, propeller_power, pack_resistance, drag; `outdated` names those that were
    learnt of other parts than the sheet has now, and are not in it; `taught_by` marks the flights that taught
    it. `names_motors` is False when the sheet has no [[motors]], and one in the middle stands for them.
    `also_called` are the names under which the sheet has this very configuration besides, "" for the sheet as
    it stands. `sheet` and `sheet_sha256` are the name and the hash of the sheet it came from, "" for one that
    came from none. `packs` are those that feed one motor each, left first, () where one pack feeds all;
    `pack` is then the first of them.
    """

    name: str
    configuration: str
    pack: PackSetup
    drives: tuple[Drive, ...] = ()
    mass_kg: float | None = None
    span_m: float | None = None
    wing_area_m2: float | None = None
    drag_area_m2: float | None = None
    site: Site = Site()
    reserve: Reserve = Reserve()
    leads: Leads = Leads()
    receiver_supply_v: float | None = None
    receiver_ratings: tuple[RatedLoad, ...] = ()
    plan: tuple[Leg, ...] = ()
    calibration: Mapping[str, Calibrated] = field(default_factory=dict)
    outdated: tuple[str, ...] = ()
    taught_by: tuple[str, ...] = ()
    names_motors: bool = True
    also_called: tuple[str, ...] = ()
    packs: tuple[FedPack, ...] = ()
    sheet: str = field(default="", compare=False)
    sheet_sha256: str = field(default="", compare=False)

    @property
    def positions(self) -> tuple[str, ...]:
        """The motors' positions, left first."""
        return tuple(drive.position for drive in self.drives)

    @property
    def ducted(self) -> bool:
        """Whether it flies on ducted fans alone."""
        return bool(self.drives) and all(drive.propeller.ducted for drive in self.drives)

    def drive(self, position: str) -> Drive | None:
        """What sits at a position, or None."""
        return next((d for d in self.drives if d.position == position), None)

    def alone(self, position: str) -> Setup:
        """The share of the aircraft that one pack flies, as an aircraft of its own.

        Each motor gives an even share of the thrust, so that with n packs a share has 1/n of mass, wing and
        drag at the same aspect ratio, and flies as fast.

        Parameters
        ----------
        position : of the pack, such as "left_pack".

        Returns
        -------
        The set-up with this pack and the motor it feeds alone.

        Raises
        ------
        KeyError : no pack of this sheet stands there.
        """
        fed = next((one for one in self.packs if one.position == position), None)
        if fed is None:
            raise KeyError(position)
        share = 1.0 / len(self.packs)

        def part(whole: float | None, by: float = share) -> float | None:
            return None if whole is None else whole * by

        return replace(
            self,
            pack=fed.pack,
            packs=(),
            reserve=fed.reserve,
            drives=tuple(d for d in self.drives if d.position == fed.feeds),
            mass_kg=part(self.mass_kg),
            span_m=part(self.span_m, share**0.5),
            wing_area_m2=part(self.wing_area_m2),
            drag_area_m2=part(self.drag_area_m2),
        )

    def with_reserve(self, **wished: float) -> Setup:
        """The same under other wishes of what must be left.

        Parameters
        ----------
        wished : fields of `Reserve`; they hold for every pack.

        Returns
        -------
        A set-up that differs in nothing else.
        """
        packs = tuple(replace(one, reserve=replace(one.reserve, **wished)) for one in self.packs)
        return replace(self, reserve=replace(self.reserve, **wished), packs=packs)

    @property
    def capacity_mah(self) -> float:
        """Of all packs together. [mAh]"""
        return sum(one.pack.capacity_mah for one in self.packs) or self.pack.capacity_mah

    def ratings(self) -> tuple[Rating, ...]:
        """Every rating of the sheet in amperes, worded for the user.

        Ratings of a motor and of a controller stand at each position, those of a plug at the
        pack (the main plug carries the sum); those of a pack that feeds one motor at that pack.
        """
        found: list[Rating] = []

        def add(part: str, position: str, loads: tuple[RatedLoad, ...], pack: PackSetup = self.pack) -> None:
            for load in loads:
                amperes = (
                    load.current_a
                    if load.current_a is not None
                    else (load.c_rate or 0.0) * pack.capacity_mah / 1000.0
                )
                how_long = "steadily" if load.seconds == STEADY_WINDOW_S.value else f"{load.seconds:g} s"
                found.append(Rating(f"{part}, {how_long}", position, amperes, load.seconds))

        for fed in self.packs:
            name = fed.position.replace("_", " ")
            add(name, fed.position, fed.pack.ratings, fed.pack)
            add(f"{name} plug", fed.position, self.leads.plug_ratings)
        if not self.packs:
            add("pack", "", self.pack.ratings)
            add("pack plug", "", self.leads.plug_ratings)
        for drive in self.drives:
            side = drive.position.replace("_", " ")
            add(f"{side} motor", drive.position, drive.motor.ratings)
            add(f"{side} controller", drive.position, drive.controller.ratings)
        add("receiver supply", "receiver", self.receiver_ratings)
        return tuple(found)
