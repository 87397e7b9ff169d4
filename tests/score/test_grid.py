"""The grid gives, in whole numbers, what the meter and the lick say of each moment in fractions."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from tests.strategies import licks

from linewright.errors import MusicError
from linewright.score import Lick
from linewright.theory import Pitch


@settings(max_examples=150, deadline=None)
@given(licks())
def test_the_grid_agrees_with_exact_fractions(lick: Lick) -> None:
    grid = lick.grid
    for index, note in enumerate(lick.notes):
        bar = lick.bar_at(note.onset)
        offset = bar.offset(note.onset)
        assert Fraction(grid.onsets[index], grid.ticks) == note.onset
        assert Fraction(grid.ends[index], grid.ticks) == note.end
        assert lick.bars[grid.bars[index]] is bar
        assert grid.levels[index] == bar.meter.weight(offset)
        assert grid.on_beat[index] == (bar.meter.beat_at(offset)[1] == 0)
        assert Fraction(grid.beats[index], grid.ticks) == bar.meter.beat
        assert grid.chords[index] == lick.chord_at(note.onset)
        assert lick.notes[grid.melody[grid.places[index]]].onset == note.onset


@settings(max_examples=50, deadline=None)
@given(licks())
def test_respelling_changes_names_only(lick: Lick) -> None:
    def other(pitch: Pitch) -> Pitch:
        """The enharmonic name a letter higher, where there is one."""
        for octave in (pitch.octave, pitch.octave + 1):
            step = "CDEFGAB"[("CDEFGAB".index(pitch.step) + 1) % 7]
            for alter in (-2, -1, 0):
                if Pitch(step, alter, octave).midi == pitch.midi:
                    return Pitch(step, alter, octave)
        return pitch

    pitches = [other(note.pitch) for note in lick.notes]
    renamed = lick.respelled(pitches)
    assert [note.pitch for note in renamed.notes] == pitches
    assert [n.midi for n in renamed.notes] == [n.midi for n in lick.notes]
    assert renamed.with_(notes=lick.notes) == lick
    assert lick.respelled([note.pitch for note in lick.notes]) is lick
    if lick.notes:
        wrong = [Pitch("C", 0, 1 if lick.notes[0].midi > 40 else 7), *pitches[1:]]
        with pytest.raises(MusicError):
            lick.respelled(wrong)
