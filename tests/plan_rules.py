"""What a step of a plan allows, read from its rules alone."""

from __future__ import annotations

import itertools

from linewright.score import Lick
from linewright.theory import Degree, PitchClass


def number(tonic: str, degree: str) -> int:
    """The pitch class of a degree."""
    return (PitchClass.parse(tonic).number + Degree.parse(degree).semitones) % 12


def allowed_over(step, chord) -> set[int]:
    """Pitch classes a step allows over a chord, read from its rules alone."""
    found: set[int] = set()
    for item in step.done.only:
        if item.over is None or (chord is not None and item.over == str(chord)):
            found |= {number(item.tonic, degree) for degree in item.degrees}
            found |= {number(item.tonic, use.degree) for use in step.done.uses}
    return found


def assert_allowed(step, music: Lick) -> None:
    for note in music.notes:
        chord = music.chord_at(note.onset)
        assert note.midi % 12 in allowed_over(step, chord), (step.key, music.title, note)


def leaps(music: Lick) -> list[int]:
    """Each move of the melody in semitones."""
    notes = [music.notes[i].midi for i in music.melody]
    return [abs(b - a) for a, b in itertools.pairwise(notes)]
