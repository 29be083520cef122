"""Rows of several recorders on one clock; which motor each controller's log speaks of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from telemetry.derived import pack_current
from telemetry.importers.alignment.signals import is_motor_log
from telemetry.importers.wording import read_header
from telemetry.quantities import QUANTITIES
from telemetry.sentences import say
from telemetry.trace import Channel, Column, Key, Note, Source, Trace

_OF_THE_MOTOR = (
    "current_a",
    "charge_mah",
    "power_w",
    "energy_wh",
    "throttle_fraction",
    "thrust_n",
    "torque_nm",
)


def side_named(file: str) -> str:
    """The side a file's name speaks of: "left", "right", or ""."""
    wording = read_header(file.rsplit(".", 1)[0].replace("-", " "))[0]
    sides = wording.positions & {"left", "right"}
    return next(iter(sides)) if len(sides) == 1 else ""


def _share_of_total(trace: Trace, total: Trace) -> float | None:
    ours, whole = pack_current(trace), pack_current(total)
    if ours is None or whole is None or whole.how:
        return None
    mean_whole = float(np.mean(np.maximum(whole.samples.values, 0.0)))
    return float(np.mean(np.maximum(ours.samples.values, 0.0))) / mean_whole if mean_whole > 0 else None


def place_motors(traces: Sequence[Trace], *, lone_motor: bool = False) -> tuple[Trace, ...]:
    """Give each controller's log its motor's position.

    The side that the file's name speaks of, else a number in the order given. A lone
    controller's log whose current is that of the whole pack keeps its lone motor, and so
    do all where `lone_motor` says that the aircraft has no other.
    """
    if lone_motor:
        return tuple(traces)
    controllers = [i for i, t in enumerate(traces) if is_motor_log(t)]
    others = [t for i, t in enumerate(traces) if i not in controllers]
    if not controllers:
        return tuple(traces)
    if len(controllers) == 1:
        shares = [s for t in others if (s := _share_of_total(traces[controllers[0]], t)) is not None]
        if not shares or shares[0] > 0.8:
            return tuple(traces)
    named = [side_named(traces[i].sources[0].file) for i in controllers]
    distinct = all(named) and len(set(named)) == len(named)
    places = named if distinct else [str(n + 1) for n in range(len(controllers))]
    why = "named" if distinct else "numbered"
    moved = {
        i: _placed(traces[i], place, say("importers", "alignment", why, place=place))
        for i, place in zip(controllers, places, strict=True)
    }
    return tuple(moved.get(i, t) for i, t in enumerate(traces))


def _placed(trace: Trace, place: str, why: str) -> Trace:
    channels: dict[Key, Channel] = {}
    for (quantity, position), channel in trace.channels.items():
        moves = position == "centre" or (position == "" and quantity in _OF_THE_MOTOR)
        key = (quantity, place if moves and QUANTITIES[quantity].admits(place) else position)
        channels[key] = replace(channel, position=key[1])
    source = trace.sources[0]
    columns = tuple(_moved(c, place, why) for c in source.columns)
    return replace(trace, channels=channels, sources=(replace(source, columns=columns),))


def _moved(column: Column, place: str, why: str) -> Column:
    moves = column.quantity is not None and (
        column.position == "centre" or (column.position == "" and column.quantity in _OF_THE_MOTOR)
    )
    if not moves or column.status != "used":
        return column
    return replace(column, position=place, reason=f"{column.reason}; {why}")


def merge(
    traces: Sequence[Trace], sources: Sequence[Source]
) -> tuple[np.ndarray, Mapping[Key, Channel], tuple[Source, ...]]:
    """All rows in order of time; a channel is silent in rows that are not its own.

    Parameters
    ----------
    traces : on one clock already.
    sources : one for each trace.
    """
    time_s = np.concatenate([t.time_s for t in traces])
    order = np.argsort(time_s, kind="stable")
    starts = np.cumsum([0, *(t.time_s.size for t in traces)])
    channels: dict[Key, Channel] = {}
    told = list(sources)
    for i, trace in enumerate(traces):
        rows = slice(starts[i], starts[i + 1])
        for key, channel in trace.channels.items():
            if key in channels:
                told[i] = _repeated(told[i], channel, traces[channels[key].source].sources[0].file)
                continue
            values = np.full(time_s.size, np.nan)
            fresh = np.zeros(time_s.size, dtype=bool)
            values[rows], fresh[rows] = channel.values, channel.fresh
            texts: tuple[str, ...] = ()
            if channel.texts:
                padded = [""] * time_s.size
                padded[rows] = channel.texts
                texts = tuple(padded[j] for j in order)
            channels[key] = replace(channel, values=values[order], fresh=fresh[order], source=i, texts=texts)
    return time_s[order], channels, tuple(told)


def _repeated(source: Source, channel: Channel, first: str) -> Source:
    columns = tuple(
        replace(c, status="ignored", reason=say("importers", "alignment", "has_it", file=first))
        if (c.quantity, c.position, c.status) == (channel.quantity, channel.position, "used")
        else c
        for c in source.columns
    )
    return replace(source, columns=columns)


def check_total(channels: Mapping[Key, Channel], time_s: np.ndarray) -> Note | None:
    """The sum of the motors' currents against the total, as a note."""
    motors = [c for (q, p), c in channels.items() if q == "current_a" and p]
    total = channels.get(("current_a", ""))
    if total is None or len(motors) < 2:
        return None
    start = max(time_s[np.flatnonzero(c.fresh)[0]] for c in (total, *motors))
    end = min(time_s[np.flatnonzero(c.fresh)[-1]] for c in (total, *motors))
    inside = total.fresh & (time_s >= start) & (time_s <= end)
    if inside.sum() < 10:
        return None
    summed = np.sum([np.interp(time_s[inside], time_s[c.fresh], c.values[c.fresh]) for c in motors], axis=0)
    whole = float(np.sum(total.values[inside]))
    if whole <= 0:
        return None
    ratio = float(np.sum(summed)) / whole
    status = "used" if 0.9 < ratio < 1.1 else "doubtful"
    reason = say("importers", "alignment", "summed", count=len(motors), percent=100 * ratio)
    return Note("alignment", total.header, status, reason)
