"""Invented pairs of motors with known truth, for the tests and campaigns of `telemetry.analysis.motors`.

Physics on purpose unlike the analysis': iron losses that grow with speed, torque that falls with Reynolds
number, each propeller its own unloading, a controller with a bent curve and its own losses, windings that
warm, separate sensors with their own rate, delay, rounding, gain and noise. Nothing here is imported by the
package.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.signal import lfilter

from telemetry.estimate import Undecided
from telemetry.trace import Channel, Flight, Stretch, Trace

STEP_S = 0.04
CAUSES = ("propeller", "kv", "winding", "endpoint", "drag", "sensor")


@dataclass
class Truth:
    imbalance: float
    current: float
    rpm_ratio: float
    current_ratio: float
    cause: str
    size: float
    events: list = field(default_factory=list)

    @property
    def even(self) -> bool:
        return abs(self.imbalance) < 0.012 and abs(self.current) < 0.02


def throttle_plan(rng, seconds, bench=False):
    """Command on the fine grid and the take-off and landing times."""
    n = int(seconds / STEP_S)
    time = np.arange(n) * STEP_S
    points = [(0.0, 0.0), (8.0, 0.0)]
    if bench:
        at = 10.0
        for level in (0.25, 0.5, 0.75, 1.0, 0.75, 0.5, 0.3):
            points += [(at, level), (at + rng.uniform(8, 12), level)]
            at = points[-1][0] + 0.6
        points += [(at + 0.5, 0.0), (seconds, 0.0)]
        t, c = np.array(points).T
        return time, np.interp(time, t, c), None, None
    top = rng.choice([1.0, 1.0, 1.0, rng.uniform(0.8, 0.97)])
    points += [(9.0, 0.15), (14.0, 0.2), (16.0, top), (16.0 + rng.uniform(6, 12), top)]
    at = points[-1][0] + 2
    while at < seconds - 35:
        kind = rng.random()
        level = (
            rng.uniform(0.4, 0.65)
            if kind < 0.55
            else rng.uniform(0.7, 1.0) * top
            if kind < 0.8
            else rng.uniform(0.2, 0.35)
        )
        hold = rng.uniform(4, 18)
        points += [(at, level), (at + hold, level)]
        at += hold + rng.uniform(0.4, 2.0)
    points += [(seconds - 30, 0.35), (seconds - 15, 0.15), (seconds - 12, 0.0), (seconds, 0.0)]
    t, c = np.array(points).T
    command = np.interp(time, t, c)
    busy = (command > 0.25) & (time > 26)
    wobble = lfilter([0.02], [1, -0.98], rng.normal(0, 0.12, n)) * busy
    return time, np.clip(command + wobble, 0, 1), 20.0, seconds - 14.0


def spool(x, tau):
    a = np.exp(-STEP_S / tau)
    return lfilter([1 - a], [1, -a], x, zi=[a * x[0]])[0]


@dataclass
class Motor:
    kv: float
    r: float
    i0: float
    iron: float
    cp: float
    lo: float
    hi: float
    bend: float


def run(motor, command, volts, airspeed, world, sides_volts=None):
    """Steady states: shaft speed, winding current, battery current, shaft power."""
    duty = np.clip((command - motor.lo) / (motor.hi - motor.lo), 0, 1) ** motor.bend
    warm = motor.r * (1 + 0.2 * (1 - np.exp(-np.arange(command.size) * STEP_S / 60)))
    supply = np.maximum(duty * volts - world["diode"] * duty * (1 - duty), 0.0)
    d, rho = world["diameter"], world["density"]
    omega = supply * motor.kv * 0.8 * 2 * np.pi / 60 + 1.0
    kt = 60 / (2 * np.pi * motor.kv)

    def load(w):
        n = w / (2 * np.pi)
        j = airspeed / np.maximum(n * d, 1e-3) / world["j0"]
        x = np.clip(j, 0, 1.6)
        a, b, c = world["unload"]
        shape = np.maximum(1 + a * x + b * x**2 + c * x**3, -0.6)
        cp = motor.cp * shape * (np.maximum(n, 5) / 120) ** world["reynolds"]
        return cp * rho * n**2 * d**5 / (2 * np.pi)

    def excess(w):
        back = w * kt
        i = (supply - back) / (warm + duty**2 * world["lead"])
        loss = motor.i0 + motor.iron * w * kt + world["iron2"] * (w * kt) ** 2
        return kt * (i - loss) - load(w)

    low, high = np.zeros_like(omega), supply / kt + 1e-6
    for _ in range(32):
        mid = (low + high) / 2
        up = excess(mid) > 0
        low, high = np.where(up, mid, low), np.where(up, high, mid)
    w = (low + high) / 2 * (duty > 0)
    i = (supply - w * kt) / (warm + duty**2 * world["lead"]) * (duty > 0)
    battery = duty * i * (1 + world["partial"] * duty * (1 - duty)) + world["idle"]
    return w * 60 / (2 * np.pi), i, battery, load(w) * w * (duty > 0)


def sense(rng, time, values, rate, delay, noise, step, gain=1.0):
    """A sensor of its own rate: fresh times, values at them."""
    at = np.arange(rng.uniform(0, 1 / rate), time[-1], 1 / rate)
    x = np.interp(at - delay, time, values) * gain
    x = x + rng.normal(0, 1, at.size) * noise
    return at, np.round(x / step) * step if step else x


def channel(grid, quantity, position, at, values, step):
    """The channel on the log's rows: held between refreshes, fresh at the first row after each."""
    index = np.searchsorted(at, grid, side="right") - 1
    shown = np.where(index >= 0, values[np.clip(index, 0, None)], np.nan)
    fresh = np.concatenate(([index[0] >= 0], np.diff(index) > 0))
    return Channel(
        quantity, position, shown, fresh & np.isfinite(shown), quantity, float(np.median(np.diff(at))), step
    )


