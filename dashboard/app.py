"""The Dash app and the server it runs on: this machine only."""

from __future__ import annotations

import webbrowser
from pathlib import Path

import dash
from dash import ClientsideFunction, Input, Output, _callback
from flask import Flask

from dashboard import request_security, routes, server
from dashboard.pages import bring_in, card, compare, flight, flights, frame, prediction, season
from dashboard.workspace import Workspace


def make_app(logbook_folder: Path | None) -> dash.Dash:
    """The app on one logbook; None works without one, and keeps nothing.

    Each app has its own workspace and its own start-up token.
    """
    flask = Flask("dashboard", static_folder=None)
    flask.extensions["sagline"] = Workspace(logbook_folder)
    app = dash.Dash(
        "dashboard",
        server=flask,
        use_pages=True,
        pages_folder="",
        assets_folder=str(Path(__file__).with_name("assets")),
        suppress_callback_exceptions=True,
        title="Sagline",
        update_title=None,
        index_string=frame.INDEX,
        add_log_handler=False,
    )
    _register_pages()
    _offer_callbacks()
    app.layout = frame.layout
    app.enable_dev_tools(debug=False, dev_tools_disable_version_check=True)
    app.clientside_callback(
        ClientsideFunction("sagline_page", "narrow"), Output("narrow", "data"), Input("nothing", "data")
    )
    app.clientside_callback(
        ClientsideFunction("sagline_page", "onto"),
        Output("nothing", "data"),
        Input("onto", "data"),
        prevent_initial_call=True,
    )
    routes.add(flask)
    request_security.protect(flask, app.csp_hashes)
    return app


_CALLBACKS = (
    dict(_callback.GLOBAL_CALLBACK_MAP),
    list(_callback.GLOBAL_CALLBACK_LIST),
    list(_callback.GLOBAL_INLINE_SCRIPTS),
)
"""What the pages react to, as their import left it."""


def _offer_callbacks() -> None:
    """Dash hands what the pages registered to the first app that answers and forgets it; a further app in the
    same process needs it too.
    """
    known, listed, scripts = _CALLBACKS
    _callback.GLOBAL_CALLBACK_MAP.update(known)
    _callback.GLOBAL_CALLBACK_LIST[:] = listed
    _callback.GLOBAL_INLINE_SCRIPTS[:] = scripts


def _register_pages() -> None:
    """Every page and its path."""
    dash.register_page("flights", path="/", title="Flights · Sagline", layout=flights.layout)
    dash.register_page("flight", path_template=flight.PATH, title=flight.title, layout=flight.layout)
    dash.register_page("season", path="/season", title="Season · Sagline", layout=season.layout)
    dash.register_page("compare", path="/compare", title="Compare · Sagline", layout=compare.layout)
    dash.register_page("bring_in", path="/bring-in", title="Bring in logs · Sagline", layout=bring_in.layout)
    dash.register_page(
        "prediction", path="/prediction", title="Set-up and prediction · Sagline", layout=prediction.layout
    )
    dash.register_page("card", path="/card", title="Field card · Sagline", layout=card.layout)
    dash.register_page(
        "not_found_404", path="/no-such-page", title="No page · Sagline", layout=frame.not_found
    )


def serve(logbook_folder: Path | None, *, port: int = 8060, open_browser: bool = True) -> None:
    """Serve until interrupted or ended. Prints the address; port 0 takes any free one.

    Only this machine can reach it: it listens on 127.0.0.1. Copies of dropped logs go when it ends.
    """
    app = make_app(logbook_folder)
    try:
        listening = server.listen(app.server, port=port)
        address = f"http://{server.HOST}:{listening.effective_port}/"
        print(f"Sagline is open at {address} (this machine only; stop with Ctrl+C)", flush=True)
        if open_browser:
            webbrowser.open(address)
        server.run(listening)
    finally:
        app.server.extensions["sagline"].close()
