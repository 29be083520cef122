"""How each column of a dropped log was understood, what became of its cells, and the way to name it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from dash import html
from dash.development.base_component import Component

from dashboard.components import Markup
from dashboard.drawings.season import spark
from dashboard.drops import DroppedFile, Job
from dashboard.effects import read_so_far
from dashboard.pages.questions import answers_given, renaming
from dashboard.texts import said, say
from telemetry.account import column_account, log_account
from telemetry.sentences import column_words
from telemetry.trace import Column, Source, Trace


def of_log(job: Job, file: DroppedFile) -> list[Component]:
    """A log's columns, the answers that hold for them and the way to name them otherwise; refused or not."""
    if not file.columns:
        return []
    trace = next((t for t in job.traces if t.sources[0].file == file.name), None)
    now = read_so_far(job, file.name)
    shown = _table(job, trace, trace.sources[0]) if trace is not None and file.state == "read" else None
    refused = html.P(say("bring.refused_columns", file=file.name)) if file.state == "failed" else None
    parts = [shown, refused, answers_given(job, file), renaming(job, file, now)]
    return [html.Div([part for part in parts if part is not None], className="of-log")]


def _table(job: Job, trace: Trace, source: Source) -> Component:
    head = [
        html.Th(say(f"bring.{k}"), scope="col", role="columnheader")
        for k in (
            "in_file",
            "over_flight",
            "first_values",
            "understood",
            "unit",
            "because",
            "cells",
            "status",
        )
    ]
    rows = html.Tbody(
        [_column(trace, c, _curve(job, source, c)) for c in source.columns],
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
            html.P(log_account(source), className="fine readme"),
            rejected,
        ]
    )


def _curve(job: Job, source: Source, column: Column) -> tuple[float, ...]:
    found = job.unread.get((source.file, column.header))
    return found.curve if found is not None and column.status != "used" else ()


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
                html.B(column_words(column.quantity, column.position)) if column.quantity else "",
                role="cell",
                **{"data-l": say("bring.understood")},
            ),
            html.Td(column.unit, role="cell", **{"data-l": say("bring.unit")}),
            html.Td(column.reason, role="cell", **{"data-l": say("bring.because")}),
            html.Td(column_account(column), role="cell", **{"data-l": say("bring.cells")}),
            html.Td(shown, role="cell", className="st"),
        ],
        role="row",
        className="off" if column.status == "ignored" else "",
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
