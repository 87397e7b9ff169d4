"""Write then read gives the same lick, within what ABC can say."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings

from linewright.errors import WriteError
from linewright.formats.abc import read_abc, write_abc
from linewright.score import ChordSpan, Lick, Mark, Meter, Note, bars_for
from linewright.theory import ChordSymbol, Pitch
from strategies import GUITAR, licks


def without_places(lick: Lick) -> Lick:
    """The lick without what ABC cannot say: string, fret, instrument."""
    return replace(
        lick,
        instrument=None,
        notes=tuple(
            replace(
                n,
                string=None,
                fret=None,
                grace=tuple(replace(g, string=None, fret=None) for g in n.grace),
            )
            for n in lick.notes
        ),
    )


@settings(max_examples=150, deadline=None)
@given(licks())
def test_write_then_read_gives_the_same_lick(lick: Lick) -> None:
    if not lick.notes:
        return
    assert read_abc(write_abc(lick)) == lick


@settings(max_examples=40, deadline=None)
@given(licks(instrument=GUITAR))
def test_places_on_the_neck_are_all_that_is_lost(lick: Lick) -> None:
    if not lick.notes:
        return
    assert read_abc(write_abc(lick)) == without_places(lick)


NOTE = Note(Fraction(0), Fraction(4), Pitch.parse("C5"))
BARS = bars_for(Meter(4, 4), Fraction(8))


def test_a_gap_after_a_chord_comes_back_as_no_chord() -> None:
    chord = ChordSpan(Fraction(0), Fraction(2), ChordSymbol.parse("G7"))
    back = read_abc(write_abc(Lick((NOTE,), BARS, (chord,))))
    assert back.chords == (chord, ChordSpan(Fraction(2), Fraction(6), None))
    assert back.notes == (NOTE,)  # the note is tied over the chord change and whole again


def test_a_triple_accidental_cannot_be_written() -> None:
    with pytest.raises(WriteError, match="triple"):
        write_abc(Lick((replace(NOTE, pitch=Pitch("C", 3, 5)),), BARS))


def test_the_text_is_one_tune_of_plain_abc() -> None:
    text = write_abc(Lick((NOTE,), BARS, title="50% off\\on & on"))
    assert text.split("\n") == [
        "X:1", "T:50\\% off\\\\on \\& on", "M:4/4", "L:1/8", "K:none", "c8 | z8 |]", "",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("words", "semitones"),
    [
        ("bend 1", 2),
        ("bend 1/2", 1),
        ("bend 1/4", Fraction(1, 2)),
        ("bend full", 2),
        ("bend 3/2", 3),
    ],
)
def test_bends_are_told_in_whole_steps(words: str, semitones: int | Fraction) -> None:
    """As players count them: a bend of 1 is a whole step, 1/2 a half step (common practice)."""
    read = read_abc(f'X:1\nM:4/4\nL:1/1\nK:C\n"^{words}"d|\n')
    assert read.notes[0].marks == (Mark("bend", Fraction(semitones)),)
    if words != "bend full":
        assert f'"^{words}"' in write_abc(read)


def test_a_tied_note_says_its_accidental_where_its_letter_was_changed() -> None:
    # Read by abc2midi, ^G, would make the tied g a g sharp: an accidental holds in every octave.
    lick = read_abc("X:1\nM:4/4\nL:1/8\nK:C\n[=g^G,]4-[=g^G,] z3|]")
    written = write_abc(lick)
    assert "-[=g^G,]" in written.replace(" ", "")
    assert [n.pitch for n in read_abc(written).notes] == [n.pitch for n in lick.notes]
