"""Tonic and mode from the notes alone."""

from __future__ import annotations

from fractions import Fraction
from math import isclose

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewright.analysis.tonic import TONIC_MODES, estimate_key, tonic_bits
from linewright.errors import MusicError
from linewright.score import Lick, Meter, Note, bars_for
from linewright.theory import Interval, Key, Pitch, PitchClass, spell_midi

METER = Meter.parse("4/4")


def phrase(pitches: str, duration: Fraction = Fraction(1, 2), key: str | None = None) -> Lick:
    """Notes of one length from scientific names, in 4/4."""
    return from_pitches([Pitch.parse(name) for name in pitches.split()], duration, key)


def from_pitches(
    pitches: list[Pitch], duration: Fraction = Fraction(1, 2), key: str | None = None
) -> Lick:
    notes = tuple(Note(i * duration, duration, pitch) for i, pitch in enumerate(pitches))
    bars = bars_for(METER, len(notes) * duration, key=Key.parse(key) if key else None)
    return Lick(notes, bars)


midi_phrases = st.lists(st.integers(48, 84), min_size=1, max_size=24)


# Scales up and down end on their tonic: common practice.
@pytest.mark.parametrize(
    ("pitches", "tonic", "mode"),
    [
        ("C4 D4 E4 F4 G4 A4 B4 C5 B4 A4 G4 F4 E4 D4 C4", "C", "major"),
        ("D4 E4 F4 G4 A4 B4 C5 D5 C5 B4 A4 G4 F4 E4 D4", "D", "dorian"),
        ("G4 A4 B4 C5 D5 E5 F5 G5 F5 E5 D5 C5 B4 A4 G4", "G", "mixolydian"),
        ("A3 B3 C4 D4 E4 F4 G4 A4 G4 F4 E4 D4 C4 B3 A3", "A", "minor"),
    ],
)
def test_scale_up_and_down(pitches: str, tonic: str, mode: str) -> None:
    found = estimate_key(phrase(pitches))
    assert (found.tonic.name, found.mode) == (tonic, mode)


@given(midi_phrases, st.integers(-11, 11))
@settings(max_examples=50, deadline=None)
def test_transposing_moves_the_answer(midis: list[int], shift: int) -> None:
    here = tonic_bits(from_pitches([spell_midi(m) for m in midis]))
    there = tonic_bits(from_pitches([spell_midi(m + shift) for m in midis]))
    assert all(isclose(here[t], there[(t + shift) % 12], abs_tol=1e-9) for t in range(12))


@given(midi_phrases)
@settings(max_examples=50, deadline=None)
def test_bits_are_a_distribution_and_agree_with_the_table(midis: list[int]) -> None:
    lick = from_pitches([spell_midi(m) for m in midis])
    bits = tonic_bits(lick)
    assert isclose(sum(2**-b for b in bits), 1, abs_tol=1e-6)
    found = estimate_key(lick)
    assert isclose(sum(map(sum, found.table)), 1, abs_tol=1e-9)
    assert isclose(found.tonic_probability, 2 ** -bits[found.tonic.number], abs_tol=1e-6)
    assert found.probability == found.table[found.tonic.number][TONIC_MODES.index(found.mode)]


@given(midi_phrases)
@settings(max_examples=50, deadline=None)
def test_meter_written_twice_as_long_reads_the_same(midis: list[int]) -> None:
    lick = from_pitches([spell_midi(m) for m in midis])
    notes = tuple(Note(n.onset * 2, n.duration * 2, n.pitch) for n in lick.notes)
    doubled = Lick(notes, bars_for(Meter.parse("4/2"), notes[-1].end))
    assert all(
        isclose(a, b, abs_tol=1e-9)
        for a, b in zip(tonic_bits(lick), tonic_bits(doubled), strict=True)
    )


def test_neither_declared_key_nor_spelling_is_used() -> None:
    plain = phrase("F#4 C#5 A4 F#4 G#4 A4 F#4")
    keyed = phrase("Gb4 Db5 A4 Gb4 Ab4 A4 Gb4", key="Eb")
    assert tonic_bits(plain) == tonic_bits(keyed)


def test_given_tonic_is_kept_and_only_the_mode_sought() -> None:
    lick = phrase("A3 B3 C4 D4 E4 F4 G4 A4")
    found = estimate_key(lick, tonic=PitchClass.parse("D"))
    assert (found.tonic.name, found.mode) == ("D", "dorian")
    assert isclose(found.tonic_probability, 1, abs_tol=1e-9)


def test_tonic_is_spelled_as_its_signature_would() -> None:
    up = phrase("C4 D4 E4 F4 G4 A4 B4 C5 B4 A4 G4 F4 E4 D4 C4")
    assert estimate_key(up.transpose(Interval(6, 10))).tonic.name == "Bb"
    assert estimate_key(up.transpose(Interval(4, 8))).tonic.name == "Ab"
    minor = phrase("A3 B3 C4 D4 E4 F4 G4 A4 G4 F4 E4 D4 C4 B3 A3")
    assert estimate_key(minor.transpose(Interval(5, 9))).tonic.name == "F#"


def test_no_notes() -> None:
    empty = Lick((), bars_for(METER, Fraction(4)))
    assert len(set(tonic_bits(empty))) == 1
    with pytest.raises(MusicError, match="without notes"):
        estimate_key(empty)
