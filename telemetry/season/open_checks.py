"""Which stops and checks of earlier flights still stand: a weak cell does not heal because another pack was
flown since.

Takes facts of flights in the order they were flown, never a Review. A stop or check stands until
a later flight has judged the same thing again: the same cell of the same pack, the same motor.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Raised:
    """A stop or check of one flight: severity, key and subject of its finding, and what happened as a
    sentence.
    """

    severity: str
    key: str
    subject: str
    title: str


@dataclass(frozen=True, slots=True)
class JudgedFlight:
    """What one flight raised, and the topics that it could judge at all, such as "weak:cell 3"."""

    number: int
    aircraft: str = ""
    pack: str = ""
    configuration: str = ""
    raised: tuple[Raised, ...] = ()
    judged: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class OpenCheck:
    """A stop or check that still stands, the flight that raised it and the pack it was flown with."""

    flight: int
    pack: str
    raised: Raised


_TOPICS = {
    "cell_under_floor": ("floor", "pack"),
    "pack_under_floor": ("floor", "pack"),
    "weak_cell_resistance": ("weak", "pack"),
    "weak_cell_capacity": ("weak", "pack"),
    "weak_cell_unbalanced": ("weak", "pack"),
    "charge_disagrees": ("charge", "pack"),
    "pack_hot": ("hot", "pack"),
    "reserve_used": ("reserve", "pack"),
    "over_rating": ("rating", "configuration"),
    "maybe_over_rating": ("rating", "configuration"),
    "lead_over": ("lead", "configuration"),
    "part_hot": ("hot", "configuration"),
    "prediction_missed": ("prediction", "configuration"),
    "pair_uneven": ("pair", ""),
    "bench_item": ("bench", ""),
}
"""Of each finding that lives on after its flight: what it is about, and what a later flight must share to
judge it again.
"""
_EVENT = "motor_event_"


def topic(key: str, subject: str) -> tuple[str, str]:
    """What a finding is about, as "weak:cell 3", and what a later flight must share to judge it; ("", "")
    dies with its flight.
    """
    if key.startswith(_EVENT):
        return f"{key.removeprefix(_EVENT)}:{subject}", ""
    about, scope = _TOPICS.get(key, ("", ""))
    if about == "prediction":
        return about, scope
    return (f"{about}:{subject}", scope) if about else ("", "")


def open_checks(flights: Sequence[JudgedFlight]) -> tuple[OpenCheck, ...]:
    """Stops and checks of flights before the last one that still stand, for the aircraft flown last.

    Stops come first, and of each kind the latest.

    Parameters
    ----------
    flights : in the order they were flown.
    """
    if not flights:
        return ()
    own = [f for f in flights if f.aircraft == flights[-1].aircraft]
    standing = [
        OpenCheck(flight.number, flight.pack, raised)
        for at, flight in enumerate(own[:-1])
        for raised in flight.raised
        if raised.severity in ("stop", "check") and _stands(flight, raised, own[at + 1 :])
    ]
    return tuple(sorted(standing, key=lambda c: (c.raised.severity != "stop", -c.flight)))


def _stands(flight: JudgedFlight, raised: Raised, later: Sequence[JudgedFlight]) -> bool:
    about, scope = topic(raised.key, raised.subject)
    if not about:
        return False
    return not any(about in one.judged and _shares(flight, one, scope) for one in later)


def _shares(one: JudgedFlight, other: JudgedFlight, scope: str) -> bool:
    return not scope or getattr(one, scope) == getattr(other, scope)
