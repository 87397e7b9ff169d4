"""A performance as MIDI, reopened with mido and with symusic (two readers not of our making)."""

import io
from fractions import Fraction

import mido
import pytest
import symusic

from linewright.errors import WriteError
from linewright.formats.midi import write_performance
from linewright.score import Meter
from linewright.score.meter import bars_for
from linewright.score.performance import Part, Performance, Stroke

BARS = bars_for(Meter(4, 4), Fraction(8))


def played(*parts, count_in=0, bpm=120):
    return Performance(tuple(parts), Fraction(8 + count_in), Fraction(bpm), Fraction(count_in))


def plucks(*items, **more):
    return tuple(Stroke(Fraction(at), Fraction(long), midi, string, 0, **more) for at, long, midi, string in items)  # fmt: skip


LEAD = Part("lead", "steel", plucks((0, 1, 67, 1), (1, Fraction(1, 2), 69, 1), (2, 2, 64, 2)))
BASS = Part("Bass", "bass", plucks((0, 2, 40, 3), (2, 2, 35, 4)))
CLICK = Part("Click", "click", (
    Stroke(Fraction(0), Fraction(1, 8), 76, strength=0.85, attack="accent click"),
    Stroke(Fraction(1), Fraction(1, 8), 77, attack="click"),
))  # fmt: skip


def test_a_track_for_tempo_and_one_for_each_player():
    data = write_performance(played(LEAD, BASS, CLICK), BARS, "Gate")
    file = mido.MidiFile(file=io.BytesIO(data))
    assert file.type == 1
    assert [track.name for track in file.tracks] == ["Gate", "lead", "Bass", "Click"]
    assert file.length == pytest.approx(4.0)  # 8 quarters at 120
    score = symusic.Score.from_midi(data)
    assert score.tempos[0].qpm == pytest.approx(120)
    assert (score.time_signatures[0].numerator, score.time_signatures[0].denominator) == (4, 4)
    lead, bass, click = score.tracks
    heard = [(n.time / score.tpq, n.duration / score.tpq, n.pitch) for n in lead.notes]
    assert heard == [(0, 1, 67), (1, 0.5, 69), (2, 2, 64)]
    assert (lead.program, bass.program) == (25, 33)  # General MIDI steel guitar, fingered bass
    assert click.is_drum
    assert [n.pitch for n in click.notes] == [76, 77]  # General MIDI wood blocks
    assert click.notes[0].velocity > click.notes[1].velocity


def test_a_count_in_keeps_the_bar_lines():
    bars = tuple(b.__class__(b.number, b.onset + 4, b.duration, b.meter) for b in BARS)
    score = symusic.Score.from_midi(write_performance(played(CLICK, count_in=4), bars))
    assert [(t.time, t.numerator) for t in score.time_signatures] == [(0, 4)]
    pickup = bars_for(Meter(4, 4), Fraction(9), pickup=Fraction(1))
    score = symusic.Score.from_midi(write_performance(played(CLICK), pickup))
    assert [(t.time / score.tpq, t.numerator) for t in score.time_signatures] == [(0, 1), (1, 4)]


def test_a_bend_moves_its_own_string_only():
    bent = Part("lead", "steel", (
        *plucks((0, 1, 62, 3), bend=Fraction(2)), *plucks((0, 1, 67, 2)),
    ))  # fmt: skip
    file = mido.MidiFile(file=io.BytesIO(write_performance(played(bent), BARS)))
    wheels = [m for m in file.tracks[1] if m.type == "pitchwheel"]
    notes = {m.note: m.channel for m in file.tracks[1] if m.type == "note_on"}
    assert {m.channel for m in wheels} == {notes[62]} != {notes[67]}
    assert max(m.pitch for m in wheels) == round(8192 * 2 / 12)  # 2 semitones of a range of 12
    assert wheels[-1].pitch == 0


def test_what_rings_is_held_until_its_string_is_struck_again():
    ringing = Part("lead", "steel", (
        *plucks((0, 1, 64, 1), ring=True), *plucks((1, 1, 59, 2), ring=True), *plucks((3, 1, 67, 1)),
    ))  # fmt: skip
    score = symusic.Score.from_midi(write_performance(played(ringing), BARS))
    ends = {n.pitch: (n.time + n.duration) / score.tpq for n in score.tracks[0].notes}
    assert ends == {64: 3, 59: 8, 67: 4}


def test_what_midi_cannot_say_is_refused():
    with pytest.raises(WriteError, match="outside MIDI"):
        write_performance(played(Part("lead", "steel", plucks((0, 1, 140, 1)))), BARS)
