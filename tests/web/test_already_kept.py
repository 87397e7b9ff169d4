"""The same lick is kept once, on every page and in the API, unless a second one is asked for."""

import re
from html import unescape

import pytest

from linewright.store import Query


def count(library):
    return library.search(Query()).total


def sent_again(client, html):
    """Press the button that keeps a second one."""
    action = re.search(r'<form method="post" action="([^"]+)" enctype', html)[1]
    pairs = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', html)
    return client.post(action, data={n: unescape(v) for n, v in pairs}, follow_redirects=False)


def is_told(answer):
    assert answer.status_code == 409
    assert "already kept as <a href=" in answer.text
    assert "Keep a second one anyway" in answer.text
    return answer.text


@pytest.mark.parametrize("way", ["text", "file"])
def test_bringing_the_same_lick_in_twice(client, library, porch_text, way):
    def bring():
        if way == "text":
            data = {"text": porch_text, "do": "keep", "tags": "a, b"}
            return client.post("/new/text", data=data, follow_redirects=False)
        files = {"file": ("porch.tab", porch_text.encode())}
        return client.post(
            "/new/file", files=files, data={"do": "keep", "tags": "a, b"}, follow_redirects=False
        )

    assert bring().status_code == 303
    html = is_told(bring())
    assert count(library) == 1
    assert 'href="/licks/1"' in html
    second = sent_again(client, html)
    assert second.headers["location"] == "/licks/2"
    one, two = library.get(1).lick, library.get(2).lick
    assert (one.notes, one.tags) == (two.notes, two.tags)


def test_another_title_is_another_lick(client, library, porch, porch_text):
    data = {"text": porch_text, "do": "keep", "title": "Another name"}
    assert client.post("/new/text", data=data, follow_redirects=False).status_code == 303
    assert count(library) == 2


@pytest.mark.parametrize(("page", "wishes"), [("lines", "seed=3"), ("move", "key=A")])
def test_keeping_the_same_line_or_move_twice(client, library, porch, page, wishes):
    def again():
        return client.post(f"/licks/1/{page}/keep", data={"wishes": wishes}, follow_redirects=False)

    assert again().status_code == 303
    html = is_told(again())
    assert count(library) == 2
    assert sent_again(client, html).status_code == 303
    assert count(library) == 3


def test_the_api_refuses_a_second_one_unless_asked(client, library, porch_text):
    body = {"text": porch_text}
    assert client.post("/api/licks", json=body).status_code == 201
    refused = client.post("/api/licks", json=body)
    assert refused.status_code == 409
    error = refused.json()["error"]
    assert (error["kind"], error["options"]) == ("kept", ["1"])
    assert "already kept as number 1, Porch step" in error["message"]
    assert client.post("/api/licks", json={**body, "again": True}).status_code == 201
    files = {"file": ("p.tab", porch_text.encode())}
    assert client.post("/api/files", files=files).status_code == 409
    done = client.post("/api/files", files=files, data={"again": "true"})
    assert (done.status_code, done.json()["kept"]) == (201, [3])
    assert count(library) == 3


def test_a_book_brings_what_is_new(client, library):
    book = b"X:1\nT:One\nK:C\nCDEF|\n\nX:3\nT:Three\nK:D\nDEFA|\n"
    files = {"file": ("book.abc", book)}
    client.post("/api/files", files=files, data={"number": "1"})
    done = client.post("/api/files", files=files).json()
    assert (done["kept"], done["already"]) == ([2], [1])
