"""Where flights start and end, and their phases."""

from __future__ import annotations

import numpy as np

from telemetry.estimate import Undecided
from telemetry.trace import Flight, Phase, Samples, Stretch, Trace, pack_current, throttle


def find(trace: Trace, *, bench: bool = False) -> tuple[Flight, ...]:
    """Every flight of a log. `bench` says that it is a bench run, whatever it looks like."""
    start_s, end_s = float(trace.time_s[0]), float(trace.time_s[-1])
    powered = _powered(trace)
    no = Undecided("this is a bench run" if bench else "the log has no altitude to tell")
    altitude = trace.fresh("altitude_m")
    takeoff: float | Undecided = no
    landing: float | Undecided = no
    if not bench and altitude is not None and altitude.time_s.size > 10:
        ground = float(np.median(altitude.values[:10]))
        up = np.flatnonzero(altitude.values > ground + 2.0)
        if up.size:
            takeoff, landing = float(altitude.time_s[up[0]]), float(altitude.time_s[up[-1]])
    phases: tuple[Phase, ...] = ()
    if not isinstance(takeoff, Undecided) and not isinstance(landing, Undecided):
        phases = (Phase("ground", start_s, takeoff), Phase("cruise", takeoff, landing), Phase("landing", landing, end_s))
    return (Flight(start_s, end_s, takeoff, landing, powered, phases, bench),)


def _powered(trace: Trace) -> Stretch | Undecided:
    signal: Samples | None = throttle(trace)
    level = 0.04
    if signal is None:
        current = pack_current(trace)
        if current is None:
            return Undecided("the log has neither throttle nor current")
        signal = current.samples
        level = 0.05 * float(np.max(signal.values))
    on = np.flatnonzero(np.abs(signal.values) > level)
    if on.size == 0:
        return Undecided("no motor ran")
    return Stretch(float(signal.time_s[on[0]]), float(signal.time_s[min(on[-1] + 1, signal.time_s.size - 1)]))
