"""What keeps other pages and other machines out of a page served on this one.

Loopback only, foreign Host 400, foreign or null Origin 403, writes only with the
cookie set at start-up, text/plain 415, too large 413, a content policy and nosniff on
every response. (OWASP ASVS 5.0, chapters 3, 5 and 13, for the list of what to look at.)
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Callable, Iterable
from typing import Any

from flask import Flask, Response, abort, request

HOSTS = ("127.0.0.1", "localhost")
COOKIE = "sagline-run"
LARGEST_BODY_BYTES = 220 * 1024 * 1024
"""A little above 200 MB, the largest log that is said to be read."""

HEADERS = (
    ("X-Content-Type-Options", "nosniff"),
    ("Referrer-Policy", "no-referrer"),
    ("Cross-Origin-Resource-Policy", "same-origin"),
    ("Cross-Origin-Opener-Policy", "same-origin"),
)
"""On every response, whatever it holds; the content policy depends on the page."""

_READS = {"GET", "HEAD", "OPTIONS"}
_TYPES = {"application/json", "multipart/form-data"}


def protect(server: Flask, script_hashes: Callable[[], Iterable[str]]) -> str:
    """Put all guards on a server; returns the token of this run.

    Parameters
    ----------
    script_hashes : gives the CSP hashes of the scripts written into the page itself, which Dash adds to at
        its first request.
    """
    token = secrets.token_urlsafe(32)
    server.config["TRUSTED_HOSTS"] = list(HOSTS)
    server.config["MAX_CONTENT_LENGTH"] = LARGEST_BODY_BYTES
    server.before_request(lambda: _refuse(token))
    server.after_request(lambda response: _with_cookie(response, token))
    server.wsgi_app = _Headers(server.wsgi_app, lambda: policy(script_hashes()))  # type: ignore[method-assign]
    return token


def policy(script_hashes: Iterable[str]) -> str:
    """The content policy: everything from here, nothing from elsewhere."""
    scripts = " ".join(["'self'", *script_hashes])
    return (
        f"default-src 'none'; script-src {scripts}; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
        f"font-src 'self' data:; "
        "connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
    )


def _refuse(token: str) -> None:
    """Refuse what did not come from our own page."""
    origin = request.headers.get("Origin")
    if origin is not None and origin != f"{request.scheme}://{request.host}":
        abort(403, "This came from another page.")
    foreign = request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none")
    if foreign and (request.method not in _READS or request.headers.get("Sec-Fetch-Mode") != "navigate"):
        abort(403, "This came from another page.")
    if request.method in _READS:
        return
    if (request.content_length or 0) > LARGEST_BODY_BYTES:
        abort(413, "At most 200 MB at once.")
    if request.mimetype not in _TYPES:
        abort(415, "Send JSON or a form with files.")
    if not hmac.compare_digest(request.cookies.get(COOKIE, "").encode("utf-8", "replace"), token.encode()):
        abort(403, "Load the page again; it belongs to an earlier run.")
    if request.path.startswith("/_dash") and not _is_call(_sent()):
        abort(400, "This is no call of the page's.")


def _sent() -> Any:
    """The JSON of a request, None where it is none, or so deep that it cannot be read."""
    try:
        return request.get_json(silent=True)
    except RecursionError:
        return None


def _is_call(body: Any) -> bool:
    """Whether a body has the form of what the page sends when something on it changes."""
    return (
        isinstance(body, dict)
        and isinstance(body.get("output"), str)
        and isinstance(body.get("inputs"), list)
        and isinstance(body.get("outputs", []), dict | list)
        and isinstance(body.get("state", []), list)
        and isinstance(body.get("changedPropIds", []), list)
    )


def _with_cookie(response: Response, token: str) -> Response:
    """Pages carry the token of this run; no script can read it."""
    if request.method == "GET" and response.mimetype == "text/html":
        response.set_cookie(COOKIE, token, httponly=True, samesite="Strict", path="/")
    return response


class _Headers:
    """Headers on every response, errors of the server itself included."""

    def __init__(self, app: Callable[..., Any], content_policy: Callable[[], str]) -> None:
        self.app = app
        self.content_policy = content_policy

    def __call__(self, environ: dict[str, Any], start_response: Callable[..., Any]) -> Any:
        def start(status: str, headers: list[tuple[str, str]], exc_info: Any = None) -> Any:
            present = {name.lower() for name, _ in headers}
            ours = [("Content-Security-Policy", self.content_policy()), *HEADERS]
            return start_response(
                status, headers + [h for h in ours if h[0].lower() not in present], exc_info
            )

        return self.app(environ, start)
