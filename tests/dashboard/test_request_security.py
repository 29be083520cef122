"""What other pages and other machines may not do to a page served on this one.

Written from the concerns of OWASP ASVS 5.0, chapters 3 (web front end), 5 (files) and 13 (configuration).
"""

import io
import re

import pytest

from dashboard import request_security
from dashboard.app import make_app
from dashboard.routes import safe_name

OURS = "http://127.0.0.1:8060"


@pytest.fixture
def client(tmp_path):
    app = make_app(tmp_path / "logbook")
    with app.server.test_client() as client:
        client.get("/", base_url=OURS)
        yield client
    app.server.extensions["sagline"].close()


def post(client, path="/logs", *, base_url=OURS, origin=OURS, **more):
    headers = {"Origin": origin} if origin else {}
    return client.post(path, base_url=base_url, headers=headers, **more)


def test_a_name_that_resolves_here_by_rebinding_is_refused(client):
    assert client.get("/", base_url="http://evil.example:8060").status_code == 400


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", "http://127.0.0.1:9999", "https://127.0.0.1:8060"]
)
def test_a_foreign_page_may_not_write(client, origin):
    assert post(client, data={"logs": (io.BytesIO(b"a"), "a.csv")}, origin=origin).status_code == 403
    assert post(client, "/_dash-update-component", json={}, origin=origin).status_code == 403


def test_a_foreign_page_may_not_read(client):
    assert (
        client.get(
            "/_dash-layout",
            base_url=OURS,
            headers={"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors"},
        ).status_code
        == 403
    )
    assert (
        "Access-Control-Allow-Origin"
        not in client.get("/_dash-layout", base_url=OURS, headers={"Origin": OURS}).headers
    )


def test_nothing_is_written_without_the_token_of_this_run(client):
    client.delete_cookie(request_security.COOKIE, domain="127.0.0.1")
    assert post(client, data={"logs": (io.BytesIO(b"a"), "a.csv")}).status_code == 403


def test_plain_text_is_no_form(client):
    assert post(client, data="a=b", content_type="text/plain").status_code == 415


def test_getting_changes_nothing(client):
    assert client.get("/logs", base_url=OURS).headers["Content-Type"].startswith("text/html"), (
        "the page, not the upload"
    )


def test_too_large_is_refused_before_it_is_read(client):
    too_long = {"CONTENT_LENGTH": str(request_security.LARGEST_BODY_BYTES + 1)}
    answer = post(
        client, data=b"x", content_type="multipart/form-data; boundary=x", environ_overrides=too_long
    )
    assert answer.status_code == 413


@pytest.mark.parametrize("path", ["/", "/logs", "/reports/none.html", "/assets/none.js", "/_dash-layout"])
def test_every_response_carries_its_policy(client, path):
    for answer in (client.get(path, base_url=OURS), post(client, path, origin="null", json={})):
        policy = answer.headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert "unsafe-eval" not in policy
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Referrer-Policy"] == "no-referrer"


def test_no_response_shows_a_trace(client):
    call = {"output": "nowhere.children", "inputs": []}
    answer = post(client, "/_dash-update-component", json=call)
    assert answer.status_code == 500
    assert b"Traceback" not in answer.data
    assert b".py" not in answer.data


def test_the_page_asks_no_foreign_host_for_a_script(client):
    page = client.get("/", base_url=OURS).get_data(as_text=True)
    assert re.findall(r'(?:src|href)="(https?:)?//', page) == []


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("../../etc/passwd", "passwd"),
        ("C:\\logs\\maiden.csv", "maiden.csv"),
        ("a\x00b.csv", "a_b.csv"),
        ("CON", "_CON"),
        ("nul.csv", "_nul.csv"),
        ("", "log.csv"),
        ("..", "log.csv"),
        ("<script>.csv", "_script_.csv"),
        ("Flug Nr. 3 – Öl.csv", "Flug Nr. 3 – Öl.csv"),
    ],
)
def test_a_file_name_never_makes_a_path(given, kept):
    assert safe_name(given) == kept


def test_a_long_file_name_keeps_its_ending():
    assert safe_name("x" * 300 + ".csv") == "x" * 76 + ".csv"


def test_no_file_and_too_many_files_are_refused_in_a_sentence(client):
    assert (
        b"No file came with this."
        in post(client, data={"together": "no"}, content_type="multipart/form-data").data
    )
    many = {"logs": [(io.BytesIO(b"a"), f"{i}.csv") for i in range(41)]}
    assert post(client, data=many).status_code == 413


@pytest.mark.parametrize(
    "body", [b"{}", b"[]", b"not json", b'{"fields": 3}', b'{"fields": {"header.0": 1}}']
)
def test_what_is_no_form_about_columns_is_refused_in_a_line(client, body):
    answer = post(client, "/effects", data=body, content_type="application/json")
    assert answer.status_code == 400
    assert answer.data.count(b"\n") == 1


def test_a_form_about_a_log_that_is_not_held_tells_nothing(client):
    fields = {"header.0": "<b>", "quantity.0": "current_a", "place.0": "tail", "unit.0": "furlong"}
    sent = {"job": "d9", "file": "../../etc/passwd", "fields": fields}
    assert post(client, "/effects", json=sent).json == {"columns": {}, "log": [], "error": ""}


def test_only_our_own_page_asks_what_an_answer_would_change(client):
    assert post(client, "/effects", origin="http://evil.example", json={"fields": {}}).status_code == 403


def test_files_that_are_no_logs_are_named_and_not_sent(client):
    form = {"other": ["field.jpg", "..\\..\\list.xlsx", "log.csv"], "batch": "1", "count": "x"}
    answer = post(client, data=form, content_type="multipart/form-data")
    # log.csv could be a log, so its name alone is nothing
    assert len(answer.json["jobs"]) == 2
    many = {"other": [f"{n}.jpg" for n in range(41)]}
    assert post(client, data=many, content_type="multipart/form-data").status_code == 413
