"""Pasted ABC may be guitar music in the treble clef, which sounds an octave lower (common practice)."""

import pytest

ABC = "X:1\nT:Gate\nM:4/4\nL:1/8\nK:G\nGABd gedB|G8|\n"


def heights(client, path, key="notes", **more):
    body = client.post(path, json={"text": ABC, **more})
    assert body.status_code in (200, 201), body.text
    found = body.json()
    return [note["midi"] for note in found.get("lick", found)[key]]


@pytest.mark.parametrize(("path", "more"), [("/api/analyze", {}), ("/api/move", {"by_beats": "1"})])
def test_texts_of_the_api_sound_an_octave_lower(client, path, more):
    written = heights(client, path, **more)
    lower = heights(client, path, octave="guitar", **more)
    assert lower == [height - 12 for height in written]


def test_a_kept_text_and_a_line_on_a_text(client, library):
    client.post("/api/licks", json={"text": ABC, "octave": "guitar"})
    assert library.get(1).lick.notes[0].midi == 55  # G3
    line = client.post("/api/line", json={"text": ABC, "octave": "guitar"})
    assert min(note["midi"] for note in line.json()["notes"]) < 67


def test_a_tab_or_another_word_is_refused(client, porch_text):
    tab = client.post("/api/preview", json={"text": porch_text, "octave": "guitar"})
    assert tab.status_code == 400
    assert tab.json()["error"]["accepted"].startswith("Leave the octave out")
    assert client.post("/api/preview", json={"text": ABC, "octave": "low"}).status_code == 422


def test_the_page_keeps_it_and_shows_the_choice_again(client, library):
    form = {"text": ABC, "octave": "guitar"}
    shown = client.post("/new/text", data={**form, "do": "show"})
    assert '<option value="guitar" selected>' in shown.text
    assert "octave lower than written" in shown.text
    client.post("/new/text", data={**form, "do": "keep"}, follow_redirects=False)
    assert library.get(1).lick.notes[0].midi == 55
    refused = client.post("/new/text", data={**form, "octave": "low", "do": "keep"})
    assert refused.status_code == 400
    assert "Use written or guitar" in refused.text
