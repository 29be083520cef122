"""Bringing in logs: drop them, see how each column was understood, settle what is in doubt."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import Any

import numpy as np
from dash import ALL, Input, Output, callback, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.components import Markup
from dashboard.drawings.season import spark
from dashboard.drops import DroppedFile, Job
from dashboard.figures import number
from dashboard.pages.questions import doubts, numbered, question, sides_answer, which_is_left
from dashboard.sections.parts import note, row
from dashboard.texts import said, say
from dashboard.workspace import workspace
from telemetry.trace import Column, Source, Trace

POLL_MS = 400


def layout(**_: str) -> Component:
    """The place to drop logs, and what became of those already dropped."""
    jobs = workspace().drops.all()
    return html.Main(
        [
            html.Div(
                html.H1(
                    [
                        html.Span(say("page.bring_in"), className="over"),
                        html.Span(_headline(jobs), id="bring-headline"),
                    ]
                ),
                className="opening",
            ),
            row(
                "logs",
                say("bring.logs"),
                "",
                [_drop_area(), html.Div(_files_and_gone(), id="dropped-files", **{"aria-live": "polite"})],
                notes=_notes(),
            ),
            html.Div(_questions(jobs), id="dropped-questions"),
            html.Div(_columns(jobs), id="dropped-columns"),
            dcc.Store(id="dropped"),
            dcc.Store(id="answered"),
            dcc.Interval(id="poll", interval=POLL_MS, disabled=not _busy(jobs)),
            dcc.Location(id="onward", refresh="callback-nav"),
        ],
        id="main",
    )


def _drop_area() -> Component:
    """A native file input with a label, and a wide place to drop onto."""
    words = {
        k: escape(say(f"bring.{k}"), quote=True) for k in ("sending", "failed", "title", "hint", "together")
    }
    markup = (
        f'<label class="drop" id="log-drop" data-sending="{words["sending"]}" '
        f'data-failed="{words["failed"]}">'
        f'<b>{words["title"]}</b><span class="fine blk">{words["hint"]}</span>'
        '<input type="file" id="log-files" name="logs" multiple '
        'accept=".csv,.txt,.log,.tsv,.toml,text/csv,text/plain"></label>'
        f'<label class="choice"><input type="checkbox" id="together" name="together" '
        f'value="yes">{words["together"]}</label>'
        '<div class="state loading" id="sending" role="status" hidden><p></p>'
        f'<progress value="0" max="1" aria-label="{words["sending"]}"></progress></div>'
    )
    return Markup(markup)


def _notes() -> list[Component]:
    return [
        note("how-clk", say("bring.how_clocks"), [say("bring.how_clocks_1")]),
        note("how-rows", say("bring.how_rows"), [say("bring.how_rows_1")]),
        note("how-sheet", say("bring.how_sheet"), [say("bring.how_sheet_1")]),
    ]


def _busy(jobs: tuple[Job, ...]) -> bool:
    return any(job.state in ("reading", "reviewing") for job in jobs)


def _headline(jobs: tuple[Job, ...]) -> str:
    if not any(job.files for job in jobs):
        return say("bring.headline_none")
    if _busy(jobs):
        return say("bring.headline_busy")
    open_questions = sum(len(doubts(job)) + len(numbered(job)) for job in jobs)
    if open_questions:
        return (
            say("bring.headline_one")
            if open_questions == 1
            else say("bring.headline_many", count=open_questions)
        )
    failed = sum(job.state == "failed" for job in jobs)
    return say("bring.headline_failed") if failed == len(jobs) else say("bring.headline_done")


def _files_and_gone() -> list[Component | str]:
    """The dropped logs, and which earlier ones are no longer held."""
    gone = workspace().drops.let_go()
    said = html.P(say("bring.let_go", names=", ".join(gone)), className="fine readme", role="status")
    return [_files(workspace().drops.all()), *([said] if gone else [])]


def _files(jobs: tuple[Job, ...]) -> Component | str:
    if not jobs:
        return ""
    return html.Ul([_file(job, file) for job in jobs for file in job.files], className="files")


def _file(job: Job, file: DroppedFile) -> Component:
    name = html.Span(file.name, className="fn")
    failed = file.state == "failed" or (job.state == "failed" and job.message)
    if failed:
        message = file.message or job.message
        message = message.removeprefix(f"{file.name}, ").removeprefix(f"{file.name}: ")
        leave = html.Button(
            say("bring.leave"), id={"leave": job.id}, className="do second", type="button", n_clicks=0
        )
        status = html.Span(
            [html.B(say("bring.not_read")), " ", message[:1].upper() + message[1:]], className="status"
        )
        return html.Li([name, status, html.Span(leave, className="acts")], className="bad", role="alert")
    bar = Markup(
        f"<progress {'value=1 max=1' if job.state == 'done' else 'max=1'} "
        f'aria-label="{escape(file.name, quote=True)}"></progress>'
    )
    return html.Li([name, html.Span(_status(job, file), className="status"), bar])


def _status(job: Job, file: DroppedFile) -> list[Any]:
    if file.state in ("waiting", "reading"):
        return [html.Span(say("bring.is_reading"), className="waiting")]
    read, rejected = (int(n) for n in (file.message or "0 0").split())
    message = say("bring.read", rows=number(read), rejected=number(rejected))
    if job.state == "reviewing":
        return [message, " ", html.Span(say("bring.is_reviewing"), className="waiting")]
    if job.state == "done":
        return [
            f"{message} {job.message}".strip(),
            " ",
            dcc.Link(say("bring.open"), href=f"/flights/{job.id}"),
        ]
    return [message]


def _questions(jobs: tuple[Job, ...]) -> list[Component]:
    """A question for each column that physics could not settle."""
    found: list[Component] = []
    for job in jobs:
        for trace, column in doubts(job):
            found.append(question(job, trace, column))
        found += [which_is_left(job, trace) for trace, _ in numbered(job)]
    if not found:
        return []
    return [
        row(
            "questions",
            say("bring.question"),
            say("bring.open_questions", count=len(found)),
            [*found, html.P(say("bring.until"), className="fine readme")],
        )
    ]


def _columns(jobs: tuple[Job, ...]) -> list[Component]:
    tables = [_table(job, trace, source) for job in jobs for trace in job.traces for source in trace.sources]
    if not tables:
        return []
    latest = next((job for job in jobs if job.state == "done"), None)
    onward = (
        [
            html.Div(
                dcc.Link(say("bring.read_flight"), href=f"/flights/{latest.id}", className="do"),
                className="actions noprint",
            )
        ]
        if latest
        else []
    )
    return [row("columns", say("bring.columns"), say("bring.as_understood"), [], wide=[*tables, *onward])]


def _table(job: Job, trace: Trace, source: Source) -> Component:
    head = [
        html.Th(say(f"bring.{k}"), scope="col", role="columnheader")
        for k in ("in_file", "over_flight", "first_values", "understood", "unit", "because", "status")
    ]
    rows = html.Tbody(
        [_column(trace, c, job.curves.get((source.file, c.header), ())) for c in source.columns],
        role="rowgroup",
    )
    caption = html.Caption(
        [
            source.file,
            " ",
            html.Span(
                say(
                    "bring.dialect",
                    delimiter=said(f"delimiter.{_delimiter(source)}", source.delimiter),
                    decimal=said(f"decimal.{'comma' if source.decimal == ',' else 'point'}", source.decimal),
                    encoding=source.encoding.upper(),
                ),
                className="fine",
            ),
        ]
    )
    rejected = (
        html.Details(
            [
                html.Summary(say("bring.rejected", count=len(source.rejected))),
                html.Ul(
                    [html.Li(say("bring.line", n=r.line, reason=r.reason)) for r in source.rejected[:200]]
                ),
            ],
            className="data",
        )
        if source.rejected
        else None
    )
    return html.Div(
        [
            html.Table(
                [caption, html.Thead(html.Tr(head, role="row"), role="rowgroup"), rows],
                className="log cols",
                role="table",
            ),
            rejected,
        ]
    )


def _delimiter(source: Source) -> str:
    return {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar", " ": "blank"}.get(source.delimiter, "")


def _column(trace: Trace, column: Column, numbers: Sequence[float]) -> Component:
    line = _spark(trace, column, numbers)
    status = said(f"status.{column.status}", column.status)
    shown = html.B(status) if column.status == "doubtful" else status
    return html.Tr(
        [
            html.Th(column.header or say("bring.no_header"), scope="row", role="rowheader"),
            html.Td(Markup(line) if line else "", role="cell", className="sp2"),
            html.Td(", ".join(column.first_values), role="cell", **{"data-l": say("bring.first_values")}),
            html.Td(
                html.B(meaning(column.quantity, column.position)) if column.quantity else "",
                role="cell",
                **{"data-l": say("bring.understood")},
            ),
            html.Td(column.unit, role="cell", **{"data-l": say("bring.unit")}),
            html.Td(column.reason, role="cell", **{"data-l": say("bring.because")}),
            html.Td(shown, role="cell", className="st"),
        ],
        role="row",
        className="off" if column.status == "ignored" else "",
    )


def meaning(quantity: str | None, position: str) -> str:
    """A quantity at its position, in words: 'cell voltage 3', 'left current'."""
    if not quantity:
        return say("bring.nothing")
    name = said(f"quantity.{quantity}", quantity)
    if not position:
        return name
    return (
        f"{name} {position}"
        if position.isdigit() or len(position) == 1
        else f"{position.replace('_', ' ')} {name}"
    )


def _spark(trace: Trace, column: Column, numbers: Sequence[float]) -> str:
    """The column's own curve, small."""
    if numbers:
        return spark(tuple((np.array(numbers) - _foot(np.array(numbers))).tolist()))
    channel = trace.channels.get((column.quantity or "", column.position))
    if channel is None or not np.isfinite(channel.values).any():
        return ""
    values = channel.values[np.isfinite(channel.values)]
    picked = values[:: max(1, values.size // 60)][:70]
    return spark(tuple((picked - _foot(picked)).tolist()))


def _foot(picked: np.ndarray) -> float:
    """Where the small curve stands: at zero, or at its lowest where it never comes near zero."""
    low, high = float(picked.min()), float(picked.max())
    return low if low < 0 or low > 0.5 * high else 0.0


@callback(
    Output("dropped-files", "children"),
    Output("dropped-questions", "children"),
    Output("dropped-columns", "children"),
    Output("bring-headline", "children"),
    Output("poll", "disabled"),
    Output("onward", "href"),
    Input("poll", "n_intervals"),
    Input("dropped", "data"),
    Input({"leave": ALL}, "n_clicks"),
    prevent_initial_call=True,
)
def _progress(_ticks: int | None, _dropped: dict[str, Any] | None, _leave: list[int]) -> tuple[Any, ...]:
    """How far each log is; a single log read without doubt leads on to its flight page."""
    pressed = ctx.triggered_id
    if isinstance(pressed, dict) and "leave" in pressed and ctx.triggered[0]["value"]:
        workspace().drops.forget(pressed["leave"])
    jobs = workspace().drops.all()
    busy = _busy(jobs)
    onward: Any = no_update
    fresh = workspace().drops.latest()
    if (
        len(fresh) == 1
        and fresh[0].state == "done"
        and not fresh[0].seen
        and not doubts(fresh[0])
        and not numbered(fresh[0])
    ):
        onward = f"/flights/{fresh[0].id}"
    return (
        _files_and_gone(),
        (no_update if busy else _questions(jobs)),
        (no_update if busy else _columns(jobs)),
        _headline(jobs),
        not busy and onward is no_update,
        onward,
    )


@callback(Output("dropped", "data"), Input("answered", "data"), prevent_initial_call=True)
def _answered(given: dict[str, Any] | None) -> Any:
    """Use an answer: the file is read again with it; kept by header signature when asked."""
    if not given:
        return no_update
    job, values, file = given["job"], given["values"], given["file"]
    chosen = values["other"] if values["choice"] == "other" else values["choice"]
    answers = {given["header"]: chosen}
    if not given["header"]:
        held = workspace().drops.get(job)
        answers = {
            k: v
            for trace, columns in (numbered(held) if held else [])
            if trace.sources[0].file == file
            for k, v in sides_answer(columns, values["choice"]).items()
        }
    workspace().drops.answer(job, file, answers, remember=values.get("remember") == "yes")
    return {"jobs": [job], "at": given["at"]}
