"""Takes over the JSON API: uploaded, recorded in pieces, listed, ruled on, due."""

from datetime import UTC, datetime

import pytest
from fastapi.testclient import TestClient

import take_samples as samples
from libraries import empty_library
from linewright.services.practising import mark_step
from linewright.sound.voice_click import click_sound
from linewright.web import guard

STEP = samples.STEP


@pytest.fixture
def shelf(tmp_path):
    with empty_library(tmp_path / "library.db") as opened:
        ada = opened.plans.add_student("Ada", now=datetime(2026, 3, 2, tzinfo=UTC))
        opened.plans.add(
            samples.sheet(), student_id=ada.id, lick_id=None, now=datetime(2026, 3, 2, tzinfo=UTC)
        )
        for step in range(1, STEP):
            mark_step(opened, 1, step, "done", now=datetime(2026, 3, 2, tzinfo=UTC))
        yield opened


@pytest.fixture
def api(shelf, one_app):
    one_app.state.library = shelf
    return TestClient(one_app, base_url="http://127.0.0.1:8765", raise_server_exceptions=False)


def upload(api, data, step=STEP, **fields):
    return api.post(f"/api/plans/1/steps/{step}/takes", files={"file": ("t", data)}, data=fields)


def test_an_upload_is_judged_kept_and_marks_the_step(api):
    first = upload(api, samples.midi())
    assert first.status_code == 201
    body = first.json()
    assert body["take"]["passed"] is True
    assert body["take"]["verdict"]["rules"][0]["key"] == "tempo"
    assert len(body["take"]["lick"]["notes"]) == len(body["take"]["verdict"]["take"]["notes"])
    assert body["row"] == {"passed": 1, "needed": 2, "bpm": samples.bpm()}
    second = upload(api, samples.midi()).json()
    assert second["marked"] is True
    assert second["plan"]["at"] == STEP + 1
    listed = api.get("/api/plans/1/takes", params={"step": STEP}).json()
    assert [take["id"] for take in listed] == [1, 2]
    history = api.get(f"/api/plans/1/steps/{STEP}/history").json()
    assert history["best_clean"] == samples.bpm()
    assert history["due"] > listed[1]["at"]
    due = api.get("/api/due", params={"student": 1, "by": "2030-01-01T00:00:00Z"}).json()
    assert [(d["student"], d["step"]) for d in due] == [("Ada", 1), ("Ada", 2), ("Ada", STEP)]
    slow = upload(api, samples.midi(80), bpm="80").json()["take"]
    assert (slow["clean"], slow["passed"], slow["bpm"]) == (True, False, 80)


def test_the_recording_comes_back_and_ranges_can_be_asked_for(api):
    upload(api, samples.midi())
    answer = api.get("/api/takes/1/audio")
    assert answer.content == samples.midi()
    assert answer.headers["content-type"] == "audio/midi"
    part = api.get("/api/takes/1/audio", headers={"range": "bytes=4-7"})
    assert (part.status_code, part.content) == (206, samples.midi()[4:8])


def test_a_recording_in_pieces(api):
    begun = api.post(
        f"/api/plans/1/steps/{STEP}/recordings", json={"bpm": samples.bpm(), "format": "ogg"}
    )
    assert begun.status_code == 201
    take = begun.json()
    assert (take["state"], take["bytes"]) == ("recording", 0)
    data, sent = samples.midi(), 0
    while sent < len(data):
        answer = api.put(
            f"/api/takes/{take['id']}/audio",
            params={"offset": sent},
            content=data[sent : sent + 99],
        )
        assert answer.status_code == 200
        sent = answer.json()["bytes"]
    gap = api.put(f"/api/takes/{take['id']}/audio", params={"offset": sent + 5}, content=b"x")
    assert gap.status_code == 400
    assert str(sent) in gap.json()["error"]["accepted"]
    done = api.post(f"/api/takes/{take['id']}/finish", json={"start_s": 0, "delay_s": 0})
    assert done.json()["take"]["state"] == "judged"
    assert done.json()["take"]["start_s"] == 0
    assert done.json()["take"]["bpm"] == samples.bpm()
    assert api.get("/api/takes/1/audio").content == data
    again = api.post(f"/api/takes/{take['id']}/judge")
    assert again.json()["take"]["verdict"] == done.json()["take"]["verdict"]


def test_one_that_broke_off_is_listed_and_judged_or_thrown_away(api):
    for data in (b"", b"no sound at all"):
        take = api.post(f"/api/plans/1/steps/{STEP}/recordings", json={}).json()
        api.put(f"/api/takes/{take['id']}/audio", params={"offset": 0}, content=data)
        assert api.get(f"/api/takes/{take['id']}/audio").status_code == 404
        done = api.post(f"/api/takes/{take['id']}/finish").json()
        assert done["take"]["state"] == "unjudged"
        assert done["take"]["problem"]
        assert done["take"]["verdict"] is None
    gone = api.delete("/api/takes/1")
    assert gone.json()["deleted"]
    assert [take["id"] for take in api.get("/api/plans/1/takes").json()] == [2]
    assert api.get("/api/plans/1/takes", params={"deleted": True}).json()[0]["id"] == 1
    assert api.post("/api/takes/1/restore").json()["deleted"] is None


