"""A log as the analyses see it: one clock, channels of one quantity at one position each.

A `Trace` may come from several recorders. Their rows are merged onto one clock;
a channel is NaN in rows that are not its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, NamedTuple, Protocol

import numpy as np
import numpy.typing as npt

from telemetry.estimate import Estimate, Undecided
from telemetry.quantities import fed_motor, pack_part
from telemetry.sentences import undecided

if TYPE_CHECKING:
    import pandas as pd

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Key = tuple[str, str]
_ORDER = ["", "left", "left_outer", "left_inner", "centre", "right_inner", "right_outer", "right", *"xyz"]


class Samples(NamedTuple):
    """Fresh samples of one channel, in order of time.

    time_s : (m,), never falling. [s]
    values : (m,), no NaN. [the quantity's unit]
    """

    time_s: Floats
    values: Floats


class Span(Protocol):
    """Anything with a start and an end: a flight, a phase, a gap."""

    @property
    def start_s(self) -> float: ...
    @property
    def end_s(self) -> float: ...


@dataclass(frozen=True, slots=True)
class Stretch:
    """A plain span of time. [s]"""

    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Channel:
    """One quantity at one position.

    Attributes
    ----------
    quantity, position : a key of `QUANTITIES`; "" or a cell number or a motor.
    values : (n,) on the trace's clock, NaN where the log is silent. [the quantity's unit]
    fresh : (n,) whether the sample is new; a held repeat is not. Never true at a NaN.
    header : as in the file.
    refresh_interval_s : median time between fresh samples. [s]
    step : the smallest change the recorder can write, 0 if unknown. [the quantity's unit]
    source : index into the trace's sources.
    texts : (n,) for `event` only, the marks as written, "" where silent.
    """

    quantity: str
    position: str
    values: Floats
    fresh: Flags
    header: str
    refresh_interval_s: float
    step: float = 0.0
    source: int = 0
    texts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Note:
    """What an importer step did or doubts.

    Attributes
    ----------
    step : the step's name.
    header : the column, or "" for the file.
    status : "used", "ignored" or "doubtful".
    reason : a clause.
    """

    step: str
    header: str
    status: str
    reason: str


@dataclass(frozen=True, slots=True)
class UnreadableCell:
    """A cell that holds neither a number nor a mark for no value. `line` counts from 1 in the file."""

    line: int
    text: str


@dataclass(frozen=True, slots=True)
class Column:
    """How one column of a file was understood; `first_values` are the first that it holds, in the file's own
    unit.

    Each of its cells in the rows that were kept counts once: `cells_read` stand in the trace, `cells_blank`
    say that there is no value, `cells_left_out` hold one that was not taken, and `cells_unreadable` are
    neither a number nor blank; `unreadable` are the first of those.
    """

    header: str
    quantity: str | None
    position: str
    unit: str
    status: str
    reason: str
    first_values: tuple[str, ...] = ()
    cells_unreadable: int = 0
    cells_read: int = 0
    cells_blank: int = 0
    cells_left_out: int = 0
    unreadable: tuple[UnreadableCell, ...] = ()


@dataclass(frozen=True, slots=True)
class Clock:
    """How a file's own clock maps onto the trace's.

    t_first = offset_s + (1 + drift_ppm·1e-6)·t_own, t_own as the file writes it, in seconds, dates from 1970.
    `zone` is the one the dates were written in, as "+02:00"; "" is local time, which counts as if UTC.
    """

    offset_s: Estimate | Undecided
    drift_ppm: Estimate | Undecided
    zone: str = ""


@dataclass(frozen=True, slots=True)
class Rejected:
    """A row that was left out.

    Attributes
    ----------
    line : counts from 1 in the file.
    reason : a clause.
    column : the heading of the field where it breaks, "" where no field of it does.
    kind : fields (too few or too many), unclosed, nul, long_cell or time.
    text : the row as the file has it, cut where it is long.
    """

    line: int
    reason: str
    column: str = ""
    kind: str = ""
    text: str = ""


@dataclass(frozen=True, slots=True)
class Decision:
    """What was decided about the samples of one channel, over which stretch, and why.

    Attributes
    ----------
    kind : stuck, spiked, silent, restarted, offset, scaled, charging, clock (it leapt and was run on) or
        clock_open (how much time passed there is not known).
    quantity, position : of the channel.
    start_s, end_s : the stretch. [s]
    reason : a clause.
    """

    kind: str
    quantity: str
    position: str
    start_s: float
    end_s: float
    reason: str


@dataclass(frozen=True, slots=True)
class Source:
    """Where a trace's rows came from.

    `rows_read` counts the rejected ones too, `cells_…` those of all columns; `answers` are what the user
    settled of its columns, by header; `jumps` are where its clock leapt, on the trace's.
    """

    file: str
    sha256: str
    rows_read: int
    rows_rejected: int
    encoding: str
    delimiter: str
    decimal: str
    clock: Clock
    columns: tuple[Column, ...]
    rejected: tuple[Rejected, ...] = field(default=(), metadata={"most": 100})
    notes: tuple[Note, ...] = field(default=(), metadata={"json": False})
    answers: tuple[tuple[str, str], ...] = field(default=(), metadata={"json": False})
    jumps: tuple[Decision, ...] = field(default=(), metadata={"json": False})
    cells_unreadable: int = 0
    cells_read: int = 0
    cells_blank: int = 0
    cells_left_out: int = 0


@dataclass(frozen=True, slots=True)
class Phase:
    """A part of a flight: ground, takeoff, climb, cruise, descent, approach, go_around or landing."""

    name: str
    start_s: float
    end_s: float


NO_INTERVAL = undecided("trace", "no_interval")


@dataclass(frozen=True, slots=True)
class Flight:
    """One take-off with a full stop after it, or a bench or taxi run.

    Attributes
    ----------
    start_s, end_s : power on and off, the split between two flights, or the log's ends. [s]
    takeoff_s, landing_s : undecided on a bench or taxi run, or where the log can't tell. [s]
    powered : first throttle-up to last motor stop, or undecided when no motor ran.
    phases : in order, without overlap.
    is_bench : throttle held in steps while the model stands still.
    is_taxi : the model rolled on the ground and never left it.
    takeoff, landing : the same moments with their intervals. [s]
    cut_off : "start" or "end" where the log begins or ends in the air or under power, "both", else "none".
    """

    start_s: float
    end_s: float
    takeoff_s: float | Undecided
    landing_s: float | Undecided
    powered: Stretch | Undecided
    phases: tuple[Phase, ...] = ()
    is_bench: bool = False
    is_taxi: bool = False
    takeoff: Estimate | Undecided = NO_INTERVAL
    landing: Estimate | Undecided = NO_INTERVAL
    cut_off: str = "none"


@dataclass(frozen=True, slots=True)
class Trace:
    """One or several logs on one clock.

    Attributes
    ----------
    time_s : (n,) never falling, 0 at the first row of the first log. [s]
    channels : by (quantity, position).
    sources : one a file, in the order given.
    gaps : stretches in which nothing was logged. [s]
    has_clock : False when the log has neither time nor rate; time_s then counts rows.
    decisions : which samples are not believed; None while nobody has looked (`telemetry.signals.cleaned`).
    """

    time_s: Floats
    channels: Mapping[Key, Channel]
    sources: tuple[Source, ...] = ()
    gaps: tuple[Stretch, ...] = ()
    has_clock: bool = True
    decisions: tuple[Decision, ...] | None = None

    def has(self, quantity: str, position: str = "") -> bool:
        """Whether a channel exists.

        Parameters
        ----------
        quantity, position : of the channel.

        Returns
        -------
        True also where it was silent throughout.
        """
        return (quantity, position) in self.channels

    def positions(self, quantity: str) -> tuple[str, ...]:
        """The positions at which a quantity was logged.

        Parameters
        ----------
        quantity : a key of `QUANTITIES`.

        Returns
        -------
        Cells in order, motors left first, "" before all, packs that feed one motor behind them.
        """
        return tuple(sorted((p for (q, p) in self.channels if q == quantity), key=_place_in_order))

    def fresh(self, quantity: str, position: str = "", *, within: Span | None = None) -> Samples | None:
        """The new samples of a channel: held repeats and silent rows are left out.

        Parameters
        ----------
        quantity, position : of the channel.
        within : keeps start_s ≤ t ≤ end_s; None for the whole trace.

        Returns
        -------
        (m,) each, or None when it was not logged. [s, the quantity's unit]
        """
        channel = self.channels.get((quantity, position))
        if channel is None:
            return None
        keep = channel.fresh
        if within is not None:
            keep = keep & (self.time_s >= within.start_s) & (self.time_s <= within.end_s)
        return Samples(self.time_s[keep], channel.values[keep])

    def rows(self, first: int, last: int) -> Trace:
        """A part of the log, on the same clock.

        Parameters
        ----------
        first, last : rows [first, last), at least one.

        Returns
        -------
        Every channel, and the gaps that lie within.
        """
        part = slice(first, last)
        channels = {
            key: replace(c, values=c.values[part], fresh=c.fresh[part], texts=c.texts[part])
            for key, c in self.channels.items()
        }
        time_s = self.time_s[part]
        gaps = tuple(g for g in self.gaps if g.start_s >= time_s[0] and g.end_s <= time_s[-1])
        return replace(self, time_s=time_s, channels=channels, gaps=gaps)

    def to_frame(self, interval_s: float | None = None) -> pd.DataFrame:
        """The channels as a table, a column each: "quantity@position", the quantity alone where it has none.

        Parameters
        ----------
        interval_s : None for a row an instant; else an even grid of its whole multiples, straight lines
            between fresh samples, marks (`event`) left out. [s]

        Returns
        -------
        Indexed by `time_s` [s]; NaN where a channel was not fresh, on a grid outside its own span.

        Raises
        ------
        ValueError : an interval not above zero, or so short that the table has no end.
        """
        from telemetry.frames import frame_of

        return frame_of(self.time_s, self.channels, interval_s)

    def at(self, quantity: str, position: str, times_s: Floats) -> Floats | None:
        """A channel at other times, straight lines between its fresh samples, ends held.

        Parameters
        ----------
        quantity, position : of the channel.
        times_s : (m,) [s]

        Returns
        -------
        (m,), or None when the channel is missing or empty. [the quantity's unit]
        """
        samples = self.fresh(quantity, position)
        if samples is None or samples.time_s.size == 0:
            return None
        return np.interp(times_s, samples.time_s, samples.values)

    @property
    def sample_interval_s(self) -> float:
        """Median time between rows. [s]"""
        steps = np.diff(np.unique(self.time_s))
        return float(np.median(steps)) if steps.size else 0.0

    @property
    def duration_s(self) -> float:
        """From the first row to the last. [s]"""
        return float(self.time_s[-1] - self.time_s[0]) if self.time_s.size else 0.0


def _place_in_order(position: str) -> tuple[int, int, int]:
    """Where a position stands: its pack, then its motor or cell."""
    pack, place = pack_part(position)
    side = 1 + _ORDER.index(fed_motor(pack)) if pack else 0
    if place.isdigit():
        return side, 0, int(place)
    return side, 100 * bool(place), _ORDER.index(place)


def runs(flags: Flags, *, join: int = 0, least: int = 1) -> list[tuple[int, int]]:
    """Index ranges [first, last) in which flags are true.

    Parameters
    ----------
    flags : (n,).
    join : holes of up to so many false samples between two runs are closed.
    least : runs of fewer samples are dropped, after the holes are closed.

    Returns
    -------
    In order, without overlap; empty where nothing is true.
    """
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(np.int8), [0]))))
    found: list[tuple[int, int]] = []
    for first, last in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if found and first - found[-1][1] <= join:
            found[-1] = (found[-1][0], last)
        else:
            found.append((first, last))
    return [run for run in found if run[1] - run[0] >= least]
