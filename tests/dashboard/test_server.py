"""The real server over real sockets: what a stranger on this machine may send, and what it leaves behind."""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import signal
import socket
import stat
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote

import pytest

from dashboard import request_security, server
from dashboard.app import make_app
from dashboard.drops import DroppedFile, Drops
from dashboard.routes import safe_name
from telemetry.debrief import review
from telemetry.sheet import read_sheet

SAMPLES = Path(__file__).parents[2] / "sample_logs"
CALL = "/_dash-update-component"
NO_CALLS = [
    "null",
    "[]",
    "3",
    '"text"',
    '{"output": 1',
    '{"output": []}',
    '{"output": "a.b", "inputs": 3}',
    "\ufffd",
]
LONGEST_HEADER = 262_144
"""Of the server library, in bytes: it answers once so many have come without an end."""


class Served:
    """A server that listens on a port of its own."""

    def __init__(self, port: int) -> None:
        self.port = port
        answer = self.ask("GET", "/")
        self.cookie = answer.getheader("Set-Cookie", "").partition(";")[0]

    def ask(self, method: str, path: str, body: bytes = b"", **headers: str) -> http.client.HTTPResponse:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        named = {key.replace("_", "-"): value for key, value in headers.items()}
        connection.request(method, path, body or None, named)
        answer = connection.getresponse()
        answer.text = answer.read().decode("utf-8", "replace")
        connection.close()
        return answer

    def call(self, body: bytes) -> http.client.HTTPResponse:
        return self.ask("POST", CALL, body, Cookie=self.cookie, Content_Type="application/json")

    def say(self, sent: bytes) -> bytes:
        """The answer to bytes as they are, until the server closes."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=60) as line:
            line.sendall(sent)
            return b"".join(iter(lambda: line.recv(65_536), b""))


@contextlib.contextmanager
def running(folder: Path, **choices: int) -> Iterator[Served]:
    app = make_app(folder)
    listening = server.listen(app.server, port=0, **choices)
    thread = threading.Thread(target=listening.run, daemon=True)
    thread.start()
    try:
        yield Served(listening.effective_port)
    finally:
        listening.task_dispatcher.shutdown()
        listening.close()
        app.server.extensions["sagline"].close()


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    with running(tmp_path_factory.mktemp("served") / "logbook") as found:
        yield found


@pytest.mark.parametrize(
    "key", ["9" * 5000, "9" * 20, "٣", "१२", "飛行", "🛩", "-1", "1e3", "%00", "d" * 9000]
)
def test_a_report_under_any_key_is_not_there(served, key):
    assert served.ask("GET", f"/reports/{quote(key)}.html").status == 404


def test_a_cookie_beyond_ascii_is_of_an_earlier_run(served):
    for cookie in (f"{request_security.COOKIE}=täuschung", f"{request_security.COOKIE}=\xff\xfe"):
        answer = served.ask("POST", CALL, b"{}", Cookie=cookie, Content_Type="application/json")
        assert (answer.status, "earlier run" in answer.text) == (403, True)


@pytest.mark.parametrize("body", NO_CALLS)
def test_json_that_is_no_call_is_refused_as_such(served, body):
    answer = served.call(body.encode("utf-8"))
    assert answer.status == 400
    assert "Traceback" not in answer.text
    assert (
        served.ask(
            "POST", "/logs", body.encode(), Cookie=served.cookie, Content_Type="application/json"
        ).status
        == 400
    )


def test_json_of_brackets_without_end_is_refused(served):
    assert served.call(b"[" * 200_000).status == 400


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        (b"nonsense\r\n\r\n", b"400"),
        (b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: many\r\n\r\n", b"400"),
        ((b"GET / HTTP/1.1\r\nX: " + b"a" * LONGEST_HEADER)[:LONGEST_HEADER], b"431"),
        (b"POST /logs HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 99999999999\r\n\r\n", b"413"),
        (b"POST /logs HTTP/1.1\r\nTransfer-Encoding: odd\r\n\r\n", b"501"),
    ],
    ids=["no request", "no length", "long header", "large body", "odd encoding"],
)
def test_errors_of_the_server_library_carry_the_headers_of_any_answer(served, sent, status):
    head, _, body = served.say(sent).partition(b"\r\n\r\n")
    assert head.split()[1] == status
    for name, value in request_security.HEADERS:
        assert f"{name}: {value}".lower() in head.decode().lower()
    assert b"content-security-policy: default-src 'none'" in head.lower()
    assert b"text/plain" in head
    assert body.count(b"\n") == 1


@pytest.mark.parametrize("path", ["/", "/reports/none.html", "/assets/none.js", "/_dash-layout", "/logs"])
def test_answers_of_the_app_carry_them_once(served, path):
    answer = served.ask("GET", path)
    for name, value in request_security.HEADERS:
        assert answer.headers.get_all(name) == [value]


@pytest.mark.parametrize("name", ["🛩" * 80 + ".csv", "é" * 300 + ".csv", "x." + "🛩" * 79, "🛩" * 200])
def test_a_name_is_kept_within_what_a_file_system_takes_in_bytes(tmp_path, name):
    kept = safe_name(name)
    assert 0 < len(kept.encode()) <= 200
    (tmp_path / kept).write_text("kept")
    assert kept.endswith(".csv") == name.endswith(".csv")


def test_a_log_called_by_emoji_is_taken(served):
    name = ("🛩" * 80).encode() + b".csv"
    log = (SAMPLES / "maiden.csv").read_bytes()[:4000]
    head = b'--b\r\nContent-Disposition: form-data; name="logs"; filename="' + name + b'"\r\n\r\n'
    answer = served.ask(
        "POST",
        "/logs",
        head + log + b"\r\n--b--\r\n",
        Cookie=served.cookie,
        Content_Type="multipart/form-data; boundary=b",
    )
    assert answer.status == 200
    assert json.loads(answer.text)["jobs"]


def test_an_idle_connection_is_closed_and_so_is_one_that_never_ends_its_request(tmp_path):
    with running(tmp_path / "logbook", idle_s=1) as served:
        lines = [socket.create_connection(("127.0.0.1", served.port), timeout=60) for _ in range(20)]
        for line in lines[::2]:
            line.sendall(b"GET / HTTP/1.1\r\nHost: 127.0")
        # a socket that stays open would end the wait with TimeoutError
        assert [line.recv(1) for line in lines] == [b""] * 20
        assert served.ask("GET", "/").status == 200
        for line in lines:
            line.close()


@pytest.mark.skipif(os.name == "nt", reason="folders of Windows have no modes")
def test_folders_are_for_their_owner_alone(tmp_path):
    before = os.umask(0o022)
    try:
        app = make_app(tmp_path / "logbook")
        workspace = app.server.extensions["sagline"]
        workspace.use_sheet(read_sheet(SAMPLES / "saltmarsh_mail.toml"), save=True)
        place = workspace.drops.place()
        workspace.book.keep([SAMPLES / "bench_runup.csv"])
    finally:
        os.umask(before)
    made = [tmp_path / "logbook", place, *(p for p in (tmp_path / "logbook").iterdir() if p.is_dir())]
    assert {stat.S_IMODE(p.stat().st_mode) for p in made} == {0o700}
    workspace.close()


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such signals")
@pytest.mark.parametrize("sign", [signal.SIGTERM, signal.SIGHUP, signal.SIGINT], ids=lambda s: s.name)
def test_copies_of_dropped_logs_go_when_the_server_is_told_to_end(tmp_path, sign):
    code = "from pathlib import Path; from dashboard import app; "
    code += "app.serve(Path('book'), port=0, open_browser=False)"
    surroundings = os.environ | {"TMPDIR": str(tmp_path), "PYTHONPATH": str(Path(__file__).parents[2])}
    process = subprocess.Popen(
        [sys.executable, "-c", code], cwd=tmp_path, env=surroundings, stdout=subprocess.PIPE, text=True
    )
    try:
        served = Served(int(process.stdout.readline().split("127.0.0.1:")[1].split("/")[0]))
        log = (SAMPLES / "bench_runup.csv").read_bytes()
        head = b'--b\r\nContent-Disposition: form-data; name="logs"; filename="a.csv"\r\n\r\n'
        answer = served.ask(
            "POST",
            "/logs",
            head + log + b"\r\n--b--\r\n",
            Cookie=served.cookie,
            Content_Type="multipart/form-data; boundary=b",
        )
        assert answer.status == 200
        assert list(tmp_path.glob("sagline-*/*/*/a.csv"))
        process.send_signal(sign)
        assert process.wait(60) == 0
    finally:
        process.kill()
        process.stdout.close()
    assert not list(tmp_path.glob("sagline-*"))


def dropped(drops: Drops, count: int) -> list[str]:
    """So many logs dropped one after another, each read to its end."""
    found = []
    for number in range(count):
        path = drops.place() / f"{number}.csv"
        path.write_bytes((SAMPLES / "bench_runup.csv").read_bytes())
        (job,) = drops.add([[DroppedFile(path.name, path)]])
        found.append(job.id)
        for thread in threading.enumerate():
            if thread.name == f"read-{job.id}":
                thread.join(120)
    return found


def test_dropped_logs_are_held_up_to_a_number_and_the_oldest_are_let_go_and_named():
    drops = Drops(lambda traces: (review(traces[0]), None), most_jobs=2)
    names = dropped(drops, 4)
    assert [job.id for job in drops.all()] == names[:1:-1]
    assert [job.state for job in drops.all()] == ["done", "done"]
    assert drops.let_go() == ("0.csv", "1.csv")
    assert sorted(p.name for p in drops.place().parent.rglob("*.csv")) == ["2.csv", "3.csv"]
    drops.close()


def test_dropped_logs_are_held_up_to_a_size_but_the_latest_always():
    drops = Drops(lambda traces: (review(traces[0]), None), most_bytes=1)
    names = dropped(drops, 2)
    assert [job.id for job in drops.all()] == names[1:]
    drops.close()


def test_the_page_says_which_logs_are_no_longer_held(tmp_path):
    app = make_app(tmp_path / "logbook")
    workspace = app.server.extensions["sagline"]
    workspace.drops._most = (1, 1 << 30)
    dropped(workspace.drops, 2)
    with app.server.test_request_context():
        from dashboard.pages.bring_in import layout

        page = json.dumps(layout().to_plotly_json(), default=lambda part: part.to_plotly_json())
    assert "No longer held, to make room for later logs: 0.csv. Drop them again" in page
    workspace.close()
