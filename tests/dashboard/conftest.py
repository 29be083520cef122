"""An invented review with the figures of one invented flight, built by hand: no analysis runs here."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from telemetry.analysis.capacity import Capacity
from telemetry.analysis.current import Current, Margin, Sustained
from telemetry.analysis.motors import CauseLikelihood, Event, Motors, Pair, SideCurve
from telemetry.analysis.pack import Cell, CellCurve, Pack, WeakCell
from telemetry.comparison.results import Bench, BenchItem, Comparison, Residual
from telemetry.debrief import FlightReview, Review
from telemetry.estimate import Estimate, Undecided
from telemetry.findings import Answer, Finding, Open
from telemetry.prediction.results import (
    Assumed,
    PredictedFlight,
    PredictedLeg,
    PredictedMargin,
    Prediction,
    Replay,
    Static,
    StaticMotor,
)
from telemetry.season.timer import Fan, Timer
from telemetry.sheet.setup import Drive, PackSetup, Propeller, Setup
from telemetry.signals import signals_of
from telemetry.trace import Channel, Clock, Column, Flight, Phase, Rejected, Source, Stretch, Trace

PHASES = (
    ("ground", 0, 44),
    ("takeoff", 44, 58),
    ("climb", 58, 96),
    ("cruise", 96, 307),
    ("approach", 307, 330),
    ("go_around", 330, 342),
    ("cruise", 342, 374),
    ("landing", 374, 398),
    ("ground", 398, 450),
)
LEVELS_A = {
    "ground": 1.0,
    "takeoff": 73.0,
    "climb": 44.0,
    "cruise": 27.0,
    "approach": 4.0,
    "go_around": 60.0,
    "landing": 3.0,
}
RESISTANCE_OHM = (0.0054, 0.0055, 0.0072, 0.0055, 0.0053)


def _wiggle(time_s: np.ndarray) -> np.ndarray:
    return (
        3 * np.sin(time_s / 2.1)
        + 2 * np.sin(time_s / 0.73 + 1)
        + 6 * np.maximum(0, np.sin(time_s / 9.0)) ** 3
    )


def _time_and_current() -> tuple[np.ndarray, np.ndarray]:
    time_s = np.arange(0.0, 450.0, 0.2)
    current_a = np.zeros_like(time_s)
    for name, start, end in PHASES:
        inside = (time_s >= start) & (time_s < end)
        current_a[inside] = LEVELS_A[name]
    current_a = np.where(current_a > 10, current_a + _wiggle(time_s) - 3, current_a + 0.2 * np.sin(time_s))
    current_a[np.argmin(np.abs(time_s - 44.2))] = 83.2
    return time_s, current_a


def _setup() -> Setup:
    drives = tuple(
        Drive(position=p, propeller=Propeller(diameter_m=0.3048, pitch_m=0.2032, blades=3), rotation=r)
        for p, r in (("left", "clockwise"), ("right", "anticlockwise"))
    )
    return Setup(
        name="Saltmarsh Mail",
        configuration="wheels",
        pack=PackSetup("No. 2", 5, 5200.0),
        drives=drives,
        mass_kg=3.9,
        span_m=1.83,
    )


def _cells(time_s: np.ndarray, current_a: np.ndarray) -> tuple[tuple[Cell, ...], tuple[CellCurve, ...]]:
    used = np.cumsum(current_a) * 0.2 / 3600.0 / 5.2
    open_v = 4.18 - 0.75 * used + 0.06 * np.sin(4 * used)
    slow_a = np.convolve(current_a, np.ones(40) / 40)[: current_a.size]
    cells, curves = [], []
    for number, ohm in enumerate(RESISTANCE_OHM, start=1):
        loaded_v = open_v - 0.7 * ohm * current_a - 0.6 * ohm * slow_a + 0.002 * np.sin(time_s * 7 + number)
        at = int(np.argmin(loaded_v))
        sag = float(np.max(open_v - loaded_v))
        one = Estimate.around(ohm, 0.0003)
        ratio = Estimate.around(ohm / 0.00542, 0.07)
        cells.append(
            Cell(
                number,
                float(loaded_v[0]),
                float(loaded_v[at]),
                float(time_s[at]),
                Estimate.around(sag, 0.02),
                Estimate.around(0.8 * ohm, 0.0005),
                one,
                one.scaled(1.2),
                float(loaded_v[-1]),
                32.0,
                ratio,
            )
        )
        curves.append(CellCurve(number, time_s, loaded_v, open_v))
    return tuple(cells), tuple(curves)


def _sustained(time_s: np.ndarray, current_a: np.ndarray) -> tuple[Sustained, ...]:
    found = []
    for window_s in (0.2, 0.5, 1, 2, 5, 10, 20, 30, 60, 120, 240, 354):
        width = max(1, round(window_s / 0.2))
        means = np.convolve(current_a, np.ones(width) / width, mode="valid")
        found.append(Sustained(float(window_s), float(means.max()), float(time_s[int(means.argmax())])))
    return tuple(found)


def _current(time_s: np.ndarray, current_a: np.ndarray) -> Current:
    pack = _sustained(time_s, current_a)
    motors = {"left": _sustained(time_s, current_a * 0.483), "right": _sustained(time_s, current_a * 0.517)}

    def margin(part: str, position: str, rating_a: float, window_s: float) -> Margin:
        curve = motors.get(position, pack)
        worst = next(s for s in curve if s.window_s == window_s)
        return Margin(
            part,
            position,
            rating_a,
            window_s,
            Estimate.around(worst.max_mean_a, 0.6),
            1 - worst.max_mean_a / rating_a,
            worst.start_s,
        )

    limits = tuple(
        margin(*row)
        for row in (
            ("right motor, steadily", "right", 40.0, 30.0),
            ("left motor, steadily", "left", 40.0, 30.0),
            ("right motor, 10 s", "right", 52.0, 10.0),
            ("left motor, 10 s", "left", 52.0, 10.0),
            ("right controller, steadily", "right", 48.0, 30.0),
            ("left controller, steadily", "left", 48.0, 30.0),
            ("pack, steadily", "", 104.0, 30.0),
            ("pack, 10 s", "", 156.0, 10.0),
            ("pack plug, steadily", "", 80.0, 30.0),
        )
    )
    return Current(83.2, 44.2, 33.0, pack, limits, motors)


def _pair(time_s: np.ndarray, current_a: np.ndarray) -> Pair:
    command = np.clip(current_a / 80, 0, 1)
    curves = tuple(
        SideCurve(p, time_s, command, current_a * k, 9000 * np.sqrt(command) * r)
        for p, k, r in (("left", 0.483, 1.0), ("right", 0.517, 0.996))
    )
    causes = tuple(
        CauseLikelihood(c, p)
        for c, p in (
            ("propeller", 0.96),
            ("drag", 0.02),
            ("sensor", 0.01),
            ("kv", 0.004),
            ("endpoint", 0.003),
            ("winding", 0.003),
        )
    )
    reason = "more current at slightly less speed is what a coarser, larger or damaged propeller does"
    return Pair(
        "left",
        "right",
        Estimate(0.068, 0.055, 0.081),
        Estimate(1.071, 1.059, 1.084),
        Estimate(0.996, 0.992, 0.999),
        "uneven",
        "propeller",
        reason,
        causes,
        curves,
    )


def _comparison(time_s: np.ndarray, current_a: np.ndarray) -> Comparison:
    voltage_v = 20.9 - 0.035 * current_a - time_s * 0.004
    replays = (
        Replay(
            time_s,
            "current_a",
            "",
            current_a * 0.98,
            current_a * 0.93 - 0.3,
            current_a * 1.03 + 0.3,
            time_s,
            current_a,
        ),
        Replay(
            time_s, "pack_voltage_v", "", voltage_v + 0.1, voltage_v - 0.2, voltage_v + 0.4, time_s, voltage_v
        ),
    )
    rows = (
        ("current_a", "", "mean", 28.6, 27.4, 29.7, 29.3, ""),
        ("pack_voltage_v", "", "mean", 18.6, 18.3, 18.9, 18.5, ""),
        ("pack_voltage_v", "", "min", 17.41, 16.99, 17.77, 17.21, ""),
        ("current_a", "right", "mean", 14.3, 13.7, 14.9, 15.2, "the right propeller"),
    )
    residuals = tuple(
        Residual(q, p, s, None, pr, lo, hi, m, (m - pr) / pr, why) for q, p, s, pr, lo, hi, m, why in rows
    )
    return Comparison(residuals, replays)


def _timer() -> Timer:
    fan = Fan((0.025, 0.25, 0.5, 0.75, 0.975), (452.0, 478.0, 491.0, 504.0, 534.0))
    return Timer(
        255.0,
        "throttle_up",
        4160.0,
        0.2,
        0.95,
        9,
        Estimate(491.0, 478.0, 504.0),
        75.0,
        2250.0,
        3.42,
        "cell",
        "flights of one day share their weather",
        fan,
    )


def _trace(time_s: np.ndarray, current_a: np.ndarray) -> Trace:
    def channel(quantity: str, position: str, values: np.ndarray, header: str) -> Channel:
        return Channel(quantity, position, values, np.ones(values.size, dtype=bool), header, 0.2)

    channels = {
        ("current_a", ""): channel("current_a", "", current_a, "I_tot"),
        ("current_a", "left"): channel("current_a", "left", current_a * 0.483, "I_l"),
        ("current_a", "right"): channel("current_a", "right", current_a * 0.517, "I_r"),
        ("pack_voltage_v", ""): channel("pack_voltage_v", "", 20.9 - 0.035 * current_a, "pack"),
    }
    columns = (
        Column("sec", "time_s", "", "s", "used", "steady steps of 0.2"),
        Column("I_tot", "current_a", "", "A", "used", "its integral matches 'drawn' to 0.4 %"),
        Column(
            "T2",
            "controller_temperature_c",
            "right",
            "Cel",
            "doubtful",
            "21 to 52 fits a temperature in °C, but not whose",
        ),
        Column("<script>alert(1)</script>", None, "", "", "ignored", "no number in it"),
    )
    one_clock = Clock(Estimate(0.0, 0.0, 0.0), Estimate(0.0, 0.0, 0.0))
    source = Source(
        "mail-16may-2.csv",
        "0" * 64,
        2251,
        3,
        "utf-8",
        ",",
        ".",
        one_clock,
        columns,
        (Rejected(412, "7 fields where the header has 9"),),
    )
    motors = Source(
        "mail-16may-2-motors.csv",
        "1" * 64,
        4502,
        0,
        "utf-8",
        ";",
        ",",
        Clock(Estimate(1.84, 1.81, 1.87), Estimate(41.0, -20.0, 102.0)),
        columns[:2],
    )
    return Trace(time_s, channels, (source, motors), (Stretch(192.0, 192.8),))


def _finding(severity: str, key: str, subject: str, title: str, action: str, evidence: str) -> Finding:
    return Finding(
        severity=severity,
        key=key,
        subject=subject,
        values={},
        message=f"{title} {action}",
        evidence=evidence,
        title=title,
    )


def _findings() -> tuple[Finding, ...]:
    return (
        _finding(
            "check",
            "weak_cell_resistance",
            "cell 3",
            "Cell 3 is weak.",
            "It sagged 0.69 V (0.67–0.71) where its neighbours sagged 0.52 V. Measure its resistance on the "
            "bench at 25 °C.",
            "1 s resistance 1.32 (1.25–1.39) times its neighbours'",
        ),
        _finding(
            "check",
            "pair_uneven",
            "pair",
            "The right propeller takes more power than the left.",
            "Run both up with a spare propeller of the same hand.",
            "shaft power +6.8 % (5.5–8.1); under 1.2 % counts as even",
        ),
        _finding(
            "note",
            "near_rating",
            "right motor",
            "The right motor was within 6 % of its continuous rating.",
            "Nothing was over.",
            "30.1 A over 30 s of 32 A",
        ),
    )


ANSWERS = (
    Answer(
        "cells",
        "weak",
        "No: cell 3 is weak. Its resistance is 1.32 times (1.25–1.39) that of its neighbours.",
        "No: cell 3 is weak.",
    ),
    Answer("load", "within", "Nothing. Closest was the right motor, continuous, with 6 % left.", "Nothing."),
    Answer(
        "pair",
        "uneven",
        "Uneven: right more, by its propeller. Shaft power +6.8 % (+5.5 to +8.1); under 1.2 % counts as "
        "even.",
        "Uneven: right more, by its propeller.",
    ),
    Answer(
        "prediction",
        "explained",
        "Three of four kept. The right current is explained by its propeller.",
        "Three of four kept.",
    ),
    Answer(
        "timer",
        "set",
        "4 min 15 s from throttle-up. Cell 3 sets it; 95 % sure, from nine flights.",
        "4 min 15 s from throttle-up.",
    ),
)


def invented_flight() -> FlightReview:
    """Everything known of one invented flight, with a weak cell and a heavier right propeller."""
    time_s, current_a = _time_and_current()
    cells, curves = _cells(time_s, current_a)
    phases = tuple(Phase(name, float(start), float(end)) for name, start, end in PHASES)
    reason = "its 1 s resistance is 1.32 times (1.25–1.39) its neighbours'"
    pack = Pack(
        "No. 2",
        5,
        20.9,
        17.21,
        Estimate(2.8, 2.7, 2.9),
        Estimate(0.026, 0.024, 0.028),
        Estimate(0.029, 0.028, 0.030),
        Estimate(0.035, 0.033, 0.037),
        Estimate(0.42, 0.37, 0.47),
        cells,
        3,
        "resistance",
        reason,
        (WeakCell(3, "resistance", reason),),
        Estimate(0.21, 0.15, 0.27),
        curves,
    )
    flight = Flight(0.0, 450.0, 50.0, 398.0, Stretch(44.0, 398.0), phases)
    return FlightReview(
        flight=flight,
        pack=pack,
        capacity=Capacity(
            Estimate(2911.0, 2894.0, 2928.0),
            2903.0,
            Estimate(54.2, 53.8, 54.6),
            0.56,
            29.3,
            Undecided("the charger's put-back is not known"),
            "",
        ),
        current=_current(time_s, current_a),
        motors=Motors(
            ("left", "right"), (_pair(time_s, current_a),), (Event("late_start", "right", 44.0, 44.6),)
        ),
        bench=None,
        timer=_timer(),
        comparison=_comparison(time_s, current_a),
        headline="Two checks before the next flight; timer 4 min 15 s from a full pack.",
        answers=ANSWERS,
        findings=_findings(),
        signals=signals_of(_trace(time_s, current_a), flight),
        decision="check",
        open=(),
    )


def invented_prediction() -> Prediction:
    """What the invented sheet leads one to expect."""

    def at(throttle: float, volts: float, amperes: float, rpm: float, newtons: float) -> Static:
        def e(value: float) -> Estimate:
            return Estimate.around(value, 0.04 * value)

        motors = tuple(
            StaticMotor(
                p,
                e(volts * throttle),
                e(amperes / 2),
                e(rpm),
                e(0.5 * throttle),
                e(300 * throttle),
                e(newtons / 2),
                Estimate(0.8, 0.76, 0.84),
            )
            for p in ("left", "right")
        )
        return Static(
            throttle,
            Estimate.around(volts, 0.2),
            e(amperes),
            e(newtons),
            motors,
            Estimate(0.2, 0.18, 0.22),
            Estimate(9.0, 8.0, 10.0),
        )

    static = (
        at(0.25, 20.8, 3.0, 2668, 8.4),
        at(0.5, 20.4, 13.5, 5145, 31.6),
        at(0.75, 19.6, 37.2, 7281, 63.0),
        at(1.0, 18.4, 73.0, 8974, 96.0),
    )
    legs = tuple(
        PredictedLeg(n, s, Estimate.around(a, 0.05 * a), Estimate.around(20.8 - 0.03 * a, 0.2))
        for n, s, a in (
            ("takeoff", 12.0, 73.0),
            ("climb", 40.0, 42.0),
            ("cruise", 250.0, 26.0),
            ("approach", 50.0, 7.0),
        )
    )
    flight = PredictedFlight(
        Estimate(25.6, 24.5, 26.6),
        Estimate(17.4, 17.0, 17.8),
        Estimate(28.6, 27.4, 29.7),
        Estimate(2844, 2728, 2957),
        Estimate(524, 504, 546),
        legs,
    )
    limits = (
        PredictedMargin("right motor, steadily", 32.0, 30.0, Estimate(28.5, 26.6, 30.4), 0.11),
        PredictedMargin("pack, steadily", 104.0, 30.0, Estimate(59.0, 56.0, 62.0), 0.43),
    )
    assumed = (
        Assumed("motor.resistance_mohm", 42.0, "usual for this Kv and rating"),
        Assumed("field.wind", "none", "not in the sheet"),
    )
    return Prediction("wheels", 1.2, static, flight, limits, assumed)


def invented_review() -> Review:
    """The one result object around the invented flight."""
    return Review(_trace(*_time_and_current()), (invented_flight(),), _setup(), invented_prediction())


def invented_bench() -> Review:
    """A run-up on the bench: no take-off, no timer."""
    whole = invented_review()
    items = (
        BenchItem("even", "ready", "Both motors pull evenly within 1 %."),
        BenchItem("voltage", "not_ready", "The pack fell to 16.9 V where 17.5 V was predicted."),
        BenchItem("reverse", "undecided", "Reverse was not tried."),
    )
    why = Undecided("a bench run")
    one = replace(
        whole.flights[0],
        flight=Flight(0.0, 450.0, why, why, Stretch(44.0, 398.0), (), True),
        bench=Bench(False, items),
        timer=Undecided("a bench run says nothing of a flight"),
    )
    return replace(whole, flights=(one,))


def undecided_review() -> Review:
    """A log with almost nothing in it and no sheet."""
    time_s, current_a = _time_and_current()
    no = Undecided("the log has no pack current; log it to settle this")
    pack = Pack("", no, no, no, no, no, no, no, no, (), no, None, None, (), no)
    span = Flight(0.0, 450.0, no, no, no)
    flight = FlightReview(
        span,
        pack,
        Capacity(no, no, no, no, no, no),
        Current(no, no, no, (), (), {}),
        Motors((), (), no),
        None,
        no,
        Comparison(no),
        "Nothing can be said of this flight.",
        tuple(
            Answer(q, "undecided", "Undecided: the log has no pack current.")
            for q in ("cells", "load", "pair", "prediction", "timer")
        ),
        (),
        signals_of(_trace(time_s, current_a), span),
        "open",
        (Open("flight", no.reason),),
    )
    return Review(_trace(time_s, current_a), (flight,))


@pytest.fixture(scope="session")
def review() -> Review:
    return invented_review()


@pytest.fixture(scope="session")
def bench_review() -> Review:
    return invented_bench()


@pytest.fixture(scope="session")
def empty_review() -> Review:
    return undecided_review()


@pytest.fixture(scope="session")
def prediction() -> Prediction:
    return invented_prediction()
