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
        return time, np.interp(time, *np.array(points).T), None, None
    top = rng.choice([1.0, 1.0, 1.0, rng.uniform(0.8, 0.97)])
    points += [(9.0, 0.15), (14.0, 0.2), (16.0, top), (16.0 + rng.uniform(6, 12), top)]
    at = points[-1][0] + 2
    while at < seconds - 35:
        kind = rng.random()
        low, high, share = (
            (0.4, 0.65, 1) if kind < 0.55 else (0.7, 1.0, top) if kind < 0.8 else (0.2, 0.35, 1)
        )
        level = rng.uniform(low, high) * share
        hold = rng.uniform(4, 18)
        points += [(at, level), (at + hold, level)]
        at += hold + rng.uniform(0.4, 2.0)
    points += [(seconds - 30, 0.35), (seconds - 15, 0.15), (seconds - 12, 0.0), (seconds, 0.0)]
    command = np.interp(time, *np.array(points).T)
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
        loss = motor.i0 + motor.iron * w * kt
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
    scaled = {"propeller": "cp", "kv": "kv", "winding": "r"}.get(cause)
    if scaled:
        setattr(right, scaled, getattr(right, scaled) * (1 + size))
    elif cause == "drag":
        right.i0 += size
    elif cause == "endpoint":
        kind = rng.integers(3)
        right.lo += size * (kind != 1)
        right.hi += size * (kind != 0)
    return right


@dataclass
class Columns:
    """What one flight was, on the fine grid; two arrays each for left and right."""

    time: np.ndarray
    command: np.ndarray
    commands: list
    rudder: np.ndarray
    rpm: list
    amps: list
    temps: list
    volts: np.ndarray
    airspeed: np.ndarray
    takeoff: float | None
    landing: float | None


@dataclass(frozen=True)
class Recorder:
    """What a log holds of a flight, and how often."""

    has: tuple = ("voltage", "throttle", "current", "rpm", "temperature")
    own_commands: bool = False
    rudder_logged: bool = True
    names: tuple = ("left", "right")
    rate: float | None = None
    sensor_gain_sd: float = 0.003


def _world(rng, cells):
    """Pack, propeller and controller of both sides, drawn."""
    diameter = rng.uniform(0.25, 0.36)
    world = {"diameter": diameter, "volts_full": 4.15 * cells, "full_a": rng.uniform(16, 42)}
    world["sag"] = rng.uniform(0.05, 0.14)
    loss = rng.uniform(0.06, 0.16)
    kv = rng.uniform(450, 1100)
    world |= {
        "density": rng.uniform(1.08, 1.25),
        "j0": rng.uniform(0.5, 0.85),
        "unload": rng.normal([0.2, -0.4, -0.55], [0.1, 0.15, 0.12]),
        "reynolds": rng.uniform(-0.12, 0.0),
        "diode": rng.uniform(0.0, 0.5),
        "lead": rng.uniform(0.001, 0.006),
        "partial": rng.uniform(0.0, 0.08),
        "idle": rng.uniform(0.02, 0.12),
    }
    volts_full, full_a = world["volts_full"], world["full_a"]
    n_full = kv * volts_full * (1 - world["sag"]) * (1 - loss - 0.02) / 60
    i0 = full_a * rng.uniform(0.015, 0.04)
    q = 60 / (2 * np.pi * kv) * (full_a - 2 * i0)
    base = Motor(
        kv=kv,
        r=loss * volts_full / full_a,
        i0=i0,
        iron=i0 / (volts_full * 0.8),
        cp=q * 2 * np.pi / (world["density"] * n_full**2 * diameter**5),
        lo=rng.uniform(0.015, 0.06),
        hi=rng.uniform(0.96, 1.02),
        bend=rng.uniform(0.92, 1.12),
    )
    world["vmax"] = 0.75 * world["j0"] * diameter * n_full
    return world, base


def _under_load(motors, commands, airspeed, world):
    """Both sides' states and the pack voltage that they share."""
    volts_full, full_a = world["volts_full"], world["full_a"]
    volts = np.full_like(airspeed, volts_full)
    for _ in range(4):
        sides = [run(m, c, volts, airspeed, world) for m, c in zip(motors, commands, strict=True)]
        total = sides[0][2] + sides[1][2]
        used = np.cumsum(total) * STEP_S / 3600 / (full_a * 2 * 0.12)
        open_v = volts_full * (1 - 0.12 * np.clip(used, 0, 1))
        rr = world["sag"] * volts_full / (2 * full_a)
        volts = open_v - rr * (0.6 * total + 0.4 * spool(total, 8.0))
    return sides, volts


