"""Moving a lick by address alone, and by the JSON API."""

import re
from html import unescape

import pytest

from linewright.services.bring import bring_in
from linewright.services.shelf import keep

PAGE = "/licks/1/move"
MAJOR = b'X:1\nT:Gate\nM:4/4\nL:1/8\nK:C\n"C"CEGc BGE2|"F"FAcA "C"G2C2|\n'
#: Minor pentatonic, with the 3 hammered on from the b3.
SHUFFLE = """\
Key: G

   G7                D7
e|-----------------|-----------------|
B|-----3-6-3-------|-----------------|
G|-3h4-------5-3---|-3---------------|
D|---------------5-|---5-3-5---------|
A|-----------------|-----------------|
E|-----------------|-----------------|
"""


@pytest.fixture
def gate(library):
    return keep(library, bring_in(MAJOR))


def test_the_lick_page_leads_to_moving_it(client, gate):
    assert f'href="{PAGE}"' in client.get("/licks/1").text
    html = client.get(PAGE).text
    assert "Move it" in html
    assert "engraving" not in html


def test_the_page_names_what_changed_and_why(client, gate):
    html = client.get(f"{PAGE}?quality=minor&key=D").text
    assert len(re.findall(r'<svg[^>]* class="[^"]*engraving', html)) == 2
    assert "5 notes changed" in html
    assert "makes the chord minor" in html
    assert re.search(r'<option value="D" selected', html)
    address = unescape(re.search(r'href="([^"]*/file/abc\?[^"]*)"', html)[1])
    assert "K:Dm" in client.get(address).text
    assert "No note changes" in client.get(f"{PAGE}?quality=major").text


def test_a_lick_with_its_3_outside_the_frame_is_not_said_to_have_none(client, library):
    keep(library, bring_in(SHUFFLE.replace("G7", "  ").replace("D7", "  ").encode()))
    html = client.get(f"{PAGE}?quality=minor").text
    assert "No note changes" in html
    assert "neither a 3rd" not in html
    assert "its outside notes stay as the lick uses them" in html


def test_a_moved_lick_is_kept(client, gate, library):
    html = client.get(f"{PAGE}?key=A").text
    wishes = unescape(re.search(r'name="wishes" value="([^"]*)"', html)[1])
    answer = client.post(
        f"{PAGE}/keep", data={"wishes": wishes, "title": "Gate in A"}, follow_redirects=False
    )
    assert (answer.status_code, answer.headers["location"]) == (303, "/licks/2")
    assert library.get(2).lick.title == "Gate in A"
    assert library.get(2).lick.key.name == "A major"


@pytest.mark.parametrize(
    "query",
    [
        "key=H", "quality=blue", "position=x", "position=0", "position=99", "capo=99", "open=maybe",
        "instrument=kazoo", "tuning=%00", "by_beats=soon", "key=" + "C" * 300,
        "x=" + "y" * 3000, "octaves=9", "octaves=%2B-1", "key=%3Cscript%3E",
    ],
)  # fmt: skip
def test_addresses_made_by_hand_are_answered_in_words(client, gate, query):
    answer = client.get(f"{PAGE}?{query}")
    assert 400 <= answer.status_code < 500
    assert 'role="alert"' in answer.text
    assert "<script>" not in answer.text
    assert 400 <= client.get(f"{PAGE}/file/tab?{query}").status_code < 500
    assert 400 <= client.post(f"{PAGE}/keep", data={"wishes": query}).status_code < 500
    assert client.get("/licks/9/move").status_code == 404


def test_a_borrowed_3_goes_with_its_chord(client, library):
    keep(library, bring_in(SHUFFLE.encode()))
    html = client.get(f"{PAGE}?quality=minor&octaves=1").text
    assert "1 note changed" in html
    assert "The 3 of its chord becomes the b3, for that is minor now".replace("b3", "♭3") in html
    assert "an octave higher" in html


def test_the_api_moves_a_kept_lick_and_a_text(client, gate):
    body = client.get("/api/licks/1/move?quality=minor&by_beats=1").json()
    assert [c["after"] for c in body["changes"]] == ["b3", "b7", "b3", "b6", "b6"]
    assert body["notes"][0]["onset"] == "1"
    asked = {"text": MAJOR.decode(), "quality": "minor", "by_beats": "1"}
    assert client.post("/api/move", json=asked).json()["notes"] == body["notes"]
    for wrong, status in (
        ("", 400), ("position=0", 422), ("key=H", 400), ("colour=red", 422), ("capo=13", 422),
    ):  # fmt: skip
        answer = client.get(f"/api/licks/1/move?{wrong}")
        assert answer.status_code == status, answer.text
        assert answer.json()["error"]["message"]
