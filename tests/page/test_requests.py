"""Hostile and stray requests are refused; a page's own are answered."""

from __future__ import annotations

import json
import re
import socket
from pathlib import Path

import pytest
from page_help import OUTSIDE

POSTS = ("edit", "try", "undo", "redo", "plan", "stop", "sweep", "sweep/stop")


def own(page, **changed):
    headers = {"host": page.host, "origin": f"http://{page.host}", "content-type": "application/json"}
    return {k: v for k, v in (headers | changed).items() if v is not None}


def test_only_this_computer_is_listened_to(page):
    port = int(page.host.rsplit(":", 1)[1])
    inside = {
        line.split()[1] for line in Path("/proc/net/tcp").read_text().splitlines() if line.split()[3] == "0A"
    }
    mine = [address for address in inside if address.endswith(f":{port:04X}")]
    assert mine == [f"0100007F:{port:04X}"]


def test_the_page_and_its_parts_are_served_with_strict_headers(page):
    for part in (
        "",
        "state",
        "static/page.js",
        "static/pictures/member.js",
        "font/SourceSansPro-Regular.otf",
    ):
        status, headers, _ = page.raw("GET", f"/{page.word}/{part}")
        assert status == 200, part
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "script-src 'self';" in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "no-referrer"
        assert "access-control-allow-origin" not in headers


def test_the_page_asks_at_once_for_all_modules_it_begins_with(page):
    html = page.raw("GET", f"/{page.word}/")[2].decode()
    at_once = set(re.findall(r'rel="modulepreload" href="static/(\w+\.js)"', html))
    needed, unread = set(), ["page.js"]
    while unread:
        name = unread.pop()
        needed.add(name)
        text = page.raw("GET", f"/{page.word}/static/{name}")[2].decode()
        unread += {f for f in re.findall(r'from "\./(\w+\.js)"', text) if f not in needed}
    assert at_once == needed - {"page.js"}


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:80", "127.0.0.1", "0.0.0.0:{port}", "[::1]:{port}", ""]
)
def test_another_host_is_refused(page, host):
    port = page.host.rsplit(":", 1)[1]
    status, _, body = page.raw("GET", f"/{page.word}/state", {"host": host.format(port=port)})
    assert status == 421 or (status == 400 and host == "")
    assert page.word.encode() not in body
    assert page.raw("GET", f"/{page.word}/state", {})[0] in (400, 421)


@pytest.mark.parametrize(
    "path", ["/", "/state", "//state", "/wrong/state", "/{word}x/state", "/./{word}/state", "/%00/state"]
)
def test_without_the_word_there_is_nothing(page, path):
    status, _, body = page.raw("GET", path.format(word=page.word))
    assert status == 404
    assert body == b"there is nothing here"


@pytest.mark.parametrize("path", OUTSIDE)
def test_no_path_leads_outside(page, path):
    status, _, body = page.raw("GET", f"/{page.word}/{path}")
    assert status == 404, body[:80]
    assert b"import" not in body
    assert b"root:" not in body


@pytest.mark.parametrize("what", POSTS)
@pytest.mark.parametrize(
    ("changed", "status"),
    [
        ({"origin": None}, 403),
        ({"origin": "null"}, 403),
        ({"origin": "http://evil.example"}, 403),
        ({"origin": "http://127.0.0.1:1"}, 403),
        ({"sec-fetch-site": "cross-site"}, 403),
        ({"sec-fetch-site": "same-site"}, 403),
        ({"content-type": "text/plain"}, 415),
        ({"content-type": "application/x-www-form-urlencoded"}, 415),
        ({"content-type": None}, 415),
    ],
)
def test_a_post_from_elsewhere_changes_nothing(page, what, changed, status):
    before = page.job.read_bytes()
    body = json.dumps({"digest": page.state()["digest"]}).encode()
    assert page.raw("POST", f"/{page.word}/{what}", own(page, **changed), body)[0] == status
    assert page.job.read_bytes() == before


