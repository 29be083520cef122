"""Bringing in logs: drop them, see how each column was understood, settle what is in doubt."""

from __future__ import annotations

from contextlib import suppress
from html import escape
from typing import Any

from dash import ALL, Input, Output, callback, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.choices import answers_in, catalogue
from dashboard.components import Markup
from dashboard.drops import DroppedFile, Job
from dashboard.figures import number
from dashboard.other_files import ENDINGS, MOST_FILES
from dashboard.pages.columns import of_log
from dashboard.pages.questions import (
    doubts,
    everything_remembered,
    numbered,
    open_questions,
    questions,
    sides_in,
)
from dashboard.sections.parts import note, row
from dashboard.texts import say
from dashboard.workspace import workspace
from telemetry.answers import Answers
from telemetry.errors import SaglineError

POLL_MS = 400
_STEPS = {
    "waiting": 0.0,
    "reading": 0.25,
    "read": 0.5,
    "reviewing": 0.75,
    "done": 1.0,
    "failed": 1.0,
}
"""How far a file is, by its state and then its job's."""


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
            html.Div(_remembered(), id="remembered-answers"),
            Markup(f'<div id="catalogue" hidden data-catalogue="{escape(catalogue(), quote=True)}"></div>'),
            dcc.Store(id="dropped"),
            dcc.Store(id="answered"),
            dcc.Store(id="forgotten"),
            dcc.Interval(id="poll", interval=POLL_MS, disabled=not _busy(jobs)),
            dcc.Location(id="onward", refresh="callback-nav"),
        ],
        id="main",
    )


