"""Plain routes beside the Dash app: dropping files, and a flight's report as one file."""

from __future__ import annotations

import re
import unicodedata

from flask import Flask, Response, abort, jsonify, request
from werkzeug.exceptions import HTTPException

from dashboard import card, report
from dashboard.texts import say
from dashboard.workspace import called, workspace
from telemetry.errors import SaglineError
from telemetry.estimate import Undecided

_FORBIDDEN = re.compile(r'[\x00-\x1f\x7f<>:"/\\|?*]')
_RESERVED = re.compile(r"^(con|prn|aux|nul|com\d|lpt\d)(\.|$)", re.IGNORECASE)
MOST_FILES = 20


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
    server.add_url_rule("/logs", view_func=_take_logs, methods=["POST"])
    server.add_url_rule("/reports/<key>.html", view_func=_report)
    server.add_url_rule("/cards/current.html", view_func=_card)
    server.register_error_handler(HTTPException, _plain_error)
    server.register_error_handler(SaglineError, _plain_sentence)


def _take_logs() -> Response:
    """Copies of the dropped files, under names of our own choosing, then a job for each."""
    files = request.files.getlist("logs")
    if not files:
        abort(400, say("bring.no_file"))
    if len(files) > MOST_FILES:
        abort(413, say("bring.too_many", most=MOST_FILES))
    folder = workspace().drops.place()
    taken = []
    for number, file in enumerate(files):
        name = safe_name(file.filename or "log.csv")
        place = folder / str(number)
        place.mkdir(mode=0o700)
        file.save(place / name)
        taken.append((name, place / name))
    jobs = workspace().drop(taken, together=request.form.get("together") == "yes")
    return jsonify({"jobs": [job.id for job in jobs]})


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
