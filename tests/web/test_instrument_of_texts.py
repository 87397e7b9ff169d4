"""ABC does not say what it is played on: the pages and the API ask."""

import re

import pytest

ABC = 'X:1\nT:Gravel Lane\nM:4/4\nL:1/8\nK:D\n"D"A2FA dAFA|"A7"GFEC "D"D4|]\n'
BOOK = "X:1\nT:One\nK:D\nDEFA|\n\nX:2\nT:Two\nK:G\nGABd|\n"
#: First position of a mandolin, open strings G D A E: A is the open second string, D the open
#: third, F sharp the fourth fret of it (common practice).
FIRST = {"A4": (2, 0), "F#4": (3, 4), "D5": (2, 5), "E4": (3, 2), "D4": (3, 0)}


def places(lick):
    return {str(note.pitch): (note.string, note.fret) for note in lick.notes}


def test_a_typed_abc_is_laid_out_for_the_instrument_chosen(client, library):
    form = {"text": ABC, "instrument": "mandolin"}
    shown = client.post("/new/text", data={**form, "do": "show"})
    assert '<option value="mandolin" selected>' in shown.text
    client.post("/new/text", data={**form, "do": "keep"}, follow_redirects=False)
    kept = library.get(1).lick
    assert kept.instrument.name == "mandolin"
    assert places(kept).items() >= FIRST.items()


def test_without_one_it_is_for_a_guitar(client, library):
    client.post("/new/text", data={"text": ABC, "do": "keep"}, follow_redirects=False)
    assert library.get(1).lick.instrument.name == "guitar"


def test_one_nobody_knows_is_told_and_shown_again(client, library):
    refused = client.post("/new/text", data={"text": ABC, "instrument": "kazoo", "do": "keep"})
    assert refused.status_code == 400
    assert "kazoo" in refused.text
    assert "mandolin" in refused.text
    assert '<option value="kazoo" selected>' in refused.text


def test_a_tune_book_is_laid_out_for_the_instrument_chosen(client, library):
    listed = client.post("/new/file", files={"file": ("book.abc", BOOK.encode())},
                         data={"octave": "guitar"})  # fmt: skip
    assert '<option value="mandolin">' in listed.text
    assert '<option value="guitar" selected>an octave lower' in listed.text  # not lost on the way
    carried = re.search(r'name="carried" value="([^"]+)"', listed.text)[1]
    form = {"carried": carried, "filename": "book.abc", "all": "1"}
    assert client.post("/new/book", data={**form, "instrument": "kazoo"}).status_code == 400
    done = client.post("/new/book", data={**form, "instrument": "mandolin"})
    assert done.status_code == 200
    assert {library.get(number).lick.instrument.name for number in (1, 2)} == {"mandolin"}


@pytest.mark.parametrize("path", ["/api/analyze", "/api/line"])
def test_texts_of_the_api(client, path):
    body = client.post(path, json={"text": ABC, "instrument": "mandolin"}).json()
    notes = body.get("lick", body)["notes"]
    assert max(note["string"] for note in notes) <= 4
    assert client.post(path, json={"text": ABC, "instrument": "kazoo"}).status_code == 400


def test_files_of_the_api(client, library):
    sent = client.post("/api/files", files={"file": ("book.abc", BOOK.encode())},
                       data={"instrument": "mandolin"})  # fmt: skip
    assert sent.status_code == 201
    assert library.get(1).lick.instrument.name == "mandolin"


def test_a_wrong_field_of_the_review_is_said_there_and_nothing_typed_is_lost(client, library):
    asked = {"title": "Lane", "tags": "week 3", "instrument": "kazoo", "bars": "1-1", "do": "keep"}
    refused = client.post(
        "/new/file", files={"file": ("lane.abc", ABC.encode())}, data=asked, follow_redirects=False
    )
    assert refused.status_code == 400
    assert "no instrument is called" in refused.text.lower()
    assert "It is not kept yet" in refused.text
    for value in ("Lane", "week 3", "kazoo", "1-1"):
        assert f'value="{value}"' in refused.text
    carried = re.search(r'name="carried" value="([^"]+)"', refused.text)[1]
    mended = {**asked, "instrument": "mandolin", "carried": carried, "filename": "lane.abc"}
    client.post("/new/file", data=mended, follow_redirects=False)
    assert library.get(1).lick.instrument.name == "mandolin"
    assert library.get(1).lick.title == "Lane"
