"""A scenario: the whole truth about an aircraft, its air, its plan and its recorders."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from telemetry.quantities import pack_position
from telemetry.simulate.cell import PackTruth
from telemetry.simulate.course import Air, AirframeTruth
from telemetry.simulate.drive import DriveTruth
from telemetry.simulate.plan import FlownLeg, Happening, circuits
from telemetry.simulate.recorder import Recorder, Sensor

CELL_LAG_S = 0.2
_AIR_SENSORS = (
    Sensor("altitude_m", step=0.1, noise=0.25, smoothing_s=0.3),
    Sensor("airspeed_mps", step=0.1, noise=0.3, smoothing_s=0.2, least=0.0),
)
_PACK, _AIRFRAME, _AIR = PackTruth(), AirframeTruth(), Air()


def usual_sensors(cells: int = 5, positions: tuple[str, ...] = ("left", "right")) -> tuple[Sensor, ...]:
    """A full set: pack, cells, each motor, air data; cells refreshed more slowly and later than the
    current.
    """
    pack = (
        Sensor("throttle_fraction", step=0.01),
        Sensor("rudder_fraction", step=0.01),
        Sensor("pack_voltage_v", step=0.01, lag_s=CELL_LAG_S, noise=0.004),
        Sensor("current_a", step=0.1, noise=0.1, least=0.0),
        Sensor("charge_mah", step=1.0),
    )
    each = _cell_sensors("", cells)
    motors = _motor_sensors(positions)
    return pack + each + motors + _AIR_SENSORS


def sensors_of_packs(cells: int, positions: tuple[str, ...] = ("left", "right")) -> tuple[Sensor, ...]:
    """The same of an aircraft of which each motor has a pack of its own.

    Parameters
    ----------
    cells : of each pack.
    positions : of the motors.

    Returns
    -------
    Each pack's voltage, current, charge and cells at its own place.
    """
    packs = tuple(
        sensor
        for pack in (pack_position(p) for p in positions)
        for sensor in (
            Sensor("pack_voltage_v", pack, step=0.01, lag_s=CELL_LAG_S, noise=0.004),
            Sensor("current_a", pack, step=0.1, noise=0.1, least=0.0),
            Sensor("charge_mah", pack, step=1.0),
            *_cell_sensors(f"{pack}.", cells),
        )
    )
    commands = (Sensor("throttle_fraction", step=0.01), Sensor("rudder_fraction", step=0.01))
    return commands + packs + _motor_sensors(positions) + _AIR_SENSORS


def _cell_sensors(before: str, cells: int) -> tuple[Sensor, ...]:
    return tuple(
        Sensor(
            "cell_voltage_v", f"{before}{k + 1}", interval_s=0.2, step=0.005, lag_s=CELL_LAG_S, noise=0.002
        )
        for k in range(cells)
    )


def _motor_sensors(positions: tuple[str, ...]) -> tuple[Sensor, ...]:
    return tuple(
        sensor
        for position in positions
        for sensor in (
            Sensor("current_a", position, step=0.1, noise=0.1, least=0.0),
            Sensor("rpm", position, step=10.0, relative_noise=0.0015, unsigned=True),
            Sensor("motor_temperature_c", position, interval_s=1.0, step=1.0),
        )
    )


@dataclass(frozen=True, slots=True)
class Scenario:
    """The truth of one log, or of several recorders' logs of one flight.

    Attributes
    ----------
    drives : by position, left first.
    rudder_mix : share of the rudder that goes into the throttles on purpose, nose right speeding the left
        motor up.
    packs : a pack for each motor by its position, the first one feeding the receiver; empty where `pack`
        feeds all.
    receiver_a, receiver_v, supply_efficiency : what the receiver and servos draw, at their voltage. [A, V]
    recorders : the first one sets the clock of the truth.
    step_s : of the fine grid. [s]
    """

    name: str = "flight"
    pack: PackTruth = _PACK
    drives: tuple[DriveTruth, ...] = (DriveTruth("left"), DriveTruth("right"))
    airframe: AirframeTruth = _AIRFRAME
    air: Air = _AIR
    legs: tuple[FlownLeg, ...] = circuits(210.0)
    happenings: tuple[Happening, ...] = ()
    rudder_mix: float = 0.0
    receiver_a: float = 0.5
    receiver_v: float = 5.5
    supply_efficiency: float = 0.87
    recorders: tuple[Recorder, ...] = (Recorder(sensors=usual_sensors()),)
    step_s: float = 0.02
    packs: Mapping[str, PackTruth] = field(default_factory=dict)

    @property
    def positions(self) -> tuple[str, ...]:
        """The motors, left first."""
        return tuple(drive.position for drive in self.drives)

    def alone(self, position: str) -> Scenario:
        """One motor with the pack that feeds it alone.

        Parameters
        ----------
        position : of the motor.

        Returns
        -------
        The same aircraft with that motor and pack; the receiver hangs on the first pack.
        """
        drives = tuple(d for d in self.drives if d.position == position)
        receiver_a = self.receiver_a if position == self.positions[0] else 0.0
        return replace(self, pack=self.packs[position], drives=drives, receiver_a=receiver_a, packs={})

    @property
    def is_bench(self) -> bool:
        """Whether the model is held still throughout."""
        return any(leg.kind == "bench" for leg in self.legs)
