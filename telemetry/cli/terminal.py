"""Results as text for a terminal. Words of findings come from `sentences/`; here is only the setting of
type.
"""

from __future__ import annotations

import re
import shutil
import textwrap
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import typer

from telemetry.account import column_account, log_account, row_left_out
from telemetry.answers import answer_words
from telemetry.estimate import Estimate, Undecided
from telemetry.sentences import (
    MINUS,
    clock,
    counted,
    places_for,
    rating_words,
    say,
    sentence,
    spoken_time,
    with_limits,
    words,
)

if TYPE_CHECKING:
    from telemetry.analysis.capacity import Capacity
    from telemetry.analysis.pack import Pack
    from telemetry.answers import Remembered
    from telemetry.comparison.recalibration import Calibration
    from telemetry.debrief import FlightReview, Review
    from telemetry.prediction.results import PredictedMargin, Prediction
    from telemetry.season.open_checks import OpenCheck
    from telemetry.season.timer import Timer
    from telemetry.sheet.setup import Setup
    from telemetry.trace import Source

WIDEST = 100
INDENT = 10
ROWS_SHOWN = 20
"""So many of the rows that were left out are listed."""
NO_BREAK = "\u00a0"
_UNIT = re.compile(r"(?<=\d) (?=(?:%|V|A|W|s|min|mAh|Wh|mΩ|°C|/min)(?!\w))")
Row = tuple[str, str]


def debrief(review: Review) -> str:
    """A review as a pilot reads it: headline, what to do, five answers, figures."""
    parts = [_flight(review, index) for index in range(len(review.flights))]
    return "\n\n".join(parts)


def _flight(review: Review, index: int) -> str:
    one = review.flights[index]
    lines = [_bold(line) for line in _wrap(one.headline, 0)]
    lines = [_dim(_place(review, index)), "", *lines, ""]
    for left in one.open:
        lines += _labelled("Open", sentence(left.reason), strong=False)
    for found in one.findings:
        severity = "note" if found.settled else found.severity
        lines += _labelled(severity.capitalize(), found.message, strong=severity == "stop")
        lines += _wrap(found.evidence, INDENT)
    if one.findings or one.open:
        lines.append("")
    for answer in one.answers:
        lines.append(_bold(say("questions", answer.question)))
        lines += _wrap(answer.sentence, 2)
    lines += [
        "",
        _bold("Figures, 95 % intervals in brackets"),
        *_table(_figures(one)),
        *_cell_tables(one),
        "",
    ]
    lines += [_dim(line) for caution in _cautions(one) for line in _wrap(caution, 0)]
    return "\n".join(lines)


def _pack_names(setup: Setup) -> list[str]:
    return [one.pack.name for one in setup.packs] or [setup.pack.name]


def _place(review: Review, index: int) -> str:
    one = review.flights[index]
    setup = review.setup
    names = (
        [
            setup.name,
            setup.configuration or "as the sheet stands",
            *(f"pack {name}" for name in _pack_names(setup) if name),
        ]
        if setup
        else []
    )
    kind = "bench run" if one.flight.is_bench else "flight"
    names.append(kind if len(review.flights) == 1 else f"{kind} {index + 1} of {len(review.flights)}")
    names += [source.file for source in review.trace.sources]
    return " · ".join(name for name in names if name)


def _figures(one: FlightReview) -> list[Row]:
    flight, pack, capacity, current = one.flight, one.pack, one.capacity, one.current
    rows: list[Row] = (
        []
        if flight.is_bench
        else [("take-off", _time(flight.takeoff_s)), ("landing", _time(flight.landing_s))]
    )
    for each in one.packs:
        rows += _pack_rows(each.pack, each.capacity, f"{each.position.replace('_', ' ')} ")
    if not one.packs:
        rows += _pack_rows(pack, capacity)
    rows += [
        ("energy", _number(capacity.energy_wh, "Wh", 1)),
        ("mean current", _number(capacity.mean_current_a, "A", 1)),
        (
            "peak current",
            _number(current.peak_a, "A", 1)
            + ("" if isinstance(current.peak_at_s, Undecided) else f" at {clock(current.peak_at_s)}"),
        ),
    ]
    for window_s in (10.0, 30.0):
        best = next((s for s in current.sustained if abs(s.window_s - window_s) < 1e-6), None)
        if best is not None:
            rows.append(
                (f"largest mean over {window_s:.0f} s", f"{best.max_mean_a:.1f} A from {clock(best.start_s)}")
            )
    for limit in sorted(
        current.limits, key=lambda m: 9.0 if isinstance(m.margin_fraction, Undecided) else m.margin_fraction
    )[:4]:
        rows.append(
            (rating_words(limit.part), f"{_number(limit.measured_a, 'A', 1)} of {limit.rating_a:.0f} A")
        )
    for pair in one.motors.pairs:
        rows.append(
            (
                f"{pair.right} ÷ {pair.left}".replace("_", " "),
                f"current {_number(pair.current_ratio, '', 3)}, speed {_number(pair.rpm_ratio, '', 3)}",
            )
        )
    if not isinstance(one.timer, Undecided):
        rows += timer_rows(one.timer)
    if not isinstance(one.comparison.residuals, Undecided):
        rows += [_residual_row(r) for r in one.comparison.residuals[:8]]
    return rows


