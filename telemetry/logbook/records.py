"""What the logbook says of itself: a kept flight, and how a `keep` went."""

from __future__ import annotations

import sys
from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from telemetry.estimate import Estimate
from telemetry.findings import Open
from telemetry.history import FlownDrive, PastFlight
from telemetry.made import MadeBy
from telemetry.put_back import put_backs
from telemetry.season.open_checks import JudgedFlight, OpenCheck, Raised
from telemetry.season.pack_places import pack_and_part
from telemetry.season.timer import CellFacts, PackFacts
from telemetry.season.trends import SeasonFlight

SHEET_CONTRADICTED = "sheet_contradicted"
"""The finding that says so."""


@dataclass(frozen=True, slots=True)
class KeptFlight:
    """One flight of the logbook, by the facts of its review when it was kept.

    Attributes
    ----------
    id : its number in the logbook, from 1.
    date : "2026-06-14 10:03 UTC+02:00" or as much of it as is known, "" without any; local without a zone.
    kind : "flight", "taxi" or "bench".
    aircraft : the sheet's name for it, "" without a sheet.
    configuration, pack : "" is the sheet as it stands.
    duration_s : powered time, None when no motor ran. `airborne_s` from take-off to landing. [s]
    consumed_mah : all that left the pack. [mAh]
    headline : of its review.
    verdicts : of the five answers, by question.
    severities : how many findings, by "stop", "check" and "note".
    first_finding : the most serious one's sentence, "" without any; its severity and key beside it.
    lowest_cell_v : the lowest loaded voltage and `lowest_cell` whose; cell 0 is the mean of the pack. [V]
    least_margin_fraction : of all ratings, and `least_margin_part` whose.
    imbalance_fraction : of the first pair.
    alarm_s : the timer for the next flight. [s]
    cell_resistances_ohm : of each cell, one second after a step; () when undecided. [Ω]
    spark_a : mean pack current in sixty equal parts of the flight, for a small drawing; () without. [A]
    files : names of the logs it came from.
    put_back_mah, temperature_c : None when not known.
    pack_name : what its sheet calls the pack it was flown with, also where `pack` is "".
    by_pack : position and charge of each pack that feeds one motor; `consumed_mah`, `pack_name` and what is
        told of cells and resistance then speak of the pack that limits. [mAh]
    pack_names : of packs that feed one motor each, by their position; empty where one feeds all.
    consumed : `consumed_mah` with its interval. [mAh]
    mean_current_a : of the pack over the powered time; None for facts made before it was noted. [A]
    pack_ohm, pack_25c_ohm : of the pack, one second after a step, at its own temperature and carried to 25
        °C. [Ω]
    cells_25c_ohm, cell_ratios : of each cell, carried to 25 °C [Ω], and against its neighbours [1]; None
        where undecided.
    raised : its stops and checks.
    judged : the topics that its log was enough to judge, see `season.open_checks`.
    decision : "clear", "check", "stop" or "open"; None for facts made before it was noted.
    open : what its log left open.
    cut_off : which end of it the log does not show, "none" where it shows both.
    start_charge_fraction : how full its pack began, None where that is not known.
    made_by : what made these facts; None for those made before this was noted.
    kept_at : when, as ISO.
    note, tags : the owner's.
    removed : whether it counts in no figure, until it is restored.
    cleared : the keys of its stops and checks that the owner has settled.
    again : the number of the kept flight that it is once more; it counts once.
    drive : what it was flown with. `pack_facts` is what the next timer is told of its pack.
    """

    id: int
    date: str
    kind: str
    aircraft: str
    configuration: str
    pack: str
    duration_s: float | None
    airborne_s: float | None
    consumed_mah: float | None
    headline: str
    verdicts: Mapping[str, str]
    severities: Mapping[str, int]
    first_severity: str
    first_key: str
    first_finding: str
    lowest_cell_v: float | None
    lowest_cell: int | None
    least_margin_fraction: float | None
    least_margin_part: str
    imbalance_fraction: Estimate | None
    alarm_s: float | None
    cell_resistances_ohm: tuple[float, ...]
    spark_a: tuple[float, ...] = field(metadata={"json": False})
    files: tuple[str, ...]
    put_back_mah: float | None = None
    temperature_c: float | None = None
    pack_name: str = ""
    by_pack: tuple[tuple[str, float], ...] = ()
    pack_names: dict[str, str] = field(default_factory=dict, metadata={"json": False})
    consumed: Estimate | None = None
    mean_current_a: float | None = None
    pack_ohm: Estimate | None = None
    pack_25c_ohm: Estimate | None = None
    cells_25c_ohm: tuple[Estimate | None, ...] = ()
    cell_ratios: tuple[Estimate | None, ...] = ()
    raised: tuple[Raised, ...] = ()
    judged: tuple[str, ...] = field(default=(), metadata={"json": False})
    made_by: MadeBy | None = None
    decision: str | None = None
    open: tuple[Open, ...] = ()
    cut_off: str = "none"
    start_charge_fraction: float | None = None
    kept_at: str = ""
    note: str = ""
    tags: tuple[str, ...] = ()
    removed: bool = False
    cleared: tuple[str, ...] = ()
    again: int | None = None
    drive: FlownDrive | None = field(default=None, metadata={"json": False})
    pack_facts: PackFacts = field(default_factory=PackFacts, metadata={"json": False})

    @property
    def past(self) -> PastFlight | None:
        """The flight as a row of history; None for what was no flight or no whole one, whose charge is not
        known, which was another aircraft's, which counts already, or which is removed.
        """
        if (
            self.removed
            or self.kind != "flight"
            or self.cut_off != "none"
            or self.again is not None
            or self.contradicts_sheet
            or not self.duration_s
            or not self.consumed_mah
            or self.consumed_mah <= 0
        ):
            return None
        return PastFlight(
            self.duration_s,
            self.consumed_mah,
            self.configuration,
            self.date[:10],
            self.pack_called if self.pack_names else self.pack,
            self.put_back_mah,
            self.temperature_c,
            self.drive,
            self.start_charge_fraction,
            self.by_pack,
        )

    @property
    def contradicts_sheet(self) -> bool:
        """Whether its log cannot be of the aircraft in its sheet: it says nothing about that aircraft's next
        flight.
        """
        return SHEET_CONTRADICTED in (self.first_key, *(one.key for one in self.raised))

    @property
    def in_season(self) -> SeasonFlight:
        """What a season's trends take of it."""
        imbalance = self.imbalance_fraction.value if self.imbalance_fraction is not None else None
        past = self.past
        rate = past.rate_mah_per_min if past else None
        put_back = put_backs([past])[:1] if past else ()
        return SeasonFlight(
            self.id,
            self.configuration,
            self.pack_called,
            self.cell_resistances_ohm,
            imbalance,
            rate,
            put_back[0] if put_back else None,
            bool(self.date),
            self.pack_25c_ohm.value if self.pack_25c_ohm is not None else None,
            self.temperature_c,
        )

    @property
    def pack_called(self) -> str:
        """The name of the pack it was flown with, "" when nobody named it."""
        return self.pack or self.pack_name

    def pack_of(self, subject: str) -> str:
        """The name of the pack that a finding is about.

        Parameters
        ----------
        subject : of the finding, such as "cell 3" or "right pack, cell 3".

        Returns
        -------
        "" where nobody named it.
        """
        return self.pack_names.get(pack_and_part(subject)[0], self.pack_called)

    @property
    def in_judgement(self) -> JudgedFlight:
        """What it takes to tell which stops and checks still stand."""
        return JudgedFlight(
            self.id,
            self.aircraft,
            "" if self.pack_names else self.pack_called,
            self.configuration,
            self.raised,
            self.judged,
            self.drive,
            self.pack_facts.cells or cells_of(self.cell_resistances_ohm),
            self.cleared,
            {place: facts.cells for place, facts in self.pack_facts.packs.items()},
            self.pack_names,
        )

    def flown_before(self, date: str, number: int) -> bool:
        """Whether it was flown before another: by date as far as both are known, else by the order of
        keeping.
        """
        length = min(len(self.date), len(date))
        if self.date[:length] != date[:length]:
            return self.date[:length] < date[:length]
        return self.id < number


