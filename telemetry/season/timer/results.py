"""What a timer holds, and what it is told about the aircraft."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from telemetry.estimate import Estimate, Undecided
from telemetry.sentences import undecided

_NO_RESISTANCE = undecided("timer", "no_resistance")
_NO_CHARGE_LEFT = undecided("timer", "no_charge_left")
_NO_TAKEOFF = undecided("timer", "no_takeoff")
_NO_SEASON = undecided("timer", "no_season")
_NO_THROTTLE = undecided("timer", "no_throttle")

ALARM_STEP_S = 5.0


def rounded_down(seconds: float) -> float:
    """A time as a timer is set: whole multiples of 5 s, never later, never below zero. [s]"""
    return max(0.0, math.floor((seconds + 1e-9) / ALARM_STEP_S) * ALARM_STEP_S)


@dataclass(frozen=True, slots=True)
class Fan:
    """For drawing: likely futures. mah_per_min at the quantiles 0.025, 0.25, 0.5, 0.75, 0.975 and the
    confidence.
    """

    quantiles: tuple[float, ...]
    rate_mah_per_min: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class MoreFlights:
    """What flying on would buy: with so many more flights like the past ones, the alarm comes so much later
    (or earlier).
    """

    flights: int
    gain_s: float


@dataclass(frozen=True, slots=True)
class TimerNow:
    """The alarm of one more flight on the charge that the flight just flown left. [1, s]"""

    from_charge_fraction: float
    alarm_s: float


@dataclass(frozen=True, slots=True)
class Timer:
    """The longest alarm time at which, with the confidence, the next flight, begun on a full pack, lands
    above the reserve.

    Attributes
    ----------
    alarm_s : from first throttle-up, a whole multiple of 5 s. [s]
    starts : what starts it, "throttle_up".
    from_charge_fraction : always 1, a full pack.
    now : the alarm on what is left in the pack just flown, where that is known and worth a flight.
    pack : the pack's name.
    usable_mah : capacity × (1 − reserve). [mAh]
    flights_used : past flights of this drive it rests on; `flights_left_out` those of another one.
    predicted_mah_per_min : the mean consumption that the prediction expects, where one is printed beside it
        or counts; with it, as with the flights' own, alarm and landing stay within the usable charge.
        [mAh/min]
    rate_mah_per_min : of the next flight, median and the interval that holds it. [mAh/min]
    consumed_alarm_mah : the counter reading at which to come down, if one flies by charge. [mAh]
    loaded_cell_alarm_v : what a cell shows at cruise when that much has left it. [V]
    limited_by : what gives out first: "charge", "voltage", "temperature" or "cell"; `limit_reason` says how.
    weakest_assumption : a clause.
    loaded_cell_reserve_v : what a cell shows at cruise with only the reserve left. [V]
    warning_s : from the alarm to the reserve, in the median flight. [s]
    given_up_s : the part of it beyond the landing allowance: the price of being sure. [s]
    alarm_from_takeoff_s : the same instant on a timer started at take-off. [s]
    throttle_timer_s : the same on a timer that runs as fast as the throttle is open. [s at full throttle]
    more_flights : what further flights would buy.
    season_alarm_s : for a timer set once and left alone: nine times in ten, at least that share of
        all flights to come land above the reserve. [s]
    """

    alarm_s: float
    starts: str
    usable_mah: float
    reserve_fraction: float
    confidence: float
    flights_used: int
    rate_mah_per_min: Estimate
    landing_allowance_s: float
    consumed_alarm_mah: float
    loaded_cell_alarm_v: float | Undecided
    limited_by: str
    weakest_assumption: str
    fan: Fan | None = field(default=None, metadata={"json": False})
    limit_reason: str = ""
    loaded_cell_reserve_v: float | Undecided = _NO_RESISTANCE
    go_around_s: float = 0.0
    warning_s: float = 0.0
    given_up_s: float = 0.0
    alarm_from_takeoff_s: float | Undecided = _NO_TAKEOFF
    throttle_timer_s: float | Undecided = _NO_THROTTLE
    more_flights: tuple[MoreFlights, ...] = ()
    season_alarm_s: float | Undecided = _NO_SEASON
    from_charge_fraction: float = 1.0
    now: TimerNow | Undecided = _NO_CHARGE_LEFT
    pack: str = ""
    flights_left_out: int = 0
    predicted_mah_per_min: float | None = None

    def __post_init__(self) -> None:
        expected_mah_per_min = max(self.rate_mah_per_min.value, self.predicted_mah_per_min or 0.0)
        used_mah = expected_mah_per_min * (self.alarm_s + self.landing_allowance_s) / 60.0
        if used_mah > self.usable_mah * (1.0 + 1e-9):
            raise ValueError(f"{used_mah:.0f} mAh to the landing, {self.usable_mah:.0f} mAh usable")


@dataclass(frozen=True, slots=True)
class TimerSuggestion:
    """What `suggest_timer` answers: the alarm and the model behind it.

    Attributes
    ----------
    alarm_s : 0 when there is no safe time; else a whole multiple of 5 s. [s]
    rate_mah_per_min : of the next flight, median and 95 % interval. [mAh/min]
    rate_limit_mah_per_min : with the confidence, the next flight takes no more. [mAh/min]
    """

    alarm_s: float
    rate_mah_per_min: Estimate
    rate_limit_mah_per_min: float
    flights_used: int
    weakest_assumption: str
    fan: Fan


@dataclass(frozen=True, slots=True)
class CellFacts:
    """One cell as a flight showed it.

    Attributes
    ----------
    cell : counted from the pack's negative end.
    resistance_ohm : drop per ampere under a lasting load (the 10 s value, else the 1 s one), or None. [Ω]
    missing_fraction : how much less charge it can give than the pack's capacity, 0 for a sound cell.
    weak : whether it is one of the pack's weak cells.
    excess_ohm : by how much its resistance stands above its neighbours' median. [Ω]
    """

    cell: int
    resistance_ohm: float | None = None
    missing_fraction: float = 0.0
    weak: bool = False
    excess_ohm: float = 0.0


@dataclass(frozen=True, slots=True)
class TimeLimit:
    """Something that gives out by itself at a powered time, whatever the charge.

    Attributes
    ----------
    limited_by : "temperature", "voltage" or "cell".
    landed_by_s : powered time by which the model has to be down. [s]
    reason : a clause, such as "the left controller reaches 95 °C".
    """

    limited_by: str
    landed_by_s: float
    reason: str


@dataclass(frozen=True, slots=True)
class PackFacts:
    """What was measured of the pack and of the last flight; everything may be left out.

    Attributes
    ----------
    capacity_mah : measured, aged and at its temperature; takes the place of the sheet's, and the width
        of its interval shortens the timer. [mAh]
    resistance_ohm : of the mean cell under a lasting load. [Ω]
    cells : each as measured.
    cruise_current_a : else the mean current that the rate means. [A]
    full_current_a : at full throttle, for a go-around. [A]
    mean_throttle_fraction : over the powered time.
    takeoff_after_s : from first throttle-up to take-off. [s]
    time_limits : what gives out by itself.
    capacity_reason : how the capacity was measured, a clause.
    charge_left : in the pack after the flight just flown, a share of the whole; None when there was none.
    untold : what that flight left untold, a clause; "" where it told all.
    packs : the same of each pack that feeds one motor, by its position; empty where one feeds all.
    """

    capacity_mah: Estimate | float | None = None
    resistance_ohm: Estimate | float | None = None
    cells: tuple[CellFacts, ...] = ()
    cruise_current_a: float | None = None
    full_current_a: float | None = None
    mean_throttle_fraction: float | None = None
    takeoff_after_s: float | None = None
    time_limits: tuple[TimeLimit, ...] = ()
    capacity_reason: str = "measured"
    charge_left: Estimate | Undecided | None = None
    untold: str = ""
    packs: dict[str, PackFacts] = field(default_factory=dict)