def test_a_frame_or_link_of_another_page_gets_nothing(page):
    status, _, _ = page.raw("GET", f"/{page.word}/state", {"host": page.host, "sec-fetch-site": "cross-site"})
    assert status == 403


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "PATCH", "TRACE"])
def test_other_methods_are_refused(page, method):
    assert page.raw(method, f"/{page.word}/edit", own(page))[0] == 405


def test_a_get_changes_nothing(page):
    for what in POSTS:
        assert page.raw("GET", f"/{page.word}/{what}")[0] == 405


def test_large_bodies_are_refused_however_they_are_sent(page):
    large = b'{"digest": "' + b"x" * 70_000 + b'"}'
    assert page.raw("POST", f"/{page.word}/edit", own(page), large)[0] == 413
    host, port = page.host.split(":")
    with socket.create_connection((host, int(port)), timeout=20) as wire:
        head = "".join(f"{k}: {v}\r\n" for k, v in (own(page) | {"transfer-encoding": "chunked"}).items())
        wire.sendall(f"POST /{page.word}/edit HTTP/1.1\r\n{head}\r\n".encode())
        for _ in range(10):
            wire.sendall(b"2000\r\n" + b" " * 0x2000 + b"\r\n")
        wire.sendall(b"0\r\n\r\n")
        assert wire.recv(200).startswith(b"HTTP/1.1 413")


@pytest.mark.parametrize(
    "data",
    [
        [],
        {"digest": 3},
        {"digest": "x", "changes": []},
        {"digest": "x", "changes": [{"file": "job", "path": ["a"]}]},
        {"digest": "x", "changes": [{"file": "job", "path": ["a b"], "value": 1}]},
        {"digest": "x", "changes": [{"file": "job", "path": ["a\nb"], "value": 1}]},
        {"digest": "x", "changes": [{"file": "job", "path": [-1, "a"], "value": 1}]},
        {"digest": "x", "changes": [{"file": "job", "path": [True], "value": 1}]},
        {"digest": "x", "changes": [{"file": "job", "path": ["a"], "value": {"b": 1}}]},
        {"digest": "x", "changes": [{"file": 1, "path": ["a"], "value": 1}]},
        {"digest": "x", "changes": [{"file": "job", "path": ["a"], "value": 1}] * 21},
    ],
)
def test_nonsense_is_refused_in_words(page, data):
    for what in ("edit", "try"):
        status, words = page.post(what, data)
        assert status == 400
        assert isinstance(words, str)
        assert words


def test_text_that_is_no_json_is_refused(page):
    for body in (b"", b"{", b"[" * 20_000, b"\xff\xfe"):
        assert page.raw("POST", f"/{page.word}/edit", own(page), body)[0] == 400


def test_a_stale_edit_is_refused_with_the_state_as_it_is(page):
    change = {"file": "job", "path": ["field", 0, "skin"], "value": 2.0}
    before = page.job.read_bytes()
    status, reply = page.post("edit", {"digest": "of another time", "changes": [change]})
    assert status == 200
    assert reply["refused"] == "stale"
    assert reply["state"]["digest"] == page.state()["digest"]
    assert page.job.read_bytes() == before


def test_values_the_job_would_refuse_are_not_written(page):
    state = page.until(lambda s: s["good"] == s["digest"])
    before = page.job.read_bytes()
    for value, words in ((-1.0, "out of range"), ("wide", "skin"), (1e999, "finite")):
        body = json.dumps(
            {
                "digest": state["digest"],
                "changes": [{"file": "job", "path": ["field", 0, "skin"], "value": value}],
            }
        )
        status, _, reply = page.raw("POST", f"/{page.word}/edit", own(page), body.encode())
        assert status == 200
        assert json.loads(reply)["refused"] == "bad"
        assert words in json.loads(reply)["message"]
    assert page.job.read_bytes() == before