def _pack_rows(pack: Pack, capacity: Capacity, which: str = "") -> list[Row]:
    """The figures of one pack; `which` names it where there are several."""
    return [
        (f"lowest {which}pack voltage", _number(pack.min_voltage_v, "V", 2)),
        (f"{which}pack resistance at 1 s", _number(pack.resistance_1s_ohm, "mΩ", 1, 1000.0)),
        (f"{which}pack, charge drawn" if which else "charge drawn", _number(capacity.consumed_mah, "mAh", 0)),
        (
            f"{which}pack, charge at the start" if which else "charge at the start",
            _number(pack.start_charge_fraction, "%", 0, 100.0),
        ),
        (
            f"{which}pack, charge left" if which else "charge left",
            _number(pack.charge_left_fraction, "%", 0, 100.0),
        ),
    ]


def _residual_row(residual: Any) -> Row:
    from telemetry.findings.expectation import UNITS, quantity_words

    unit, decimals = UNITS.get(residual.quantity, ("", 2))
    predicted = with_limits(residual.predicted, residual.low, residual.high, decimals=decimals)
    return quantity_words(residual), f"{residual.measured:.{decimals}f} {unit}".replace(
        "-", MINUS
    ) + f", predicted {predicted}"


def _cell_tables(one: FlightReview) -> list[str]:
    """A row a cell, of each pack where there are several."""
    if not one.packs:
        return _cell_table(one.pack, "cell")
    return [
        line
        for each in one.packs
        for line in ("", f"  {each.position.replace('_', ' ')} pack", *_cell_table(each.pack, "cell")[1:])
    ]


def _cell_table(pack: Pack, head: str) -> list[str]:
    if not pack.cells:
        return []
    lines = [
        "",
        f"  {head:<6}{'rested, V':>10}{'lowest, V':>11}{'sag, V':>9}   "
        f"{'at 1 s, mΩ':<18}{'× neighbours':<20}{'rested after, V':>15}",
    ]
    resistances = _column([cell.resistance_1s_ohm for cell in pack.cells], 1, 1000.0)
    ratios = _column([cell.resistance_ratio for cell in pack.cells], 2)
    for cell, resistance, ratio in zip(pack.cells, resistances, ratios, strict=True):
        figures = (
            f"{_short(cell.rest_before_v, 3):>10}{_short(cell.min_loaded_v, 3):>11}{_short(cell.sag_v, 2):>9}"
        )
        lines.append(
            f"  {cell.cell:<6}{figures}   {resistance:<18}{ratio:<20}{_short(cell.rest_after_v, 3):>15}"
        )
    return lines


def _cautions(one: FlightReview) -> Iterable[str]:
    cautions = words()["cautions"]
    if one.flight.is_bench:
        yield cautions["bench"]
    if not isinstance(one.timer, Undecided):
        yield cautions["timer"]
    yield cautions["pack"]


def timer_rows(timer: Timer) -> list[Row]:
    """A timer in figures."""
    return [
        (
            "timer",
            f"{clock(timer.alarm_s)} from {say('starts', timer.starts)}, from a full pack, "
            f"{100 * timer.confidence:.0f} % sure",
        ),
        ("consumption", _number(timer.rate_mah_per_min, "mAh a minute", 0)),
        *_now_row(timer),
        ("limited by", f"{say('limited_by', timer.limited_by)}: {timer.limit_reason}"),
        *([("of pack", timer.pack)] if timer.pack else []),
        ("charge at the alarm", f"{timer.consumed_alarm_mah:.0f} of {timer.usable_mah:.0f} mAh usable"),
        (
            "rests on",
            f"{timer.flights_used} {'flight' if timer.flights_used == 1 else 'flights'}{_left_out(timer)}; "
            f"weakest: {timer.weakest_assumption}",
        ),
    ]


def _left_out(timer: Timer) -> str:
    count = timer.flights_left_out
    return counted("timer", "left_out", count=count) if count else ""


