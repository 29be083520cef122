"""One log in one dialect with one defect, from the flight of `generator.py`."""

from __future__ import annotations

import csv
import importlib.util
import io
import sys
from dataclasses import dataclass
from pathlib import Path
from random import Random

import numpy as np

_spec = importlib.util.spec_from_file_location("log_generator", Path(__file__).with_name("generator.py"))
_base = importlib.util.module_from_spec(_spec)
sys.modules["log_generator"] = _base
_spec.loader.exec_module(_base)
DEFECTS, LAYOUTS, MOTORS, TIMES, UNITS = _base.DEFECTS, _base.LAYOUTS, _base.MOTORS, _base.TIMES, _base.UNITS
SIDES, WORDS, Part, Written, fly = _base.SIDES, _base.WORDS, _base.Part, _base.Written, _base.fly
Key = tuple[str, str]

_LATIN = {"en", "de", "fr", "es", "it", "nl", "pt", "sv", "symbol"}


def _named(rng: Random, language: str, word: str, unit: str, place: str) -> tuple[str, str]:
    """Header and unit-row cell."""
    shown = {"%±": "%", "1": ""}.get(unit, unit)
    if not shown or place == "none":
        return word, ""
    if place == "row":
        return word, shown
    joint = {
        "en": "in",
        "de": "in",
        "fr": "en",
        "es": "en",
        "it": "in",
        "nl": "in",
        "pt": "em",
        "sv": "i",
        "pl": "w",
        "symbol": "in",
    }[language]
    return {
        "()": f"{word} ({shown})",
        "[]": f"{word} [{shown}]",
        "/": f"{word}/{shown}",
        "_": f"{word}_{shown}",
        "in": f"{word} {joint} {shown}",
        "[ ]": f"{word}[{shown}]",
    }[place], ""


def _pick(rng: Random, language: str, sort: str, **fill: str) -> str:
    return rng.choice(WORDS[language][sort]).format(**fill)


def _column(
    rng: Random,
    key,
    sort,
    values,
    language,
    place,
    decimal,
    thousands,
    why,
    *,
    word="",
    unit=None,
    written_unit=None,
    certain=True,
) -> Part:
    choices = UNITS[key[0]]
    name, scale, offset, decimals = unit or rng.choice(choices)
    header, row = _named(rng, language, word or _pick(rng, language, sort), written_unit or name, place)
    grouped = thousands if key[0] == "rpm" and name != "krpm" and decimals == 0 else ""
    shown = values * scale + offset
    cells = [_base._number(v, decimals, decimal, grouped) for v in shown.tolist()]
    part = Part(key, header, row, cells, certain, key)
    part.truth = (np.round(shown, decimals) - offset) / scale
    return part


def write_log(
    seed: int,
    *,
    defect: str | None = None,
    language: str | None = None,
    time: str | None = None,
    short: bool = False,
) -> Written:
    """One log; the same seed gives the same bytes. `short` flies 100 s at 5 Hz instead of 150 s at 10 Hz."""
    rng = Random(seed)
    language = language or rng.choice(list(WORDS))
    delimiter = rng.choice([",", ",", ";", ";", "\t", "|", " "])
    decimal = rng.choice([".", ","]) if delimiter in (";", "\t", "|", " ") else "."
    quoted = rng.choice(["none", "none", "header", "all"])
    if delimiter == "," and quoted == "all" and rng.random() < 0.4:
        decimal = ","
    thousands = (
        rng.choice(["", "", "." if decimal == "," else ","])
        if quoted == "all" or delimiter not in (",",)
        else ""
    )
    place = rng.choice(["()", "[]", "[ ]", "/", "_", "in", "row", "none"])
    if delimiter == " ":
        place, quoted, thousands = rng.choice(["[ ]", "_", "row"]), "none", ""
    style = time or rng.choice(TIMES)
    defect = defect or rng.choice(DEFECTS)
    flown = fly(rng.randrange(40), seconds=100.0, rate_hz=5.0) if short else fly(rng.randrange(40))
    why: dict[str, object] = {
        "seed": seed,
        "language": language,
        "delimiter": delimiter,
        "decimal": decimal,
        "quoted": quoted,
        "unit": place,
        "time": style,
        "defect": defect,
    }
    parts, expected, uncertain = _parts(rng, flown, language, place, decimal, thousands, defect, why)
    times, time_s = _time_parts(rng, style, flown.time_s, decimal, language, place, why)
    rows = _rows(times, parts)
    names = [p.header for p in times + parts]
    if delimiter == " ":
        names = [n.replace(" ", "_") for n in names]
        rows = [[c.replace(" ", "T") or "-" for c in row] for row in rows]
    raw, kept = _text(
        rng,
        names,
        [p.unit for p in times + parts],
        rows,
        delimiter,
        decimal,
        quoted,
        place,
        defect,
        language,
        why,
    )
    truth = {k: v[kept] for k, v in expected.items()}
    return Written(raw, truth, uncertain, time_s[kept], flown.consumed_mah, why)


