"""What outside notes do and how they are spelled; phrases and answers by hand (common practice)."""

from __future__ import annotations

import pytest
from phrases import phrase

from linewright.analysis import analyze
from linewright.analysis.outside import FUNCTIONS


@pytest.mark.parametrize(
    ("notes", "settings", "degree", "function"),
    [
        ("G4 Bb4 C5 Db5 C5 Bb4 G4 F4 D4 F4 G4:3", {"key": "Gm"}, "b5", "blue note"),
        ("G4 Bb4 C5 Db5 D5 F5 D5 C5 Bb4 G4 F4 G4:2", {"key": "Gm"}, "b5", "passing"),
        ("G4 Bb4 B4 G4 D5 F5 D5 C5 Bb4 G4 F4 D4 G4:2", {"chords": "G7"}, "3", "borrowed chord tone"),
        ("G4 A4 B4 C5 D5 E5 D5 B4 A4 B4 G4 E4 D4 E4 G4:1", {"key": "G"}, "4", "passing"),
        # A lower chromatic neighbour of the fifth is raised.
        ("G4 B4 D5 C#5 D5 E5 B4 D5 A4 B4 G4 E4 D4 G4:1", {"key": "G"}, "#4", "neighbour"),
        # Leapt to from above, a semitone below its goal on the beat.
        ("G4 D5 B4 D5 E5 A#4 B4 D5 G4 A4 B4 E5 D5 B4 G4:1", {"key": "G"}, "b3", "approach"),
        # From above, then from below, then home: an enclosure of the 3rd.
        ("C4 E4 G4 A4 F4 D#4 E4 G4 D4 E4 C4 A3 C4:2", {"chords": "C"}, "#2", "enclosure"),
        ("A4 C5 D5 E5 G5 C#5 A4 G4 E4 G4 A4:3", {"chords": "A7"}, "3", "borrowed chord tone"),
    ],
)  # fmt: skip
def test_functions(notes: str, settings: dict[str, str], degree: str, function: str) -> None:
    analysis = analyze(phrase(notes, spelled=True, **settings))
    found = {(note.degree.semitones): note for note in analysis.outside_notes}
    from linewright.theory import Degree

    note = found[Degree.parse(degree).semitones]
    assert note.function == function
    assert note.function in FUNCTIONS
    assert note.reason


@pytest.mark.parametrize(
    ("notes", "settings", "name"),
    [
        # b5 in the blues falling or rising; #4 rising to the 5 of a major frame.
        ("G4 Bb4 C5 C#5 C5 Bb4 G4 F4 D4 F4 G4:3", {"key": "Gm"}, "b5"),
        ("G4 B4 D5 C#5 D5 E5 B4 D5 A4 B4 G4 E4 D4 G4:1", {"key": "G"}, "#4"),
        # In G the open A string and its first two frets are 2, b3 and 3.
        ("D4 G4 A4 A#4 B4 D5 E5 D5 B4 A4 G4 E4 D4 E4 G4:2", {"key": "G"}, "b3"),
    ],
)
def test_spelling_when_the_source_did_not_spell(
    notes: str, settings: dict[str, str], name: str
) -> None:
    analysis = analyze(phrase(notes, spelled=False, **settings))
    assert [note.degree.name for note in analysis.outside_notes] == [name]
    for fact in analysis.notes:
        assert fact.degree.above(analysis.tonic).name == fact.pitch.pitch_class.name
        assert analysis.lick.notes[fact.index].pitch == fact.pitch


def test_a_note_next_to_another_is_not_said_to_be_tied_to_nothing() -> None:
    # A raised fourth a semitone under the fifth it comes from, then a leap on (common practice).
    notes = "A4:2 C5 D5 E5 D#5 D#5 C5:2 A4:2 G5 E5 D5 C5 A4:3"
    (first, *_) = analyze(phrase(notes, key="Am", spelled=True)).outside_notes
    assert (
        first.reason
        == "the #4 comes from the 5 and goes to the b3, reached by step and left by leap"
    )


def test_a_spelling_that_was_given_is_kept() -> None:
    analysis = analyze(phrase("G4 Bb4 C5 C#5 C5 Bb4 G4 F4 D4 F4 G4:3", key="Gm", spelled=True))
    assert [note.degree.name for note in analysis.outside_notes] == ["#4"]


def test_a_neighbour_that_is_a_chord_tone_is_told_as_both() -> None:
    """F# over D7 between two Gs, off the beat: the 6 of home, the 3 of the chord."""
    found = analyze(
        phrase("A4 C5 D5 E5 G5 E5 D5 A4:1 G4 F#4 G4 A4 D5 A4:1", chords="A7 D7", key="A")
    )
    said = {n.degree.name: (n.function, n.reason) for n in found.outside_notes}
    assert said["6"] == (
        "neighbour", "the 6, the 3 of D7, touches from below and returns to the b7"
    )  # fmt: skip
