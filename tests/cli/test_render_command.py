"""linewright render: sound files and multi-track MIDI from a lick."""

import io
import wave
from dataclasses import replace
from fractions import Fraction

import mido
import numpy as np
import pytest

from linewright.cli import main
from linewright.score.performance import Part, Stroke
from linewright.sound.lead import left_ringing
from samples import BARE, PORCH


@pytest.fixture
def tab(tmp_path):
    path = tmp_path / "porch.tab"
    path.write_text(PORCH)
    return path


def test_a_lick_with_its_band_becomes_midi_tracks(tab, tmp_path):
    out = tmp_path / "porch.mid"
    asked = [
        "--band",
        "usual",
        "--click",
        "2and4",
        "--drop",
        "1-1",
        "--count-in",
        "1",
        "--loops",
        "2",
    ]
    assert main(["render", str(tab), "-o", str(out), *asked]) == 0
    file = mido.MidiFile(out)
    assert [track.name for track in file.tracks] == [
        "Porch step",
        "lead",
        "Guitar",
        "Bass",
        "Click",
    ]
    assert file.length == pytest.approx((4 + 16) * 60 / 92, rel=1e-3)  # count-in and two passes


def test_a_lick_becomes_sound_at_another_tempo(tab, tmp_path):
    out = tmp_path / "porch.wav"
    assert main(["render", str(tab), "-o", str(out), "--tempo", "184"]) == 0
    with wave.open(io.BytesIO(out.read_bytes())) as file:
        rate = file.getframerate()
        sound = (
            np.frombuffer(file.readframes(file.getnframes()), "<i2").reshape(-1, 2)[:, 0] / 2**15
        )
    end = 8 * 60 / 184
    # What is held to the end rings on for a while, falls all the way, and ends quietly.
    assert end + 1.5 < len(sound) / rate <= end + 2.01
    levels = [
        float(np.sqrt(np.mean(sound[round(at * rate) :][: rate // 4] ** 2)))
        for at in (end - 0.1, end + 0.4, end + 1.0, end + 1.6)
    ]
    assert levels == sorted(levels, reverse=True)
    assert levels[1] > 0.15 * levels[0]
    assert float(np.abs(sound[-rate // 100 :]).max()) < 0.01


def test_a_last_note_that_stops_before_the_end_or_is_slid_away_does_not_ring():
    stroke = Stroke(Fraction(3), Fraction(1), 55, 3, 0)
    told = (
        replace(stroke, onset=Fraction(2)), replace(stroke, duration=Fraction(1, 2)),
        replace(stroke, lead_out=-4), replace(stroke, attack="dead"), stroke,
    )  # fmt: skip
    part = left_ringing(Part("lead", "steel", told), Fraction(4))
    assert [s.ring for s in part.strokes] == [False, False, False, False, True]
    click = Part("Click", "click", (Stroke(Fraction(3), Fraction(1), 0, attack="click"),))
    assert left_ringing(click, Fraction(4)) == click


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (["-o", "x.txt"], "names no kind of sound file"),
        (["-o", "x.wav", "--band", "polka"], "no band style"),
        (["-o", "x.wav", "--click", "often"], "no click"),
        (["-o", "x.wav", "--drop", "3"], "bars on and off"),
        (["-o", "x.wav", "--no-lead"], "nothing is left to sound"),
        (["-o", "x.wav", "--loops", "101"], "101 passes"),
        (["-o", "x.wav", "--count-in", "5"], "count-in of 5"),
        (["-o", "x.wav", "--tempo", "0"], "--tempo 0"),
        (["-o", "x.wav", "--lead-level", "9"], "level of 9"),
    ],
)
def test_what_cannot_be_is_refused_in_a_line(tab, tmp_path, monkeypatch, capsys, asked, said):
    monkeypatch.chdir(tmp_path)
    assert main(["render", str(tab), *asked]) == 2
    error = capsys.readouterr().err
    assert said in error
    assert len(error.splitlines()) == 1
    assert not (tmp_path / "x.wav").exists()


def test_a_band_without_chords_is_refused(tmp_path, capsys):
    (tmp_path / "bare.tab").write_text(BARE)
    assert (
        main(
            ["render", str(tmp_path / "bare.tab"), "-o", str(tmp_path / "x.mid"), "--band", "usual"]
        )
        == 2
    )
    assert "no chords for a band" in capsys.readouterr().err


def test_the_help_teaches_and_warns(capsys):
    assert main(["render", "--help"]) == 0
    text = capsys.readouterr().out
    for word in ("--band usual", "--no-lead", "volume low", "2-2"):
        assert word in text
