"""Takes by address alone, without scripts: brought, judged, listened to, ruled on, kept."""

import io
import re
from datetime import timedelta
from fractions import Fraction
from html import unescape

import pytest

from libraries import planned_library
from linewright.services.clock import now
from linewright.services.practising import give_plan, mark_step
from linewright.services.recording import recorded
from linewright.services.takes import Setting, add_piece, begin_take, keep_take
from linewright.services.tolerances import change_rules

BPM = 120


@pytest.fixture
def library(tmp_path):
    with planned_library(tmp_path / "library.db") as opened:
        yield opened


@pytest.fixture
def plan(library):
    change_rules(library, 1, 1, {"bpm": BPM, "bars": 2, "takes": 1}, by="the teacher")
    return library.plans.get(1)


@pytest.fixture
def midi(plan):
    """A take that needs no listening: an example line of the step itself."""
    return recorded(plan.sheet.steps[0].examples[0].lick, "mid", tempo=Fraction(BPM))


def bring(client, plan, data, name="take.mid", **fields):
    return client.post(
        f"/plans/{plan.id}/steps/1/takes",
        files={"file": (name, data)},
        data={"bpm": str(BPM), "start": "", **fields},
    )


def test_a_take_is_brought_and_judged_and_the_next_step_opens(client, plan, midi):
    page = unescape(client.get(f"/plans/{plan.id}/steps/1/take").text)
    assert "Step 1: " in page
    assert "0 of 1 take in a row at 120" in " ".join(
        page.replace("</strong>", "").replace("<strong>", "").split()
    )
    answer = bring(client, plan, midi, start="0")
    assert answer.status_code == 200
    text = unescape(answer.text)
    assert "Done at 120" in text
    assert "Step 1 is done." in text
    assert "Step 2 is open now." in text
    assert client.get(f"/plans/{plan.id}/steps/2/take").text.count("Record a take") == 2
    bring(client, plan, midi, start="0", bpm=str(BPM // 2))  # not clean: the step stays done
    again = unescape(client.get(f"/plans/{plan.id}/steps/1/take").text)
    assert "Step 1 is done." in again
    assert "the step is done with" not in again


def test_a_step_held_back_offers_nothing_to_record(client, plan, midi):
    page = client.get(f"/plans/{plan.id}/steps/3/take").text
    assert "held back by step 1" in page
    assert "data-recorder" not in page
    answer = client.post(
        f"/plans/{plan.id}/steps/3/takes",
        files={"file": ("t.mid", midi)},
        data={"bpm": "80", "start": ""},
    )
    assert answer.status_code == 400
    assert "held back" in answer.text


@pytest.mark.parametrize(
    ("data", "fields", "words"),
    [
        (b"", {}, "empty|no recording|Choose"),
        (b"RIFF\xff\xff\xff\xffWAVE", {}, "recording|sound"),
        (b"\x00" * 5000, {}, "recording"),
        (b"MThd", {}, "MIDI"),
        (b"x", {"bpm": "fast"}, "for the tempo"),
        (b"x", {"bpm": "5"}, "tempo of 5 a minute"),
        (b"x", {"start": "soon"}, "for the first beat"),
        (b"x", {"start": "nan"}, "for the first beat"),
    ],
)
def test_what_cannot_be_judged_is_said_and_what_was_typed_stays(client, plan, data, fields, words):
    answer = bring(client, plan, data, **fields)
    assert 400 <= answer.status_code < 500
    text = unescape(answer.text)
    assert 'role="alert"' in text
    assert re.search(words, text)
    for value in fields.values():
        assert f'value="{value}"' in text


def test_a_take_of_another_plan_is_not_shown(client, library, plan, midi):
    other = give_plan(library, plan.entry.lick_id, student="Bo Hill", level="beginner")
    take = keep_take(library, plan.id, 1, midi, Setting(float(BPM), 0.0, 0.0)).take
    for path in ("", "/audio", "/sound", "/sound/lead/0.wav"):
        assert client.get(f"/plans/{plan.id}/takes/{take.id}{path}").status_code == 200
        assert client.get(f"/plans/{other.id}/takes/{take.id}{path}").status_code == 404
    for do in ("judge", "delete", "restore", "keep", "word"):
        answer = client.post(f"/plans/{other.id}/takes/{take.id}/{do}", data={"title": "x"})
        assert answer.status_code == 404
    assert client.get(f"/plans/{plan.id}/takes/999").status_code == 404


def test_a_recording_sent_in_pieces_has_its_length_and_its_parts(client, library, plan):
    """Its WAV head was written before its length was known (RIFF; RFC 9110, 14.1.2 for parts)."""
    whole = recorded(plan.sheet.steps[0].examples[0].lick, "wav", tempo=Fraction(BPM))
    at = whole.index(b"data")
    body = whole[at + 8 :][:40_000]
    head = bytearray(whole[:44])
    head[4:8] = head[40:44] = b"\xff\xff\xff\xff"
    head[36:40] = b"data"
    head[12:36] = whole[12:36]
    begun = begin_take(library, plan.id, 1, Setting(float(BPM)), form="wav")
    add_piece(library, begun.id, 0, bytes(head) + body)
    page = unescape(client.get(f"/plans/{plan.id}/steps/1/take").text)
    assert "Not judged yet" in page
    assert "39 kB are here" in page
    address = f"/plans/{plan.id}/takes/{begun.id}"
    assert client.get(f"{address}/audio").status_code == 404  # not finished
    client.post(f"{address}/judge")
    sound = client.get(f"{address}/audio").content
    assert int.from_bytes(sound[40:44], "little") == len(sound) - 44 == len(body)
    assert int.from_bytes(sound[4:8], "little") == len(sound) - 8
    part = client.get(f"{address}/audio", headers={"range": "bytes=44-143"})
    assert (part.status_code, part.content) == (206, body[:100])
    assert part.headers["content-range"] == f"bytes 44-143/{len(sound)}"
    assert client.get(f"{address}/audio", headers={"range": "bytes=99999999-"}).status_code == 416


def test_thrown_away_and_brought_back(client, library, plan, midi):
    take = keep_take(library, plan.id, 1, midi, Setting(float(BPM), 0.0, 0.0)).take
    address = f"/plans/{plan.id}/takes/{take.id}"
    page = client.post(f"{address}/delete").text
    assert "That take is thrown away" in page
    assert "Takes of this step" not in page
    assert "Bring it back" in client.get(address).text
    assert "Takes of this step" in client.post(f"{address}/restore").text


def test_a_take_is_kept_as_a_lick_with_a_title(client, library, plan, midi):
    take = keep_take(library, plan.id, 1, midi, Setting(float(BPM), 0.0, 0.0)).take
    address = f"/plans/{plan.id}/takes/{take.id}/keep"
    assert client.post(address, data={"title": " "}).status_code == 400
    assert client.post(address, data={"title": "What Ada played"}).status_code == 200
    kept = library.get(2).lick
    played = plan.sheet.steps[0].examples[0].lick
    assert kept.title == "What Ada played"
    assert [(n.onset, n.midi) for n in kept.notes] == [(n.onset, n.midi) for n in played.notes]


def test_what_is_due_stands_on_the_practice_page(client, library, plan):
    assert "To play again today" not in client.get("/practice").text
    mark_step(library, plan.id, 1, "done", now=now() - timedelta(days=90))
    page = unescape(client.get("/practice").text)
    assert "To play again today" in page
    assert "Ada Lane: step 1" in page
    assert "a suggestion" in page


def test_the_ground_sounds_without_a_lead(client, plan):
    here = f"/plans/{plan.id}/steps/1/take/sound"
    told = client.get(here, params={"bpm": BPM}).json()
    assert told["bpm"] == BPM
    assert told["notes"] == []
    for stem, style in (("band", "usual"), ("click", "beats"), ("count", "1")):
        answer = client.get(f"{here}/{stem}/0.wav", params={"bpm": BPM, "style": style})
        assert answer.headers["content-type"] == "audio/wav"
        assert max(answer.content[44:20_000]) > 0
    assert client.get(here, params={"bpm": 4000}).status_code == 400
    assert client.get(f"/plans/{plan.id}/steps/99/take/sound", params={"bpm": 80}).status_code in (
        400,
        404,
    )
    assert io.BytesIO(answer.content).read(4) == b"RIFF"
