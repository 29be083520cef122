"""`signals_of`: one flight as every analysis sees it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from telemetry.derived import Derived, motor_positions, pack_current, pack_voltage, throttle
from telemetry.estimate import Undecided
from telemetry.sentences import say
from telemetry.sheet.setup import Setup
from telemetry.signals.agreement import Agreement, agreement_of
from telemetry.signals.cells import CellGroup, cell_groups, cell_readings, dead_cells
from telemetry.signals.cleaning import cleaned
from telemetry.signals.counter import Counter, read_counter, restarts_within
from telemetry.signals.dates import FlightDate, date_of
from telemetry.signals.flow import Flow, motor_flow, pack_flow
from telemetry.signals.packs import fed_packs, of_the_aircraft, seen_by, together
from telemetry.signals.positions import in_sheet_terms
from telemetry.signals.rest import Rest, rest_of, standing
from telemetry.signals.zero import from_zero, zero_of
from telemetry.trace import Decision, Flight, Samples, Stretch, Trace


@dataclass(frozen=True, slots=True)
class Signals:
    """What is believed of one flight, decided once.

    Attributes
    ----------
    trace : the whole log, cleaned, its motors under the sheet's positions.
    flight : the span looked at.
    motors : every motor that has a channel of its own, left first.
    current : what left the pack, or why that is not known.
    motor_currents : the same by motor, for those logged.
    read_current : the pack's current as its sensor read it, for peaks; None where not logged.
    counter, counter_name : the log's own count of the charge, and the header it came from.
    voltage : of the pack, else the sum of its cells; None where not logged.
    cells : each logged cell's readings, and `groups` those read at the same moments.
    rest : when the pack rests.
    date : when the flight was, as far as a clock or a file's name tells.
    throttle : the common command, else the mean of the motors'; None where not logged.
    decisions : what was decided about samples of this flight, with reasons, in order of time.
    agreement : what the current sensors say of one another.
    packs : the same flight as each pack sees it that feeds one motor alone, by its position; empty where one
        pack feeds all.
    """

    trace: Trace
    flight: Flight
    motors: tuple[str, ...]
    current: Flow | Undecided
    motor_currents: Mapping[str, Flow]
    read_current: Derived | None
    counter: Counter | None
    voltage: Derived | None
    cells: Mapping[int, Samples]
    groups: tuple[CellGroup, ...]
    rest: Rest
    date: FlightDate
    throttle: Samples | None
    decisions: tuple[Decision, ...]
    agreement: Agreement
    packs: Mapping[str, Signals] = field(default_factory=dict)

    @property
    def powered(self) -> Stretch | None:
        """First throttle-up to last motor stop, None where no motor ran."""
        return None if isinstance(self.flight.powered, Undecided) else self.flight.powered

    @property
    def counts_the_pack(self) -> bool:
        """Whether the log knows what left the whole pack: one motor's current of two would set the next timer
        far too late.
        """
        if self.packs:
            return all(pack.counts_the_pack for pack in self.packs.values())
        return self.read_current is not None or self.trace.has("charge_mah")

    def fresh(self, quantity: str, position: str = "", *, least: int = 1) -> Samples | None:
        """The believed new samples of a channel within the flight.

        Parameters
        ----------
        quantity, position : of the channel.
        least : with fewer there are none.

        Returns
        -------
        (m,) each, or None. [s, the quantity's unit]
        """
        samples = self.trace.fresh(quantity, position, within=self.flight)
        return samples if samples is not None and samples.time_s.size >= least else None

    def command(self, position: str) -> Samples | None:
        """What one motor was told: its own command, else the common one.

        Parameters
        ----------
        position : of the motor, "" for the common command.

        Returns
        -------
        (m,) each, or None where no command was logged. [s, −1…1]
        """
        own = self.fresh("throttle_fraction", position, least=2) if position else None
        return own if own is not None else self.throttle

    def motor_readings(self) -> dict[str, Samples]:
        """Every motor's current as read, less what sensors that surely start apart read at rest.

        Returns
        -------
        Fresh samples within the flight, by position, of the motors that have at least three. [s, A]
        """
        read = {p: s for p in self.motors if (s := self.fresh("current_a", p, least=3)) is not None}
        if self.powered is None:
            return read
        stands = {
            p: standing(
                s.time_s,
                self.powered,
                commands=[self.command(p)],
                speeds=[self.fresh("rpm", p, least=3)],
            )
            for p, s in read.items()
        }
        return from_zero(read, stands, {p: self.step("current_a", p) for p in read})

    def step(self, quantity: str, position: str = "") -> float:
        """The smallest change a recorder can write.

        Parameters
        ----------
        quantity, position : of the channel.

        Returns
        -------
        0 if unknown, or where it was not logged. [the quantity's unit]
        """
        channel = self.trace.channels.get((quantity, position))
        return 0.0 if channel is None else channel.step


def signals_of(
    trace: Trace, flight: Flight, setup: Setup | None = None, *, packs: Sequence[str] = ()
) -> Signals:
    """One flight's signals: what every analysis, the replay, the logbook's facts and the drawings take.

    Parameters
    ----------
    trace : as read, or cleaned.
    flight : one of those found in it.
    setup : names the motors that a recorder only numbers, and where its commands have their neutral.
    packs : the positions of packs that feed one motor each; those of the log's channels by default.

    Returns
    -------
    The view of the flight; nothing in `trace` is changed.
    """
    trace = cleaned(trace if setup is None else in_sheet_terms(trace, setup))
    fed = tuple(packs) or fed_packs(trace.channels)
    if not fed:
        return _view_of(trace, flight)
    whole = _view_of(of_the_aircraft(trace, fed), flight)
    each = {pack: _view_of(seen_by(trace, pack), flight, alone=True) for pack in fed}
    flows = {p: one.current for p, one in each.items() if isinstance(one.current, Flow)}
    if len(flows) < len(each):
        return replace(whole, packs=each)
    current = together(flows)
    return replace(whole, packs=each, current=current, read_current=Derived(current.fresh, current.how))


def _view_of(trace: Trace, flight: Flight, *, alone: bool = False) -> Signals:
    """The signals of one pack and all that it feeds; `alone` says that it feeds one motor of several."""
    counter = read_counter(trace)
    read_current = pack_current(trace, within=flight)
    zero = zero_of(trace, flight, read_current)
    current = pack_flow(trace, flight, counter, offset_a=zero.offset_a)
    motors = motor_positions(trace)
    flows = {
        p: motor_flow(trace, flight, p, read_counter(trace, p)) for p in trace.positions("current_a") if p
    }
    known = {p: flow for p, flow in flows.items() if isinstance(flow, Flow)}
    agreement = agreement_of(flight, current, known, len(motors), zero, alone=alone)
    drawn = None if read_current is None else read_current.samples
    commands = throttle(trace, within=flight)
    shows_load = not (drawn is None and commands is None and not known and not trace.positions("rpm"))
    return Signals(
        trace=trace,
        flight=flight,
        motors=motors,
        current=current,
        motor_currents=known,
        read_current=read_current,
        counter=counter,
        voltage=pack_voltage(trace, within=flight),
        cells=cell_readings(trace, flight),
        groups=cell_groups(trace, flight),
        rest=rest_of(flight, drawn, shows_load=shows_load, offset_a=agreement.offset_a),
        date=date_of(trace, flight.start_s),
        throttle=commands,
        decisions=_decisions(trace, flight, counter, (current, *known.values()), agreement),
        agreement=agreement,
    )


def _decisions(
    trace: Trace,
    flight: Flight,
    counter: Counter | None,
    flows: tuple[Flow | Undecided, ...],
    agreement: Agreement,
) -> tuple[Decision, ...]:
    """Everything decided that touches the flight, in order of time."""
    found = [d for d in trace.decisions or () if d.start_s <= flight.end_s and d.end_s >= flight.start_s]
    found += [d for flow in flows if isinstance(flow, Flow) for d in flow.decisions]
    found += agreement.decisions
    stuck = {d.position for d in found if d.kind == "stuck" and d.quantity == "cell_voltage_v"}
    found += [d for d in dead_cells(trace, flight) if d.position not in stuck]
    restarts = restarts_within(counter, flight) if counter is not None else ()
    found += [Decision("restarted", "charge_mah", "", s, s, say("decisions", "restarted")) for s in restarts]
    return tuple(sorted(found, key=lambda d: (d.start_s, d.quantity, d.position)))
