"""Altered tones over a dominant that goes home; each phrase analysed by hand.

Sources: Levine (1995, ch. 2-4, from memory) for guide tones and for the tensions of a dominant;
Aldwell, Schachter and Cadwallader (2011) for the cadence; the rest is common practice.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from phrases import phrase

from linewright.analysis import Analysis, analyze
from linewright.analysis.cadence import altered_tensions, home_tones
from linewright.analysis.harmony import degree_in_chord
from linewright.score import Mark
from linewright.theory import ChordSymbol, PitchClass

#: 3 b9 7 5 13 b9 #9 b9 of G7, then 5 3 9 7 1 of Cmaj7.
TURN = "B4 Ab4 F4 D4 E4 Ab4 Bb4 Ab4 G4 E4 D4 B3 C4:2"


def _read(notes: str, chords: str, key: str | None) -> Analysis:
    return analyze(phrase(notes, chords=chords, key=key))


@pytest.mark.parametrize(
    ("notes", "chords", "key", "frame"),
    [
        (TURN, "G7 Cmaj7", "C", "C major"),
        (TURN, "G7 Cmaj7", None, "C major"),
        (f"D5 F5 A5 C6 B5 A5 G5 F5 {TURN}", "Dm7 G7 Cmaj7", "C", "C major"),
        ("B4 Db5 D5 E5 F5 Ab5 Bb5 Ab5 G5 E5 D5 B4 C5:2", "G7 Cmaj7", "C", "C major"),
        ("E4 Db4 Bb3 G3 A3 Db4 Eb4 Db4 C4 A3 G3 E3 F3:2", "C7 F", "F", "F major"),
        ("C#5 Bb4 G4 E4 F#4 Bb4 C5 Bb4 A4 F#4 E4 C#4 D4:2", "A7 D6", None, "D major"),
    ],
)
def test_an_altered_dominant_makes_no_mode_of_the_tonic(
    notes: str, chords: str, key: str | None, frame: str
) -> None:
    """The 3 of the dominant, the 7 of home, is heard: no frame with a b7 holds it."""
    assert _read(notes, chords, key).frame_name == frame


@pytest.mark.parametrize("chords", ["C C", "C Gm7", "C Fm"])
def test_a_flat_sixth_and_seventh_without_a_cadence_are_still_a_mode(chords: str) -> None:
    notes = "C5 D5 E5 F5 G5 Ab5 Bb5 Ab5 G5 F5 E5 D5 C5:2"
    assert _read(notes, chords, "C").frame_name == "C mixolydian flat 6"


def test_only_a_dominant_that_goes_to_a_major_chord_lends_its_tensions() -> None:
    def names(left: str, right: str) -> set[int]:
        return set(altered_tensions(ChordSymbol.parse(left), ChordSymbol.parse(right)))

    assert names("G7", "Cmaj7") == {8, 10, 1, 3}  # Ab Bb C# Eb
    assert not names("G7", "Cm")
    assert not names("G7", "C7")  # the blues
    assert not names("G7", "F")
    assert not names("G", "C")


def test_the_chord_on_home_says_its_third_and_seventh_where_they_are_played() -> None:
    lick = phrase("C5 E5 G5 B5 C5 D5 F5 Eb5", chords="Cmaj7 G7")
    assert home_tones(lick, PitchClass("C")) == {4, 11}
    assert not home_tones(phrase("C5 E5 G5 Bb5", chords="C7"), PitchClass("C"))
    assert not home_tones(phrase("C5 D5 G5 C5", chords="Cmaj7"), PitchClass("C"))


@pytest.mark.parametrize(
    ("notes", "chord", "names"),
    [
        # A number above 7 counts on the 7th below it (common practice).
        ("Bb4 D4 A4 E4 C4 Db4 Ab4", "G7", ["#9", "5", "9", "13", "11", "#11", "b9"]),
        ("Bb4 D4 A4 E4 C4 C#4", "G", ["b3", "5", "2", "6", "4", "#4"]),
        ("D4 Eb4 B4 G4 F4", "Am7", ["11", "b5", "9", "b7", "b13"]),
        ("D4 D#4 B4 G4 F4", "Am7", ["11", "b5", "9", "b7", "b13"]),
        ("D4 A4 F4 B4 Bb4", "Cadd9", ["9", "6", "4", "7", "b7"]),
    ],
)
def test_one_note_has_one_name_in_its_chord(notes: str, chord: str, names: list[str]) -> None:
    analysis = _read(notes, chord, "G")
    assert [relation.name for relation in analysis.harmony.relations] == names
    assert [str(fact.chord_degree) for fact in analysis.notes] == names


@pytest.mark.parametrize(
    ("note", "chord", "name"),
    [("C#", "G", "#4"), ("Db", "G", "b5"), ("A#", "G", "#2"), ("Cb", "G", "3"), ("Db", "Gm", "b5")],
)
def test_over_a_chord_without_a_7th_the_spelling_tells(note: str, chord: str, name: str) -> None:
    assert degree_in_chord(PitchClass.parse(note), ChordSymbol.parse(chord)).name == name


def _told(analysis: Analysis) -> list[tuple[str, str, str]]:
    return [(n.degree.name, n.function, n.reason) for n in analysis.outside_notes]


def test_tensions_of_a_dominant_that_goes_home_are_said_as_such() -> None:
    """Bb is the #9 of G7 beside its b9, and not blue; Ab the b9, in an arpeggio."""
    assert _told(_read(TURN, "G7 Cmaj7", "C")) == [
        ("b6", "leap", "the b6 comes from the 7 and goes to the 4, as the b9 of G7"),
        ("b6", "leap", "the b6 comes from the 3 and goes to the b7, as the b9 of G7"),
        (
            "b7",
            "neighbour",
            "the b7 touches from above and returns to the b6, as the #9 of G7",
        ),
        ("b6", "passing", "the b6 passes down from b7 to 5, as the b9 of G7"),
    ]


def test_the_same_notes_over_a_chord_that_goes_nowhere_are_no_tensions() -> None:
    told = _told(_read("B4 D5 F5 D5 E5 Ab5 F5 D5 E5 C5 D5 B4 C5:2", "G7 Am", "C"))
    assert [(degree, function) for degree, function, _ in told] == [("b6", "leap")]
    assert "tied to nothing" in told[0][2]


def test_a_slid_third_over_the_dominant_is_still_blue() -> None:
    lick = phrase("D5 F5 Eb5 B4 D5 B4 G4 B4 C5 E5 G5 E5 C5:2", chords="G7 C", key="C")
    flat = next(i for i, note in enumerate(lick.notes) if note.midi % 12 == 3)
    plain = analyze(lick)
    assert _told(plain) == [
        ("b3", "leap", "the b3 comes from the 4 and goes to the 7, as the b13 of G7")
    ]
    notes = list(lick.notes)
    notes[flat] = replace(notes[flat], marks=(Mark("slide"),))
    assert [n.function for n in analyze(lick.with_(notes=tuple(notes))).outside_notes] == [
        "blue note"
    ]
    blues = lick.with_(style="slow blues")
    assert [n.function for n in analyze(blues).outside_notes] == ["blue note"]


def test_a_raised_degree_on_its_way_up_is_no_tension() -> None:
    """F D# E over G7 closes in on the 13: the D# is no b13 (common practice)."""
    lick = phrase("B4 D5 F5 D#5 E5 D5 B4 G4 C5 E5 G5 E5 C5:2", chords="G7 C", key="C")
    assert _told(analyze(lick)) == [
        ("#2", "enclosure", "4 and #2 close in on the 3 from both sides")
    ]
