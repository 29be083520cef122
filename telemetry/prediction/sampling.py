"""The sheet's unknowns as draws: column 0 is the sheet as it stands, the others what it may really be."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any, TypeVar

import numpy as np

from telemetry.estimate import Estimate
from telemetry.physics import ducted_fan, propeller
from telemetry.physics.cell import arrhenius_factor
from telemetry.physics.open_circuit import OpenCircuitCurve
from telemetry.prediction.known import Known, KnownDrive
from telemetry.trace import Floats


@dataclass(frozen=True, slots=True)
class SampledDrives:
    """All motors, (d, m) where drawn, (m,) where the same in all draws. Units as the names say.

    `power_curve`, `thrust_curve`: (3, m), how the coefficients go with x = J/J0, 1 + a·x + b·x² + c·x³.
    """

    kv_rpm_per_v: Floats
    winding_ohm: Floats
    no_load_a: Floats
    no_load_a_per_rpm: Floats
    controller_ohm: Floats
    diameter_m: Floats
    power_curve: Floats
    thrust_curve: Floats
    zero_thrust_advance: Floats
    reference_rpm: Floats
    cp: Floats
    cp_power: Floats
    cp_bend: Floats
    ct: Floats
    ct_power: Floats
    ct_bend: Floats
    heat_capacity_jpk: Floats
    heat_time_s: Floats
    reverse_cp: Floats
    reverse_ct: Floats


@dataclass(frozen=True, slots=True)
class Sampled:
    """The aircraft in d draws, (d,) each, column 0 without any error.

    Attributes
    ----------
    cell_ohm : of one cell 1 s after a step at 25 °C.
    settle, slow : what seconds, then a minute, add to it, as shares of `cell_ohm`.
    slow_s : time constant of the slow part.
    activation_kjpmol : activation energy of the resistance.
    throttle_start, throttle_bend : command at which a motor starts, and bow b of the curve, duty + b·duty·(1
        − duty).
    oswald : efficiency of the wing's span.
    pace : how fast the pilot cruises ÷ what is usual, where the plan has no airspeed.
    causes : each unknown's standard normal draws by the sheet's key, for shares of an interval.
    """

    cells: int
    capacity_ah: float
    curve: OpenCircuitCurve
    cell_ohm: Floats
    settle: Floats
    slow: Floats
    slow_s: float
    activation_kjpmol: Floats
    pack_heat_jpk: float
    air_c: Floats
    density_kgm3: Floats
    lead_ohm: Floats
    mass_kg: Floats
    span_m: Floats
    drag_area_m2: Floats
    oswald: Floats
    wing_area_m2: float
    pace: Floats
    throttle_start: Floats
    throttle_bend: Floats
    drives: SampledDrives
    causes: Mapping[str, Floats] = field(repr=False)

    @property
    def draws(self) -> int:
        """Columns, the nominal one included."""
        return int(self.cell_ohm.size)

    def pack_ohm(self, temperature_c: Floats) -> Floats:
        """Resistance of the pack some seconds after a step.

        Parameters
        ----------
        temperature_c : (d,) of the pack. [°C]

        Returns
        -------
        (d,). [Ω]
        """
        warm = arrhenius_factor(temperature_c, self.activation_kjpmol)
        return self.cells * self.cell_ohm * self.settle * warm

    def slow_ohm(self, temperature_c: Floats) -> Floats:
        """What a long load adds to `pack_ohm`. (d,) [Ω]"""
        return self.pack_ohm(temperature_c) * self.slow / self.settle


class _Dice:
    """Standard normal draws in mirrored pairs behind a column of zeros; each unknown keeps its own."""

    def __init__(self, draws: int, seed: int) -> None:
        self._rng = np.random.default_rng(seed)
        self._half = draws // 2
        self.causes: dict[str, Floats] = {}

    def normal(self, cause: str) -> Floats:
        half = self._rng.standard_normal(self._half)
        drawn = np.concatenate(([0.0], half, -half))
        self.causes[cause] = drawn
        return drawn

    def factor(self, cause: str, sd: float) -> Floats:
        """A factor around 1, never below zero."""
        return np.exp(math.sqrt(math.log1p(sd**2)) * self.normal(cause))


def sample(known: Known, *, draws: int = 512, seed: int = 0, held_still: bool = False) -> Sampled:
    """Draw the unknowns.

    Parameters
    ----------
    draws : an even number of columns besides the nominal one; 0 gives the nominal alone.
    seed : the same seed gives the same draws.
    held_still : for a held throttle; what flights taught of cruise leaves 1.5 % open there in the gain, and
        the throttle curve is as open as it is from maker to maker: its bow shows at a quarter and a half.

    Notes
    -----
    Not of the sheet but of the method: a cell's resistance after some seconds and after a minute (1.105 ±
    0.04 and + 0.41 ± 0.15 of the 1 s value, two RC pairs usual for packs of high current), throttle curve
    (start 3 ± 1.2 %, bow ± 3.5 %, held still ± 8 %: some controllers give a fifth less at a half than in
    proportion), reverse coefficients (power 0.95 ± 0.15, thrust 0.6 ± 0.12 of forward:
    common practice, no source), a pilot's pace ± 15 % where the plan has no airspeed.
    """
    dice, warming = _Dice(draws, seed), known.chemistry.one_second
    one = np.ones(1 + 2 * (draws // 2))
    fixed = 0.2 if known.drive_learnt else 1.0
    bow = 0.08 * max(fixed, 0.5) if held_still else 0.035 * fixed
    temperature = known.air_temperature_c + known.air_temperature_sd_c * dice.normal("field.temperature_c")
    return Sampled(
        cells=known.cells,
        capacity_ah=known.capacity_ah,
        curve=known.chemistry.curve,
        cell_ohm=known.cell_ohm * dice.factor("pack.resistance_mohm", known.cell_sd),
        settle=1.105 * dice.factor("pack.settling", 0.036 * (0.3 if known.pack_learnt else 1.0)),
        slow=0.41 * dice.factor("pack.settling_slow", 0.37 * (0.5 if known.pack_learnt else 1.0)),
        slow_s=30.0,
        activation_kjpmol=np.maximum(warming.kjpmol + warming.sd_kjpmol * dice.normal("pack.warming"), 3.0),
        pack_heat_jpk=known.pack_heat_jpk,
        air_c=temperature,
        density_kgm3=known.density_kgm3 * dice.factor("field.elevation_m", known.density_sd) * one,
        lead_ohm=known.lead_ohm * dice.factor("leads.area_mm2", known.lead_sd),
        mass_kg=known.mass_kg * dice.factor("aircraft.mass_kg", known.mass_sd),
        span_m=known.span_m * dice.factor("aircraft.span_m", known.span_sd),
        drag_area_m2=known.drag_area_m2 * dice.factor("aircraft.drag_area_m2", known.drag_sd),
        oswald=0.8 * dice.factor("aircraft.span_efficiency", 0.08),
        wing_area_m2=known.wing_area_m2,
        throttle_start=np.clip(0.03 + 0.012 * fixed * dice.normal("controller.start"), 0.0, 0.08),
        throttle_bend=bow * dice.normal("controller.bow"),
        drives=_drives(
            _DriveDice(known.drives, dice, fixed), gain_sd=0.015 if held_still and known.drive_learnt else 0.0
        ),
        pace=dice.factor("plan.legs", 0.15),
        causes=dice.causes,
    )


class _DriveDice:
    """Draws for all motors: a doubt of the sheet is shared by all of them, a small one is each motor's own.

    `fixed` is the share of a doubt that flights have left.
    """

    def __init__(self, drives: tuple[KnownDrive, ...], dice: _Dice, fixed: float) -> None:
        self._drives, self.dice, self.fixed = drives, dice, fixed

    def nominal(self, name: str) -> Floats:
        """(m,)"""
        return np.array([float(getattr(d, name)) for d in self._drives])

    def factor(self, cause: str, name: str, *, own: float = 0.0) -> Floats:
        """(d, m) around 1, by `{name}_sd`."""
        sd = np.sqrt(np.log1p(self.nominal(f"{name}_sd") ** 2))
        shared = np.exp(self.dice.normal(cause)[:, None] * sd)
        for k in range(len(self._drives) if own else 0):
            shared[:, k] *= self.dice.factor(f"{cause}.{self._drives[k].position}", own * self.fixed)
        return np.asarray(shared)

    def around(self, name: str, cause: str, sd: float) -> Floats:
        """(d, m) of a nominal value and an absolute doubt."""
        return np.asarray(self.nominal(name) + sd * self.dice.normal(cause)[:, None])

    def model(self, middle: float, cause: str, sd: float) -> Floats:
        """(d, m) of a number that no sheet has, the same for all motors."""
        return np.asarray(np.tile(middle * self.dice.factor(cause, sd)[:, None], len(self._drives)))

    def bend(self, cause: str, sd: Floats) -> Floats:
        """(d, m) of scatter about nought, `sd` (m,)."""
        return np.asarray(self.fixed * self.dice.normal(cause)[:, None] * sd)

    def kind(self, of_fan: Callable[[KnownDrive], Any], of_propeller: Callable[[KnownDrive], Any]) -> Floats:
        """(…, m) of each motor, by what it turns."""
        found = [(of_fan if d.ducted else of_propeller)(d) for d in self._drives]
        return np.stack([np.asarray(one, dtype=float) for one in found], axis=-1)


def _coefficients(draw: _DriveDice, kv: Floats, size: Floats) -> tuple[Floats, Floats]:
    """Held-still CP and CT, (d, m): through a static point they go against Kv, speed and size."""
    speed = np.exp(0.017 * draw.dice.normal("propeller.static_points.rpm"))[:, None]
    factor = draw.factor("propeller.static_points.current_a", "cp", own=0.007)
    together = draw.nominal("gain_correlation")
    if together.any():
        shared = draw.dice.causes["motor.kv_rpm_per_v"][:, None] * draw.nominal("cp_sd")
        factor = np.exp(together * shared + np.sqrt(1.0 - together**2) * np.log(factor))
    cp = draw.nominal("cp") * factor * (speed**-2.0 / kv * size**-5.0) ** draw.nominal("torque_anchored")
    ct_factor = draw.factor("propeller.static_points.thrust_n", "ct", own=0.007)
    unmeasured = (
        (1.0 - draw.nominal("torque_anchored")) * (1.0 - draw.nominal("thrust_anchored")) * (together == 0.0)
    )
    alike = propeller.STATIC_SCATTER_CORRELATION * unmeasured
    shared = draw.dice.causes["propeller.static_points.current_a"][:, None] * draw.nominal("ct_sd")
    ct_factor = np.exp(alike * shared + np.sqrt(1.0 - alike**2) * np.log(ct_factor))
    return cp, draw.nominal("ct") * ct_factor * (speed**-2.0 * size**-4.0) ** draw.nominal("thrust_anchored")


def _zero_thrust(draw: _DriveDice) -> Floats:
    """Advance ratio at which the thrust ends, (d, m): by pitch, or of a fan by its jet."""
    pitch = draw.nominal("pitch_to_diameter_sd") * draw.dice.normal("propeller.pitch_in")[:, None]
    ratio = draw.nominal("pitch_to_diameter") + draw.fixed * pitch
    jet = draw.kind(lambda d: ducted_fan.jet_advance_ratio(d.ct), lambda _: 0.0)
    sd = draw.kind(lambda _: ducted_fan.ZERO_THRUST_SCATTER.sd, lambda _: propeller.ZERO_THRUST_SCATTER.sd)
    middle = np.where(jet > 0.0, jet, propeller.zero_thrust_advance_ratio(ratio))
    off = draw.bend("propeller.zero_thrust", sd * np.where(jet > 0.0, jet, 1.0))
    return np.maximum(middle + off, 0.15)


def _drives(draw: _DriveDice, *, gain_sd: float) -> SampledDrives:
    """All motors; `gain_sd` is a doubt of Kv besides."""
    kv = draw.factor("motor.kv_rpm_per_v", "kv", own=0.007)
    size = draw.factor("propeller.diameter_in", "diameter") ** draw.fixed
    cp, ct = _coefficients(draw, kv, size)
    zero_thrust = _zero_thrust(draw)
    no_load = draw.factor("motor.no_load_points", "no_load") ** draw.fixed
    return SampledDrives(
        kv_rpm_per_v=draw.nominal("kv_rpm_per_v") * kv * draw.model(1.0, "controller.held_still", gain_sd),
        winding_ohm=draw.nominal("resistance_ohm")
        * draw.factor("motor.resistance_mohm", "resistance") ** draw.fixed,
        no_load_a=draw.nominal("no_load_a") * no_load,
        no_load_a_per_rpm=draw.nominal("no_load_a_per_rpm") * no_load,
        controller_ohm=draw.nominal("controller_ohm"),
        diameter_m=draw.nominal("diameter_m") * size,
        power_curve=draw.kind(
            lambda _: ducted_fan.POWER_CURVE, lambda d: propeller.power_curve(d.pitch_to_diameter)
        ),
        thrust_curve=draw.kind(
            lambda _: ducted_fan.THRUST_CURVE, lambda d: propeller.thrust_curve(d.pitch_to_diameter)
        ),
        zero_thrust_advance=zero_thrust,
        reference_rpm=draw.nominal("reference_rpm"),
        cp=cp,
        cp_power=draw.around("cp_power", "propeller.power_with_speed", 0.03),
        cp_bend=draw.bend(
            "propeller.power_in_flight",
            draw.kind(
                lambda _: ducted_fan.POWER_UNLOADING_SCATTER.sd,
                lambda _: propeller.POWER_UNLOADING_SCATTER.sd,
            ),
        ),
        ct=ct,
        ct_power=draw.around("ct_power", "propeller.thrust_with_speed", 0.04),
        ct_bend=draw.bend(
            "propeller.thrust_in_flight",
            draw.kind(
                lambda _: ducted_fan.THRUST_UNLOADING_SCATTER.sd,
                lambda _: propeller.THRUST_UNLOADING_SCATTER.sd,
            ),
        ),
        heat_capacity_jpk=draw.nominal("heat_capacity_jpk") * draw.model(1.0, "motor.heat", 0.4),
        heat_time_s=draw.model(150.0, "motor.cooling", 0.4),
        reverse_cp=draw.model(0.95, "propeller.reverse_power", 0.15),
        reverse_ct=draw.model(0.60, "propeller.reverse_thrust", 0.20),
    )


def interval_shares(sampled: Sampled, values: Floats) -> dict[str, float]:
    """What part of a figure's variance each unknown makes, by the sheet's key: least squares on the
    logarithm.

    Parameters
    ----------
    values : (d,) above zero, column 0 the sheet as it stands.
    """
    causes = {key: drawn[1:] for key, drawn in sampled.causes.items()}
    if not causes or values.size < 3:
        return {}
    wanted = np.log(np.maximum(values[1:], 1e-9))
    found, *_ = np.linalg.lstsq(np.stack(list(causes.values()), axis=-1), wanted - wanted.mean(), rcond=None)
    whole = max(float(np.sum(found**2)), 1e-12)
    return {key: float(part**2 / whole) for key, part in zip(causes, found, strict=True)}


def estimate(values: Floats, method: str = "") -> Estimate:
    """A forecast: column 0 with the 95 % interval of the other columns."""
    nominal = float(values[0])
    if values.size < 3:
        return Estimate(nominal, nominal, nominal, method, kind="next")
    low, high = np.quantile(values[1:], (0.025, 0.975))
    return Estimate(nominal, min(float(low), nominal), max(float(high), nominal), method, kind="next")


def with_factors(
    sampled: Sampled, *, pack_resistance: Floats, drive_gain: Floats, propeller_power: Floats, drag: Floats
) -> Sampled:
    """The nominal aircraft in d variants, (d,) factors each: for a fit, without any draw."""
    wide = _repeated(replace(sampled, causes={}), pack_resistance.size)
    drives = _repeated(sampled.drives, pack_resistance.size)
    drives = replace(
        drives,
        kv_rpm_per_v=drives.kv_rpm_per_v * drive_gain[:, None],
        cp=drives.cp * propeller_power[:, None],
    )
    return replace(
        wide, cell_ohm=wide.cell_ohm * pack_resistance, drag_area_m2=wide.drag_area_m2 * drag, drives=drives
    )


_Part = TypeVar("_Part", Sampled, SampledDrives)


def _repeated(part: _Part, count: int) -> _Part:
    """Every drawn field `count` times its column 0."""
    same_in_all = ("power_curve", "thrust_curve", "controller_ohm", "reference_rpm")
    values = {f.name: getattr(part, f.name) for f in fields(part) if f.name not in same_in_all}
    repeated: dict[str, Any] = {
        name: np.repeat(v[:1], count, axis=0) for name, v in values.items() if isinstance(v, np.ndarray)
    }
    return replace(part, **repeated)
