"""The server library set up for one owner: our headers on its own errors too, and no sockets that pile up."""

from __future__ import annotations

import signal
from typing import Any

import waitress
from flask import Flask
from waitress.channel import HTTPChannel
from waitress.task import ErrorTask

from dashboard import request_security

HOST = "127.0.0.1"
MOST_CONNECTIONS = 100
"""Below the 1,024 files that a process may watch at once; one browser opens six a page."""
IDLE_S = 20
"""A browser asks every half second while it waits for a log; after this an idle connection is closed."""


class _PlainError(ErrorTask):
    """A request that the library refuses before the app sees it: one line, with the headers of any answer."""

    def execute(self) -> None:
        error = self.request.error
        body = f"{error.code} {error.reason}: {error.body}\n".encode()
        self.status = f"{error.code} {error.reason}"
        self.response_headers.append(("Content-Type", "text/plain; charset=utf-8"))
        self.response_headers += [
            *request_security.HEADERS,
            ("Content-Security-Policy", "default-src 'none'"),
        ]
        self.set_close_on_finish()
        self.content_length = len(body)
        self.write(body)


class _Channel(HTTPChannel):
    error_task_class = _PlainError


def listen(app: Flask, *, port: int, idle_s: int = IDLE_S) -> Any:
    """A server on this machine alone; port 0 takes any free one.

    Parameters
    ----------
    idle_s : after so long without a byte a connection is closed, whatever it has begun to say. [s]

    Raises
    ------
    OSError : the port is taken or not allowed.
    """
    server = waitress.create_server(
        app,
        host=HOST,
        port=port,
        threads=8,
        max_request_body_size=request_security.LARGEST_BODY_BYTES,
        connection_limit=MOST_CONNECTIONS,
        channel_timeout=idle_s,
        cleanup_interval=max(1, idle_s // 4),
        expose_tracebacks=False,
        ident=None,
    )
    server.channel_class = _Channel
    return server


def run(server: Any) -> None:
    """Serve until interrupted or asked to end (SIGTERM, or SIGHUP where there is one), then close."""
    signals = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {sign: signal.signal(sign, _end) for sign in signals}
    try:
        server.run()
    except (KeyboardInterrupt, SystemExit):
        pass
    finally:
        server.close()
        for sign, handler in before.items():
            signal.signal(sign, handler)


def _end(_sign: int, _frame: object) -> None:
    raise SystemExit(0)