def _time_parts(rng, style, time_s, decimal, language, place, why) -> tuple[list[Part], np.ndarray]:
    columns, true_s = _base._times(rng, style, time_s, decimal, why)
    found = []
    for word, unit, cells in columns:
        header, row = _named(
            rng, language, word or _pick(rng, language, "time"), unit, place if unit else "none"
        )
        if place == "none" and unit and style in ("ms", "µs", "wrap"):
            header = f"{header} ({unit})"
        found.append(Part(("time_s", ""), header, row, cells))
    return found, true_s


def _motor_parts(rng, flown, language, place, decimal, thousands, why) -> list[Part]:
    left, right = rng.choice(SIDES[language])
    positions = {"left": "1", "right": "2"} if left == "1" else {"left": "left", "right": "right"}
    # Single letters of other languages than those everyone reads stay uncertain.
    certain = (left, right) not in (
        ("G", "D"),
        ("izq", "der"),
        ("esq", "dir"),
        ("li", "re"),
        ("lewego", "prawego"),
    )
    found = []
    layout = rng.choice(MOTORS)
    why["motors"] = layout
    sorts = [("rpm", "rpm")] if rng.random() < 0.8 else []
    if layout != "total":
        sorts.insert(0, ("current_a", "motor_current_a"))
    for quantity in ("motor_temperature_c", "controller_temperature_c"):
        if rng.random() < 0.4:
            sorts.append((quantity, quantity))
    for quantity, sort in sorts:
        word, unit = rng.choice(WORDS[language][sort]), rng.choice(UNITS[quantity])
        for side, text in (("left", left), ("right", right)):
            own = Random(rng.randrange(10**9))
            part = _column(
                own,
                (quantity, side),
                sort,
                flown.values[quantity, side],
                language,
                place,
                decimal,
                thousands,
                why,
                word=word.format(s=text),
                unit=unit,
                certain=certain,
            )
            part.expected = (quantity, positions[side])
            found.append(part)
    return found


def _voltage_parts(rng, flown, language, place, decimal, defect, why) -> list[Part]:
    layout = rng.choice(LAYOUTS)
    if defect in ("dead cell", "zero dropouts", "cells from zero"):
        layout = rng.choice(["cells", "both"])
    why["cells"] = layout
    found: list[Part] = []
    if layout in ("pack", "both", "taps"):
        found.append(
            _column(
                rng,
                ("pack_voltage_v", ""),
                "pack_voltage_v",
                flown.values["pack_voltage_v", ""],
                language,
                place,
                decimal,
                "",
                why,
            )
        )
    if layout in ("cells", "both", "taps"):
        word, unit = rng.choice(WORDS[language]["cell_voltage_v"]), rng.choice(UNITS["cell_voltage_v"])
        running = np.zeros(flown.time_s.size)
        first = 0 if defect == "cells from zero" else 1
        for n in range(1, 6):
            values = flown.values["cell_voltage_v", str(n)]
            running = running + values
            part = _column(
                rng,
                ("cell_voltage_v", str(n)),
                "",
                running if layout == "taps" else values,
                language,
                place,
                decimal,
                "",
                why,
                word=word.format(n=n - 1 + first),
                unit=unit,
            )
            if layout == "taps":
                part.truth = values
            found.append(part)
        if defect == "dead cell":
            for n in range(6, rng.choice([7, 9])):
                dead = np.zeros(flown.time_s.size)
                part = _column(
                    rng,
                    ("cell_voltage_v", str(n)),
                    "",
                    dead,
                    language,
                    place,
                    decimal,
                    "",
                    why,
                    word=word.format(n=n),
                    unit=unit,
                )
                part.expected = None
                found.append(part)
    return found


