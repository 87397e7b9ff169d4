"""The walk: the same notes in frame steps."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from phrases import phrase
from tests.strategies import licks

from linewright.analysis.frame import candidates
from linewright.analysis.walk import Walk, walk_of
from linewright.analysis.weights import neighbours, note_weights, treatments
from linewright.score import Lick
from linewright.theory import Interval

NUMBERS = {candidate.collection.name: place for place, candidate in enumerate(candidates)}


def walk(lick: Lick) -> Walk:
    near = neighbours(lick)
    return walk_of(lick, note_weights(lick), near, treatments(lick, near))


@pytest.mark.parametrize(
    ("notes", "own", "other"),
    [
        # Up and down each frame by its own steps: in the other it would skip all the time.
        ("C4 D4 E4 G4 A4 C5 A4 G4 E4 D4 C4", "major pentatonic", "major"),
        ("C4 Eb4 F4 G4 Bb4 C5 Bb4 G4 F4 Eb4 C4", "minor pentatonic", "dorian"),
        ("C4 E4 G4 C5 E5 C5 G4 E4 C4", "major triad arpeggio", "major pentatonic"),
        ("C4 E4 G4 Bb4 C5 Bb4 G4 E4 C4", "dominant seventh arpeggio", "mixolydian"),
    ],
)
def test_a_melody_steps_in_its_own_frame(notes: str, own: str, other: str) -> None:
    found = walk(phrase(notes))
    assert found.bits(0, NUMBERS[own]) < found.bits(0, NUMBERS[other])


def test_an_outside_note_is_cheap_where_it_leads_into_the_frame() -> None:
    """F# before G in C major pentatonic; before F, which is outside as well, it explains less."""
    into = walk(phrase("C4 E4 G4 F#4 G4 E4 C4"))
    away = walk(phrase("C4 E4 G4 F#4 F4 E4 C4"))
    pentatonic = NUMBERS["major pentatonic"]
    assert into.bits(0, pentatonic) < away.bits(0, pentatonic)
    leapt = walk(phrase("C4 E4 G4 F#4 C4 E4 C4"))
    assert into.bits(0, pentatonic) < leapt.bits(0, pentatonic)


def test_a_chromatic_run_has_no_frame() -> None:
    found = walk(phrase("C4 C#4 D4 D#4 E4 F4 F#4 G4 G#4 A4"))
    assert found.no_frame_bits() < min(found.bits(0, n) for n in range(len(candidates)))


@settings(max_examples=40, deadline=None)
@given(licks(), st.integers(0, 11), st.sampled_from(sorted(NUMBERS.values())))
def test_the_walk_moves_with_the_music(lick: Lick, tonic: int, number: int) -> None:
    up = Interval(1, 2)
    if not all(note.midi + 2 <= 120 for note in lick.notes):
        return
    here, there = walk(lick), walk(lick.transpose(up))
    assert here.bits(tonic, number) == pytest.approx(there.bits((tonic + 2) % 12, number))
