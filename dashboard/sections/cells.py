"""Section Cells: small multiples, then the figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dash import html
from dash.development.base_component import Component

from dashboard.components import Markup
from dashboard.drawings.cells import against_neighbours, small_multiples
from dashboard.drawings.marks import Drawing
from dashboard.figures import decimals_for, interval, number
from dashboard.plots import PaperPlots, Plots
from dashboard.renderers.svg import svg
from dashboard.sections.parts import (
    Piece,
    caution,
    figure,
    note,
    plain,
    plot,
    row,
    sentence,
    table,
    toleranced,
    undecided,
)
from dashboard.texts import pieces, said, say
from telemetry.analysis.pack import Cell, Pack
from telemetry.debrief import FlightReview, Review
from telemetry.estimate import Estimate, Undecided, value_of
from telemetry.limits import LOADED_CELL_FLOOR_V, WEAK_CELL_RATIO
from telemetry.season.pack_places import pack_words
from telemetry.sentences import capital


def section(review: Review, flight: FlightReview, plots: Plots) -> Component:
    """Every cell of the pack, and which needs action."""
    answer = next((a for a in flight.answers if a.question == "cells"), None)
    verdict = said(f"verdict.{answer.verdict}", answer.verdict) if answer else ""
    packs = _packs(review, flight)
    main: list[Piece] = []
    wide: list[Piece] = []
    for name, pack, floor_v in packs:
        head = say("cells.of_pack", pack=name, text=_heading(pack)) if name else _heading(pack)
        key = f"{name.lower().replace(' ', '-')}-" if name else ""
        main += [html.H2(head), *_why(pack), _neighbours(pack, plots, key)]
        wide += [html.H3(name)] if name else []
        wide += _wide(pack, floor_v, plots, key)
    notes = _notes(flight.pack, max(floor_v for _, _, floor_v in packs))
    return row("cells", say("place.cells"), verdict, main, notes=notes, wide=wide)


def _packs(review: Review, flight: FlightReview) -> list[tuple[str, Pack, float]]:
    """Every pack with its name, "" where one feeds all, and the floor of a loaded cell. [V]"""
    if not flight.packs:
        usual_v = flight.pack.usual_floor.value
        return [("", flight.pack, review.setup.reserve.loaded_cell_v if review.setup else usual_v)]
    return [
        (
            capital(pack_words(one.place)),
            one.pack,
            one.setup.reserve.loaded_cell_v if one.setup else one.pack.usual_floor.value,
        )
        for one in flight.packs
    ]


def _neighbours(pack: Pack, plots: Plots, key: str) -> Piece:
    ratios = plot(
        plots.still(lambda view: _keyed(against_neighbours(pack, narrow=view.narrow), key)),
        say("cells.neighbours_caption"),
    )
    return html.Div(ratios, className="neighbours") if ratios is not None else None


def _keyed(drawing: Drawing | None, key: str) -> Drawing | None:
    """A drawing under a key of its own, as every pack has such a one."""
    return None if drawing is None else replace(drawing, key=f"{key}{drawing.key}")


def _each_keyed(drawings: Sequence[Drawing], key: str) -> list[Drawing]:
    return [found for d in drawings if (found := _keyed(d, key)) is not None]


def _heading(pack: Pack) -> str:
    sags = {c.cell: c.sag_v.value for c in pack.cells if isinstance(c.sag_v, Estimate)}
    lowest = [v for c in pack.cells if (v := value_of(c.min_loaded_v)) is not None]
    if isinstance(pack.weak_cell, int) and pack.weak_cell_kind in ("capacity", "unbalanced"):
        return say(f"cells.heading_{pack.weak_cell_kind}", cell=pack.weak_cell)
    if isinstance(pack.weak_cell, int):
        others = [v for cell, v in sags.items() if cell not in {w.cell for w in pack.weak_cells}]
        if pack.weak_cell in sags and others:
            return say(
                "cells.heading_weak",
                cell=pack.weak_cell,
                sag=number(sags[pack.weak_cell], 2),
                low=number(min(others), 2),
                high=number(max(others), 2),
            )
        return say("cells.heading_weak_plain", cell=pack.weak_cell)
    if pack.weak_cell is None and len(sags) > 1:
        return say(
            "cells.heading_sound",
            count=len(sags),
            low=number(min(sags.values()), 2),
            high=number(max(sags.values()), 2),
        )
    if lowest:
        return say("cells.heading_lowest", lowest=number(min(lowest), 2))
    if not isinstance(pack.min_voltage_v, Undecided):
        return say("cells.heading_pack", lowest=number(pack.min_voltage_v, 2))
    return say("cells.heading_undecided")


def _why(pack: Pack) -> list[Piece]:
    found: list[Piece] = [
        html.P([html.B(f"{said('draw.cell_title', '').format(cell=w.cell)}: "), sentence(w.reason)])
        for w in pack.weak_cells
    ]
    if isinstance(pack.weak_cell, Undecided):
        found.append(html.P(undecided(pack.weak_cell)))
    if not pack.cells:
        found.append(html.P(say("cells.none_logged")))
    one = pack.resistance_1s_ohm
    if isinstance(one, Estimate):
        left = (
            figure(pack.charge_left_fraction.scaled(100), "%", "how-r1", decimals=0)
            if isinstance(pack.charge_left_fraction, Estimate)
            else [undecided(pack.charge_left_fraction)]
        )
        found.append(
            html.P(
                pieces("cells.pack_line", r1=figure(one.scaled(1000), "mΩ", "how-r1", decimals=1), left=left)
            )
        )
    return found


def _wide(pack: Pack, floor_v: float, plots: Plots, key: str) -> list[Piece]:
    if not pack.cells:
        return []
    wide = _each_keyed(small_multiples(pack, floor_v=floor_v), key)
    found: list[Piece] = []
    if wide:
        blocks = [
            html.Div(
                [Markup(svg(d, points=420)) for d in wide], className=f"multiples cells-wide of-{len(wide)}"
            )
        ]
        if not isinstance(plots, PaperPlots):
            blocks.append(
                html.Div(
                    [
                        Markup(svg(d, points=500))
                        for d in _each_keyed(small_multiples(pack, narrow=True, floor_v=floor_v), key)
                    ],
                    className="cells-narrow",
                )
            )
        found.append(html.Figure([*blocks, html.Figcaption(say("cells.caption"), className="fine")]))
    head = [
        say(f"cells.{k}")
        for k in ("cell", "rest_before", "lowest", "sag", "one", "ten", "ratio", "rest_after", "verdict")
    ]
    kinds = {w.cell: w.kind for w in pack.weak_cells}
    found.append(table(head, _rows(pack, kinds), say("cells.table"), right=range(1, 8)))
    return found


def _rows(pack: Pack, kinds: dict[int, str]) -> list[list[Piece]]:
    """A row a cell; each column keeps the decimals that its widest interval allows."""
    milliohm = 1000.0
    sag = [c.sag_v for c in pack.cells]
    one, ten = (
        [_scaled(e, milliohm) for e in found]
        for found in ([c.resistance_1s_ohm for c in pack.cells], [c.resistance_10s_ohm for c in pack.cells])
    )
    ratio = [c.resistance_ratio for c in pack.cells]
    columns = [
        _column(sag, "how-sag", 2, 3),
        _column(one, "how-r1", 1, 2),
        _column(ten, "how-r1", 1, 2),
        _column(ratio, "how-r1", 2, 3),
    ]
    return [
        [
            str(c.cell),
            plain(c.rest_before_v),
            plain(c.min_loaded_v),
            *(column[i] for column in columns),
            plain(c.rest_after_v),
            _verdict(c, kinds, pack),
        ]
        for i, c in enumerate(pack.cells)
    ]


def _scaled(e: Estimate | Undecided, factor: float) -> Estimate | Undecided:
    return e.scaled(factor) if isinstance(e, Estimate) else e


def _column(found: Sequence[Estimate | Undecided], note_id: str, least: int, most: int) -> list[Piece]:
    known = [decimals_for(e) for e in found if isinstance(e, Estimate)]
    decimals = min(most, max([least, *known]))
    return [toleranced(e, note_id, decimals=decimals) for e in found]


def _verdict(c: Cell, kinds: dict[int, str], pack: Pack) -> Piece:
    if c.cell in kinds:
        return html.B(said(f"kind.{kinds[c.cell]}", kinds[c.cell]))
    if isinstance(pack.weak_cell, Undecided):
        return html.Span(say("page.undecided"), className="undecided")
    return say("verdict.sound")


def _notes(pack: Pack, floor_v: float) -> list[Component]:
    lag = (
        say("cells.lag", lag=number(pack.voltage_lag_s.value, 2), interval=interval(pack.voltage_lag_s, 2))
        if isinstance(pack.voltage_lag_s, Estimate)
        else ""
    )
    method = next(
        (
            e.method
            for c in pack.cells
            for e in (c.resistance_1s_ohm,)
            if isinstance(e, Estimate) and e.method
        ),
        "",
    )
    return [
        html.P(say("page.lead"), className="lead"),
        note(
            "how-lowest",
            say("cells.how_lowest"),
            [
                say("cells.how_lowest_1"),
                say("cells.how_lowest_2", floor=number(floor_v, 2), source=LOADED_CELL_FLOOR_V.source),
            ],
        ),
        note("how-sag", say("cells.how_sag"), [say("cells.how_sag_1"), lag]),
        note(
            "how-r1",
            say("cells.how_r"),
            [
                say("cells.how_r_1"),
                say("cells.how_r_2", ratio=f"{WEAK_CELL_RATIO.value:g}"),
                sentence(method),
            ],
        ),
        caution(say("cells.caution")),
    ]
