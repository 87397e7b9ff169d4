"""Where home is when it is not said, and what is left open; analysed by hand (common practice)."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from phrases import phrase
from tests.strategies import licks

from linewright.analysis import Analysis, analyze
from linewright.score import Lick


def reading(analysis: Analysis, name: str) -> tuple[str, str]:
    found = next(
        r
        for r in analysis.readings
        if r.frame.tonic == analysis.tonic and r.frame.collection.name == name
    )
    return found.verdict, found.reason


@pytest.mark.parametrize(
    ("notes", "settings", "frame"),
    [
        # The dominant's chord under a written key whose tonic is never played.
        ("F4 A4 C5 Eb5 C5 A4 F4 A4 C5 Eb5 C5 A4 F4:2", {"key": "Bb", "chords": "F7"}, "F dominant seventh arpeggio"),
        ("D4 F#4 A4 D5 A4 F#4 D4:1", {"key": "G"}, "D major triad arpeggio"),
        ("E4 G4 B4 D5 B4 G4 E4:1", {"key": "C"}, "E minor seventh arpeggio"),
    ],
)  # fmt: skip
def test_a_lone_chord_is_its_own_home(notes: str, settings: dict[str, str], frame: str) -> None:
    analysis = analyze(phrase(notes, **settings))
    assert analysis.frame_name == frame
    assert analysis.outside_notes == ()
    assert f"never {settings['key']}, the written key's tonic" in analysis.tonic_reason


@pytest.mark.parametrize(
    ("notes", "settings", "outside"),
    [
        ("F4 A4 C5 Eb5 C5 A4 E4 F4", {"key": "Bb", "chords": "F7"}, ["7"]),  # a neighbour below
        ("F4 G4 A4 C5 Eb5 C5 A4 F4", {"key": "Bb", "chords": "F7"}, ["2"]),  # a passing note
        ("F4 G4 A4 C5 Eb5 C5 A4 F4", {"key": "Bb"}, ["2"]),
    ],
)
def test_a_step_beside_a_lone_chord_does_not_hide_it(
    notes: str, settings: dict[str, str], outside: list[str]
) -> None:
    analysis = analyze(phrase(notes, **settings))
    assert analysis.frame_name == "F dominant seventh arpeggio"
    assert [note.degree.name for note in analysis.outside_notes] == outside


def test_a_written_key_whose_tonic_is_played_stays_home() -> None:
    analysis = analyze(phrase("F4 A4 C5 Eb5 D5 C5 A4 F4 Bb4:2", key="Bb", chords="F7 Bb"))
    assert (analysis.tonic.name, analysis.tonic_source) == ("Bb", "key")


def test_a_given_tonic_is_never_overruled() -> None:
    analysis = analyze(phrase("F4 A4 C5 Eb5 C5 A4 F4:2", key="Bb", chords="F7"), "Bb")
    assert (analysis.tonic.name, analysis.tonic_source) == ("Bb", "given")


@settings(max_examples=60, deadline=None)
@given(licks().filter(lambda lick: any(not note.has("dead") for note in lick.notes)))
def test_an_inferred_home_is_played(lick: Lick) -> None:
    analysis = analyze(lick)
    if analysis.tonic_source == "inferred":
        assert any(note.midi % 12 == analysis.tonic.number for note in lick.notes)


def test_first_last_and_longest_are_strong_evidence() -> None:
    """D dorian against its relatives: it begins, ends and rests longest on D."""
    analysis = analyze(phrase("D4 F4 G4 A4 B4 C5 A4 G4 F4 E4 G4 E4 D4:4"))
    assert (analysis.tonic.name, analysis.tonic_source) == ("D", "inferred")
    assert analysis.frame_name == "D dorian"


def test_a_degree_silent_in_both_sizes_leaves_both_possible() -> None:
    analysis = analyze(phrase("A4 B4 C5 D5 E5 F5 E5 D5 C5 B4 A4:2", key="Am"))
    assert analysis.frame_name == "A natural minor"
    assert reading(analysis, "harmonic minor") == (
        "possible",
        "possible: the 7th that would tell it from natural minor is not heard",
    )
    assert reading(analysis, "dorian") == ("ruled out", "not dorian: the 6th is minor")
    major = analyze(phrase("C4 D4 E4 G4 A4 B4 A4 G4 E4 D4 C4:2", key="C"))
    assert reading(major, "lydian") == (
        "possible",
        "possible: the 4th that would tell it from major is not heard",
    )


def test_where_nothing_fits_the_whole_the_parts_are_named() -> None:
    """C, then the chords of A flat: C major for a bar, A flat major for three."""
    analysis = analyze(
        phrase(
            "C4 D4 E4 G4 B4 G4 E4 C4 Eb4 F4 G4 Bb4 D5 Bb4 G4 Eb4"
            " Ab4 Bb4 C5 Eb5 G5 Eb5 C5 Ab4 Db4 Eb4 F4 Ab4 C5 Ab4 F4 Db4",
            chords="Cmaj7 Ebmaj7 Abmaj7 Dbmaj7",
        )
    )
    assert analysis.frame is None
    assert analysis.verdict == (
        "Nothing fits the whole, but each part has its frame: C major over Cmaj7,"
        " then Ab major in bars 2 to 4."
    )
