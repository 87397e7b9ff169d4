"""The lick itself, moved. Degrees of chord qualities are common practice."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from line_licks import demo, demo_names, lick

from linewright.analysis import analyze
from linewright.errors import OptionError
from linewright.fretboard import instrument, reach_of
from linewright.lines import moved
from linewright.theory import Pitch


@pytest.mark.parametrize("name", demo_names())
@pytest.mark.parametrize("key", ["C", "F#", "Bb"])
def test_another_key_keeps_every_interval_and_degree(name: str, key: str) -> None:
    analysis, _ = demo(name)
    done = moved(analysis, key=key)
    old = [n.midi for n in analysis.lick.notes]
    new = [n.midi for n in done.lick.notes]
    assert len({b - a for a, b in zip(old, new, strict=True)}) == 1
    assert (new[0] - old[0] - Pitch.parse(f"{key}4").midi + analysis.tonic.number) % 12 == 0
    assert done.changes == ()
    assert all(n.string is not None for n in done.lick.notes)
    again = analyze(done.lick, tonic=None)
    assert again.frame.collection == analysis.frame.collection


def test_a_major_lick_over_minor_lowers_its_3rd_and_7th() -> None:
    analysis = analyze(lick("C4 E4 G4 B4 C5 B4 G4 E4 F4 D#4 E4 C4", chords="Cmaj7", key="C"))
    done = moved(analysis, quality="minor")
    assert [str(n.pitch) for n in done.lick.notes] == (
        ["C4", "Eb4", "G4", "Bb4", "C5", "Bb4", "G4", "Eb4", "F4", "D4", "Eb4", "C4"]
    )
    assert [(c.before, c.after) for c in done.changes] == [
        ("3", "b3"), ("7", "b7"), ("7", "b7"), ("3", "b3"), ("#2", "2"), ("3", "b3"),
    ]  # fmt: skip
    assert "half step" in done.changes[4].why
    assert done.lick.chords[0].symbol.text == "Cm7"


def test_a_minor_lick_over_dominant_and_major() -> None:
    analysis = analyze(lick("A3 C4 D4 E4 G4 A4 G4 E4 D4 C4 A3", chords="Am7", key="Am"))
    dominant = moved(analysis, quality="dominant").lick
    assert {n.pitch.pitch_class.name for n in dominant.notes} == {"A", "C#", "D", "E", "G"}
    major = moved(analysis, quality="major").lick
    assert {n.pitch.pitch_class.name for n in major.notes} == {"A", "C#", "D", "E", "G#"}
    assert major.chords[0].symbol.text == "Amaj7"


def test_a_tone_of_the_old_chord_goes_when_its_chord_turns_minor() -> None:
    """The 3 of A7 and of D7 are borrowed over a minor pentatonic; Am7 and Dm7 have a b3."""
    analysis = analyze(
        lick("A3 C4 D4 E4 G4 E4 C4 C#4 A3 C4 D4 F#4 A4 F#4 D4 C4 A3", chords="A7 D7 A7", key="A")
    )
    done = moved(analysis, quality="minor", key="E")
    assert [c.symbol.text for c in done.lick.chords] == ["Em7", "Am7", "Em7"]
    for note in done.lick.notes:
        chord = done.lick.chord_at(note.onset)
        assert (chord.root.number + 4) % 12 != note.midi % 12  # no major 3rd is left
    told = {(c.before, c.after): c.why for c in done.changes}
    assert told["3", "b3"] == "the 3 of its chord becomes the b3, for that is minor now"
    assert told["6", "b6"] == told["3", "b3"]


@pytest.mark.parametrize("position", [2, 5, 7, 9])
def test_a_position_holds_every_note(position: int) -> None:
    analysis, _ = demo("lantern")
    wanted = instrument("guitar")
    try:
        done = moved(analysis, position=position)
    except OptionError:
        assert position not in (2, 7)
        return
    for note, old in zip(done.lick.notes, analysis.lick.notes, strict=True):
        assert note.midi == old.midi == wanted.midi_at(note.string, note.fret)
        assert position - 1 <= note.fret <= position + reach_of(wanted) or (
            note.fret == 0 and position <= 2
        )


def test_another_instrument_moves_by_octaves() -> None:
    analysis, _ = demo("basement-stairs")  # a bass line
    done = moved(analysis, instrument=instrument("mandolin"))
    apart = {b.midi - a.midi for a, b in zip(analysis.lick.notes, done.lick.notes, strict=True)}
    assert len(apart) == 1
    assert apart.pop() % 12 == 0
    assert done.lick.instrument.name == "mandolin"


def test_a_mandolin_reel_lies_an_octave_lower_on_a_guitar() -> None:
    """Where guitarists play mandolin tunes in D: down by the nut (common practice)."""
    analysis = analyze(lick("A4 F#4 A4 D5 A4 F#4 A4 B4 G4 B4 D5 C#5 D5", chords="D", key="D"))
    done = moved(analysis, instrument=instrument("guitar"))
    assert [n.midi + 12 for n in done.lick.notes] == [n.midi for n in analysis.lick.notes]
    assert "an octave lower, where it lies best" in done.words
    assert max(note.fret for note in done.lick.notes) <= 4
    kept = moved(analysis, instrument=instrument("guitar"), octaves=0)
    assert [n.midi for n in kept.lick.notes] == [n.midi for n in analysis.lick.notes]
    assert "an octave higher" in moved(analysis, octaves=1).words
    for wrong in (-3, 4):
        with pytest.raises(OptionError):
            moved(analysis, octaves=wrong)


@pytest.mark.parametrize("name", demo_names())
@pytest.mark.parametrize("later", [Fraction(1), Fraction(-1), Fraction(1, 2), Fraction(-9)])
def test_displaced_notes_keep_their_distances(name: str, later: Fraction) -> None:
    analysis, _ = demo(name)
    old, new = analysis.lick, moved(analysis, later=later).lick
    gaps = {b.onset - a.onset for a, b in zip(old.notes, new.notes, strict=True)}
    assert len(gaps) == 1
    line = next(b.onset for b in old.bars if b.number == 1)
    barred = [b.onset for b in new.bars if b.number >= 1]
    shift = gaps.pop() - later  # whole bars put before
    assert any(line + shift == onset for onset in barred)
    assert [c.symbol for c in new.chords] == [c.symbol for c in old.chords]


def test_what_cannot_be_moved_says_so() -> None:
    analysis, _ = demo("lantern")
    for wish in ({}, {"quality": "blue"}, {"position": 40}, {"position": 20}):
        with pytest.raises(OptionError):
            moved(analysis, **wish)


def test_moved_licks_keep_slurs_of_every_kind() -> None:
    kinds = {
        mark.name
        for name in demo_names()
        for note in moved(demo(name)[0], key="E").lick.notes
        for mark in note.marks
    }
    assert {"hammer-on", "pull-off", "slide"} <= kinds


@pytest.mark.parametrize("name", demo_names())
@pytest.mark.parametrize("wish", [{"quality": "minor"}, {"key": "E"}, {"open_strings": True}])
def test_moved_slurs_can_be_played(name: str, wish: dict[str, object]) -> None:
    """One string; up for a hammer-on, down for a pull-off, two stopped notes for a slide (common
    practice).
    """
    analysis, _ = demo(name)
    done = moved(analysis, **wish).lick
    for a, b in pairwise(done.melody):
        before, note = done.notes[a], done.notes[b]
        for mark in note.marks:
            if mark.name in ("hammer-on", "pull-off", "slide"):
                assert note.string == before.string
                up = note.fret - before.fret
                assert {"hammer-on": up > 0, "pull-off": up < 0}.get(
                    mark.name, bool(up and note.fret and before.fret)
                )
