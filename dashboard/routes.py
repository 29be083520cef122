"""Plain routes beside the Dash app: dropping files, and a flight's report as one file."""

from __future__ import annotations

import datetime
import re
import unicodedata

from flask import Flask, Response, abort, jsonify, request
from werkzeug.exceptions import HTTPException

from dashboard import card, effects, report
from dashboard.drops import Batch, DroppedFile
from dashboard.other_files import MOST_FILES, refusal
from dashboard.texts import say
from dashboard.workspace import called, workspace
from telemetry.errors import SaglineError
from telemetry.estimate import Undecided

_FORBIDDEN = re.compile(r'[\x00-\x1f\x7f<>:"/\\|?*]')
_RESERVED = re.compile(r"^(con|prn|aux|nul|com\d|lpt\d)(\.|$)", re.IGNORECASE)


def safe_name(name: str) -> str:
    """A file's own name without folders, control characters or what a system keeps for itself; at most 80
    characters and 200 bytes, of which file systems take 255.
    """
    base = re.split(r"[/\\]", unicodedata.normalize("NFC", name))[-1]
    clean = _FORBIDDEN.sub("_", base).strip(" .") or "log.csv"
    if _RESERVED.match(clean):
        clean = f"_{clean}"
    stem, dot, ending = clean.rpartition(".")
    clean = clean if len(clean) <= 80 else f"{(stem or ending)[: 79 - len(ending)]}{dot}{ending}"[:80]
    while len(clean.encode("utf-8", "replace")) > 200:
        stem, dot, ending = clean.rpartition(".")
        clean = f"{stem[:-1]}{dot}{ending}" if len(stem) > 1 else clean[:-1]
    return clean


def add(server: Flask) -> None:
    """Put the routes on a server."""
    server.add_url_rule("/alive", view_func=lambda: ("", 204))
    server.add_url_rule("/logs", view_func=_take_logs, methods=["POST"])
    server.add_url_rule("/effects", view_func=_effects, methods=["POST"])
    server.add_url_rule("/reports/<key>.html", view_func=_report)
    server.add_url_rule("/cards/current.html", view_func=_card)
    server.register_error_handler(HTTPException, _plain_error)
    server.register_error_handler(SaglineError, _plain_sentence)


def _take_logs() -> Response:
    """Copies of the dropped files, under names of our own choosing, then a job for each.

    The fields beside the files: `written`, when each was last written, in milliseconds since 1970; `other`,
    the names of files that are no logs and were not sent; `batch` and `count`, the drop they belong to.
    """
    files, others = request.files.getlist("logs"), request.form.getlist("other")
    if not files and not others:
        abort(400, say("bring.no_file"))
    if len(files) + len(others) > MOST_FILES:
        abort(413, say("bring.too_many", most=MOST_FILES))
    folder = workspace().drops.place()
    written = request.form.getlist("written")
    taken = []
    for number, file in enumerate(files):
        name = safe_name(file.filename or "log.csv")
        place = folder / str(number)
        place.mkdir(mode=0o700)
        file.save(place / name)
        when = _written(written[number]) if number < len(written) else ""
        taken.append(DroppedFile(name, place / name, written=when))
    taken += [DroppedFile(safe_name(name), folder) for name in others if refusal(safe_name(name))]
    batch = Batch(request.form.get("batch", "")[:40], _count(request.form.get("count", "")))
    together = request.form.get("together") == "yes"
    jobs = workspace().drop(taken, together=together, batch=batch if batch.name else None)
    return jsonify({"jobs": [job.id for job in jobs]})


def _written(milliseconds: str) -> str:
    """When a file was last written, as this machine's clock shows it; "" where that makes no date."""
    try:
        return f"{datetime.datetime.fromtimestamp(float(milliseconds) / 1000):%Y-%m-%d %H:%M}"
    except (ValueError, OverflowError, OSError):
        return ""


def _count(text: str) -> int:
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 4 else 1


def _effects() -> Response:
    """What the fields of a form would do to the numbers of a dropped log, in sentences."""
    sent = request.get_json(silent=True)
    fields = sent.get("fields") if isinstance(sent, dict) else None
    if not isinstance(fields, dict) or not all(isinstance(v, str) for v in fields.values()):
        abort(400, say("bring.no_form"))
    return jsonify(effects.told(workspace(), str(sent.get("job")), str(sent.get("file")), fields))


def _report(key: str) -> Response:
    found = workspace().review(key)
    if found is None or not found.flights:
        abort(404)
    kept = workspace().kept(key)
    page = report.page(found) if kept is None else report.page(found, number=called(kept), date=kept.date)
    return Response(
        page,
        mimetype="text/html",
        headers={"Content-Disposition": f'attachment; filename="sagline-flight-{safe_name(key)}.html"'},
    )


def _card() -> Response:
    from dashboard.chosen import Chosen
    from dashboard.pages.prediction import present

    found = present(Chosen.read(request.query_string.decode()))
    if found is None:
        abort(404)
    if isinstance(found.timer, Undecided):
        abort(409, description=found.timer.reason)
    return Response(
        card.page(found.prediction, found.setup, found.timer, made=found.made_by, standing=found.standing),
        mimetype="text/html",
        headers={"Content-Disposition": 'attachment; filename="sagline-card.html"'},
    )


def _plain_sentence(error: SaglineError) -> Response:
    """What the owner can put right."""
    return Response(f"{error}\n", status=409, mimetype="text/plain")


def _plain_error(error: HTTPException) -> Response:
    """One line and no trace."""
    return Response(
        f"{error.code} {error.name}: {error.description}\n", status=error.code or 500, mimetype="text/plain"
    )
