"""What a reader made of a log with other habits, against its truth."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from telemetry.errors import BadLog
from telemetry.estimate import Estimate
from telemetry.importers.log import read_log

from . import Log
from .told import Told
from .words import UNITS

TOLERANCE = 0.01


@dataclass
class Judged:
    """Sentences of what was wrong, headings of sure columns that were missed, and the sums."""

    wrong: list[str] = field(default_factory=list)
    missed: list[str] = field(default_factory=list)
    sure: int = 0
    refused: str = ""
    needless: bool = False
    asked: int = 0
    checked: dict[str, bool] = field(default_factory=dict)


def _misread(told: Told, column: Any, trace: Any) -> str:
    """Why a used column is not what was measured, or ""."""
    if column.quantity != told.quantity or column.position not in told.positions:
        return f"{told.heading!r} {told.unit} read as {column.quantity}@{column.position}"
    values = trace.channels[(column.quantity, column.position)].values
    if values.size != told.values.size:
        return f"{told.heading!r}: {values.size} rows of {told.values.size}"
    truth = told.values - (told.values[0] if told.quantity == "altitude_m" else 0.0)
    scale = float(np.nanpercentile(np.abs(truth), 95)) or 1.0
    off = np.abs(values - truth) > 0.02 * scale + 0.5 * 10.0 ** -_digits(told) * abs(_step(told))
    seen = np.isfinite(values) & np.isfinite(truth)
    if seen.any() and off[seen].mean() > 0.02:
        ratio = float(
            np.nanmedian(values[seen] / np.where(np.abs(truth[seen]) > 0.1 * scale, truth[seen], np.nan))
        )
        return f"{told.heading!r} {told.unit} read with another unit or sign, {ratio:.4g} x the truth"
    marked = np.isnan(told.values) & np.isfinite(values)
    span = float(np.nanmax(truth) - np.nanmin(truth)) or scale
    outside = (values < np.nanmin(truth) - 0.05 * span) | (values > np.nanmax(truth) + 0.05 * span)
    if (marked & outside).any():
        return f"{told.heading!r}: {int((marked & outside).sum())} marks of no reading read as readings"
    return ""


def _digits(told: Told) -> int:
    return max(len(c.partition(".")[2]) for c in told.cells[:50])


def _step(told: Told) -> float:
    return 1.0 / UNITS.get(told.unit, (1.0, 0.0))[0]


def judge(log: Log, path: Any) -> Judged:
    """Read the log at a path and compare each of its columns and its duration with the truth."""
    judged = Judged(sure=sum(c.sure for c in log.columns) + log.times.sure)
    try:
        trace = read_log(path)
    except BadLog as error:
        judged.refused = str(error)
        judged.needless = log.times.sure and any(c.sure and c.quantity in ELECTRIC for c in log.columns)
        judged.missed = [c.heading for c in log.columns if c.sure]
        return judged
    columns = trace.sources[0].columns
    many = len(log.times.columns)
    for told, column in zip(log.columns, columns[many:], strict=True):
        judged.asked += column.status == "doubtful"
        if column.status == "used":
            why = _misread(told, column, trace) if column.quantity else ""
            judged.wrong += [why] if why else []
        elif told.sure:
            judged.missed.append(f"{told.heading} [{told.unit}] {column.status}: {column.reason}")
    _judge_time(log, trace, columns[:many], judged)
    return judged


ELECTRIC = ("pack_voltage_v", "current_a", "charge_mah", "power_w", "cell_voltage_v")


def _judge_time(log: Log, trace: Any, columns: Any, judged: Judged) -> None:
    used = any(c.status == "used" for c in columns)
    if not used:
        if log.times.sure:
            judged.missed.append(f"time {log.times.columns[0][0]} {columns[0].status}: {columns[0].reason}")
        return
    true_s = float(log.time_s[-1])
    read_s = float(trace.time_s[-1] - trace.time_s[0])
    if abs(read_s - true_s) > max(TOLERANCE * true_s, 1.01, 2 * (log.time_s[1] - log.time_s[0])):
        judged.wrong.append(
            f"time {log.times.columns[0][0]!r} ({log.times.habit}): {read_s:.4g} s for {true_s:.4g} s"
        )


def judge_review(log: Log, review: Any, judged: Judged) -> None:
    """Charge, start voltage and resistance of a review against the truth; what is undecided is no fault."""
    flights = review.flights
    if not flights or not log.charge_defined or not review_time_known(review):
        return
    consumed = [f.capacity.consumed_mah for f in flights]
    if all(isinstance(c, Estimate) for c in consumed):
        total = sum(c.value for c in consumed)
        off = abs(total / log.duty.consumed_mah - 1)
        judged.checked["charge"] = off <= TOLERANCE or _inside(consumed, log.duty.consumed_mah)
        if not judged.checked["charge"]:
            judged.wrong.append(f"charge {total:.5g} mAh for {log.duty.consumed_mah:.5g}")
        if any(c.low < 0 for c in consumed):
            judged.wrong.append("charge interval below zero")
    _judge_pack(log, flights[0].pack, judged)


def _judge_pack(log: Log, pack: Any, judged: Judged) -> None:
    start_v = pack.start_voltage_v
    if isinstance(start_v, float):
        judged.checked["start voltage"] = abs(start_v / log.duty.start_v - 1) <= TOLERANCE
        if not judged.checked["start voltage"]:
            judged.wrong.append(f"start voltage {start_v:.4g} for {log.duty.start_v:.4g}")
    for name, ohm, true_ohm in (
        ("resistance", pack.resistance_ohm, log.duty.ohm),
        ("1 s resistance", pack.resistance_1s_ohm, log.duty.ohm_after(1.0)),
        ("10 s resistance", pack.resistance_10s_ohm, log.duty.ohm_after(10.0)),
    ):
        if not isinstance(ohm, Estimate):
            continue
        judged.checked[name] = ohm.low <= true_ohm <= ohm.high
        if not judged.checked[name]:
            judged.wrong.append(f"{name} {ohm.value:.4g} ({ohm.low:.4g}-{ohm.high:.4g}) for {true_ohm:.4g}")
        if ohm.low < 0:
            judged.wrong.append(f"{name} interval below zero")


def _inside(parts: list[Estimate], truth: float) -> bool:
    return sum(p.low for p in parts) <= truth <= sum(p.high for p in parts)


def review_time_known(review: Any) -> bool:
    """Whether the log's clock was read."""
    return isinstance(review.trace.sources[0].clock.offset_s, Estimate)