def _drop_area() -> Component:
    """Native file inputs with their labels, for files and for a folder, and a wide place to drop onto."""
    names = (
        "sending",
        "sent",
        "failed",
        "title",
        "hint",
        "together",
        "folder",
        "too_many_here",
    )
    words = {k: escape(say(f"bring.{k}"), quote=True) for k in names}
    markup = (
        f'<div class="drop" id="log-drop" data-sending="{words["sending"]}" data-sent="{words["sent"]}" '
        f'data-failed="{words["failed"]}" data-most="{MOST_FILES}" data-too-many="{words["too_many_here"]}" '
        f'data-endings="{escape(" ".join(ENDINGS), quote=True)}">'
        f'<label for="log-files"><b>{words["title"]}</b><span class="fine blk">{words["hint"]}</span></label>'
        '<input type="file" id="log-files" name="logs" multiple '
        'accept=".csv,.txt,.log,.tsv,.toml,text/csv,text/plain">'
        f'<label class="folder" for="log-folder">{words["folder"]}</label>'
        '<input type="file" id="log-folder" name="folder" webkitdirectory multiple></div>'
        f'<label class="choice"><input type="checkbox" id="together" name="together" '
        f'value="yes">{words["together"]}</label>'
        '<div class="state loading" id="sending" role="status" hidden><p></p><ul class="files"></ul></div>'
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
    count = sum(open_questions(job) for job in jobs)
    asked = say("bring.headline_one") if count == 1 else say("bring.headline_many", count=count)
    files = [(job, file) for job in workspace().drops.latest() or jobs for file in job.files]
    failed = sum(_is_refused(job, file) for job, file in files)
    if failed == len(files):
        return say("bring.headline_failed")
    if failed:
        some = say("bring.headline_some", read=len(files) - failed, all=len(files))
        return f"{some} {asked}" if count else some
    if count:
        return asked
    again = all(job.again for job, _ in files)
    return say("bring.headline_again") if again else say("bring.headline_done")


def _is_refused(job: Job, file: DroppedFile) -> bool:
    return file.state == "failed" or (job.state == "failed" and bool(job.message))


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
    if _is_refused(job, file):
        message = file.message or job.message
        message = message.removeprefix(f"{file.name}, ").removeprefix(f"{file.name}: ")
        leave = html.Button(
            say("bring.leave"), id={"leave": job.id}, className="do second", type="button", n_clicks=0
        )
        status = html.Span(
            [html.B(say("bring.not_read")), " ", message[:1].upper() + message[1:]],
            className="status",
            role="alert",
        )
        return html.Li([name, status, html.Span(leave, className="acts")], className="bad")
    step = _STEPS[job.state if file.state == "read" else file.state]
    bar = Markup(
        f'<progress value="{step:g}" max="1" aria-label="{escape(file.name, quote=True)}"></progress>'
    )
    return html.Li([name, html.Span(_status(job, file), className="status"), bar])


def _status(job: Job, file: DroppedFile) -> list[Any]:
    if file.state in ("waiting", "reading"):
        return [html.Span(say(f"bring.is_{file.state}"), className="waiting")]
    read, rejected = (int(n) for n in (file.message or "0 0").split())
    message = say("bring.read", rows=number(read), rejected=number(rejected))
    if job.again:
        links = [dcc.Link(say("bring.flight", n=n), href=f"/flights/{n}") for n in job.again]
        known = [part for link in links for part in (" ", link)]
        return [message, " ", html.B(say("bring.kept_already")), *known, *_onward(job)]
    if job.state == "reviewing":
        return [message, " ", html.Span(say("bring.is_reviewing"), className="waiting")]
    if job.state == "done":
        return [
            f"{message} {job.message}".strip(),
            *_onward(job),
        ]
    return [message]


def _onward(job: Job) -> list[Any]:
    return [" ", dcc.Link(say("bring.open"), href=f"/flights/{job.id}")] if job.state == "done" else []


def _questions(jobs: tuple[Job, ...]) -> list[Component]:
    """A form for each log with columns that physics could not settle, to be answered at once."""
    found: list[Component] = [
        questions(job, file)
        for job in jobs
        for file in job.files
        if file.state == "read" and (doubts(file) or numbered(file))
    ]
    if not found:
        return []
    return [
        row(
            "questions",
            say("bring.question"),
            say("bring.open_questions", count=sum(open_questions(job) for job in jobs)),
            [*found, html.P(say("bring.until"), className="fine readme")],
        )
    ]


def _columns(jobs: tuple[Job, ...]) -> list[Component]:
    tables = [block for job in jobs for file in job.files for block in of_log(job, file)]
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


@callback(
    Output("dropped-files", "children"),
    Output("dropped-questions", "children"),
    Output("dropped-columns", "children"),
    Output("remembered-answers", "children"),
    Output("bring-headline", "children"),
    Output("poll", "disabled"),
    Output("onward", "href"),
    Input("poll", "n_intervals"),
    Input("dropped", "data"),
    Input("forgotten", "data"),
    Input({"leave": ALL}, "n_clicks"),
    prevent_initial_call=True,
)
def _progress(
    _ticks: int | None,
    _dropped: dict[str, Any] | None,
    forgotten: dict[str, Any] | None,
    _leave: list[int],
) -> tuple[Any, ...]:
    """How far each log is; a single log read without doubt leads on to its flight page."""
    pressed = ctx.triggered_id
    if isinstance(pressed, dict) and "leave" in pressed and ctx.triggered[0]["value"]:
        workspace().drops.forget(pressed["leave"])
    if pressed == "forgotten" and forgotten:
        _forget(forgotten["key"], forgotten["header"])
    jobs = workspace().drops.all()
    busy = _busy(jobs)
    onward: Any = no_update
    fresh = workspace().drops.latest()
    if len(fresh) == 1 and workspace().drops.is_all_here() and _leads_on(fresh[0]):
        onward = f"/flights/{fresh[0].id}"
    return (
        _files_and_gone(),
        (no_update if busy else _questions(jobs)),
        (no_update if busy else _columns(jobs)),
        (no_update if busy else _remembered()),
        _headline(jobs),
        not busy and onward is no_update,
        onward,
    )


def _leads_on(job: Job) -> bool:
    """Whether a log just read leaves nothing to say but its review."""
    return job.state == "done" and not (job.seen or job.again or job.message or open_questions(job))


def _remembered() -> list[Component]:
    """What is remembered of recorders, in a section of its own."""
    found = everything_remembered()
    if found is None:
        return []
    return [row("remembered", say("bring.remembered"), "", [found])]


def _forget(key: str, header: str) -> None:
    """Forget one remembered answer; a file that cannot be written is told where the answers stand."""
    with suppress(SaglineError):
        Answers().forget(key, header)


@callback(Output("dropped", "data"), Input("answered", "data"), prevent_initial_call=True)
def _answered(given: dict[str, Any] | None) -> Any:
    """Use what a form answers, all of it at once: the file is read again once; or forget one answer."""
    if not given:
        return no_update
    job, file, fields = given["job"], given["file"], given.get("values") or {}
    held = workspace().drops.get(job)
    if held is None:
        return no_update
    answers, forgotten = answers_in(fields)
    answers |= sides_in(held, file, fields)
    forgotten += [given["forget"]] if "forget" in given else []
    if not answers and not forgotten:
        return no_update
    workspace().drops.answer(
        job,
        file,
        answers,
        forget=forgotten,
        remember=fields.get("remember") == "yes" or fields.get("remember_sides") == "yes",
        sides=fields.get("remember_sides") == "yes",
    )
    return {"jobs": [job], "at": given["at"]}
