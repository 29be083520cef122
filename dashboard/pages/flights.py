"""All flights kept: the season, then the table."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import Any

from dash import ALL, Input, Output, State, callback, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.components import Markup
from dashboard.drawings.season import season, spark
from dashboard.figures import clock, hard, number, signed
from dashboard.renderers.svg import svg
from dashboard.sections.parts import row
from dashboard.texts import pieces, said, say
from dashboard.workspace import workspace
from telemetry.logbook import KeptFlight
from telemetry.season.open_checks import OpenCheck
from telemetry.sentences import sentence

COLUMNS = (
    "number",
    "date",
    "kind",
    "fitted",
    "aloft",
    "drawn",
    "lowest",
    "left",
    "surplus",
    "timer",
    "current",
    "todo",
)
POLL_MS = 400
FIGURES = {"number", "aloft", "drawn", "lowest", "left", "surplus", "timer"}


def layout(**_: str) -> Component:
    """The list, or the one way on when there is none yet."""
    kept = workspace().flights()
    if not kept:
        return html.Main(
            [
                html.Div(
                    html.H1([html.Span(say("list.over"), className="over"), say("list.empty_title")]),
                    className="opening",
                ),
                row("flights", say("page.flights"), "", [empty()]),
            ],
            id="main",
        )
    drawings = season(kept)
    configurations = sorted({f.configuration for f in kept if f.configuration})
    parts = [opening(kept, workspace().latest_flown() or kept[0], workspace().open_checks())]
    if drawings:
        small = html.Div([Markup(svg(d)) for d in drawings], className="multiples four")
        more = html.P(
            [say("list.season_caption"), " ", dcc.Link(say("season.in_full"), href="/season")],
            className="fine readme",
        )
        parts.append(row("season", say("list.season"), "", [], wide=[small, more]))
    find = html.Form(
        [
            html.Label(
                [
                    say("list.find"),
                    dcc.Input(id="find", type="search", placeholder=say("list.find_hint"), debounce=False),
                ]
            ),
            *([_choice(configurations), dcc.Store(id="fitted")] if configurations else []),
            dcc.Link(say("page.bring_in"), href="/bring-in", className="do"),
        ],
        className="find noprint",
        role="search",
    )
    parts.append(
        row(
            "flights",
            say("page.flights"),
            _counted(kept),
            [],
            wide=[
                find,
                html.Div(table(kept, "number", descending=True), id="flights-table"),
                dcc.Store(id="order", data={"by": "number", "down": True}),
            ],
        )
    )
    return html.Main(parts, id="main")


def empty() -> Component:
    """Nothing kept: one sentence, and two ways on."""
    ways = html.Div(
        [
            dcc.Link(say("page.bring_in"), href="/bring-in", className="do"),
            html.Button(say("demo.open"), id="demo-open", type="button", className="do second", n_clicks=0),
        ],
        className="actions",
    )
    making = workspace().making is not None
    waiting = [
        html.Div(_making(), id="demo-state", role="status", **{"aria-live": "polite"}),
        dcc.Interval(id="demo-poll", interval=POLL_MS, disabled=not making),
    ]
    return html.Div(
        [html.P(say("list.empty")), html.P(say("demo.what")), ways, *waiting], className="state empty"
    )


def _making() -> list[Component]:
    """How far the invented logbook is, or why there is none."""
    making = workspace().making
    if making is None:
        return []
    if making.message:
        return [html.P([html.B(say("demo.failed")), " ", making.message], className="state error")]
    words = say("demo.making", kept=making.kept, of=making.of)
    return [
        html.P(words, className="waiting"),
        Markup(
            f'<progress value="{making.kept}" max="{making.of + 1}" '
            f'aria-label="{escape(words, quote=True)}"></progress>'
        ),
    ]


@callback(
    Output("demo-state", "children"),
    Output("demo-poll", "disabled"),
    Output("demo-open", "disabled"),
    Output("onto", "data"),
    Input("demo-open", "n_clicks"),
    Input("demo-poll", "n_intervals"),
    prevent_initial_call=True,
)
def _open_demo(clicks: int | None, _ticks: int | None) -> tuple[Any, bool, bool, Any]:
    """Make the invented logbook, say how far it is, then go to its first page."""
    if ctx.triggered_id == "demo-open" and clicks:
        workspace().open_demo()
    making = workspace().making
    if making is None:
        return [], True, False, "/" if workspace().flights() else no_update
    return _making(), bool(making.message), not making.message, no_update


@callback(
    Output("onto", "data", allow_duplicate=True),
    Input({"restore": ALL}, "n_clicks"),
    prevent_initial_call=True,
)
def _restore(_clicks: list[int]) -> Any:
    """Take a removed flight back into every figure, and show the list anew."""
    pressed = ctx.triggered_id
    if not isinstance(pressed, dict) or not ctx.triggered[0]["value"]:
        return no_update
    workspace().set_removed(pressed["restore"], removed=False)
    return "/"


def _choice(configurations: list[str]) -> Component:
    options = "".join(f'<option value="{escape(c, quote=True)}">{escape(c)}</option>' for c in configurations)
    words = escape(say("list.fitted_with"))
    return Markup(
        f'<label>{words} <select data-store="fitted"><option '
        f'value="">{escape(say("list.all_fitted"))}</option>{options}</select></label>'
    )


def _over(kept: tuple[KeptFlight, ...]) -> str:
    names = sorted({f.aircraft for f in kept if f.aircraft})
    dates = sorted(f.date[:10] for f in kept if f.date)
    when = f"{dates[0]} – {dates[-1]}" if dates and dates[0] != dates[-1] else dates[0] if dates else ""
    return "\u00a0· ".join(x for x in (say("list.over"), ", ".join(names[:3]), _counted(kept), when) if x)


def _counted(kept: tuple[KeptFlight, ...]) -> str:
    """How many flights, how many runs on the ground and how many removed besides."""
    removed = sum(f.removed for f in kept)
    flights = sum(f.kind == "flight" and not f.removed for f in kept)
    return ", ".join(
        say(f"list.count_{what}_{'one' if n == 1 else 'many'}", count=n)
        for what, n in (
            ("flights", flights),
            ("runs", len(kept) - flights - removed),
            ("removed", removed),
        )
        if n
    )


def opening(kept: tuple[KeptFlight, ...], latest: KeptFlight, still_open: Sequence[OpenCheck]) -> Component:
    """What the flight flown last says, then what earlier ones left to do."""
    headline = hard(say(f"list.latest_{latest.kind}", n=latest.id, headline=latest.headline))
    title = html.H1([html.Span(_over(kept), className="over"), headline])
    return html.Div(
        [title, *([html.Ol([_still_open(c) for c in still_open], className="todo")] if still_open else [])],
        className="opening",
    )


def _still_open(check: OpenCheck) -> Component:
    """One line, with a link to the flight that raised it."""
    name = (
        say("list.of_pack", n=check.flight, pack=check.pack)
        if check.pack
        else say("list.of_flight", n=check.flight)
    )
    link = dcc.Link(name, href=f"/flights/{check.flight}")
    severity = html.Span(say(f"severity.{check.raised.severity}"), className="sev")
    return html.Li(
        [severity, " ", html.B(hard(check.raised.title)), " ", *pieces("list.still_open", flight=link)],
        className=f"is-{check.raised.severity}",
    )


def table(kept: tuple[KeptFlight, ...], by: str, *, descending: bool) -> Component:
    """A flight a row; on a phone each row becomes a short entry. A column that says nothing of any flight is
    left out.
    """
    shown = [c for c in COLUMNS if c == by or _speaks(c, kept)]
    head = [_head(key, by, descending=descending) for key in shown]
    body = html.Tbody([_row(f, shown, first=i == 0) for i, f in enumerate(kept)], role="rowgroup")
    return html.Table(
        [
            html.Caption(say("list.caption"), className="vh"),
            html.Thead(html.Tr(head, role="row"), role="rowgroup"),
            body,
        ],
        className="log",
        role="table",
    )


def _head(key: str, by: str, *, descending: bool) -> Component:
    order = {"aria-sort": "descending" if descending else "ascending"} if key == by else {}
    words: Any = say(f"list.{key}")
    inside = words if key == "current" else html.Button(words, id={"sort": key}, type="button", n_clicks=0)
    return html.Th(inside, scope="col", role="columnheader", className="r" if key in FIGURES else "", **order)


def _speaks(column: str, kept: tuple[KeptFlight, ...]) -> bool:
    """Whether a column tells anything; date, kind and configuration often do not."""
    if column == "kind":
        return any(f.kind != "flight" for f in kept)
    return column not in ("date", "fitted") or any(
        f.date if column == "date" else f.configuration for f in kept
    )


def _row(f: KeptFlight, shown: Sequence[str], *, first: bool) -> Component:
    def cell(key: str, text: Any) -> Component:
        return html.Td(text, role="cell", className="r", **{"data-l": say(f"list.{key}")})

    uneven = f.verdicts.get("pair") == "uneven"
    surplus = "" if f.imbalance_fraction is None else signed(100 * f.imbalance_fraction.value, 1)
    left = "" if f.least_margin_fraction is None else number(100 * f.least_margin_fraction)
    over = f.least_margin_fraction is not None and f.least_margin_fraction < 0
    flown = f.kind == "flight"
    cells = {
        "number": html.Th(
            dcc.Link(str(f.id), href=f"/flights/{f.id}"), scope="row", role="rowheader", className="r"
        ),
        "date": html.Td(f.date, role="cell", className="nb d"),
        "kind": html.Td(
            said(f"list.kind_{f.kind}", f.kind), role="cell", className="nb c" if flown else "nb c ground"
        ),
        "fitted": html.Td(f.configuration, role="cell", className="c"),
        "aloft": cell("aloft", clock(f.airborne_s) if flown and f.airborne_s is not None else ""),
        "drawn": cell("drawn", number(f.consumed_mah) if f.consumed_mah is not None else ""),
        "lowest": cell("lowest", _lowest(f)),
        "left": cell("left", html.B(left) if over else left),
        "surplus": cell("surplus", html.B(surplus) if uneven else surplus),
        "timer": cell("timer", clock(f.alarm_s) if _has_timer(f) and f.alarm_s is not None else ""),
        "current": html.Td(Markup(spark(f.spark_a)) if f.spark_a else "", role="cell", className="sp"),
        "todo": html.Td(_todo(f), role="cell", className="do2"),
    }
    return html.Tr([cells[key] for key in shown], role="row", className="new" if first else "")


def _has_timer(f: KeptFlight) -> bool:
    """Whether its timer counts: a run on the ground has none, and a removed flight's is in no figure."""
    return f.kind == "flight" and not f.removed


