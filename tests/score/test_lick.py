"""The Lick value: what it refuses, how it is cut and moved."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction as F

import pytest
from hypothesis import given, settings

from linewright.errors import MusicError
from linewright.score import Bar, ChordSpan, Lick, Mark, Meter, Note, bars_for, notate
from linewright.theory import ChordSymbol, Interval, Pitch
from strategies import GUITAR, licks

G4 = Pitch.parse("G4")
ONE_BAR = bars_for(Meter(4, 4), F(4))


@pytest.mark.parametrize(
    ("notes", "words"),
    [
        ((Note(F(0), F(2), G4), Note(F(1), F(1), G4)), "still sounds"),
        ((Note(F(2), F(1), G4), Note(F(0), F(1), G4)), "not in order"),
        ((Note(F(3), F(2), G4),), "past the last bar line"),
        ((Note(F(0), F(1), G4, 1, 2),), "does not lie at"),
        ((Note(F(0), F(1), G4, 9, 2),), "no string 9"),
        ((Note(F(0), F(1), G4, 1, 40),), "no fret 40"),
        ((Note(F(0), F(1), G4), Note(F(0), F(2), Pitch.parse("E4"))), "last differently"),
    ],
)
def test_contradictions_are_refused(notes: tuple[Note, ...], words: str) -> None:
    with pytest.raises(MusicError, match=words):
        Lick(notes, ONE_BAR, instrument=GUITAR)


def test_bars_must_join() -> None:
    with pytest.raises(MusicError, match="does not begin where"):
        Lick((), (Bar(1, F(0), F(4), Meter(4, 4)), Bar(2, F(5), F(4), Meter(4, 4))))
    with pytest.raises(MusicError, match="at least one bar"):
        Lick((), ())


def test_a_bend_sounds_above_its_fret() -> None:
    """Fret 7 of the B string is F#4; bent a whole step it sounds as fret 9, G#4."""
    note = Note(F(0), F(1), Pitch.parse("G#4"), 2, 7, (Mark("bend", F(2)),))
    assert Lick((note,), ONE_BAR, instrument=GUITAR).notes[0].bend == 2


def test_places_in_words() -> None:
    lick = Lick((), bars_for(Meter(4, 4), F(9), pickup=F(1)))
    assert lick.place(F(0)) == "the pickup, beat 4"
    assert lick.place(F(1)) == "bar 1, beat 1"
    assert lick.place(F(7, 2)) == "bar 1, the and of 3"


def test_slice_keeps_chords_in_force() -> None:
    chord = ChordSpan(F(0), F(8), ChordSymbol.parse("G7"))
    lick = Lick((Note(F(4), F(1), G4),), bars_for(Meter(4, 4), F(8)), (chord,))
    second = lick.slice(2, 2)
    assert second.length == 4
    assert second.notes[0].onset == 0
    assert second.chords[0].duration == 4
    with pytest.raises(MusicError, match="bars 1 to 2"):
        lick.slice(5, 6)


@given(licks())
def test_transposing_there_and_back(lick: Lick) -> None:
    plain = lick.transpose(Interval(0, 0))
    there = plain.transpose(Interval(2, 4))
    assert [n.midi for n in there.notes] == [n.midi + 4 for n in lick.notes]
    back = there.transpose(Interval(-2, -4))
    assert [n.midi for n in back.notes] == [n.midi for n in lick.notes]
    assert [c.symbol and c.symbol.numbers for c in back.chords] == [
        c.symbol and c.symbol.numbers for c in lick.chords
    ]


@settings(deadline=None)
@given(licks())
def test_printed_rhythm_is_the_sounding_rhythm(lick: Lick) -> None:
    """Every bar of symbols is full; values, dots and tuplets give the durations; ties join them."""
    lasting: dict[int, F] = {}
    for measure in notate(lick):
        at = measure.bar.onset
        for symbol in measure.symbols:
            assert symbol.onset == at
            printed = symbol.value * (2 - F(1, 2**symbol.dots))
            if symbol.tuplet is not None:
                tuplet = measure.tuplets[symbol.tuplet]
                printed = printed * tuplet.normal / tuplet.actual
            assert printed == symbol.duration
            at += symbol.duration
            for index in symbol.notes:
                assert symbol.tie_in == (index in lasting)
                lasting[index] = lasting.get(index, F(0)) + symbol.duration
                ends = lick.notes[index].onset + lasting[index]
                assert symbol.tie_out == (ends < lick.notes[index].end)
        assert at == measure.bar.end
    assert lasting == {i: n.duration for i, n in enumerate(lick.notes)}


@given(licks())
def test_licks_compare_and_hash_by_value(lick: Lick) -> None:
    other = replace(lick, remarks=("read somewhere else",))
    assert other == lick
    assert hash(other) == hash(lick)
    assert repr(lick)
    assert replace(lick, title=lick.title + "x") != lick
