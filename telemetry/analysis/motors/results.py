"""What is known of the motors after a flight."""

from __future__ import annotations

from dataclasses import dataclass, field

from telemetry.estimate import Estimate, Undecided
from telemetry.limits import EVEN_CURRENT_FRACTION
from telemetry.sentences import undecided
from telemetry.trace import Floats

_NO_CAUSE = undecided("motors", "no_cause")
_NO_THRUST = undecided("motors", "no_thrust_lost")
_NO_NEWTONS = undecided("motors", "no_newtons")
_NO_ARMS = undecided("motors", "no_arms")
_NO_ROTATION = undecided("motors", "no_rotation_or_motor")


@dataclass(frozen=True, slots=True)
class CauseLikelihood:
    """How likely one cause is, 0…1, given the log."""

    cause: str
    probability: float


@dataclass(frozen=True, slots=True)
class SideCurve:
    """For drawing: one motor against command, each (m,)."""

    position: str
    time_s: Floats
    command: Floats
    current_a: Floats | None
    rpm: Floats | None


@dataclass(frozen=True, slots=True)
class Pair:
    """Two motors that mirror one another. Ratios are right ÷ left, of currents as they flowed at equal
    command and supply; imbalance is (right − left) ÷ mean of shaft power.

    Attributes
    ----------
    verdict : even, uneven or undecided.
    cause : propeller, kv, winding, endpoint, drag, sensor, mixed, none or undecided.
    reason : one sentence: what speaks for it, or the bench test that would tell.
    causes : the likelihood of each cause, the largest first.
    size_fraction : how far the right side differs in the thing that is the cause (its propeller's load, Kv,
        winding resistance, duty, no-load current or sensor gain), or why there is no such figure.
    curves : left, then right.
    handed : whether the two propellers turn opposite ways, None where the sheet does not say.
    since_s : the moment since which all of this speaks, where a motor's load changed in flight; None where it
        speaks of the whole flight. [s]
    """

    left: str
    right: str
    imbalance_fraction: Estimate | Undecided
    current_ratio: Estimate | Undecided
    rpm_ratio: Estimate | Undecided
    verdict: str
    cause: str
    reason: str
    causes: tuple[CauseLikelihood, ...] = ()
    curves: tuple[SideCurve, ...] = field(default=(), metadata={"json": False})
    size_fraction: Estimate | Undecided = _NO_CAUSE
    handed: bool | None = field(default=None, metadata={"json": False})
    since_s: float | None = None

    @property
    def more(self) -> str:
        """The side that takes more power: the one that draws more current where the currents differ, else the
        one that puts more into its propeller. A dragging motor takes more and gives less.
        """
        current, shaft = self.current_ratio, self.imbalance_fraction
        if isinstance(current, Estimate) and abs(current.value - 1.0) > EVEN_CURRENT_FRACTION.value:
            return self.right if current.value > 1.0 else self.left
        return self.right if isinstance(shaft, Estimate) and shaft.value > 0 else self.left


@dataclass(frozen=True, slots=True)
class SpeedScale:
    """The two speeds of a pair stand apart by one factor at every load, and their load does not.

    Attributes
    ----------
    ratio : right ÷ left, as logged.
    whole : the nearest ratio of small whole numbers, numerator and denominator, None where none is near.
    motor : whose speed reads off, "" where the log does not tell.
    by_current : the currents contradict a real difference; else the ratio alone is suspicious.
    """

    left: str
    right: str
    ratio: float
    whole: tuple[int, int] | None
    motor: str
    by_current: bool


@dataclass(frozen=True, slots=True)
class Event:
    """Something a motor did.

    Attributes
    ----------
    kind : cut, stall, reverse_ground, reverse_air, out_of_step, late_start, overheating, thrust_lost (a load
        that fell at once and stayed so) or controller_limited (less than was commanded, at low voltage).
    motor : its position, or "both".
    thrust_lost_fraction : share of the pair's thrust that was missing, mean over the event; of a single motor
        without a twin, of its own.
    thrust_lost_n : the same in newtons, where the sheet's propeller allows. [N]
    yawing_moment_nm : positive turns the nose right. [N·m]
    rolling_moment_nm : torque reaction of what still ran, positive rolls to the right. [N·m]
    torque_helps : whether that reaction rolls away from the dead side, None where rotation or side is not
        known.
    evidence : a clause with the numbers.
    against : of an overheating, "limit" (over the sheet's) or "twin" (hotter than it); "" of all others.
    """

    kind: str
    motor: str
    start_s: float
    end_s: float
    thrust_lost_fraction: float | Undecided = _NO_THRUST
    thrust_lost_n: Estimate | Undecided = _NO_NEWTONS
    yawing_moment_nm: Estimate | Undecided = _NO_ARMS
    rolling_moment_nm: Estimate | Undecided = _NO_ROTATION
    torque_helps: bool | None = None
    evidence: str = ""
    against: str = ""


@dataclass(frozen=True, slots=True)
class Motors:
    """All pairs and events of one flight.

    Attributes
    ----------
    sides : why there is no pair, or why its sides are only numbers; "" otherwise.
    reverse_asked : a command below zero was logged while power was on.
    reverse_answered : the motors that turned or drew current then.
    unseen : which events this log cannot show, as a clause; "" where it can show all.
    speed_scales : pairs of which one speed reads a constant factor off.
    """

    positions: tuple[str, ...]
    pairs: tuple[Pair, ...]
    events: tuple[Event, ...] | Undecided
    sides: str = ""
    reverse_asked: bool = False
    reverse_answered: tuple[str, ...] = ()
    unseen: str = ""
    speed_scales: tuple[SpeedScale, ...] = ()