def cells_of(resistances_ohm: Sequence[float]) -> tuple[CellFacts, ...]:
    """Cells by their resistances alone, from facts made before more was noted."""
    ohm = np.asarray(resistances_ohm)
    return tuple(
        CellFacts(k + 1, value, excess_ohm=max(0.0, value - float(np.median(np.delete(ohm, k)))))
        for k, value in enumerate(resistances_ohm if len(resistances_ohm) > 1 else ())
    )


def in_order_flown(kept: Sequence[KeptFlight], *, removed: bool = False) -> tuple[KeptFlight, ...]:
    """Flights by date; one without a date was flown when it was kept, after the one kept before it.

    `removed` takes those along that are removed and count in no figure.
    """
    known, dated = "", []
    for flight in sorted(kept, key=lambda f: f.id):
        known = flight.date or known
        dated.append((flight.date or known, flight.id, flight))
    ordered = (flight for _, _, flight in sorted(dated, key=lambda d: d[:2]))
    return tuple(flight for flight in ordered if removed or not flight.removed)


def rows_of_history(
    kept: Sequence[KeptFlight],
    aircraft: str | None,
    *,
    date: str = "",
    number: int = sys.maxsize,
    but: Container[int] = (),
) -> tuple[PastFlight, ...]:
    """What was flown before a date or number as rows of history, the earliest first.

    Parameters
    ----------
    kept : flights of the logbook, in any order.
    aircraft : only this one's, by its name in the sheet; None takes all.
    date, number : of the flight that is asked about; without them everything counts.
    but : numbers of flights to leave out.
    """
    earlier = [
        f
        for f in kept
        if f.flown_before(date, number) and (aircraft is None or f.aircraft == aircraft) and f.id not in but
    ]
    rows = (f.past for f in sorted(earlier, key=lambda f: (f.date, f.id)))
    return tuple(row for row in rows if row is not None)


@dataclass(frozen=True, slots=True)
class Earlier:
    """What a logbook knows of the next flight of a set-up.

    Attributes
    ----------
    flights : flown earlier by the aircraft of that name.
    standing : stops and checks that still stand for what the set-up carries.
    facts : of the pack, by the last flight with this drive and this pack.
    """

    flights: tuple[PastFlight, ...] = ()
    standing: tuple[OpenCheck, ...] = ()
    facts: PackFacts = field(default_factory=PackFacts)


@dataclass(frozen=True, slots=True)
class KeepOutcome:
    """How a `keep` went.

    Attributes
    ----------
    kept : the flights now in the logbook, those of logs that were there already included.
    refused : a sentence for each log that was not kept.
    remarks : what else is to be said, such as that a log was there already.
    in_doubt : whether a column, unit or clock was left out.
    """

    kept: tuple[KeptFlight, ...] = ()
    refused: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    in_doubt: bool = False

    def __add__(self, later: KeepOutcome) -> KeepOutcome:
        """Both, one after the other."""
        return KeepOutcome(
            (*self.kept, *later.kept),
            (*self.refused, *later.refused),
            (*self.remarks, *later.remarks),
            self.in_doubt or later.in_doubt,
        )
