"""What written chords say of home and scale; each phrase analysed by hand.

Sources: Aldwell, Schachter and Cadwallader (2011) for the cadence, Kostka and Payne (2009, ch. 16-17)
for applied dominants, Levine (1995, ch. 3-4) for the scales of altered symbols (all from memory);
the rest is common practice.
"""

from __future__ import annotations

import pytest
from phrases import phrase

from linewright.analysis import Analysis, analyze
from linewright.analysis.cadence import CHORD_SCALES, is_foreign
from linewright.analysis.home import chord_tonic
from linewright.theory import COLLECTIONS, ChordSymbol, Frame, PitchClass


def _outside(analysis: Analysis) -> list[tuple[str, str]]:
    return [(note.degree.name, note.function) for note in analysis.outside_notes]


def _spans(analysis: Analysis) -> list[str]:
    return [span.frame.name if span.frame else "none" for span in analysis.spans]


_BORROWED = "borrowed chord tone"


@pytest.mark.parametrize(
    ("notes", "chords", "key", "outside"),
    [
        # The dominant of the dominant, one bar and two bars long, and a chain of three.
        ("F#4 A4 C5 E5 D5 C5 A4 F#4 F4 G4 B4 D5 C5 B4 A4 G4 E4:4", "D7 G7 C", "C", ["#4", "#4"]),
        ("F#4 A4 C5 E5 D5 C5 A4 F#4 F4 G4 B4 D5 C5 B4 A4 G4 E4:4", "D7 G7 C", None, ["#4", "#4"]),
        ("F#5 A5 D5 F#5 A5:1 D5:1 F#5 E5 D5 F#5 D5:2 G5 F5 D5 B4 G5 F5 D5 B4 C5:4", "D7 D7 G7 C", "C", ["#4"] * 4),
        ("C#5 E5 A5 G5 E5 C#5 A4:1 F#5 D5 A4 C5 B4 A4 F#4:1 G4:4", "A7 D7 G", "G", ["#4", "#4"]),
        ("F#4 A4 C5 D5 C5 A4 F#4 D5 B4 D5 F5 D5 B4 D5 G5 F5 E5 G5 Bb5 G5 E5 C5 D5 E5 A5:4", "D7 G7 C7 F", None, ["#1", "#1", "#4", "#4"]),
    ],
)  # fmt: skip
def test_an_applied_dominant_makes_no_lydian(
    notes: str, chords: str, key: str | None, outside: list[str]
) -> None:
    """Its 3rd is borrowed for a moment; the 4 is the 7th of the chord that leads home."""
    analysis = analyze(phrase(notes, chords=chords, key=key))
    assert analysis.frame_name == f"{chords.split()[-1]} major"
    assert _outside(analysis) == [(degree, _BORROWED) for degree in outside]


def test_lydian_without_a_cadence_is_still_lydian() -> None:
    notes = "C5 E5 F#5 G5 F#5 E5 D5 B4 A4 F#4 D4 E4 F#4 A4 B4 D5 C5:4"
    assert analyze(phrase(notes, chords="C D C", key="C")).frame_name == "C lydian"


@pytest.mark.parametrize("key", ["G", None])
def test_chords_within_the_key_lend_it_nothing(key: str | None) -> None:
    """A jig on G, C and D plays all seven notes of G major: the root of C is not borrowed."""
    analysis = analyze(
        phrase(
            "B4 A4 B4 D5 B4 G4 E4 G4 C5 B4 A4 F#4 G4 B4 D5 G5 D5 B4 A4 F#4 A4 G4:3/2",
            chords="G C D G G G D G", key=key, meter="6/8",
        )
    )  # fmt: skip
    assert analysis.frame_name == "G major"
    assert analysis.outside_notes == ()


def test_the_minor_pentatonic_still_borrows_in_a_major_key() -> None:
    """Its b3 and b7 are not the written key's, so the 3rd of the chord on 4 is borrowed."""
    notes = "F5 G5 D5 F5 D5 Bb4 G4:1 Bb4 C5 E5 C5 Bb4 G4 G4:1 G4:4"
    analysis = analyze(phrase(notes, chords="G C G", key="G"))
    assert analysis.frame_name == "G minor pentatonic"
    assert _outside(analysis) == [("6", _BORROWED)]


@pytest.mark.parametrize(
    ("notes", "chords", "key", "frames"),
    [
        ("G4 Ab4 Bb4 B4 C#5 D5 E5 F5 E5:1 C5:1 G4:2", "G7b9 C", "C",
         ["G half-whole diminished", "C major"]),
        ("B4 Eb5 Db5 B4 Bb4 Ab4 G4 F4 Eb4:4", "G7alt Cm", "Cm", ["G altered", "C harmonic minor"]),
        ("E4 Gb4 Ab4 Bb4 C5 Db5 Eb5 Gb5 F5:4", "C7alt Fm", "Fm", ["C altered", "F harmonic minor"]),
        ("D4 E4 F#4 G#4 A4 B4 C5 A4 B4:1 G4:1 F4:1 D4:1 E4:2 C4:2", "D7#11 G7 C", "C",
         ["D lydian dominant", "C major"]),
        ("G4 A4 B4 C#5 D#5 F5 D#5 B4 C5:1 E5:1 G5:2", "Gaug7 C", "C", ["G whole tone", "C major"]),
        ("G4 A4 Bb4 C5 D5 C5 Bb4 A4 G4 Gb4 E4 Eb4 Db4 C4 Bb3 A3 A3:2 F4:2", "Gm7 C7b9 F", "F",
         ["F major", "C half-whole diminished", "F major"]),
    ],
)  # fmt: skip
def test_an_altered_symbol_names_the_scale_over_it(
    notes: str, chords: str, key: str, frames: list[str]
) -> None:
    analysis = analyze(phrase(notes, chords=chords, key=key))
    assert _spans(analysis) == frames
    assert analysis.frame_name == frames[-1]


