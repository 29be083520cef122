"""Power where a log has no current, and how sure the sum of any course is."""

from __future__ import annotations

import numpy as np

from telemetry.analysis.capacity.bridges import Bridged, bridge
from telemetry.analysis.capacity.counter import Counter
from telemetry.analysis.capacity.course import Course, clipped, of_channel, total
from telemetry.analysis.capacity.doubt import rounding_sd_mah, sampling_sd_mah
from telemetry.trace import Flight, Span, Stretch, Trace, connected_v, pack_power, pack_voltage


def power(trace: Trace) -> Course | None:
    """Power out of the pack, else that of all motors. [W]"""
    whole = of_channel(trace, "power_w")
    if whole is not None or pack_power(trace) is None:
        return whole
    parts = [
        c for p in trace.positions("power_w") if p and (c := of_channel(trace, "power_w", p)) is not None
    ]
    return total(parts) if parts else None


def power_over_voltage(trace: Trace) -> Course | None:
    """Current as power ÷ voltage at the power's own knots. [A]"""
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
    trace: Trace, flight: Flight, whole: Course, counter: Counter | None, powered: Span | None
) -> tuple[Bridged, float]:
    """A course within a flight without silences, and the standard error of its sum. [the course's unit × s ÷
    3.6]
    """
    within = clipped(whole, flight)
    late, early = _unseen_ends(whole, flight)
    bridged = bridge(trace, within._replace(silent=(*late, *within.silent, *early)), counter, powered)
    if any(b.by != "counter" for b in bridged.bridges if Stretch(b.start_s, b.end_s) in (*late, *early)):
        # The end of a flight is like no other part of it: neither neighbours nor other sensors tell what
        # passed.
        late, early = (), ()
        bridged = bridge(trace, within, counter, powered)
    course = bridged.course
    edges_s = (0.0 if late else max(whole.time_s[0] - flight.start_s, 0.0)) + (
        0.0 if early else max(flight.end_s - whole.time_s[-1], 0.0)
    )
    # Over more than a moment the sensor's last reading says less than what it read at all.
    edge = max(
        abs(course.values[0]),
        abs(course.values[-1]),
        float(np.mean(np.abs(whole.values))) if edges_s > 3.0 else 0.0,
    )
    sds = [
        sampling_sd_mah(course),
        rounding_sd_mah(course),
        edges_s * edge / 3.6,
        *(b.sd_mah for b in bridged.bridges),
    ]
    return bridged, float(np.hypot.reduce(sds))


def _unseen_ends(
    course: Course, flight: Flight, *, least_s: float = 3.0
) -> tuple[tuple[Stretch, ...], tuple[Stretch, ...]]:
    """Silences at either end of a flight: a sensor that began late or gave up early. `least_s` tells them
    from a row or two.
    """
    first_s, last_s = float(course.time_s[0]), float(course.time_s[-1])
    late = (Stretch(flight.start_s, first_s),) if first_s - flight.start_s > least_s else ()
    early = (Stretch(last_s, flight.end_s),) if flight.end_s - last_s > least_s else ()
    return late, early