def _fly_pair(rng, cause, size, bench, tolerance, mix, seconds):
    """The columns of one flight on the fine grid, and the truth."""
    time, command, takeoff, landing = throttle_plan(rng, seconds, bench)
    world, base = _world(rng, rng.integers(3, 7))
    # of two sound sides, in the order of Motor
    spreads = [0.0012, 0.01, 0.03, 0.03, 0.0015, 0.01, 0.0004, 0.0004]
    factors = 1 + tolerance * rng.normal(0, spreads)
    left = Motor(**{k: v * f for (k, v), f in zip(vars(base).items(), factors, strict=True)})
    size = size * base.i0 if cause == "drag" else size
    motors = (left, differ(rng, base, cause, size))
    push = np.zeros_like(command) if bench else np.maximum(spool(command**2, 4.0), 0)
    airspeed = world["vmax"] * np.sqrt(push)
    rudder = np.zeros_like(time)
    if mix:
        rudder = np.clip(lfilter([0.01], [1, -0.99], rng.normal(0.1, 1.6, time.size)), -0.8, 0.8)
    offset = np.where(command > 0.1, mix * rudder, 0.0)
    commands = [np.clip(command + offset, 0, 1), np.clip(command - offset, 0, 1)]
    sides, volts = _under_load(motors, commands, airspeed, world)
    rpm = [spool(s[0], 0.12) for s in sides]
    amps = [spool(s[2], 0.08) for s in sides]
    temps = [22 + 38 * spool((s[1] / world["full_a"]) ** 2, 90.0) + rng.normal(0, 0.6) for s in sides]
    pure = [run(m, command, volts, airspeed, world) for m in motors] if mix else sides
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
    columns = Columns(time, command, commands, rudder, rpm, amps, temps, volts, airspeed, takeoff, landing)
    return columns, world, truth


def fly(seed, cause="none", size=0.0, *, bench=False, tolerance=1.0, mix=0.0, event=None, **more):
    """A trace, its flight, and the truth. `event` is (kind, motor) to happen once; `mix` is rudder into
    throttle; `more` are the fields of Recorder and the flight's `seconds`.
    """
    rng = np.random.default_rng(seed)
    seconds = more.pop("seconds", None) or (95.0 if bench else rng.uniform(200, 330))
    columns, world, truth = _fly_pair(rng, cause, size, bench, tolerance, mix, seconds)
    if event:
        happen(rng, event, truth, columns, world)
    recorder = Recorder(**more)
    sensor_gain = 1 + truth.size if cause == "sensor" else 1.0
    trace = _record(rng, columns, recorder, sensor_gain, bool(mix), world["full_a"])
    none = Undecided("a bench run has no take-off")
    takeoff, landing = (none, none) if bench else (columns.takeoff, columns.landing)
    on = np.flatnonzero(np.abs(columns.command) > 0.02)
    powered = Stretch(float(columns.time[on[0]]), float(columns.time[on[-1]]))
    return trace, Flight(0.0, float(trace.time_s[-1]), takeoff, landing, powered, (), bench), truth


def _record(rng, columns, recorder, sensor_gain, mixed, full_a):
    """The log of a flight; `sensor_gain` is the right current sensor's."""
    log_rate = recorder.rate or rng.choice([5.0, 10.0, 20.0, 25.0])
    grid = np.arange(0, columns.time[-1], 1 / log_rate)
    sensor_rate = min(log_rate, rng.choice([2.0, 4.0, 5.0, 10.0]))
    gains = (1 + rng.normal(0, recorder.sensor_gain_sd, 2)) * (1.0, sensor_gain)
    step_a, step_rpm = rng.choice([0.01, 0.1, 0.1, 0.25]), rng.choice([1.0, 10.0, 20.0, 40.0])
    delay = rng.uniform(0, 0.35)
    has, names = recorder.has, recorder.names
    channels = {}

    def add(quantity, position, values, *sensor, gain=1.0):
        at, shown = sense(rng, columns.time, values, *sensor, gain)
        channels[quantity, position] = channel(grid, quantity, position, at, shown, sensor[-1])

    # a sensor: rate, lag, noise, step
    if "voltage" in has:
        add("pack_voltage_v", "", columns.volts, sensor_rate, rng.uniform(0, 0.4), 0.01, 0.01)
    if "throttle" in has:
        own = dict(zip(names, columns.commands, strict=False))
        for name, command in (own if recorder.own_commands else {"": columns.command}).items():
            add("throttle_fraction", name, command, log_rate, 0.02, 0.0, 0.005)
    if mixed and recorder.rudder_logged:
        add("rudder_fraction", "", columns.rudder, log_rate, 0.02, 0.0, 0.01)
    for k, name in enumerate(names):
        if "current" in has:
            sensor = (sensor_rate, delay, 0.01 * full_a, step_a)
            add("current_a", name, columns.amps[k], *sensor, gain=gains[k])
        if "rpm" in has:
            add("rpm", name, columns.rpm[k], sensor_rate, delay * 0.5, 15.0, step_rpm)
        if "temperature" in has:
            add("motor_temperature_c", name, columns.temps[k], 1.0, 0.5, 0.2, 1.0)
    return Trace(grid, channels)


