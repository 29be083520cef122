"""Which stops and checks of earlier flights still stand: a weak cell does not heal because another pack was
flown since.

Takes facts of flights in the order they were flown, never a Review. A stop or check stands until
a later flight has judged the same thing again: the same cell of the same pack, the same motor. What each
finding is about and what it travels with stands in `finding_table`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from telemetry.finding_table import KINDS
from telemetry.history import FlownDrive
from telemetry.season.pack_places import pack_and_part, sentence_of, sentence_without, subject_of
from telemetry.season.same_drive import drive_of, one_aircraft, same_motors
from telemetry.season.timer import CellFacts, PackFacts
from telemetry.sheet.setup import Setup


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
    """What one flight raised, and the topics that it could judge at all, such as "weak:cell 3".

    `drive` is what it was flown with, None without a sheet; `cells` are those of its pack as it showed them,
    and `cleared` the keys that the owner has settled. `cells_of_packs` are those of each pack that feeds one
    motor, by its position, and `pack_names` what the sheet calls them.
    """

    number: int
    aircraft: str = ""
    pack: str = ""
    configuration: str = ""
    raised: tuple[Raised, ...] = ()
    judged: tuple[str, ...] = ()
    drive: FlownDrive | None = None
    cells: tuple[CellFacts, ...] = ()
    cleared: tuple[str, ...] = ()
    cells_of_packs: Mapping[str, tuple[CellFacts, ...]] = field(default_factory=dict)
    pack_names: Mapping[str, str] = field(default_factory=dict)

    def pack_at(self, place: str) -> str | None:
        """What the pack at a position is called, "" when nobody named it; None without a pack there. The one
        that feeds all stands at "".
        """
        return self.pack_names.get(place) if place else self.pack

    def place_of(self, pack: str) -> str | None:
        """Where a pack of that name stands; None where it does not."""
        names = self.pack_names or {"": self.pack}
        return next((place for place, name in names.items() if name == pack), None)


@dataclass(frozen=True, slots=True)
class OpenCheck:
    """A stop or check that still stands, the flight that raised it and the pack it is about, else the one
    that flight was flown with.

    Flight 0 is the one under review. `cell` is how the flight showed the cell it is about, None where it is
    about none.
    """

    flight: int
    pack: str
    raised: Raised
    cell: CellFacts | None = None


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
    ours = [f for f in flights if f.aircraft == last]
    carried = {name for f in ours for name in (f.pack, *f.pack_names.values()) if name}
    return _standing(
        flights[:-1],
        flights,
        lambda flight, raised: flight.aircraft == last or _pack_of(flight, raised) in carried,
    )


def standing_for(flights: Sequence[JudgedFlight], setup: Setup) -> tuple[OpenCheck, ...]:
    """Stops and checks that still stand for what a set-up carries: its pack, its motors, its configuration.

    Parameters
    ----------
    flights : of any aircraft, in the order they were flown.

    Returns
    -------
    As `open_checks`, what is about a pack told of the place where the set-up has it.
    """
    hand = JudgedFlight(
        0,
        setup.name,
        "" if setup.packs else setup.pack.name,
        setup.configuration,
        drive=drive_of(setup),
        pack_names={fed.position: fed.pack.name for fed in setup.packs},
    )
    ours = [
        replace(f, configuration=setup.configuration) if f.configuration in setup.also_called else f
        for f in flights
    ]
    found = _standing(ours, ours, lambda flight, raised: _shares(flight, hand, raised))
    return tuple(replace(check, raised=_told_in(hand, check)) for check in found)


def standing_of_packs(flights: Sequence[JudgedFlight]) -> tuple[OpenCheck, ...]:
    """Stops and checks that still stand of packs, whichever aircraft carries them next.

    Parameters
    ----------
    flights : of any aircraft, in the order they were flown.

    Returns
    -------
    As `open_checks`.
    """
    return _standing(flights, flights, lambda _, raised: _whose(raised) == "pack")


def with_weak_cells(
    facts: PackFacts, standing: Sequence[OpenCheck], *, unmeasured_fraction: float = 0.1
) -> PackFacts:
    """What is known of a pack, with the weak cells that an earlier flight found and none has cleared.

    Parameters
    ----------
    unmeasured_fraction : what a cell is taken to hold less where nobody kept how weak it was; cells are found
        weak by capacity from about 8 % on.
    """
    open_cells = {
        check.cell.cell: check.cell
        if check.cell.missing_fraction > 0 or check.cell.excess_ohm > 0
        else replace(check.cell, missing_fraction=unmeasured_fraction)
        for check in reversed(standing)
        if check.cell is not None and check.raised.key.startswith("weak_cell")
    }
    measured = [cell for cell in facts.cells if cell.weak or cell.cell not in open_cells]
    known = {cell.cell for cell in measured}
    carried = [replace(cell, weak=True) for number, cell in open_cells.items() if number not in known]
    return replace(facts, cells=tuple(sorted((*measured, *carried), key=lambda cell: cell.cell)))


def listed(standing: Sequence[OpenCheck]) -> list[dict[str, object]]:
    """As JSON carries them under `open_checks`."""
    return [
        {
            "flight": check.flight,
            "pack": check.pack,
            "severity": check.raised.severity,
            "key": check.raised.key,
            "subject": check.raised.subject,
            "message": check.raised.title,
        }
        for check in standing
    ]


def standing_in(standing: Sequence[OpenCheck], place: str) -> tuple[OpenCheck, ...]:
    """Those that concern one of the packs that feed one motor each.

    Parameters
    ----------
    standing : of the whole aircraft.
    place : the pack's position, such as "left_pack".

    Returns
    -------
    Without those of the other packs; its own are named as a single pack's.
    """
    found = []
    for check in standing:
        pack, part = pack_and_part(check.raised.subject)
        if pack in ("", place):
            subject = check.raised.subject if not pack else part
            found.append(replace(check, raised=replace(check.raised, subject=subject)))
    return tuple(found)


def still_standing(standing: Sequence[OpenCheck], judged: Sequence[str]) -> tuple[OpenCheck, ...]:
    """Those that a flight of the same set-up has not judged again."""
    return tuple(
        check
        for check in standing
        if (kind := KINDS.get(check.raised.key))
        and kind.topic
        and kind.topic_of(check.raised.subject) not in judged
    )


def _standing(
    candidates: Sequence[JudgedFlight],
    flights: Sequence[JudgedFlight],
    concerns: Callable[[JudgedFlight, Raised], bool],
) -> tuple[OpenCheck, ...]:
    """Of what the candidates raised: what `concerns` the one who asks, and nobody settled since."""
    found = [
        OpenCheck(flight.number, _pack_of(flight, raised) or flight.pack, raised, _cell_of(flight, raised))
        for at, flight in enumerate(candidates)
        for raised in flight.raised
        if raised.severity in ("stop", "check")
        and raised.key not in flight.cleared
        and concerns(flight, raised)
        and _stands(flight, raised, flights[at + 1 :])
    ]
    return tuple(sorted(found, key=lambda c: (c.raised.severity != "stop", -c.flight)))


def _whose(raised: Raised) -> str:
    return KINDS[raised.key].whose if raised.key in KINDS else "log"


def _pack_of(flight: JudgedFlight, raised: Raised) -> str:
    """The name of the pack that a finding belongs to; "" where it belongs to none, or to one without a
    name.
    """
    place, _ = pack_and_part(raised.subject)
    return (flight.pack_at(place) or "") if _whose(raised) == "pack" else ""


def _told_in(other: JudgedFlight, check: OpenCheck) -> Raised:
    """What was raised of a pack, told of the place where another flight has it."""
    raised, place = check.raised, None
    was, part = pack_and_part(raised.subject)
    if _whose(raised) == "pack" and check.pack:
        place = other.place_of(check.pack)
    if place is None or place == was:
        return raised
    title = sentence_of(place, sentence_without(was, raised.title))
    return replace(raised, subject=subject_of(place, part), title=title)


def _cell_of(flight: JudgedFlight, raised: Raised) -> CellFacts | None:
    """The cell a check is about, as its flight showed it."""
    pack, part = pack_and_part(raised.subject)
    word, _, number = part.partition(" ")
    if word != "cell" or not number.isdecimal():
        return None
    cells = flight.cells_of_packs.get(pack, ()) if pack else flight.cells
    return next((c for c in cells if c.cell == int(number)), CellFacts(int(number)))


def _stands(flight: JudgedFlight, raised: Raised, later: Sequence[JudgedFlight]) -> bool:
    kind = KINDS.get(raised.key)
    if kind is None or not kind.topic:
        return False
    check = OpenCheck(flight.number, _pack_of(flight, raised), raised)
    return not any(
        kind.topic_of(_told_in(one, check).subject) in one.judged and _shares(flight, one, raised)
        for one in later
    )


def _shares(one: JudgedFlight, other: JudgedFlight, raised: Raised) -> bool:
    """Whether two flights share what a finding of the first belongs to; a pack without a name stays with its
    aircraft.
    """
    whose, pack = _whose(raised), _pack_of(one, raised)
    if pack:
        return other.place_of(pack) is not None and _same_cells(one, other)
    same = one.aircraft == other.aircraft and one_aircraft(one.drive, other.drive)
    if whose == "pack":
        place, _ = pack_and_part(raised.subject)
        return same and other.pack_at(place) == "" and _same_cells(one, other)
    if whose == "motors":
        return same and same_motors(one.drive, other.drive)
    return same and (whose != "configuration" or one.configuration == other.configuration)


def _same_cells(one: JudgedFlight, other: JudgedFlight) -> bool:
    """Whether two packs of one name have as many cells; its capacity may have been measured anew."""
    counts = {flight.drive.cells for flight in (one, other) if flight.drive and flight.drive.cells}
    return len(counts) < 2
