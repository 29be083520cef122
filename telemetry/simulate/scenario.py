"""A scenario: the whole truth about an aircraft, its air, its plan and its recorders."""

from __future__ import annotations

from dataclasses import dataclass

from telemetry.simulate.cell import PackTruth
from telemetry.simulate.course import Air, AirframeTruth
from telemetry.simulate.drive import DriveTruth
from telemetry.simulate.plan import FlownLeg, Happening, circuits
from telemetry.simulate.recorder import Recorder, Sensor

CELL_LAG_S = 0.2
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
    each = tuple(
        Sensor("cell_voltage_v", str(k + 1), interval_s=0.2, step=0.005, lag_s=CELL_LAG_S, noise=0.002)
        for k in range(cells)
    )
    motors = tuple(
        sensor
        for position in positions
        for sensor in (
            Sensor("current_a", position, step=0.1, noise=0.1, least=0.0),
            Sensor("rpm", position, step=10.0, relative_noise=0.0015, unsigned=True),
            Sensor("motor_temperature_c", position, interval_s=1.0, step=1.0),
        )
    )
    air = (
        Sensor("altitude_m", step=0.1, noise=0.25, smoothing_s=0.3),
        Sensor("airspeed_mps", step=0.1, noise=0.3, smoothing_s=0.2, least=0.0),
    )
    return pack + each + motors + air


@dataclass(frozen=True, slots=True)
class Scenario:
    """The truth of one log, or of several recorders' logs of one flight.

    Attributes
    ----------
    drives : by position, left first.
    rudder_mix : share of the rudder that goes into the throttles on purpose, nose right speeding the left
        motor up.
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

    @property
    def positions(self) -> tuple[str, ...]:
        """The motors, left first."""
        return tuple(drive.position for drive in self.drives)

    @property
    def is_bench(self) -> bool:
        """Whether the model is held still throughout."""
        return any(leg.kind == "bench" for leg in self.legs)
