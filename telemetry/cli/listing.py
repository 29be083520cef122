"""The logbook as a table: a header, then a flight a line."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from telemetry.estimate import Estimate, Undecided
from telemetry.sentences import clock, say, sentence, with_limits

if TYPE_CHECKING:
    from telemetry.logbook import Aircraft, KeptFlight, Pack
    from telemetry.season.comparing import ComparedFigure, Comparison

UNKNOWN = "-"
KINDS = {"flight": "flight", "taxi": "ground run", "bench": "bench run"}
GAP = "  "
NOT_COUNTED = "Counts in no timer."
NARROWEST, LEAST_CUT = 24, 8
TELL_LEAST = ("powered, min:s", "pack", "fitted with")
_FIRST_SENTENCE = re.compile(r".*?[.](?=\s|$)", re.DOTALL)
Column = tuple[str, Callable[["KeptFlight"], str], bool]
"""Heading, text of a flight, whether it is set to the right."""


def flight_table(kept: Sequence[KeptFlight]) -> str:
    """Every flight, a line each, under a header with units.

    A column that says nothing of any flight is left out: a number nobody knows, a kind that is "flight"
    throughout. On a narrow terminal the columns that tell least are left out too and the last one is cut;
    anywhere else nothing is.
    """
    if not kept:
        return "Nothing is kept yet. Add a log with sagline keep LOG."
    *others, to_do = _columns(kept)
    shown = [*(column for column in others if any(column[1](f) != UNKNOWN for f in kept)), to_do]
    wide = shutil.get_terminal_size((10_000, 24)).columns
    for heading in TELL_LEAST:
        if _fixed_width(kept, shown) + NARROWEST > wide:
            shown = [column for column in shown if column[0] != heading]
    rows = [[heading for heading, _, _ in shown], *([text(f) for _, text, _ in shown] for f in kept)]
    widths, rights = _widths(kept, shown), [right for _, _, right in shown]
    left = max(LEAST_CUT, wide - _fixed_width(kept, shown))
    return "\n".join(_line(row, widths, rights, left) for row in rows)


def _widths(kept: Sequence[KeptFlight], shown: Sequence[Column]) -> list[int]:
    return [max(len(heading), *(len(text(f)) for f in kept)) for heading, text, _ in shown]


def _fixed_width(kept: Sequence[KeptFlight], shown: Sequence[Column]) -> int:
    """Of all columns before the last, with the gaps behind them."""
    return sum(width + len(GAP) for width in _widths(kept, shown[:-1]))


def _line(row: Sequence[str], widths: Sequence[int], rights: Sequence[bool], left: int) -> str:
    cells = [
        text.rjust(width) if right else text.ljust(width)
        for text, width, right in zip(row[:-1], widths, rights, strict=False)
    ]
    last = row[-1] if len(row[-1]) <= left else row[-1][: left - 1].rstrip() + "…"
    return GAP.join([*cells, last])


def _columns(kept: Sequence[KeptFlight]) -> list[Column]:
    several, only_flights = len({f.aircraft for f in kept}) > 1, all(f.kind == "flight" for f in kept)
    return [
        ("no.", lambda f: str(f.id), True),
        ("flown", lambda f: f.date or UNKNOWN, False),
        *([] if only_flights else [("kind", lambda f: KINDS.get(f.kind, f.kind), False)]),
        *([("aircraft", lambda f: f.aircraft or UNKNOWN, False)] if several else []),
        ("fitted with", _fitted_with, False),
        ("pack", lambda f: f.pack_called or UNKNOWN, False),
        ("aloft, min:s", lambda f: _time(f.airborne_s) if f.kind == "flight" else UNKNOWN, True),
        ("powered, min:s", lambda f: _time(f.duration_s), True),
        ("drawn, mAh", lambda f: UNKNOWN if f.consumed_mah is None else f"{f.consumed_mah:.0f}", True),
        ("timer, min:s", _timer, True),
        ("what to do", _to_do, False),
    ]


def _fitted_with(flight: KeptFlight) -> str:
    return flight.configuration or ("as it stands" if flight.aircraft else UNKNOWN)


def _time(seconds: float | None) -> str:
    return UNKNOWN if seconds is None else clock(seconds)


def _timer(flight: KeptFlight) -> str:
    return _time(flight.alarm_s) if flight.kind == "flight" and not flight.removed else UNKNOWN


def _to_do(flight: KeptFlight) -> str:
    """The most serious stop or check in its first sentence; what is open before a check; of a removed flight
    that it is.
    """
    if flight.removed:
        return say("list", "removed")
    if flight.decision == "open" and flight.open:
        return f"open: {sentence(flight.open[0].reason)}"
    if flight.first_severity not in ("stop", "check"):
        return UNKNOWN
    found = _FIRST_SENTENCE.match(flight.first_finding)
    said = f"{flight.first_severity}: {found.group() if found else flight.first_finding}"
    return f"{said} {NOT_COUNTED}" if flight.contradicts_sheet else said


_SHOWN = {"pack_resistance_1s_ohm": (1000.0, 1), "imbalance_fraction": (100.0, 1)}
_SHOWN |= {"least_margin_fraction": (100.0, 0), "rate_mah_per_min": (1.0, 0), "mean_current_a": (1.0, 1)}
"""What a figure is multiplied by, and its decimals; others stand as they are with two."""
_AS_DIFFERENCE = ("imbalance_fraction", "least_margin_fraction")


def comparison_table(found: Comparison) -> str:
    """A figure a line: both means, the change and the verdict with its reason; the notes below.

    Parameters
    ----------
    found : of two groups of flights.
    """
    head = ["", say("compare", "first"), say("compare", "second"), say("compare", "change"), ""]
    table = _plain_table([head, *(_compared_row(one) for one in found.figures)])
    return "\n".join([*table, *([""] if found.notes else []), *(sentence(note) for note in found.notes)])


def _compared_row(one: ComparedFigure) -> list[str]:
    name, _, cell = one.figure.partition("@")
    factor, decimals = _SHOWN.get(name, (1.0, 2))
    means = [_scaled(figure, factor, decimals) for figure in (one.first, one.second)]
    change = _scaled(one.change_fraction, 100.0, 1, "" if name in _AS_DIFFERENCE else "%")
    return [say("compare", "figures", name, cell=cell), *means, change, f"{one.verdict}: {one.reason}"]


def _scaled(figure: Estimate | Undecided, factor: float, decimals: int, unit: str = "") -> str:
    if isinstance(figure, Undecided):
        return UNKNOWN
    return with_limits(
        factor * figure.value, factor * figure.low, factor * figure.high, decimals=decimals, unit=unit
    )


def aircraft_table(found: Sequence[Aircraft]) -> str:
    """An aircraft a line, and under it every version of its sheet with what was changed.

    Parameters
    ----------
    found : the one flown last first.
    """
    if not found:
        return say("fleet", "no_aircraft")
    heads = [
        say("fleet", "columns", key) for key in ("aircraft", "flights", "airborne", "last", "fitted", "packs")
    ]
    lines = _plain_table(
        [
            heads,
            *(
                [
                    one.name,
                    str(one.flights),
                    clock(one.airborne_s),
                    one.last_flown[:10] or UNKNOWN,
                    ", ".join(name or say("compare", "as_it_stands") for name in one.configurations),
                    ", ".join(one.packs) or UNKNOWN,
                ]
                for one in found
            ),
        ]
    )
    for one in found:
        for version in one.sheets[1:]:
            what = "; ".join(version.changed) or say("fleet", "other_sheet")
            since = version.date[:10] or say("fleet", "undated")
            lines.append(
                say("fleet", "version", name=one.name, since=since, number=version.first_flight, what=what)
            )
    return "\n".join(lines)


def pack_table(found: Sequence[Pack]) -> str:
    """A pack a line.

    Parameters
    ----------
    found : the one flown last first, those never flown last.
    """
    if not found:
        return say("fleet", "no_packs")
    keys = (
        "pack",
        "chemistry",
        "cells",
        "capacity",
        "flights",
        "last",
        "put_backs",
        "resistance",
        "aircraft",
        "open",
    )
    return "\n".join(_plain_table([[say("fleet", "columns", key) for key in keys], *map(_pack_row, found)]))


def _pack_row(one: Pack) -> list[str]:
    ohm = one.resistance_1s_25c_ohm
    standing = ", ".join(one.open_checks)
    return [
        one.name + (say("fleet", "retired") if one.retired else ""),
        one.chemistry or UNKNOWN,
        UNKNOWN if one.cells is None else f"{one.cells}S",
        UNKNOWN if one.capacity_mah is None else f"{one.capacity_mah:.0f}",
        str(one.flights),
        one.last_flown[:10] or UNKNOWN,
        str(one.put_backs),
        UNKNOWN
        if ohm is None
        else with_limits(*(1e3 * x for x in (ohm.value, ohm.low, ohm.high)), decimals=1),
        ", ".join(one.aircraft) or UNKNOWN,
        standing or UNKNOWN,
    ]


def _plain_table(rows: Sequence[Sequence[str]]) -> list[str]:
    """Cells under one another, each as wide as its column."""
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    return [GAP.join(c.ljust(w) for c, w in zip(row, widths, strict=True)).rstrip() for row in rows]