def test_a_teacher_rules_and_changes_rules(api):
    upload(api, samples.midi(wrong=6))
    upload(api, samples.midi())
    said = api.post(
        "/api/takes/1/ruling", json={"passed": True, "by": "Ms Fields", "comment": "ok"}
    )
    assert said.json()["marked"] is True
    assert said.json()["plan"]["marks"][-1]["by"] == "Ms Fields"
    path = f"/api/plans/1/steps/{STEP + 1}/rules"
    before = api.get(path).json()
    changed = api.patch(path, json={"by": "Ms Fields", "changes": {"bpm": 60, "takes": 1}}).json()
    assert changed["done"]["bpm"] == 60
    assert changed["changes"][0]["changes"] == {"bpm": 60, "takes": 1}
    assert any("60" in word for word in changed["words"])
    assert api.get("/api/plans/1").json()["plan"]["steps"][STEP]["done"]["bpm"] == 60
    assert api.post("/api/plans/1/rules/undo").json() == before
    assert api.post("/api/plans/1/rules/undo").status_code == 404
    assert api.patch(path, json={"by": "Ms Fields", "changes": {"bpm": 1}}).status_code == 400
    assert api.patch(path, json={"changes": {"bpm": 60}}).status_code == 422


def test_the_delay_is_measured(api):
    import numpy as np

    from linewright.sound.write_audio import write_audio

    times = api.get("/api/calibration").json()["click_times"]
    sound = np.zeros((9 * 44100, 2), np.float32)
    for time in times:
        click = click_sound(44100, False)
        at = round((time + 0.5 + 0.061) * 44100)
        sound[at : at + len(click)] += 0.2 * click[:, None]
    data = write_audio(sound, 44100, "ogg")
    answer = api.post("/api/calibration", files={"file": ("c", data)}, data={"start_s": "0.5"})
    assert answer.json()["delay_s"] == pytest.approx(0.061, abs=0.001)
    silent = write_audio(np.zeros((44100, 2), np.float32), 44100, "wav")
    refused = api.post("/api/calibration", files={"file": ("c", silent)})
    assert refused.status_code == 400
    assert "not found" in refused.json()["error"]["message"]


@pytest.mark.parametrize(
    ("data", "fields", "status"),
    [
        (b"", {}, 400), (b"no recording", {}, 400), (samples.midi()[:30], {}, 400),
        (samples.midi(), {"bpm": "quick"}, 422), (samples.midi(), {"bpm": "nan"}, 422),
        (samples.midi(), {"start_s": "1e99"}, 422), (samples.midi(), {"click": "perhaps"}, 422),
    ],
)  # fmt: skip
def test_malformed_uploads_get_one_clear_error(api, shelf, data, fields, status):
    answer = upload(api, data, **fields)
    assert answer.status_code == status
    assert answer.json()["error"]["message"]
    assert shelf.takes.find() == ()


def test_what_is_not_there_or_not_open(api):
    assert upload(api, samples.midi(), step=STEP + 1).status_code == 400
    assert upload(api, samples.midi(), step=99).status_code == 400
    assert api.get("/api/takes/7").status_code == 404
    assert api.get("/api/plans/7/takes").status_code == 404
    assert api.put("/api/takes/7/audio", params={"offset": 0}, content=b"x").status_code == 404
    assert api.get("/api/due", params={"by": "2030-01-01T00:00:00"}).status_code == 400
    assert api.post("/api/plans/1/steps/1/takes").status_code in (400, 422)


def test_a_take_may_be_larger_than_other_uploads_but_not_endless(api, monkeypatch):
    monkeypatch.setattr(guard, "MAX_UPLOAD_BYTES", 500)
    assert len(samples.midi()) > 500
    assert upload(api, samples.midi()).status_code == 201
    monkeypatch.setattr(guard, "_MAX_TAKE_FORM", 1200)
    answer = upload(api, samples.midi() + bytes(2000))
    assert answer.status_code == 413
    assert "flac" in answer.json()["error"]["accepted"]


def test_without_a_folder_the_word_is_clear(client, library):
    ada = library.plans.add_student("Ada", now=datetime(2026, 3, 2, tzinfo=UTC))
    library.plans.add(
        samples.sheet(), student_id=ada.id, lick_id=None, now=datetime(2026, 3, 2, tzinfo=UTC)
    )
    answer = upload(client, samples.midi(), step=1)
    assert answer.status_code == 503
    assert "in a file" in answer.json()["error"]["accepted"]