def _now_row(timer: Timer) -> list[Row]:
    if isinstance(timer.now, Undecided):
        return []
    left, alarm = timer.now.from_charge_fraction, clock(timer.now.alarm_s)
    return [("on what is left now", f"{alarm}, from the {100 * left:.0f} % left in the pack just flown")]


def timer_text(timer: Timer | Undecided) -> str:
    """A timer alone."""
    if isinstance(timer, Undecided):
        return f"Undecided: {timer.reason}."
    lines = [
        _bold(f"{spoken_time(timer.alarm_s)} from {say('starts', timer.starts)}, from a full pack"),
        *_table(timer_rows(timer)),
        "",
    ]
    return "\n".join(lines + _wrap(words()["cautions"]["timer"], 0))


def open_checks_text(standing: Sequence[OpenCheck]) -> list[str]:
    """Stops and checks that still stand, with the flight that raised each; an empty line after them."""
    lines = [
        line
        for check in standing
        for line in _labelled(
            check.raised.severity.capitalize(),
            say("open_check", title=check.raised.title, flight=check.flight, key=check.raised.key),
            strong=check.raised.severity == "stop",
        )
    ]
    return [*lines, ""] if lines else []


def prediction_text(prediction: Prediction, setup: Setup) -> str:
    """What the sheet says will happen."""
    name = " · ".join(
        n
        for n in (
            setup.name,
            setup.configuration or "as the sheet stands",
            f"air {prediction.air_density_kgm3:.3f} kg/m³",
        )
        if n
    )
    lines = [_dim(name), "", _bold("Static, full pack, ten seconds in")]
    for static in prediction.static:
        throttle = f"throttle {100 * static.throttle_fraction:.0f} %".replace("-", MINUS)
        drawn = f"{_number(static.current_a, 'A', 1)} at {_number(static.pack_voltage_v, 'V', 2)}"
        pushed = (
            f"{_number(static.motors[0].rpm, 'rpm', 0)}, thrust {_number(static.thrust_n, 'N', 1)} in all"
        )
        lines += _table([(throttle, drawn), ("", pushed)])
    flight = prediction.flight
    lines += ["", _bold("In the air")]
    lines += _table(
        [
            ("level flight", _number(flight.level_current_a, "A", 1)),
            ("mean current", _number(flight.mean_current_a, "A", 1)),
            ("lowest pack voltage", _number(flight.min_pack_voltage_v, "V", 2)),
            ("time to reserve", _number(flight.time_to_reserve_s, "s", 0)),
        ]
    )
    if prediction.limits:
        lines += ["", _bold("Against the ratings, full throttle for that long")]
        lines += _table([_margin_row(m) for m in prediction.limits])
    if prediction.assumed:
        lines += ["", _bold("Assumed, because the sheet leaves it out")]
        lines += _table(
            [
                (
                    a.key,
                    f"{a.value:.4g}: {a.reason}" if isinstance(a.value, float) else f"{a.value}: {a.reason}",
                )
                for a in prediction.assumed
            ]
        )
        first = prediction.widest
        if first is not None:
            lines += [
                f"Find out {first.key} first: it makes the interval {100 * first.narrower_fraction:.0f} % "
                f"narrower."
            ]
    return "\n".join([*lines, "", *_wrap(words()["cautions"]["bench"], 0)])


def _margin_row(margin: PredictedMargin) -> Row:
    over = ", over" if margin.margin_fraction < 0 else ""
    return rating_words(
        margin.part
    ), f"{_number(margin.predicted_a, 'A', 1)} of {margin.rating_a:.0f} A{over}"


def calibration_text(calibration: Calibration, file: str) -> str:
    """What was learnt from flights: factors on the sheet's own values, and what the flights don't tell."""
    rows: list[Row] = []
    for parameter in calibration.parameters:
        flights = f"{parameter.flights} {'flight' if parameter.flights == 1 else 'flights'}"
        shift = f"{100 * parameter.shift_fraction:+.1f} %".replace("-", MINUS)
        rows.append(
            (
                parameter.key,
                f"{_number(parameter.new, '', 3)}, was {parameter.old:.3g}: {shift}, from {flights}",
            )
        )
    rows += [(one.subject, f"not told: {one.reason}") for one in calibration.unlearnt]
    rows += [(one.file, f"left out: {one.reason}") for one in calibration.left_out]
    return "\n".join([_bold(f"Wrote {file}: factors on the sheet's own values."), *_table(rows)])