def _parts(rng, flown, language, place, decimal, thousands, defect, why):
    parts = _voltage_parts(rng, flown, language, place, decimal, defect, why)
    motors = _motor_parts(rng, flown, language, place, decimal, thousands, why)

    def plain(quantity: str, **more) -> Part:
        return _column(
            rng,
            (quantity, ""),
            quantity,
            flown.values[quantity, ""],
            language,
            place,
            decimal,
            thousands,
            why,
            **more,
        )

    if why["motors"] != "motors":
        parts.append(plain("current_a"))
    parts += motors
    for quantity, chance in (
        ("charge_mah", 0.7),
        ("power_w", 0.3),
        ("energy_wh", 0.2),
        ("throttle_fraction", 0.7),
        ("receiver_voltage_v", 0.4),
        ("pack_temperature_c", 0.3),
        ("air_temperature_c", 0.2),
        ("altitude_m", 0.5),
        ("climb_mps", 0.3),
        ("airspeed_mps", 0.3),
        ("ground_speed_mps", 0.2),
        ("link_fraction", 0.2),
    ):
        if rng.random() < chance:
            parts.append(plain(quantity))
    parts = _with_defect(rng, parts, flown, language, place, decimal, defect, why)
    if rng.random() < 0.3:
        rng.shuffle(parts)
    expected = {p.expected: p.truth for p in parts if p.expected is not None}
    uncertain = {p.expected for p in parts if p.expected is not None and not p.certain}
    # A reading that never moves cannot be told from a dead one.
    uncertain |= {k for k, v in expected.items() if np.isfinite(v).any() and np.nanmax(v) == np.nanmin(v)}
    if place == "none":
        # Without units anywhere these cannot be told from their like in other units by anyone.
        uncertain |= {
            k
            for k in expected
            if k[0] in ("altitude_m", "airspeed_mps", "ground_speed_mps", "climb_mps")
            or k[0].endswith("temperature_c")
        }
    return parts, expected, uncertain


def _by(parts, quantity):
    return [p for p in parts if p.key[0] == quantity and p.expected is not None]


def _rewrite(part, values, decimals, decimal):
    part.cells = [_base._number(v, decimals, decimal) for v in values.tolist()]