def test_an_altered_symbol_names_no_scale_that_is_not_played() -> None:
    """C major straight through a G7b9: no diminished scale is heard."""
    analysis = analyze(phrase("G4 A4 B4 D5 F5 E5 D5 B4 C5:1 E5:1 G5:2", chords="G7b9 C", key="C"))
    assert _spans(analysis) == ["C major"]


def test_every_scale_of_a_symbol_holds_its_chord() -> None:
    """So far as the symbol says: an altered dominant leaves out the 5 it alters."""
    for quality, name in CHORD_SCALES.items():
        chord = ChordSymbol(PitchClass("C"), quality)
        assert chord.numbers <= Frame(PitchClass("C"), COLLECTIONS[name]).numbers, quality


@pytest.mark.parametrize(
    ("notes", "chords", "frame"),
    [
        ("E4:1 G4:1 B4:2", "Cmaj7", "C major seventh arpeggio"),
        ("F4:1 A4:1 C5:1 A4:1", "Dm7", "D minor seventh arpeggio"),
        ("B4:1 D5:1 F5:1 D5:1", "G7", "G dominant seventh arpeggio"),
    ],
)
def test_a_chord_without_its_root_is_still_that_chord(notes: str, chords: str, frame: str) -> None:
    """The bass plays it: E G B over Cmaj7 are its 3, 5 and 7."""
    analysis = analyze(phrase(notes, chords=chords))
    assert (analysis.tonic_source, analysis.frame_name) == ("chords", frame)
    assert "its 1 is not heard" in analysis.verdict


@pytest.mark.parametrize(
    ("chords", "tonic"),
    [
        ("D7 G7 C", "C"),
        ("E7 A7 D7 G", "G"),
        ("D7 G7 C7 F", "F"),
        ("C A7 Dm G7", "C"),
        ("D7 D7 D7 G7 C C", "C"),  # a chord that lasts for bars is one link of the chain
        ("C C A7 A7 D7 D7 G7 G7", "C"),
        ("A7 D7 A7 E7", "A"),  # the blues stays home
        ("G7 C7 G7 D7", "G"),
    ],
)
def test_a_chain_of_dominants_is_at_home_where_it_ends(chords: str, tonic: str) -> None:
    lick = phrase("C4 D4 E4 F4", chords=chords)
    found = chord_tonic(lick.chords)
    assert found is not None
    assert found.name == tonic


@pytest.mark.parametrize(
    ("chords", "tonic"),
    [
        # Turnarounds and half cadences (common practice): the dominant at the end leads to the top.
        ("C Am F G", "C"),
        ("C Am Dm G7", "C"),
        ("G G7 C C#dim7 G E7 A7 D7", "G"),
        ("Dm7 G7 Cmaj7 A7 Dm7 G7", "C"),
        ("Cm7 F7 Bbmaj7 G7 Cm7 F7", "Bb"),
        ("Am G F E7", "A"),
        # Ending at home, on a blues seventh or on the 4 these are not.
        ("C F G C", "C"),
        ("A7 D7 E7 A7", "A"),
        ("G C G C", "C"),
        ("G F C G", "G"),
    ],
)
def test_stopping_on_the_dominant_is_not_coming_home(chords: str, tonic: str) -> None:
    found = chord_tonic(phrase("C4 D4 E4 F4", chords=chords).chords)
    assert found is not None
    assert found.name == tonic


def test_a_chord_of_another_home_brings_its_own_scale() -> None:
    """Dorian moved up a half step with its chord, and back: no note is borrowed."""
    analysis = analyze(
        phrase(
            "A4 B4 C5 D5 F5 E5 D5:1 Bb4 C5 Db5 Eb5 Gb5 F5 Eb5:1 A4 B4 C5 D5 E5 F5 D5:1",
            chords="Dm7 Ebm7 Dm7",
        )
    )
    assert analysis.frame is None
    assert analysis.verdict == (
        "Nothing fits the whole, but each part has its frame: D dorian over Dm7,"
        " then Eb dorian over Ebm7, then D dorian over Dm7."
    )
    home = PitchClass("D")
    assert is_foreign(ChordSymbol.parse("Ebm7"), home)
    assert not is_foreign(ChordSymbol.parse("C"), home)
    assert not is_foreign(ChordSymbol.parse("E7"), home)
