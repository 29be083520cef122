"""What answers would do to a dropped log, read once more in the background: sentences for its page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dashboard.choices import answers_in
from dashboard.drops import Job
from dashboard.pages.questions import sides_in
from dashboard.workspace import Workspace
from telemetry.answers import Answers
from telemetry.errors import SaglineError
from telemetry.importers.outcome import Outcome, column_effect, log_effect, outcome, outcome_of


def told(at: Workspace, ident: str, file: str, fields: Mapping[str, str]) -> dict[str, Any]:
    """What the fields of a form would do.

    Parameters
    ----------
    at : where the job is.
    ident, file : of the log.
    fields : as `answers_in` takes them.

    Returns
    -------
    `columns`: a sentence for each column asked about, by its number in the fields; `log`: sentences on the
    whole log; `error`: why it could not be read so, "" where it could.
    """
    job = at.drops.get(ident)
    dropped = next((f for f in job.files if f.name == file), None) if job is not None else None
    if job is None or dropped is None:
        return {"columns": {}, "log": [], "error": ""}
    answers, forgotten = answers_in(fields)
    asked = {*answers, *forgotten}
    answers |= sides_in(job, file, fields)
    if not answers and not forgotten:
        return {"columns": {}, "log": [], "error": ""}
    held = {h: a for h, a in job.answers.get(file, {}).items() if h not in forgotten}
    before = read_so_far(job, file)
    try:
        after = outcome_of(dropped.path, held | answers, None if forgotten else Answers())
    except SaglineError as error:
        return {"columns": {}, "log": [], "error": str(error)}
    numbers = {
        name.partition(".")[2]: header
        for name, header in fields.items()
        if name.startswith("header.") and header in asked
    }
    read = before.columns if before is not None else {}
    columns = {n: column_effect(read.get(h), after.columns.get(h)) for n, h in numbers.items()}
    return {"columns": columns, "log": list(log_effect(before, after, asked)), "error": ""}


def read_so_far(job: Job, file: str) -> Outcome | None:
    """What a log came to as it is read now; None where it was refused."""
    trace = next((t for t in job.traces if t.sources[0].file == file), None)
    return outcome(trace) if trace is not None else None
