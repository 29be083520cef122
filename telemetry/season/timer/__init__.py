"""The consumption model and the timer it supports.

`suggest_timer` takes bare numbers, `timer_for` a set-up, a history and what was measured.
A timer is advice from past flights. First flights land early and measure; local rules and club
practice come first.
"""

from telemetry.season.timer.limits import time_to_limit
from telemetry.season.timer.rate import RatePrediction, predict_rate
from telemetry.season.timer.results import (
    CellFacts,
    Fan,
    MoreFlights,
    PackFacts,
    TimeLimit,
    Timer,
    TimerSuggestion,
)
from telemetry.season.timer.setting import timer_for, timer_to_dict
from telemetry.season.timer.suggest import suggest_timer

__all__ = [
    "CellFacts",
    "Fan",
    "MoreFlights",
    "PackFacts",
    "RatePrediction",
    "TimeLimit",
    "Timer",
    "TimerSuggestion",
    "predict_rate",
    "suggest_timer",
    "time_to_limit",
    "timer_for",
    "timer_to_dict",
]