def _lowest(f: KeptFlight) -> Any:
    """The lowest cell and whose it was."""
    if f.lowest_cell_v is None:
        return ""
    volts = number(f.lowest_cell_v, 2)
    whose = [" ", html.Span(say("list.of_cell", cell=f.lowest_cell), className="iv")] if f.lowest_cell else []
    return html.Span([html.B(volts) if f.verdicts.get("cells") == "weak" else volts, *whose], className="nb")


def _todo(f: KeptFlight) -> list[Any]:
    if f.removed:
        restore = html.Button(
            say("list.restore"), id={"restore": f.id}, type="button", className="do second", n_clicks=0
        )
        return [html.Span(say("list.removed"), className="sev"), " ", restore]
    if f.decision == "open" and f.open:
        said = hard(sentence(f.open[0].reason))
        return [
            html.Span([html.Span(say("severity.open"), className="sev"), " ", said], className="is-check")
        ]
    if not f.first_severity:
        return []
    return [
        html.Span(
            [
                html.Span(say(f"severity.{f.first_severity}"), className="sev"),
                " ",
                hard(f.first_finding.split(". ")[0].rstrip(".") + "."),
            ],
            className=f"is-{f.first_severity}",
        )
    ]


def sort_key(f: KeptFlight, by: str) -> tuple[bool, Any]:
    """What a column is ordered by; what is not known goes last."""
    severity, flown = {"stop": 3, "check": 2, "note": 1}, f.kind == "flight"
    values: dict[str, Any] = {
        "number": f.id,
        "date": f.date or None,
        "kind": f.kind,
        "fitted": f.configuration or None,
        "aloft": f.airborne_s if flown else None,
        "drawn": f.consumed_mah,
        "lowest": f.lowest_cell_v,
        "left": f.least_margin_fraction,
        "surplus": None if f.imbalance_fraction is None else f.imbalance_fraction.value,
        "timer": f.alarm_s if _has_timer(f) else None,
        "todo": severity.get(f.first_severity, 0),
    }
    return values[by] is not None, values[by] if values[by] is not None else 0