def column_table(source: Source) -> str:
    """How each column was understood, and why."""
    lines = [
        f"{source.file}: {source.rows_read} rows, {source.encoding}, delimiter {source.delimiter!r}, decimal "
        f"{source.decimal!r}",
        log_account(source),
        "",
    ]
    for column in source.columns:
        meaning = (
            f"{column.quantity}{'@' + column.position if column.position else ''}" if column.quantity else "–"
        )
        unit = f", {column.unit}" if column.unit and column.unit not in column.header else ""
        lines.append(f"{column.status:<10}{column.header or '(no name)'}{unit} → {meaning}")
        if column.first_values:
            lines += _wrap(f"begins {', '.join(column.first_values)}", INDENT)
        lines += _wrap(column.reason, INDENT)
        if column.status == "used" and column.cells_left_out + column.cells_unreadable:
            lines += _wrap(f"cells: {column_account(column)}", INDENT)
    lines += [line for row in source.rejected[:ROWS_SHOWN] for line in _wrap(row_left_out(row), 0)]
    if (more := len(source.rejected) - ROWS_SHOWN) > 0:
        lines.append(say("account", "more_rows", count=more))
    for note in source.notes:
        if not note.header:
            lines += _wrap(f"{note.step}: {note.reason}", 0)
    lines += [
        f'The unit of time is in doubt; settle it, such as --answer "{c.header}=time_s in {c.unit}".'
        for c in source.columns
        if c.status == "doubtful" and c.quantity == "time_s"
    ]
    asked = [c for c in source.columns if c.status == "doubtful" and c.quantity and c.quantity != "time_s"]
    if asked:
        lines += [
            "",
            "In doubt and left out. What each most likely is, to settle it with --answer, or with ignore:",
        ]
        lines += [
            f'  --answer "{c.header}={c.quantity}{"@" + c.position if c.position else ""}"' for c in asked
        ]
    return "\n".join(lines)


def remembered_answers(kept: Sequence[Remembered]) -> str:
    """What is remembered of each recorder, a column a line."""
    if not kept:
        return say("answers", "none")
    lines: list[str] = []
    for one in kept:
        lines.append(say("answers", "of" if one.file else "of_unnamed", file=one.file))
        lines += [f"  {header} → {answer_words(answer)}" for header, answer in one.answers.items()]
    return "\n".join(lines)


def columns_of_refused(columns: Sequence[tuple[str, tuple[str, ...]]]) -> str:
    """The columns of a log that was refused, by heading and first values, each on a line of its own."""
    return "\n".join(f"{header or '(no name)'}: {', '.join(first)}".rstrip(" :") for header, first in columns)


def _number(
    number: Estimate | Undecided | float | None, unit: str, decimals: int, factor: float = 1.0
) -> str:
    if number is None or isinstance(number, Undecided):
        return "undecided"
    if isinstance(number, Estimate):
        return with_limits(
            number.value * factor, number.low * factor, number.high * factor, decimals=decimals, unit=unit
        )
    return f"{number * factor:.{decimals}f}{f' {unit}' if unit else ''}".replace("-", MINUS)


def _column(numbers: Sequence[Estimate | Undecided], decimals: int, factor: float = 1.0) -> list[str]:
    """Numbers that stand under one another, all with the decimals that one of them needs."""
    places = places_for(
        [(n.value * factor, n.low * factor, n.high * factor) for n in numbers if isinstance(n, Estimate)],
        decimals,
    )
    return [_number(n, "", places, factor) for n in numbers]


def _short(number: Estimate | Undecided | float, decimals: int) -> str:
    if isinstance(number, Undecided):
        return "–"
    return f"{number.value if isinstance(number, Estimate) else number:.{decimals}f}"


def _time(number: float | Undecided) -> str:
    return "undecided" if isinstance(number, Undecided) else clock(number)


def _width() -> int:
    return min(WIDEST, shutil.get_terminal_size((WIDEST, 24)).columns)


def _wrap(text: str, indent: int) -> list[str]:
    """Lines of a sentence; a number stays on the line of its unit."""
    held = _UNIT.sub(NO_BREAK, text)
    lines = textwrap.wrap(held, _width(), initial_indent=" " * indent, subsequent_indent=" " * indent)
    return [line.replace(NO_BREAK, " ") for line in lines]


def _labelled(label: str, text: str, *, strong: bool) -> list[str]:
    first, *rest = _wrap(text, INDENT)
    head = typer.style(f"{label:<{INDENT}}", bold=True, reverse=strong)
    return [head + first[INDENT:], *rest]


def _table(rows: Iterable[Row]) -> list[str]:
    """Names and values under one another, the values in line unless a name is unusually long."""
    shown = list(rows)
    width = max([28, *(len(name) for name, _ in shown if len(name) <= 34)])
    return [f"  {name:<{width}} {value}" for name, value in shown]


def _bold(text: str) -> str:
    return typer.style(text, bold=True)


def _dim(text: str) -> str:
    return typer.style(text, dim=True)
