"""Sensors and recorders: what of the truth reaches a log, and how."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from telemetry.simulate.cell import follow
from telemetry.trace import Channel, Flags, Floats, Key

Indices = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Sensor:
    """One column of a recorder.

    Attributes
    ----------
    interval_s : between refreshes; 0 refreshes with every row. Rows between repeat the value, or are silent.
        [s]
    step : rounding. [the quantity's unit]
    lag_s : how late it shows what happened; `smoothing_s` a first-order lag besides. [s]
    noise, relative_noise : standard deviations before rounding, plain and as a share of what is shown. [the
        quantity's unit, 1]
    gain, offset : shown = gain · true + offset.
    least : nothing below is shown. unsigned : a speed counted from pulses, the same in reverse.
    shows : what it senses when that is not its quantity: "supply_v@left", the voltage at the left controller.
    silent : rows without a refresh are empty instead of repeating.
    dropout_fraction : share of refreshes that fail (empty when silent, else the old value stays).
    phase : 0…1 of an interval, when its first refresh comes.
    """

    quantity: str
    position: str = ""
    interval_s: float = 0.0
    step: float = 0.0
    lag_s: float = 0.0
    smoothing_s: float = 0.0
    noise: float = 0.0
    relative_noise: float = 0.0
    least: float = float("-inf")
    unsigned: bool = False
    shows: str = ""
    gain: float = 1.0
    offset: float = 0.0
    silent: bool = False
    dropout_fraction: float = 0.0
    phase: float = 0.0


@dataclass(frozen=True, slots=True)
class Recorder:
    """One log file's maker.

    Attributes
    ----------
    interval_s, jitter_s : between rows, and how unevenly (standard deviation). [s]
    from_s, until_s : when it records, from power on; the end is the flight's unless earlier. [s]
    gaps_s : (start, length) of silences. [s]
    clock_offset_s, clock_drift_ppm : true time = offset + (1 + drift·1e-6) · own time, own time 0 at its
        first row by default.
    """

    name: str = "receiver"
    sensors: tuple[Sensor, ...] = ()
    interval_s: float = 0.1
    jitter_s: float = 0.0
    from_s: float = 0.0
    until_s: float = float("inf")
    gaps_s: tuple[tuple[float, float], ...] = ()
    clock_offset_s: float = 0.0
    clock_drift_ppm: float = 0.0


@dataclass(frozen=True, slots=True)
class Recording:
    """A recorder's rows: true times and what each channel showed. `time_s` is true time from power on."""

    recorder: Recorder
    time_s: Floats
    channels: Mapping[Key, Channel]

    @property
    def own_time_s(self) -> Floats:
        """The recorder's own clock. [s]"""
        since_first_s = self.time_s - self.time_s[0] - self.recorder.clock_offset_s
        return np.asarray(since_first_s / (1.0 + self.recorder.clock_drift_ppm * 1e-6))


def row_times(recorder: Recorder, end_s: float, rng: np.random.Generator) -> Floats:
    """When the recorder writes rows. [s from power on]"""
    last_s = min(end_s, recorder.until_s)
    times = np.arange(recorder.from_s, last_s, recorder.interval_s)
    if recorder.jitter_s > 0.0:
        times = times + np.clip(
            recorder.jitter_s * rng.standard_normal(times.size),
            -0.4 * recorder.interval_s,
            0.4 * recorder.interval_s,
        )
        times = np.round(np.maximum(times, recorder.from_s), 4)
    keep = np.ones(times.size, dtype=bool)
    for start_s, length_s in recorder.gaps_s:
        keep &= (times < start_s) | (times >= start_s + length_s)
    return np.asarray(times[keep], dtype=float)


def record(
    recorder: Recorder, time_s: Floats, series: Mapping[Key, Floats], rng: np.random.Generator
) -> Recording:
    """What a recorder makes of the truth.

    Parameters
    ----------
    time_s, series : the truth on its fine grid of even steps, from power on.
    """
    rows_s = row_times(recorder, float(time_s[-1]), rng)
    channels = {}
    for sensor in recorder.sensors:
        key = (sensor.quantity, sensor.position)
        sensed = sensor.shows.partition("@")[::2] if sensor.shows else key
        values, fresh = _column(sensor, rows_s, time_s, series[sensed], recorder.interval_s, rng)
        interval_s = sensor.interval_s or recorder.interval_s
        header = f"{sensor.quantity}@{sensor.position}" if sensor.position else sensor.quantity
        channels[key] = Channel(
            sensor.quantity,
            sensor.position,
            values,
            fresh,
            header,
            max(interval_s, recorder.interval_s),
            sensor.step,
        )
    return Recording(recorder, rows_s, channels)


def _column(
    sensor: Sensor, rows_s: Floats, time_s: Floats, truth: Floats, row_s: float, rng: np.random.Generator
) -> tuple[Floats, Flags]:
    """One channel at the rows: values and which are new."""
    step_s = float(time_s[1] - time_s[0])
    seen = follow(np.abs(truth) if sensor.unsigned else truth, step_s, sensor.smoothing_s)
    interval_s = max(sensor.interval_s, row_s * 1e-3)
    if sensor.interval_s <= row_s:
        refresh_s, latest = rows_s, np.arange(rows_s.size)
    else:
        first_s = rows_s[0] - (1.0 - sensor.phase) * interval_s if sensor.phase else rows_s[0]
        refresh_s = np.arange(first_s, rows_s[-1] + interval_s, interval_s)
        latest = np.searchsorted(refresh_s, rows_s + 1e-9, side="right") - 1
    shown = np.interp(refresh_s - sensor.lag_s, time_s, seen) * sensor.gain + sensor.offset
    if sensor.noise > 0.0 or sensor.relative_noise > 0.0:
        shown = shown + np.hypot(sensor.noise, sensor.relative_noise * shown) * rng.standard_normal(
            shown.size
        )
    shown = quantised(np.maximum(shown, sensor.least), sensor.step)
    fresh = np.concatenate(([True], latest[1:] != latest[:-1]))
    latest, failed = _with_dropouts(sensor, latest, fresh, rng)
    fresh = fresh & ~failed
    values = shown[latest]
    if sensor.silent:
        values = np.where(fresh, values, np.nan)
    return values, fresh


def _with_dropouts(
    sensor: Sensor, latest: Indices, fresh: Flags, rng: np.random.Generator
) -> tuple[Indices, Flags]:
    failed = np.zeros(fresh.size, dtype=bool)
    if sensor.dropout_fraction > 0.0:
        failed = fresh & (rng.random(fresh.size) < sensor.dropout_fraction)
        failed[0] = False
        good = fresh & ~failed
        held = np.maximum.accumulate(np.where(good, np.arange(fresh.size), 0))
        latest = latest[held]
    return latest, failed


def quantised(values: Floats, step: float) -> Floats:
    """Rounded to a recorder's step, free of binary dust."""
    if step <= 0.0:
        return values
    return np.round(np.round(values / step) * step, 9)