@dataclass(frozen=True)
class Happening:
    """When one thing happens, and what the motors had at most before it."""

    at: float
    span: np.ndarray
    peak_a: float
    peak_rpm: float
    world: dict


def _cut(rng, c, k, h):
    mill = 60 * c.airspeed / (h.world["j0"] * h.world["diameter"]) * rng.uniform(0.55, 0.9)
    fall = np.clip((c.time - h.at) / 0.4, 0, 1)
    c.rpm[k][h.span] = ((1 - fall) * c.rpm[k] + fall * np.minimum(mill, c.rpm[k]))[h.span]
    c.amps[k][h.span] = h.world["idle"]


def _out_of_step(rng, c, k, h):
    knots = np.arange(0, c.time[-1] + 1, 0.15)
    jerk = np.interp(c.time, knots, rng.uniform(0.25, 0.75, int(c.time[-1] / 0.15) + 8)[: knots.size])
    c.rpm[k][h.span] = (c.rpm[k] * jerk)[h.span]
    c.amps[k][h.span] = (c.amps[k] * (0.5 + 1.2 * jerk))[h.span]


def _constant(speed_share, current_a):
    """Both readings stay: the speed at a share of the largest, the current as a function says."""

    def readings(rng, c, k, h):
        c.rpm[k][h.span] = h.peak_rpm * speed_share
        c.amps[k][h.span] = current_a(rng, h)

    return readings


def _overheat(rng, c, k, h):
    c.temps[k] += np.clip((c.time - h.at) / 40, 0, None) * rng.uniform(18, 30) * (c.time > h.at)


HAPPENINGS = {
    "cut": _cut,
    "out_of_step": _out_of_step,
    "stall": _constant(0.0, lambda rng, h: h.peak_a * rng.uniform(0.25, 0.6)),
    "late_start": _constant(0.0, lambda rng, h: h.world["idle"]),
    "reverse_ground": _constant(0.4, lambda rng, h: h.peak_a * 0.15),
    "reverse_air": _constant(0.4, lambda rng, h: h.peak_a * 0.15),
    "overheating": _overheat,
}


def _when(rng, kind, c):
    """Start and length of what happens; both are drawn for every kind."""
    time = c.time
    flown = (time > (c.takeoff or 12) + 12) & (time < (c.landing or time[-1] - 15) - 25) & (c.command > 0.4)
    at = rng.choice(time[flown]) if flown.any() else time.mean()
    hold = rng.uniform(1.5, 8.0)
    if kind in ("stall", "late_start"):
        return time[np.flatnonzero(c.command > 0.02)[0]], rng.uniform(0.9, 3.0)
    if kind == "reverse_ground":
        return time[-1] - 9.0, rng.uniform(1.0, 3.0)
    if kind == "overheating":
        return time[-1] * rng.uniform(0.3, 0.6), hold
    return at, hold


def happen(rng, event, truth, columns, world):
    """Let one thing happen; changes the columns in place, notes it in the truth."""
    kind, motor = event
    at, hold = _when(rng, kind, columns)
    span = (columns.time >= at) & (columns.time < at + hold)
    happening = Happening(at, span, np.max(columns.amps[0]), np.max(columns.rpm[0]), world)
    if kind.startswith("reverse"):
        columns.command[span] = -rng.uniform(0.2, 0.6)
    both = motor == "both" or kind.startswith("reverse")
    for k in (0, 1) if both else [("left", "right").index(motor)]:
        HAPPENINGS[kind](rng, columns, k, happening)
    end = columns.time[-1] if kind == "overheating" else at + hold
    truth.events.append((kind, motor, float(at), float(end)))
