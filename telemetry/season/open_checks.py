"""Which stops and checks of earlier flights still stand: a weak cell does not heal because another pack was
flown since.

Takes facts of flights in the order they were flown, never a Review. A stop or check stands until
a later flight has judged the same thing again: the same cell of the same pack, the same motor. What each
finding is about and what it travels with stands in `finding_table`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from telemetry.finding_table import KINDS


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


def open_checks(flights: Sequence[JudgedFlight]) -> tuple[OpenCheck, ...]:
    """Stops and checks of flights before the last one that still stand, for the aircraft flown last.

    What belongs to a pack comes along with it, whichever aircraft it was raised in; a pack without a name
    stays with its aircraft.

    Parameters
    ----------
    flights : in the order they were flown.

    Returns
    -------
    Stops first, and of each kind the latest first.
    """
    if not flights:
        return ()
    last = flights[-1].aircraft
    carried = {f.pack for f in flights if f.aircraft == last and f.pack}
    standing = [
        OpenCheck(flight.number, flight.pack, raised)
        for at, flight in enumerate(flights[:-1])
        for raised in flight.raised
        if raised.severity in ("stop", "check")
        and (flight.aircraft == last or (_of_pack(raised) and flight.pack in carried))
        and _stands(flight, raised, flights[at + 1 :])
    ]
    return tuple(sorted(standing, key=lambda c: (c.raised.severity != "stop", -c.flight)))


def _of_pack(raised: Raised) -> bool:
    return raised.key in KINDS and KINDS[raised.key].whose == "pack"


def _stands(flight: JudgedFlight, raised: Raised, later: Sequence[JudgedFlight]) -> bool:
    kind = KINDS.get(raised.key)
    if kind is None or not kind.topic:
        return False
    about = kind.topic_of(raised.subject)
    return not any(about in one.judged and _shares(flight, one, kind.whose) for one in later)


def _shares(one: JudgedFlight, other: JudgedFlight, whose: str) -> bool:
    """Whether a later flight had what the finding belongs to."""
    if whose == "pack" and one.pack:
        return one.pack == other.pack
    same = one.aircraft == other.aircraft and (whose != "pack" or one.pack == other.pack)
    return same and (whose != "configuration" or one.configuration == other.configuration)