def differ(rng, base, cause, size):
    """The right motor of a pair, with one difference of a size and which shape of it."""
    right = Motor(**vars(base))
    if cause == "propeller":
        right.cp *= 1 + size
    elif cause == "kv":
        right.kv *= 1 + size
    elif cause == "winding":
        right.r *= 1 + size
    elif cause == "drag":
        right.i0 += size
    elif cause == "endpoint":
        kind = rng.integers(3)
        right.lo += size * (kind != 1)
        right.hi += size * (kind != 0)
    return right


def fly(
    seed,
    cause="none",
    size=0.0,
    *,
    bench=False,
    tolerance=1.0,
    has=("voltage", "throttle", "current", "rpm", "temperature"),
    mix=0.0,
    own_commands=False,
    rudder_logged=True,
    names=("left", "right"),
    rate=None,
    event=None,
    seconds=None,
    sensor_gain_sd=0.003,
):
    """A trace, its flight, and the truth. `event` is (kind, motor) to happen once; `mix` is rudder into
    throttle.
    """
    rng = np.random.default_rng(seed)
    seconds = seconds or (95.0 if bench else rng.uniform(200, 330))
    time, command, takeoff, landing = throttle_plan(rng, seconds, bench)
    cells = rng.integers(3, 7)
    diameter = rng.uniform(0.25, 0.36)
    volts_full, full_a = 4.15 * cells, rng.uniform(16, 42)
    sag = rng.uniform(0.05, 0.14)
    loss = rng.uniform(0.06, 0.16)
    kv = rng.uniform(450, 1100)
    world = {
        "diameter": diameter,
        "density": rng.uniform(1.08, 1.25),
        "j0": rng.uniform(0.5, 0.85),
        "unload": rng.normal([0.2, -0.4, -0.55], [0.1, 0.15, 0.12]),
        "reynolds": rng.uniform(-0.12, 0.0),
        "diode": rng.uniform(0.0, 0.5),
        "iron2": 0.0,
        "lead": rng.uniform(0.001, 0.006),
        "partial": rng.uniform(0.0, 0.08),
        "idle": rng.uniform(0.02, 0.12),
    }
    r = loss * volts_full / full_a
    n_full = kv * volts_full * (1 - sag) * (1 - loss - 0.02) / 60
    i0 = full_a * rng.uniform(0.015, 0.04)
    q = 60 / (2 * np.pi * kv) * (full_a - 2 * i0)
    cp = q * 2 * np.pi / (world["density"] * n_full**2 * diameter**5)
    base = Motor(
        kv,
        r,
        i0,
        i0 / (volts_full * 0.8),
        cp,
        rng.uniform(0.015, 0.06),
        rng.uniform(0.96, 1.02),
        rng.uniform(0.92, 1.12),
    )
    spreads = [
        0.0012,
        0.01,
        0.03,
        0.03,
        0.0015,
        0.01,
        0.0004,
        0.0004,
    ]  # of two sound sides, in the order of Motor
    left = Motor(
        **{
            k: v * f
            for (k, v), f in zip(vars(base).items(), 1 + tolerance * rng.normal(0, spreads), strict=True)
        }
    )
    if cause == "drag":
        size = size * i0
    right = differ(rng, base, cause, size)
    vmax = 0.75 * world["j0"] * diameter * n_full
    push = spool(command**2, 4.0) if not bench else np.zeros_like(command)
    airspeed = vmax * np.sqrt(np.maximum(push, 0)) * (1 if not bench else 0)
    rudder = np.zeros_like(time)
    if mix:
        rudder = np.clip(lfilter([0.01], [1, -0.99], rng.normal(0.1, 1.6, time.size)), -0.8, 0.8)
    offset = np.where(command > 0.1, mix * rudder, 0.0)
    commands = [np.clip(command + offset, 0, 1), np.clip(command - offset, 0, 1)]
    volts = np.full_like(time, volts_full)
    for _ in range(4):
        sides = [run(m, c, volts, airspeed, world) for m, c in zip((left, right), commands, strict=True)]
        total = sides[0][2] + sides[1][2]
        used = np.cumsum(total) * STEP_S / 3600 / (full_a * 2 * 0.12)
        open_v = volts_full * (1 - 0.12 * np.clip(used, 0, 1))
        rr = sag * volts_full / (2 * full_a)
        volts = open_v - rr * (0.6 * total + 0.4 * spool(total, 8.0))
    pure = [run(m, command, volts, airspeed, world) for m in (left, right)] if mix else sides
    rpm = [spool(s[0], 0.12) for s in sides]
    amps = [spool(s[2], 0.08) for s in sides]
    temps = [22 + 38 * spool((s[1] / full_a) ** 2, 90.0) + rng.normal(0, 0.6) for s in sides]
    counted = command > 0.25
    shaft = [p[3][counted].mean() for p in pure]
    draw = [p[2][counted].mean() for p in pure]
    truth = Truth(
        (shaft[1] - shaft[0]) / np.mean(shaft),
        (draw[1] - draw[0]) / np.mean(draw),
        rpm[1][counted].mean() / rpm[0][counted].mean(),
        amps[1][counted].mean() / amps[0][counted].mean(),
        cause,
        size,
    )
    if event:
        happen(rng, event, truth, time, command, rpm, amps, temps, airspeed, world, takeoff, landing)
    log_rate = rate or rng.choice([5.0, 10.0, 20.0, 25.0])
    grid = np.arange(0, time[-1], 1 / log_rate)
    sensor_rate = min(log_rate, rng.choice([2.0, 4.0, 5.0, 10.0]))
    gains = 1 + rng.normal(0, sensor_gain_sd, 2)
    if cause == "sensor":
        gains[1] *= 1 + size
    step_a, step_rpm = rng.choice([0.01, 0.1, 0.1, 0.25]), rng.choice([1.0, 10.0, 20.0, 40.0])
    delay = rng.uniform(0, 0.35)
    channels = {}

    def add(quantity, position, values, r, lag, noise, step, gain=1.0):
        at, shown = sense(rng, time, values, r, lag, noise, step, gain)
        channels[quantity, position] = channel(grid, quantity, position, at, shown, step)

    if "voltage" in has:
        add("pack_voltage_v", "", volts, sensor_rate, rng.uniform(0, 0.4), 0.01, 0.01)
    if "throttle" in has:
        if own_commands:
            for k, name in enumerate(names):
                add("throttle_fraction", name, commands[k], log_rate, 0.02, 0.0, 0.005)
        else:
            add("throttle_fraction", "", command, log_rate, 0.02, 0.0, 0.005)
    if mix and rudder_logged:
        add("rudder_fraction", "", rudder, log_rate, 0.02, 0.0, 0.01)
    for k, name in enumerate(names):
        if "current" in has:
            add("current_a", name, amps[k], sensor_rate, delay, 0.01 * full_a, step_a, gains[k])
        if "rpm" in has:
            add("rpm", name, rpm[k], sensor_rate, delay * 0.5, 15.0, step_rpm)
        if "temperature" in has:
            add("motor_temperature_c", name, temps[k], 1.0, 0.5, 0.2, 1.0)
    trace = Trace(grid, channels)
    none = Undecided("a bench run has no take-off")
    on = np.flatnonzero(np.abs(command) > 0.02)
    flight = Flight(
        0.0,
        float(grid[-1]),
        none if bench else takeoff,
        none if bench else landing,
        Stretch(float(time[on[0]]), float(time[on[-1]])),
        (),
        bench,
    )
    return trace, flight, truth


