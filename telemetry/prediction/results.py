"""What a prediction holds, as `predict --json` has it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

from telemetry.estimate import Estimate, Undecided, plain
from telemetry.made import MadeBy, made_by
from telemetry.trace import Floats


@dataclass(frozen=True, slots=True)
class StaticMotor:
    """One motor held still at a throttle."""

    position: str
    voltage_v: Estimate
    current_a: Estimate
    rpm: Estimate
    torque_nm: Estimate
    shaft_w: Estimate
    thrust_n: Estimate
    efficiency_fraction: Estimate


@dataclass(frozen=True, slots=True)
class Static:
    """The aircraft held still at a throttle, pack full, ten seconds in."""

    throttle_fraction: float
    pack_voltage_v: Estimate
    current_a: Estimate
    thrust_n: Estimate
    motors: tuple[StaticMotor, ...]
    lead_drop_v: Estimate
    lead_heat_w: Estimate


@dataclass(frozen=True, slots=True)
class PredictedLeg:
    """One leg of the plan."""

    phase: str
    seconds: float
    current_a: Estimate
    pack_voltage_v: Estimate


@dataclass(frozen=True, slots=True)
class PredictedFlight:
    """The plan flown."""

    level_current_a: Estimate | Undecided
    min_pack_voltage_v: Estimate | Undecided
    mean_current_a: Estimate | Undecided
    consumed_mah: Estimate | Undecided
    time_to_reserve_s: Estimate | Undecided
    legs: tuple[PredictedLeg, ...]


@dataclass(frozen=True, slots=True)
class PredictedMargin:
    """A rating against the prediction."""

    part: str
    rating_a: float
    window_s: float
    predicted_a: Estimate
    margin_fraction: float


@dataclass(frozen=True, slots=True)
class Assumed:
    """A value the sheet left out. `value` in the unit that ends the key.

    `interval_share` is how much of the interval of the full-throttle or of the level current, whichever it
    touches more, comes from not knowing it: a share of the variance, 0…1, None where it has none of its own.
    """

    key: str
    value: float | str | bool
    reason: str
    interval_share: float | None = None

    @property
    def narrower_fraction(self) -> float:
        """By how much that interval would shrink if this were known."""
        return 1.0 - math.sqrt(1.0 - min(self.interval_share or 0.0, 1.0))


@dataclass(frozen=True, slots=True)
class PredictedPack:
    """One pack that feeds one motor: `position` is the motor's, `share` all that is predicted of the two."""

    position: str
    name: str
    static: tuple[Static, ...]
    flight: PredictedFlight
    share: Prediction = field(metadata={"json": False})


@dataclass(frozen=True, slots=True)
class Prediction:
    """From a sheet alone; `packs` are those that feed one motor each, () where one feeds all."""

    configuration: str
    air_density_kgm3: float
    static: tuple[Static, ...]
    flight: PredictedFlight
    limits: tuple[PredictedMargin, ...]
    assumed: tuple[Assumed, ...]
    made_by: MadeBy = field(default_factory=made_by)
    packs: tuple[PredictedPack, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """The object as JSON carries it, schema `sagline.prediction/1`."""
        content, undecided = plain(self)
        made = content.pop("made_by")
        if not self.packs:
            del content["packs"]
        return {"schema": "sagline.prediction/1", "made_by": made, **content, "undecided": undecided}

    @property
    def widest(self) -> Assumed | None:
        """What was assumed and widens an interval most; None when nothing makes a tenth of its variance."""
        shares = [a for a in self.assumed if (a.interval_share or 0.0) >= 0.1]
        return max(shares, key=lambda a: a.interval_share or 0.0, default=None)

    def of_pack(self, motor: str) -> Prediction:
        """The share of the pack that feeds one motor.

        Parameters
        ----------
        motor : its position.

        Returns
        -------
        The whole where one pack feeds all.
        """
        return next((one.share for one in self.packs if one.position == motor), self)

    @property
    def rate_prior(self) -> tuple[float, float] | None:
        """Mean consumption of a flight [mAh/min] and its relative standard deviation, for the timer; None
        without one.
        """
        current = self.flight.mean_current_a
        if isinstance(current, Undecided) or current.value <= 0:
            return None
        return current.value * 1000.0 / 60.0, (current.high - current.low) / (2 * 1.96 * current.value)


@dataclass(frozen=True, slots=True)
class Replay:
    """The measured throttle flown through the sheet: (m,) bands at `time_s` for drawing, per quantity and
    position.
    """

    time_s: Floats
    quantity: str
    position: str
    predicted: Floats
    low: Floats
    high: Floats
    measured_time_s: Floats = field(repr=False)
    measured: Floats = field(repr=False)
