"""Whatever is sent, the answer is one of our own: never a 5xx, never a traceback."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linewright.store import Query
from samples import PORCH

relaxed = settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
broken = st.one_of(
    st.text(max_size=300),
    st.tuples(st.integers(0, len(PORCH)), st.text(max_size=3)).map(
        lambda cut: PORCH[: cut[0]] + cut[1] + PORCH[cut[0] + 1 :]
    ),
    st.text("eBGDA|-0123hp/\\~xb \n", max_size=300).map(lambda t: "e|" + t),
    st.text("ABCDEFGabcdefg|:[]()<>{}_^=/,'0123\" \n", max_size=200).map(
        lambda t: f"X:1\nK:C\n{t}"
    ),
)


@relaxed
@given(text=broken)
def test_any_text_is_answered(client, text):
    answer = client.post("/api/preview", json={"text": text})
    assert answer.status_code < 500, answer.text
    if answer.status_code >= 400:
        assert answer.json()["error"]["message"]


@relaxed
@given(data=st.binary(max_size=400), name=st.text(max_size=20))
def test_any_file_is_answered(client, data, name):
    answer = client.post("/new/file", files={"file": (name or "x", data)})
    assert answer.status_code < 500
    assert "Traceback" not in answer.text


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\0" * 1000,
        b"MThd\0\0\0\6\0\1\0\1",
        b"PK\x03\x04broken",
        b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaa"><!ENTITY b "&a;&a;">]><x>&b;</x>',
        b"<" + b"a>" * 5000,
        b"X:1\nK:C\n" + b"[" * 5000,
        "X:1\nT:\ud83c\udfb8".encode("utf-16", "surrogatepass"),
        b'{"linewright": 1}',
    ],
)
def test_broken_files_are_refused_and_nothing_is_kept(client, library, data):
    for path in ("/new/file", "/api/files"):
        answer = client.post(path, files={"file": ("x.bin", data)}, data={"do": "keep"})
        assert 400 <= answer.status_code < 500, answer.text
    assert library.search(Query()).total == 0


@pytest.mark.parametrize(
    "form",
    [
        {"carried": "***", "filename": "x"},
        {"carried": "", "filename": "x"},
        {"carried": "WDoxCks6QwpDREVG", "filename": "x.abc", "track": "many"},
        {"carried": "WDoxCks6QwpDREVG", "filename": "x.abc", "bars": "9-1"},
        {"carried": "WDoxCks6QwpDREVG", "filename": "x.abc", "file_tonic": "H"},
        {"carried": "WDoxCks6QwpDREVG", "filename": "x.abc", "tune": "77"},
        {},
    ],
)
def test_forms_made_by_hand_are_checked(client, form):
    answer = client.post("/new/file", data=form)
    assert 400 <= answer.status_code < 500
    assert "<h1>" in answer.text


def test_numbers_of_a_book_have_to_be_numbers(client):
    form = {"carried": "WDoxCks6QwpDREVG", "filename": "x.abc", "number": ["1", "two"]}
    assert client.post("/new/book", data=form).status_code == 400


@pytest.mark.parametrize("query", ["?offset=-1", "?offset=x", "?q=" + "x" * 600, "?sort=%00"])
def test_addresses_made_by_hand_are_checked(client, query):
    assert 400 <= client.get("/" + query).status_code < 500