def happen(rng, event, truth, time, command, rpm, amps, temps, airspeed, world, takeoff, landing):
    """Let one thing happen; changes command, rpm, amps and temps in place, notes it in the truth."""
    kind, motor = event
    sides = [0, 1] if motor == "both" else [("left", "right").index(motor)]
    flown = (time > (takeoff or 12) + 12) & (time < (landing or time[-1] - 15) - 25) & (command > 0.4)
    at = rng.choice(time[flown]) if flown.any() else time.mean()
    hold = rng.uniform(1.5, 8.0)
    start_up = time[np.flatnonzero(command > 0.02)[0]]
    if kind in ("stall", "late_start"):
        at, hold = start_up, rng.uniform(0.9, 3.0)
    if kind == "reverse_ground":
        at, hold = time[-1] - 9.0, rng.uniform(1.0, 3.0)
    if kind == "overheating":
        at = time[-1] * rng.uniform(0.3, 0.6)
    span = (time >= at) & (time < at + hold)
    full_a, full_n = np.max(amps[0]), np.max(rpm[0])
    if kind.startswith("reverse"):
        command[span] = -rng.uniform(0.2, 0.6)
        sides = [0, 1]
    for k in sides:
        if kind == "cut":
            mill = 60 * airspeed / (world["j0"] * world["diameter"]) * rng.uniform(0.55, 0.9)
            fall = np.clip((time - at) / 0.4, 0, 1)
            rpm[k][span] = ((1 - fall) * rpm[k] + fall * np.minimum(mill, rpm[k]))[span]
            amps[k][span] = world["idle"]
        elif kind == "out_of_step":
            jerk = np.interp(
                time,
                np.arange(0, time[-1] + 1, 0.15),
                rng.uniform(0.25, 0.75, int(time[-1] / 0.15) + 8)[: np.arange(0, time[-1] + 1, 0.15).size],
            )
            rpm[k][span] = (rpm[k] * jerk)[span]
            amps[k][span] = (amps[k] * (0.5 + 1.2 * jerk))[span]
        elif kind == "stall":
            rpm[k][span] = 0.0
            amps[k][span] = full_a * rng.uniform(0.25, 0.6)
        elif kind == "late_start":
            rpm[k][span] = 0.0
            amps[k][span] = world["idle"]
        elif kind.startswith("reverse"):
            rpm[k][span] = full_n * 0.4
            amps[k][span] = full_a * 0.15
        elif kind == "overheating":
            temps[k] += np.clip((time - at) / 40, 0, None) * rng.uniform(18, 30) * (time > at)
            hold = time[-1] - at
    truth.events.append((kind, motor, float(at), float(at + hold)))