def _with_defect(rng, parts, flown, language, place, decimal, defect, why):
    n = flown.time_s.size
    currents = _by(parts, "current_a")
    if defect == "stuck":
        part = rng.choice(parts)
        part.cells = [part.cells[n // 2]] * n
        part.expected = None
    elif defect in ("sentinel", "spike"):
        part = rng.choice(
            [
                p
                for p in parts
                if p.key[0]
                in (
                    "current_a",
                    "pack_voltage_v",
                    "rpm",
                    "motor_temperature_c",
                    "cell_voltage_v",
                    "altitude_m",
                )
            ]
        )
        code = {
            "sentinel": rng.choice(["-999", "-2500", "65535", "32767", "9999"]),
            "spike": f"6553{decimal}5",
        }[defect]
        rows = rng.sample(range(5, n - 5), 4)
        part.truth = part.truth.copy()
        for row in rows:
            part.cells[row] = code
            part.truth[row] = np.nan
        why["struck"] = part.header
    elif defect == "wrong unit":
        part = rng.choice(
            [p for p in parts if p.key[0] in ("pack_voltage_v", "cell_voltage_v", "charge_mah", "current_a")]
        )
        _mislabel(rng, parts, part, language, place, decimal)
        why["struck"] = part.header
    elif defect == "wrong scale" and currents:
        for part in currents:
            factor = rng.choice([10.0, 10.0, 100.0])
            _rewrite(part, np.round(part.truth * factor), 0, decimal)
            part.truth = np.round(part.truth * factor) / factor
            part.certain = bool(_by(parts, "charge_mah") or _by(parts, "power_w")) and part.key[1] == ""
    elif defect == "negative current":
        for part in currents:
            part.cells = ["-" + c if any(d in "123456789" for d in c) else c for c in part.cells]
    elif defect == "missing marks":
        mark = rng.choice(["-", "--", "---", "n/a", "NaN", "nan", "", "N/A"])
        for part in parts:
            part.truth = part.truth.copy()
            for row in rng.sample(range(1, n - 1), n // 25):
                part.cells[row] = mark
                part.truth[row] = np.nan
    elif defect == "only refreshed":
        turn = np.arange(n)
        for i, part in enumerate(parts):
            silent = (turn + i) % 3 != 0
            part.cells = ["" if s else c for s, c in zip(silent, part.cells, strict=True)]
            part.truth = np.where(silent, np.nan, part.truth)
    elif defect == "held":
        for part in parts:
            every = rng.choice([1, 2, 5])
            source = np.arange(n) // every * every
            part.cells = [part.cells[i] for i in source]
            part.truth = part.truth[source]
    elif defect == "duplicate column":
        part = rng.choice(parts)
        twin = Part(part.key, part.header, part.unit, list(part.cells), True, None)
        parts.append(twin)
    elif defect == "empty column" and why["delimiter"] != " ":
        parts.insert(
            rng.randrange(len(parts)),
            Part(("", ""), rng.choice(["", "spare", "A4"]), "", [""] * n, True, None),
        )
    elif defect == "zero dropouts":
        part = rng.choice(_by(parts, "cell_voltage_v"))
        part.truth = part.truth.copy()
        for row in rng.sample(range(5, n - 5), 5):
            part.cells[row] = "0"
            part.truth[row] = np.nan
    elif defect == "event text":
        cells = [""] * n
        cells[n // 3] = "start"
        parts.append(
            Part(
                ("event", ""),
                {"de": "Ereignis", "fr": "Événement"}.get(language, "Event"),
                "",
                cells,
                True,
                ("event", ""),
            )
        )
        parts[-1].truth = np.full(n, np.nan)
    elif defect == "aside columns":
        low = np.min([flown.values["cell_voltage_v", str(c)] for c in range(1, 6)], axis=0)
        extra = [
            ("Lowest cell", low, 3),
            ("Internal resistance", 0 * low + 12 + low, 1),
            ("Satellites", np.round(8 + 2 * np.sin(flown.time_s / 20)), 0),
            ("RSSI (dB)", -60 - 10 * np.abs(np.sin(flown.time_s / 9)), 0),
            ("Max current", np.maximum.accumulate(flown.values["current_a", ""]), 1),
        ]
        for header, values, decimals in rng.sample(extra, 3):
            part = Part(("", ""), header, "", [], True, None)
            _rewrite(part, values, decimals, decimal)
            parts.append(part)
    elif defect == "nameless voltages":
        volts = [p for p in parts if p.key[0] in ("pack_voltage_v", "receiver_voltage_v")]
        if len(volts) == 2 and why["cells"] == "pack":
            for i, part in enumerate(volts):
                part.header, part.unit = f"U{i + 1}" + ("" if place == "row" else " [V]"), "V"
                _rewrite(part, part.truth, 2, decimal)
                part.truth = np.round(part.truth, 2)
    for part in parts:
        if not hasattr(part, "truth"):
            part.truth = np.full(n, np.nan)
    return parts


def _mislabel(rng, parts, part, language, place, decimal):
    """Numbers in one unit under the name of another of the same kind."""
    said, scale, decimals = {
        "pack_voltage_v": ("V", 1000, 0),
        "cell_voltage_v": ("V", 1000, 0),
        "charge_mah": ("Ah", 1, 0),
        "current_a": ("A", 1000, 0),
    }[part.key[0]]
    group = [
        p
        for p in parts
        if p.key[0] == part.key[0] and p.expected is not None and p.key[0] == "cell_voltage_v"
    ] or [part]
    for one in group:
        bare = one.header
        for mark in ("mAh", "mV", "mA", "Ah", "V", "A"):
            for left, right in (("(", ")"), ("[", "]"), ("/", ""), ("_", "")):
                if bare.endswith(f"{left}{mark}{right}"):
                    bare = bare[: -len(f"{left}{mark}{right}")].strip()
        if bare == one.header and not one.unit:
            continue
        one.header, one.unit = (bare, said) if place == "row" else (f"{bare} ({said})", "")
        _rewrite(one, np.round(one.truth * scale), decimals, decimal)
        one.truth = np.round(one.truth * scale) / scale


def _rows(times, parts):
    return [list(row) for row in zip(*(p.cells for p in times + parts), strict=True)]


def _line(fields, delimiter, quoted, *, header=False, widths=None):
    if delimiter == " ":
        return "  ".join(f"{f:>{w}}" for f, w in zip(fields, widths or [9] * len(fields), strict=False))
    out = io.StringIO()
    quoting = csv.QUOTE_ALL if quoted == "all" or (quoted == "header" and header) else csv.QUOTE_MINIMAL
    csv.writer(out, delimiter=delimiter, quoting=quoting, lineterminator="").writerow(fields)
    return out.getvalue()


def _text(rng, names, units, rows, delimiter, decimal, quoted, place, defect, language, why):
    n = len(rows)
    kept = np.arange(n)
    preamble = {
        0: [],
        1: ["Flight log", "Model: invented twin", "Date: 14.06.2025"],
        2: [f"# line {i}: nothing to see" for i in range(50)],
    }[rng.choice([0, 0, 0, 1, 2])]
    widths = [max(len(c) for c in column) for column in zip(names, units, *rows, strict=True)]
    head = [_line(names, delimiter, quoted, header=True, widths=widths)]
    if place == "row":
        head.append(_line(units, delimiter, quoted, header=True, widths=widths))
    lines = [_line(row, delimiter, quoted, widths=widths) for row in rows]
    if rng.random() < 0.1 and delimiter != " ":
        lines = [line + delimiter for line in lines]
        head = [line + delimiter for line in head] if rng.random() < 0.5 else head
    drop: list[int] = []
    if defect == "ragged":
        drop = rng.sample(range(5, n - 5), 3)
        for row in drop:
            lines[row] = _line(rows[row][: len(names) // 2], delimiter, quoted, widths=widths)
    elif defect == "truncated":
        drop = [n - 1]
        lines[-1] = _line(rows[-1][: max(1, len(names) - 2)], delimiter, quoted, widths=widths)
    elif defect == "nul":
        drop = [n // 2]
        lines[n // 2] = "\x00" * 40
    elif defect == "swapped rows":
        at = rng.randrange(5, n - 5)
        lines[at], lines[at + 1] = lines[at + 1], lines[at]
    elif defect == "gap":
        at = rng.randrange(n // 5, n - n // 5)
        drop = list(range(at, at + 15))
        for row in reversed(drop):
            del lines[row]
    if defect in ("comments", "repeated header", "summary"):
        at = rng.randrange(10, n - 10)
        if defect == "comments":
            lines.insert(at, "# mark set by the pilot")
        elif defect == "repeated header":
            lines[at:at] = head
        else:
            lines += ["", "Summary", "Max current: 80 A", "End of log"]
    if defect == "stray byte":
        drop = [*drop, n // 3]
        where = lines[n // 3].rfind(delimiter)
        lines[n // 3] = lines[n // 3][:where] + "\ue000" + lines[n // 3][where:]
    newline = rng.choice(["\n", "\r\n", "\r\n", "\r"])
    text = newline.join([*preamble, *head, *lines]) + rng.choice([newline, ""])
    encodings = ["utf-8", "utf-8", "utf-8-sig", "utf-16", "utf-16-le"] + (
        ["latin-1", "cp1252"] if language in _LATIN else []
    )
    encoding = "utf-8" if defect in ("stray byte", "nul") else rng.choice(encodings)
    why["encoding"], why["newline"] = encoding, newline
    raw = text.encode(encoding, errors="replace")
    if defect == "stray byte":
        raw = raw.replace("\ue000".encode(), b"\xff")
    keep = np.setdiff1d(kept, drop)
    return raw, keep


@dataclass
class Verdict:
    """What a reader did with one log: channels that are wrong, certain ones it missed, error of the
    charge.
    """

    wrong: list[tuple[object, ...]]
    missed: list[Key]
    certain: int
    charge_error: float | None


def judge(written: Written, trace) -> Verdict:
    """Hold a trace against the truth. A channel that is used and not true is wrong, whatever its name."""
    wrong: list[tuple[object, ...]] = []
    for key, channel in trace.channels.items():
        if key not in written.expected:
            wrong.append(("unexpected", key, channel.header))
        elif key[0] != "event":
            found = _off(written, key, trace)
            if found:
                wrong.append((key, channel.header, found))
    length_s = written.time_s[-1] - written.time_s[0]
    if abs(trace.duration_s - length_s) > 0.6:
        wrong.append(("time", trace.duration_s, length_s))
    missed = [k for k in written.expected if k not in trace.channels and k not in written.uncertain]
    return Verdict(
        wrong,
        missed,
        sum(k not in written.uncertain for k in written.expected),
        _charge_error(written, trace),
    )


def _off(written: Written, key: Key, trace) -> str:
    truth = written.expected[key]
    good = np.isfinite(truth)
    samples = trace.fresh(*key)
    if samples.time_s.size < 5:
        return "hardly any samples"
    expected = np.interp(samples.time_s, written.time_s[good] - written.time_s[0], truth[good])
    ours = samples.values
    if key[0] == "altitude_m":
        expected, ours = expected - expected[0], ours - ours[0]
    scale = max(float(np.ptp(truth[good])), 0.02 * float(np.max(np.abs(truth[good]))), 1e-6)
    error = np.abs(expected - ours) / scale
    if np.median(error) > 0.02 or np.mean(error > 0.25) > 0.01 or error.max() > 3:
        return f"median error {np.median(error):.3f}, largest {error.max():.2f} of the range"
    return ""


def _charge_error(written: Written, trace) -> float | None:
    if ("current_a", "") not in written.expected or ("current_a", "") not in trace.channels:
        return None
    # Against the charge of the rows that the file holds: what a silent sensor or a gap hides is no fault of
    # the reader.
    truth = written.expected["current_a", ""]
    good = np.isfinite(truth)
    samples = trace.fresh("current_a")
    return (
        float(np.trapezoid(samples.values, samples.time_s))
        / float(np.trapezoid(truth[good], written.time_s[good]))
        - 1.0
    )