@callback(
    Output("flights-table", "children"),
    Output("order", "data"),
    Input("find", "value"),
    Input("fitted", "data", allow_optional=True),
    Input({"sort": "number"}, "n_clicks"),
    *[
        Input({"sort": c}, "n_clicks", allow_optional=c in ("date", "kind", "fitted"))
        for c in COLUMNS
        if c not in ("number", "current")
    ],
    State("order", "data"),
    prevent_initial_call=True,
)
def _arrange(find: str | None, fitted: dict[str, Any] | None, *more: Any) -> tuple[Component, dict[str, Any]]:
    """Find, filter, order."""
    order = dict(more[-1])
    pressed = ctx.triggered_id
    if isinstance(pressed, dict) and ctx.triggered[0]["value"]:
        order = {"by": pressed["sort"], "down": not order["down"] if order["by"] == pressed["sort"] else True}
    words = (find or "").casefold().split()
    only = (fitted or {}).get("value", "")
    kept = [
        f
        for f in workspace().flights()
        if (not only or f.configuration == only) and all(w in _said_of(f) for w in words)
    ]
    known = [f for f in kept if sort_key(f, order["by"])[0]]
    unknown = [f for f in kept if not sort_key(f, order["by"])[0]]
    known.sort(key=lambda f: sort_key(f, order["by"])[1], reverse=order["down"])
    return table((*known, *unknown), order["by"], descending=order["down"]), order


def _said_of(f: KeptFlight) -> str:
    return " ".join(
        [str(f.id), f.date, f.aircraft, f.configuration, f.pack, f.headline, f.first_finding, *f.files]
    ).casefold()
