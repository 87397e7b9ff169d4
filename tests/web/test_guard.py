"""Who may ask, how much they may send, what a page may do."""

import pytest
from fastapi.testclient import TestClient

from linewright.store import Query
from linewright.web import guard
from linewright.web.app import create_app


@pytest.mark.parametrize(
    "host", ["127.0.0.1:8765", "localhost", "localhost:1", "[::1]:8765", "192.168.1.5:8765"]
)
def test_addresses_and_localhost_are_served(client, host):
    assert client.get("/", headers={"host": host}).status_code == 200


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example:8765", "", "a b", "["])
def test_other_names_are_refused(client, host):
    answer = client.get("/api/licks", headers={"host": host})
    assert answer.status_code == 403
    assert "not served under the name" in answer.json()["error"]["message"]


def test_a_name_given_at_the_start_is_served(library):
    app = create_app(library, hosts=("studio",))
    with TestClient(app, base_url="http://studio:8765") as client:
        assert client.get("/").status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:9999"},
        {"origin": "http://127.0.0.1:8765", "sec-fetch-site": "cross-site"},
    ],
)
def test_changes_asked_for_by_other_sites_are_refused(client, library, porch, headers):
    answer = client.post(f"/licks/{porch.id}/delete", headers=headers)
    assert answer.status_code == 403
    assert "another site" in answer.text
    assert client.delete(f"/api/licks/{porch.id}", headers=headers).status_code == 403
    assert library.search(Query()).total == 1


def test_our_own_pages_may_change_things(client, porch):
    headers = {"origin": "http://127.0.0.1:8765", "sec-fetch-site": "same-origin"}
    answer = client.post(f"/licks/{porch.id}/delete", headers=headers, follow_redirects=False)
    assert answer.status_code == 303


@pytest.mark.parametrize("path", ["/", "/new", "/static/linewright.css", "/nowhere", "/api/docs"])
def test_every_answer_carries_the_safety_headers(client, path):
    headers = client.get(path).headers
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "script-src 'self'" in policy
    assert "unsafe" not in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["x-frame-options"] == "DENY"


def test_a_declared_size_past_the_limit_is_refused(client, monkeypatch):
    monkeypatch.setattr(guard, "MAX_UPLOAD_BYTES", 1000)
    answer = client.post("/api/preview", json={"text": "x" * 2000})
    assert answer.status_code == 413
    error = answer.json()["error"]
    assert error["message"] == "the upload is too large"
    assert "MB" in error["accepted"]


@pytest.mark.parametrize("path", ["/api/preview", "/new/file", "/api/files"])
def test_a_stream_is_counted_as_it_comes(client, monkeypatch, path):
    monkeypatch.setattr(guard, "MAX_UPLOAD_BYTES", 100_000)
    boundary = b"--b\r\ncontent-disposition: form-data; name=file; filename=x\r\n\r\n"
    sent = []

    def chunks():
        yield boundary
        for _ in range(100):
            sent.append(1)
            yield b"x" * 10_000

    kind = "application/json" if path == "/api/preview" else "multipart/form-data; boundary=b"
    answer = client.post(path, content=chunks(), headers={"content-type": kind})
    assert answer.status_code == 413
    assert "too large" in answer.text


def test_a_50_mb_upload_is_refused_in_words(client):
    data = b"X:1\nK:C\n" + b"C" * 50_000_000
    answer = client.post("/new/file", files={"file": ("big.abc", data)})
    assert answer.status_code == 413
    assert "The upload is too large" in answer.text


def test_static_files_stay_in_their_folder(client):
    for path in ("/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2f..%2fapp.py"):
        assert client.get(path).status_code == 404
