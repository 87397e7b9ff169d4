"""Which frame a phrase hangs on, and the sentences for and against.

Phrases and answers are common practice, analysed by hand as a teacher would.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from phrases import phrase

from linewright.analysis import Analysis, analyze
from linewright.analysis.home import chord_tonic
from linewright.errors import MusicError
from linewright.score import Mark


def reading(analysis: Analysis, name: str) -> tuple[str, str]:
    found = next(
        r
        for r in analysis.readings
        if r.frame.tonic == analysis.tonic and r.frame.collection.name == name
    )
    return found.verdict, found.reason


@pytest.mark.parametrize(
    ("notes", "settings", "frame", "outside"),
    [
        # Minor pentatonic with the flat fifth: the blues scale.
        ("G4 Bb4 C5 Db5 C5 Bb4 G4 F4 D4 F4 G4:3", {"key": "Gm"}, "G minor pentatonic + b5 (blues)", ["b5"]),
        # The same over a dominant, with the major third.
        ("G4 Bb4 B4 G4 D5 F5 D5 C5 Bb4 G4 F4 D4 G4:2", {"chords": "G7"}, "G minor pentatonic", ["3"]),
        # Country: major pentatonic with the flat third slid into the third.
        ("D4 G4 A4 Bb4 B4 D5 E5 D5 B4 A4 G4 E4 D4 E4 G4:2", {"key": "G"}, "G major pentatonic + b3 (major blues)", ["b3"]),
        ("A4 B4 C5 D5 E5 F#5 G5 E5 F#5 D5 C5 A4 B4 G4 A4:1", {"key": "A dorian"}, "A dorian", []),
        ("A4 B4 C5 D5 E5 F5 E5 G5 E5 D5 C5 B4 A4:2", {"key": "Am"}, "A natural minor", []),
        ("G4 A4 B4 C5 D5 F5:1 E5 D5 C5 B4 A4 F4 G4:1", {"key": "G"}, "G mixolydian", []),
        ("G5 F#5 F5 E5 D5 C5 B4 A4 G4 B4 D5 F5 E5:2", {"chords": "G7"}, "G mixolydian + 7 (bebop dominant)", ["7"]),
        ("D4 F4 A4 C5 B4 A4 G4 F4 E4 G4 B4 D5 C5:2 r:2", {"chords": "Dm7 G7 Cmaj7 Cmaj7"}, "C major", []),
        ("C4 E4 G4 B4 G4 E4 B3 C4", {"chords": "Cmaj7"}, "C major seventh arpeggio", []),
        ("C4 E4 G4 C5 G4 E4 C4:1", {"chords": "C"}, "C major triad arpeggio", []),
        ("C5 D5 E5 F#5 G5 A5 Bb5 A5 F#5 G5 E5 D5 C5:2", {"chords": "C7"}, "C lydian dominant", []),
        ("C5 D5 E5 F#5 G#5 Bb5 G#5 F#5", {"chords": "C7"}, "C whole tone", []),
        ("E4 F4 G4 A4 B4 C5 B4 D5 C5 B4 A4 G4 F4 E4:1", {"key": "Em"}, "E phrygian", []),
        ("A4 G#4 A4 B4 C5 D5 E5 F5 E5 D5 C5 B4 G#4 A4:1", {"key": "Am"}, "A harmonic minor", []),
        ("F4 G4 A4 B4 C5 D5 E5 C5 B4 A4 G4 E4 F4:2", {"key": "F lydian"}, "F lydian", []),
        # One passing 4 does not make a seven-note scale of a pentatonic phrase.
        ("G4 A4 B4 C5 D5 E5 D5 B4 A4 B4 G4 E4 D4 E4 G4:1", {"key": "G"}, "G major pentatonic", ["4"]),
    ],
)  # fmt: skip
def test_frames_by_hand(
    notes: str, settings: dict[str, str], frame: str, outside: list[str]
) -> None:
    analysis = analyze(phrase(notes, **settings))
    assert analysis.frame_name == frame
    assert [note.degree.name for note in analysis.outside_notes] == outside


def test_no_mode_without_its_degree() -> None:
    """2 b3 4 5 b7 without a 6: dorian and natural minor cannot be told apart, so neither is named."""
    analysis = analyze(phrase("A4 B4 C5 D5 E5 G5 E5 D5 C5 B4 A4 G4 A4:2", key="Am"))
    assert analysis.frame is not None
    assert analysis.frame.collection.name == "minor pentatonic"
    assert reading(analysis, "dorian") == ("ruled out", "not dorian: its natural 6 is never heard")
    assert reading(analysis, "natural minor") == (
        "ruled out",
        "not natural minor: its b6 is never heard",
    )
    assert reading(analysis, "phrygian")[0] == "ruled out"


def test_reasons_a_teacher_would_give() -> None:
    minor = analyze(phrase("A4 B4 C5 D5 E5 F5 E5 G5 E5 D5 C5 B4 A4:2", key="Am"))
    assert reading(minor, "phrygian")[1] == "not phrygian: the 2nd is major"
    assert reading(minor, "major")[1].startswith("not major: the 3rd is minor")
    assert reading(minor, "dorian")[1] == "not dorian: the 6th is minor"
    mixolydian = analyze(phrase("G4 A4 B4 C5 D5 B4 F5:1 E5 D5 C5 B4 A4 F4 G4:1", key="G"))
    assert (
        reading(mixolydian, "major")[1] == "not major: the 7th is minor (the b7 is held on beat 4)"
    )


@pytest.mark.parametrize(
    "notes",
    [
        "C4 C#4 D4 D#4 E4 F4 F#4 G4",  # a chromatic run
        "C4 F#4 D4 Ab4 E4 Bb4 C#4 G4 Eb4 A4 F4 B4",  # all twelve notes
        "C4 G4 C5 G4",  # two notes: too little to name anything
    ],
)
def test_nothing_fits(notes: str) -> None:
    analysis = analyze(phrase(notes), "C")
    assert analysis.frame is None
    assert analysis.outside_notes == ()
    assert analysis.verdict.startswith("Nothing")
    assert "chosen" not in {r.verdict for r in analysis.readings}


def test_the_relative_is_argued_with() -> None:
    analysis = analyze(phrase("E4 G4 A4 B4 D5 E5 D5 B4 A4 G4 E4:3", key="Em"))
    relative = next(r for r in analysis.readings if r.frame.name == "G major pentatonic")
    assert relative.reason == "not G major pentatonic: the same notes, but home is E"


@pytest.mark.parametrize(
    ("chords", "home"),
    [
        # Common practice of functional harmony.
        ("Dm7 G7 Cmaj7 Cmaj7", "C"),
        ("G7", "G"),
        ("G7 C7 G7 D7", "G"),
        ("A7 D7 E7 A7", "A"),
        ("Am Dm E7 Am", "A"),
        ("G C D G", "G"),
        ("Bm7b5 E7 Am Am", "A"),
        ("C Am F G7", "C"),
        ("D A7 D G", "D"),
    ],
)
def test_home_of_a_progression(chords: str, home: str) -> None:
    tonic = chord_tonic(phrase("C4:16", chords=chords).chords)
    assert tonic is not None
    assert tonic.name == home


def test_chords_tell_the_tonic_when_no_key_does() -> None:
    analysis = analyze(phrase("E4 G4 A4 C5 D5 C5 A4 G4", chords="Am Am"))
    assert (analysis.tonic.name, analysis.tonic_source) == ("A", "chords")
    assert analysis.tonic_reason == "the only chord is Am"


def test_degrees_against_the_chord() -> None:
    """Over a C chord Bb is the b7 and A the 6 (common practice)."""
    analysis = analyze(phrase("G4 Bb4 A4 C5", chords="C"), "G")
    assert [fact.chord_degree.name for fact in analysis.notes if fact.chord_degree] == [
        "5", "b7", "6", "1",
    ]  # fmt: skip


def test_the_tonic_may_be_given_and_must_be_a_note() -> None:
    lick = phrase("C4 D4 E4 G4 A4 G4 E4 D4")
    assert analyze(lick, "A").tonic.name == "A"
    assert analyze(lick, "A").tonic_source == "given"
    with pytest.raises(MusicError, match="not a note name"):
        analyze(lick, "H")
    with pytest.raises(MusicError, match="no notes"):
        analyze(lick.with_(notes=()))


def test_too_little_to_tell_is_said_and_leaves_readings_open() -> None:
    """G C D: major, minor and suspended frames would all hold it, and no third is heard."""
    analysis = analyze(phrase("G4 C5 D5 C5 G4 D5 C5 G4", key="G"))
    assert analysis.frame is None
    assert analysis.tonic.name == "G"
    assert analysis.verdict.startswith("Too little is heard to tell: 1, 4 and 5 of G belong to")
    assert reading(analysis, "minor pentatonic") == (
        "possible",
        "possible: minor pentatonic holds every note, but its b3 and b7 are never heard",
    )


def test_the_frame_stands_on_home() -> None:
    """Where the frames on home cannot be told apart, one on another tonic is no answer."""
    for notes in ("F4 G4 Bb4 G4 F4 G4", "C4 G4 D4 G4 C4 D4"):
        analysis = analyze(phrase(notes, key="G"))
        assert analysis.frame is None or analysis.frame.tonic == analysis.tonic


@pytest.mark.parametrize(
    ("notes", "settings", "frame"),
    [
        # A blues riff over E7 whose minor third rises to the major one.
        ("E4 D4 B3 A3 G3 G#3 E3 E3:1", {"key": "E", "chords": "E7"}, "E minor pentatonic"),
        # One chromatic b7 does not make a ii-V-I in C mixolydian.
        ("D4 E4 F4 G4 A4 C5 B4 Bb4 A4 G4 F4 E4 D4 B3 D4 F4 E4:2 G4:2 C4:4", {"key": "C", "chords": "Dm7 G7 Cmaj7"}, "C major"),
        # The raised 4th and 7th are lower neighbours, not a rare mode.
        ("E5 D#5 E5 C5 B4 A4 G#4 A4 C5 B4 A4 E4 D#4 E4 A4:1", {"key": "Am"}, "A harmonic minor"),
    ],
)  # fmt: skip
def test_common_readings_before_rare_ones(notes: str, settings: dict[str, str], frame: str) -> None:
    analysis = analyze(phrase(notes, **settings))
    name = analysis.frame.name if analysis.frame else analysis.verdict
    if frame == "A harmonic minor":  # the 6th is silent: no minor mode may be named either
        assert "sharp 4" not in name
    else:
        assert name == frame


def test_a_colour_is_named_only_for_what_colours_do() -> None:
    """Ab over Fm in C is the chord's b3, not the bebop major scale's passing #5."""
    analysis = analyze(
        phrase("E4 G4 C5 G4 F4 Ab4 C5 Ab4 F4 G4 A4 B4 C5 D5 C5:1", key="C", chords="C Fm C C")
    )
    assert analysis.colour is None


def test_dead_notes_have_no_degree() -> None:
    lick = phrase("A4 C5 B4 D5 E5 G5 E5 A4", key="Am")
    dead = lick.with_(
        notes=tuple(
            replace(n, marks=(Mark("dead"),)) if i == 2 else n for i, n in enumerate(lick.notes)
        )
    )
    analysis = analyze(dead)
    assert analysis.frame_name == "A minor pentatonic"
    assert analysis.outside_notes == ()
    assert "every note is one of its" in analysis.verdict
