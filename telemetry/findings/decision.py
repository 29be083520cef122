"""The one word about the next flight, and what the log leaves open."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from telemetry.analysis.current.margins import load_at
from telemetry.estimate import Estimate, Undecided
from telemetry.findings.ending import cut_off_words
from telemetry.findings.packs import reason_of_packs
from telemetry.findings.types import Finding, Open, Results
from telemetry.sentences import say
from telemetry.trace import Stretch

ABOUT_CELLS = ("floor", "level", "pack_voltage_v")
"""Checks of a run-up that speak of the pack; all others speak of the drive."""


def decide(findings: Sequence[Finding], left_open: Sequence[Open]) -> str:
    """stop, open, check or clear."""
    severities = {f.severity for f in findings}
    if "stop" in severities:
        return "stop"
    if left_open:
        return "open"
    return "check" if "check" in severities else "clear"


def left_open(results: Results) -> tuple[Open, ...]:
    """What the log does not tell and nobody should fly without knowing."""
    parts = (
        ("cells", reason_of_packs(results, _cells)),
        ("load", _load(results)),
        ("flight", _flight(results)),
        ("clock", _clock(results)),
        ("charge", reason_of_packs(results, _charge)),
    )
    found = [Open(what, reason) for what, reason in parts if reason]
    return (*found, *_bench(results))


def _cells(results: Results) -> str:
    """Why the voltage under load is not known, "" where it is."""
    pack, signals = results.pack, results.signals
    if signals.voltage is None and not signals.cells:
        return say("undecided", "pack", "no_voltage")
    if isinstance(pack.cell_count, Undecided):
        return pack.cell_count.reason
    if not signals.trace.has_clock:
        return "" if signals.read_current is not None else say("open", "no_load_seen")
    powered = signals.powered
    return say("open", "no_load_seen") if powered is None else _unread(results, powered)


def _unread(
    results: Results, powered: Stretch, *, longest_s: float = 3.0, least: float = 0.5, late: float = 0.25
) -> str:
    """Why the readings do not show the voltage under load, "" where they do.

    Parameters
    ----------
    longest_s : between two readings, or five of their intervals; longer is a silence.
    least : share of the powered time that was read.
    late : share of it at its end, where the voltage is lowest, within which the last reading lies.
    """
    signals = results.signals
    read = [s.time_s for s in signals.cells.values()]
    read += [] if signals.voltage is None else [signals.voltage.samples.time_s]
    time_s = np.unique(np.concatenate(read))
    time_s = time_s[(time_s >= powered.start_s) & (time_s <= powered.end_s)]
    span_s = powered.end_s - powered.start_s
    if time_s.size == 0 or span_s <= 0:
        return say("open", "no_voltage_under_load")
    steps_s = np.diff(np.concatenate(([powered.start_s], time_s, [powered.end_s])))
    silent_s = float(np.sum(steps_s[steps_s > max(longest_s, 5.0 * float(np.median(steps_s)))]))
    share = 1.0 - silent_s / span_s
    if share < least or powered.end_s - time_s[-1] > max(late * span_s, longest_s):
        return say("open", "voltage_read_for", share=share)
    return say("open", "voltage_stands") if _stands(results, powered) else ""


def _stands(results: Results, powered: Stretch, *, least: int = 20) -> bool:
    """Whether every voltage kept one value to the last digit throughout the powered time."""
    signals = results.signals
    found = [*signals.cells.values(), *([] if signals.voltage is None else [signals.voltage.samples])]
    spans = []
    for samples in found:
        inside = (samples.time_s > powered.start_s) & (samples.time_s < powered.end_s)
        if np.count_nonzero(inside) >= least:
            spans.append(float(np.ptp(samples.values[inside])))
    return bool(spans) and max(spans) == 0.0


def _load(results: Results) -> str:
    """Why no rated part of the drive was judged, "" where one was or none is rated."""
    rated = [m for m in results.current.limits if m.position != "receiver"]
    if not rated or any(isinstance(m.measured_a, Estimate) for m in rated):
        return ""
    # A rating whose window the log is too short for opens nothing: its current was logged.
    signals, packs = results.signals, results.packs
    single = len({m.position for m in rated if m.position} | set(signals.motors)) <= 1
    loads = [
        load_at(packs[m.position].signals, "")
        if m.position in packs
        else load_at(signals, m.position, single=single)
        for m in rated
    ]
    reasons = [load.reason for load in loads if isinstance(load, Undecided)]
    return say("open", "load", reason=reasons[0]) if len(reasons) == len(rated) else ""


def _flight(results: Results) -> str:
    """Why it is not known how the flight ended, "" where it is."""
    flight = results.flight
    if flight.is_bench or flight.is_taxi or flight.cut_off not in ("end", "both"):
        return ""
    return say("open", "flight", how=cut_off_words(flight))


def _clock(results: Results) -> str:
    """A clock that contradicts itself and could not be repaired."""
    found = [d.reason for d in results.trace.decisions or () if d.kind == "clock_open"]
    return "; ".join(dict.fromkeys(found))


def _charge(results: Results, *, least_mah: float = 10.0) -> str:
    """A current that says charge went into the pack while its motors drove the flight."""
    flow, powered = results.signals.current, results.signals.powered
    if isinstance(flow, Undecided) or powered is None:
        return ""
    drawn_mah = flow.charge_mah(powered)
    return say("open", "charge", into_mah=-drawn_mah) if drawn_mah < -least_mah else ""


def _bench(results: Results) -> list[Open]:
    """Undecided items of a run-up."""
    if results.bench is None:
        return []
    of_cells = {say("bench", "checks", check) for check in ABOUT_CELLS}
    return [
        Open(
            "cells" if item.check in of_cells else "load",
            say("open", "bench", check=item.check, sentence=item.sentence.rstrip(".")),
            of_bench=True,
        )
        for item in results.bench.items
        if item.verdict == "undecided"
    ]
