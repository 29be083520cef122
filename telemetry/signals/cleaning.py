"""Which samples of a trace are believed: stuck sensors and lone spikes are silenced, each with its reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from telemetry.importers.faults import spikes
from telemetry.sentences import say
from telemetry.signals.charging import charged_rows, told_apart
from telemetry.signals.packs import fed_packs, of_the_aircraft, seen_by
from telemetry.signals.stuck import Freeze, find_freezes, stated, without
from telemetry.trace import Channel, Column, Decision, Key, Source, Trace

_NEVER_SPIKES = ("event", "receiver_voltage_v", "link_fraction", "acceleration_mps2")
"""What falls for one reading there is what the reading is logged for."""


def cleaned(trace: Trace) -> Trace:
    """The trace without the samples that no sensor measured, and what was decided.

    Parameters
    ----------
    trace : one log, or several on one clock. One that was cleaned before is given back.

    Returns
    -------
    The same trace: stuck and spiked samples are NaN and not fresh, `decisions` names each stretch and where
    a clock leapt, and the reason stands with the column in `sources`. The file is as it was.
    """
    if trace.decisions is not None:
        return trace
    channels, spiked = _without_spikes(trace)
    channels, charging = told_apart(trace, channels)
    charged = charged_rows(trace.time_s, channels)
    freezes = [
        f
        for f in (_freezes(replace(trace, channels=channels)) if trace.has_clock else ())
        if charged[f.first : f.last].mean() < 0.5
    ]
    kept = {key: without(c, [f for f in freezes if f.key == key]) for key, c in channels.items()}
    leapt = (jump for source in trace.sources for jump in source.jumps)
    decisions = (*leapt, *spiked, *charging, *(_stuck(f, trace) for f in freezes))
    sources = tuple(_annotated(s, i, kept, decisions) for i, s in enumerate(trace.sources))
    return replace(trace, channels=kept, sources=sources, decisions=decisions)


def _freezes(trace: Trace) -> tuple[Freeze, ...]:
    """Every stretch in which a sensor had stopped; a pack that feeds one motor rests when its motor does, so
    that only its own channels are witnesses of one another.
    """
    packs = fed_packs(trace.channels)
    found = list(find_freezes(trace.time_s, of_the_aircraft(trace, packs).channels))
    for pack in packs:
        seen = seen_by(trace, pack).channels
        for freeze in find_freezes(trace.time_s, seen):
            quantity, place = freeze.key
            logged = f"{pack}.{place}" if place else pack
            if (quantity, logged) in trace.channels:
                found.append(replace(freeze, key=(quantity, logged)))
    return tuple(f for f in found if f.key in trace.channels)


def _without_spikes(trace: Trace) -> tuple[dict[Key, Channel], list[Decision]]:
    kept: dict[Key, Channel] = {}
    found: list[Decision] = []
    for key, channel in trace.channels.items():
        spike = spikes(channel.values) if key[0] not in _NEVER_SPIKES else np.zeros(0, dtype=np.bool_)
        kept[key] = channel
        if spike.any():
            rows = np.flatnonzero(spike)
            values = np.where(spike, np.nan, channel.values)
            kept[key] = replace(channel, values=values, fresh=channel.fresh & ~spike)
            first_s, last_s = trace.time_s[rows[[0, -1]]].tolist()
            reason = say("decisions", "spiked", count=rows.size, example=float(channel.values[rows[0]]))
            found.append(Decision("spiked", *key, first_s, last_s, reason))
    return kept, found


def _stuck(freeze: Freeze, trace: Trace) -> Decision:
    last = min(freeze.last, trace.time_s.size) - 1
    start_s, end_s = float(trace.time_s[freeze.first]), float(trace.time_s[last])
    return Decision("stuck", *freeze.key, start_s, end_s, stated(freeze, trace.time_s))


def _annotated(
    source: Source, place: int, channels: dict[Key, Channel], decisions: Sequence[Decision]
) -> Source:
    """The source with each decision's reason behind that of its column."""
    reasons: dict[Key, list[str]] = {}
    for one in decisions:
        channel = channels.get((one.quantity, one.position))
        if channel is not None and channel.source == place:
            reasons.setdefault((one.quantity, one.position), []).append(one.reason)

    def with_reasons(column: Column) -> Column:
        found = reasons.get((column.quantity or "", column.position), [])
        return (
            replace(column, reason="; ".join((column.reason, *found))) if column.status == "used" else column
        )

    return replace(source, columns=tuple(with_reasons(c) for c in source.columns)) if reasons else source
