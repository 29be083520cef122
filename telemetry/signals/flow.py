"""One current through a flight: believed, without silences, with one running integral."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.derived import connected_v, pack_current, pack_power, pack_voltage
from telemetry.estimate import Undecided
from telemetry.physics.charge import AS_PER_MAH, running_integral
from telemetry.sentences import say, undecided
from telemetry.signals.bridges import Bridge, Bridged, bridge
from telemetry.signals.charging import CHARGER_S, charged_rows
from telemetry.signals.counter import Counter
from telemetry.signals.curve import Curve, clipped, cut, of_channel, total
from telemetry.signals.uncertainty import rounding_sd_mah, sampling_sd_mah
from telemetry.trace import Decision, Flight, Floats, Samples, Span, Stretch, Trace, runs


@dataclass(frozen=True, slots=True)
class Flow:
    """What flowed at one place in a flight. Every charge and every mean current comes from its one integral.

    Attributes
    ----------
    curve : from `start_s` to `end_s` of the flight, silences filled, charging left out. [A]
    fresh : the believed new samples within the flight, as the sensor read them. [A]
    before : the same before the flight. [A]
    sd_mah : standard error of the charge from start to end. [mAh]
    how : where it came from, "" when logged as such.
    bridges : silences and how they were filled.
    decisions : silences and charging, with their reasons.
    """

    curve: Curve
    fresh: Samples
    before: Samples
    sd_mah: float
    how: str = ""
    bridges: tuple[Bridge, ...] = ()
    decisions: tuple[Decision, ...] = ()

    @property
    def samples(self) -> Samples:
        """The curve as samples with straight lines between them. [s, A]"""
        return Samples(self.curve.time_s, self.curve.values)

    @property
    def with_before(self) -> Samples:
        """The same with what flowed before the flight in front. [s, A]"""
        earlier = self.before.time_s < self.curve.time_s[0]
        return Samples(
            np.concatenate((self.before.time_s[earlier], self.curve.time_s)),
            np.concatenate((self.before.values[earlier], self.curve.values)),
        )

    def charge_at(self, at_s: Floats) -> Floats:
        """What had left since the flight's start; beyond the first and last sample nothing flows.

        Parameters
        ----------
        at_s : (k,) any times. [s]

        Returns
        -------
        (k,), below zero before the flight. [mAh]
        """
        integral = running_integral(*self.with_before)
        return (integral.at(at_s) - integral.at(self.curve.time_s[:1])) / AS_PER_MAH

    def charge_mah(self, span: Span) -> float:
        """What left within a span.

        Parameters
        ----------
        span : of the flight.

        Returns
        -------
        The difference of the one integral. [mAh]
        """
        first, last = self.charge_at(np.array([span.start_s, span.end_s]))
        return float(last - first)

    def mean_a(self, span: Span) -> float:
        """The mean current over a span.

        Parameters
        ----------
        span : of the flight, longer than nothing.

        Returns
        -------
        What left within it over its length. [A]
        """
        return self.charge_mah(span) * AS_PER_MAH / (span.end_s - span.start_s)

    def within(self, span: Span) -> Samples:
        """The curve within a span, with a sample at either end.

        Parameters
        ----------
        span : of the flight.

        Returns
        -------
        As `cut` has it. [s, A]
        """
        return cut(self.samples, span)


def pack_flow(
    trace: Trace, flight: Flight, counter: Counter | None, *, offset_a: float = 0.0
) -> Flow | Undecided:
    """The pack's current, else the sum of all motors', else power ÷ voltage.

    Parameters
    ----------
    trace : cleaned, in the sheet's terms.
    flight : the span looked at.
    counter : the pack's own, to bridge silences.
    offset_a : what its own sensor reads though nothing flows, taken off it; fresh samples stay as read. [A]

    Returns
    -------
    The flow, or why there is none: no clock, no current, only one side's, or none during the flight.
    """
    if not trace.has_clock:
        return undecided("log", "no_time")
    whole, how = of_channel(trace, "current_a"), ""
    if whole is not None and offset_a:
        whole = whole._replace(values=whole.values - offset_a)
    if whole is None:
        motors = [p for p in trace.positions("current_a") if p]
        parts = [c for p in motors if (c := of_channel(trace, "current_a", p)) is not None]
        derived = pack_current(trace)
        if derived is None or len(parts) < len(motors):
            return undecided("signals", "one_sides_current" if parts else "no_current")
        whole, how = total(parts) if parts else power_over_voltage(trace), derived.how
    return _flow(trace, flight, whole, counter, "", how)


def motor_flow(trace: Trace, flight: Flight, position: str, counter: Counter | None) -> Flow | Undecided:
    """What one motor's controller drew.

    Parameters
    ----------
    trace : cleaned, in the sheet's terms.
    flight : the span looked at.
    position : of the motor.
    counter : that motor's own, to bridge silences.

    Returns
    -------
    The flow, or why there is none.
    """
    if not trace.has_clock:
        return undecided("log", "no_time")
    whole = of_channel(trace, "current_a", position)
    return (
        _flow(trace, flight, whole, counter, position, "")
        if whole is not None
        else undecided("signals", "no_current")
    )


def _flow(
    trace: Trace, flight: Flight, whole: Curve | None, counter: Counter | None, position: str, how: str
) -> Flow | Undecided:
    if whole is None or whole.time_s[0] >= flight.end_s or whole.time_s[-1] <= flight.start_s:
        return undecided("signals", "current_not_in_flight")
    read = pack_current(trace, within=flight) if not position else None
    fresh = read.samples if read is not None else trace.fresh("current_a", position, within=flight)
    if fresh is None or fresh.time_s.size < 2:
        return undecided("signals", "current_not_in_flight")
    bridged, sd_mah = sure(trace, flight, whole, counter, position=position)
    curve, charging = _without_charging(bridged.curve, flight, position, trace)
    earlier = whole.time_s < flight.start_s
    before = Samples(whole.time_s[earlier], whole.values[earlier])
    silent = tuple(_silence(b, position) for b in bridged.bridges)
    return Flow(curve, fresh, before, sd_mah, how, bridged.bridges, (*silent, *charging))


def _silence(one: Bridge, position: str) -> Decision:
    reason = say("decisions", f"silent_{one.by}", seconds=one.end_s - one.start_s, charge_mah=one.charge_mah)
    return Decision("silent", "current_a", position, one.start_s, one.end_s, reason)


def _without_charging(
    curve: Curve,
    flight: Flight,
    position: str,
    trace: Trace,
    *,
    least_a: float = 0.3,
    share: float = 0.01,
    least_s: float = 5.0,
) -> tuple[Curve, tuple[Decision, ...]]:
    """The curve without what a charger put in while no motor ran: it did not come back from the flight. It
    runs before, after and, where `charging` tells it apart, between two runs of the motors.

    Parameters
    ----------
    least_a, share : into the pack, in amperes and of the highest current: more than a sensor's own offset.
    least_s : a braking motor gives back for a moment, a charger for minutes.
    """
    powered = None if isinstance(flight.powered, Undecided) else flight.powered
    off = np.ones(curve.time_s.size, dtype=np.bool_)
    if powered is not None:
        off = (curve.time_s < powered.start_s) | (curve.time_s > powered.end_s)
    into = curve.values < -max(least_a, share * float(np.max(curve.values, initial=0.0)))
    between = into & ~off
    if between.any():
        charger = charged_rows(trace.time_s, trace.channels)
        between = between & (np.interp(curve.time_s, trace.time_s, charger) > 0.5)
    found = [
        (a, b)
        for a, b in (*runs(into & off), *runs(between))
        if curve.time_s[b - 1] - curve.time_s[a] >= (least_s if off[a] else CHARGER_S)
    ]
    values = curve.values.copy()
    decisions = []
    for first, last in found:
        start_s, end_s = float(curve.time_s[first]), float(curve.time_s[last - 1])
        part = Samples(curve.time_s[first:last], curve.values[first:last])
        charged = -running_integral(*part).total / AS_PER_MAH
        values[first:last] = 0.0
        reason = say("decisions", "charging", charge_mah=charged)
        decisions.append(Decision("charging", "current_a", position, start_s, end_s, reason))
    return curve._replace(values=values), tuple(decisions)


def power(trace: Trace) -> Curve | None:
    """Power out of the pack, else that of all motors.

    Parameters
    ----------
    trace : cleaned.

    Returns
    -------
    The curve over the whole trace, None where nothing tells it. [s, W]
    """
    whole = of_channel(trace, "power_w")
    if whole is not None or pack_power(trace) is None:
        return whole
    parts = [
        c for p in trace.positions("power_w") if p and (c := of_channel(trace, "power_w", p)) is not None
    ]
    return total(parts) if parts else None


def power_over_voltage(trace: Trace) -> Curve | None:
    """Current as power ÷ voltage.

    Parameters
    ----------
    trace : cleaned.

    Returns
    -------
    The curve at the power's own knots while the pack is connected; None where one of the two was not
    logged. [s, A]
    """
    whole, voltage = power(trace), pack_voltage(trace)
    if whole is None or voltage is None:
        return None
    found = connected_v(whole.time_s, voltage.samples)
    if found is None:
        return None
    keep, volts = found
    return whole._replace(
        time_s=whole.time_s[keep],
        values=whole.values[keep] / volts,
        step=whole.step / float(np.median(volts)),
    )


def sure(
    trace: Trace, flight: Flight, whole: Curve, counter: Counter | None, *, position: str = ""
) -> tuple[Bridged, float]:
    """A curve within a flight without silences, and the standard error of its sum.

    Parameters
    ----------
    trace : cleaned; its other sensors may tell what passed in a silence.
    flight : the span looked at.
    whole : of the whole trace.
    counter : that counts what the curve carries, or None.
    position : of the curve's own channel, "" for the pack.

    Returns
    -------
    The curve from start to end of the flight, and the error of its sum. [the curve's unit × s ÷ 3.6]
    """
    powered = None if isinstance(flight.powered, Undecided) else flight.powered

    def _bridge(curve: Curve) -> Bridged:
        return bridge(trace, curve, counter, powered, position=position)

    within = clipped(whole, flight)
    late, early = _unseen_ends(whole, flight)
    bridged = _bridge(within._replace(silent=(*late, *within.silent, *early)))
    if any(b.by != "counter" for b in bridged.bridges if Stretch(b.start_s, b.end_s) in (*late, *early)):
        # The end of a flight is like no other part of it: neither neighbours nor other sensors tell what
        # passed.
        late, early = (), ()
        bridged = _bridge(within)
    curve = bridged.curve
    edges_s = (0.0 if late else max(whole.time_s[0] - flight.start_s, 0.0)) + (
        0.0 if early else max(flight.end_s - whole.time_s[-1], 0.0)
    )
    # Over more than a moment the sensor's last reading says less than what it read at all.
    edge = max(
        abs(curve.values[0]),
        abs(curve.values[-1]),
        float(np.mean(np.abs(whole.values))) if edges_s > 3.0 else 0.0,
    )
    sds = [
        sampling_sd_mah(curve),
        rounding_sd_mah(curve),
        edges_s * edge / AS_PER_MAH,
        *(b.sd_mah for b in bridged.bridges),
    ]
    return bridged, float(np.hypot.reduce(sds))


def _unseen_ends(
    curve: Curve, flight: Flight, *, least_s: float = 3.0
) -> tuple[tuple[Stretch, ...], tuple[Stretch, ...]]:
    """Silences at either end of a flight: a sensor that began late or gave up early. `least_s` tells them
    from a row or two.
    """
    first_s, last_s = float(curve.time_s[0]), float(curve.time_s[-1])
    late = (Stretch(flight.start_s, first_s),) if first_s - flight.start_s > least_s else ()
    early = (Stretch(last_s, flight.end_s),) if flight.end_s - last_s > least_s else ()
    return late, early
