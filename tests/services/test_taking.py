"""From sound to verdict: what our own voice plays is heard, written down and judged fairly."""

import pytest

import take_samples as samples
from linewright.errors import OptionError, ReadError, TakeError, TooLarge
from linewright.services.taking import (
    CALIBRATION_CLICKS,
    Setting,
    find_delay,
    judge_audio,
    read_recording,
)
from linewright.services.verdict_text import verdict_text
from linewright.sound.voice_click import click_sound
from linewright.sound.write_audio import write_audio


def judged(audio, setting=None):
    return judge_audio(audio, samples.sheet(), samples.STEP, setting)


def failed(found):
    return {rule.key for rule in found.verdict.rules if rule.passed is False}


def test_a_fair_take_passes_played_by_our_own_voice():
    found = judged(samples.sound(), Setting(samples.bpm(), samples.beat_one(), 0.0))
    assert found.verdict.passed, found.verdict.words
    assert [n.heard.midi for n in found.verdict.take.notes] == [
        samples.line().notes[k].midi for k in samples.line().melody
    ]
    assert abs(found.verdict.take.timing.mean_ms) < 3  # the render is exact


def test_wrong_notes_are_named_with_their_bars():
    found = judged(samples.sound(wrong=6), Setting(samples.bpm(), samples.beat_one(), 0.0))
    assert found.verdict.passed is False
    assert "notes" in failed(found)
    assert found.verdict.rule("notes").bars == (2,)  # notes 10 to 15 of 8 to the bar


def test_a_stop_is_named_with_its_bar():
    found = judged(samples.sound(stop=True), Setting(samples.bpm(), samples.beat_one(), 0.0))
    assert failed(found) == {"flow"}
    assert found.verdict.rule("flow").bars == (3,)  # the last note before quarters 12 to 18


def test_a_late_player_is_told_only_where_the_delay_is_known():
    late = samples.sound(late_s=0.08)
    known = judged(late, Setting(samples.bpm(), samples.beat_one(), 0.0))
    assert failed(known) == {"mean"}
    assert known.verdict.take.timing.mean_ms == pytest.approx(80, abs=4)
    calibrated = judged(late, Setting(samples.bpm(), samples.beat_one(), 0.08))
    assert calibrated.verdict.passed
    assert judged(late, Setting(samples.bpm(), samples.beat_one())).verdict.passed


def test_our_click_in_the_recording_tells_the_delay():
    # The whole recording comes 80 ms late, click and player: nobody is late.
    found = judged(
        samples.sound(click=1.0, late_s=0.08),
        Setting(samples.bpm(), samples.beat_one(), click=True),
    )
    assert found.verdict.passed, found.verdict.words
    assert abs(found.verdict.take.timing.mean_ms) < 3
    assert found.verdict.take.timing.is_placed
    silent = judged(
        samples.sound(late_s=0.08), Setting(samples.bpm(), samples.beat_one(), click=True)
    )
    assert silent.verdict.passed
    assert not silent.verdict.take.timing.is_placed
    assert any("click" in warning for warning in silent.warnings)


def test_midi_is_taken_as_it_is():
    found = judged(samples.midi())
    assert found.verdict.passed
    assert all(note.heard.confidence == 1 for note in found.verdict.take.notes)
    assert failed(judged(samples.midi(wrong=6))) >= {"notes"}
    slow = judged(samples.midi(tempo=80), Setting(80))
    assert failed(slow) == {"tempo"}
    assert slow.verdict.words.startswith("Clean at 80")


def test_the_text_has_every_rule_and_where():
    found = judged(samples.midi(wrong=6))
    text = verdict_text(found, samples.sheet().steps[samples.STEP - 1])
    for rule in found.verdict.rules:
        assert rule.title in text
    assert "not yet" in text
    assert "Work on this next." in text
    bars = found.verdict.rule("notes").bars
    assert f"bars {bars[0]}" in text or f"bar {bars[0]}" in text
    assert all(len(line) < 100 for line in text.splitlines())


@pytest.mark.parametrize(
    ("data", "error"),
    [
        (b"", ReadError), (b"not sound at all", ReadError), (b"RIFF\xff\xff\xff\xffWAVE", ReadError),
        (samples.sound()[:40], ReadError), (b"MThd" + b"\0" * 20, ReadError),
    ],
)  # fmt: skip
def test_what_is_no_recording(data, error):
    with pytest.raises(error):
        judged(data)


def test_silence_and_settings_that_cannot_be(tmp_path):
    import numpy as np

    with pytest.raises(TakeError, match="no notes"):
        judged(write_audio(np.zeros((44100, 2), np.float32), 44100, "wav"))
    with pytest.raises(OptionError, match="no step 99"):
        judge_audio(b"", samples.sheet(), 99)
    for wrong in (
        {"bpm": 5}, {"bpm": float("nan")}, {"bpm": 90, "start_s": 1e9},
        {"bpm": 90, "delay_s": float("inf")},
    ):  # fmt: skip
        with pytest.raises(OptionError):
            Setting(**wrong)
    with pytest.raises(ReadError, match="cannot be read"):
        read_recording(tmp_path / "none.wav")


def test_a_recording_that_is_too_large(tmp_path, monkeypatch):
    from linewright.services import taking

    monkeypatch.setattr(taking, "MAX_TAKE_BYTES", 100)
    (tmp_path / "a.wav").write_bytes(b"x" * 101)
    with pytest.raises(TooLarge):
        read_recording(tmp_path / "a.wav")


def test_the_delay_is_measured_from_a_recording_of_our_clicks():
    import numpy as np

    sound = np.zeros((8 * 48000, 2), np.float32)
    for time in CALIBRATION_CLICKS:
        click = click_sound(48000, False)
        at = round((time + 0.137) * 48000)
        sound[at : at + len(click)] += 0.3 * click[:, None]
    found = find_delay(write_audio(sound, 48000, "flac"), list(CALIBRATION_CLICKS))
    assert found == pytest.approx(0.137, abs=0.001)
    with pytest.raises(TakeError, match="not found"):
        find_delay(samples.sound(), list(CALIBRATION_CLICKS))
