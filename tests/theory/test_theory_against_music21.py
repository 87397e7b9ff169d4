"""Scales, chords and keys held against music21 (Cuthbert and Ariza 2010), a reference library."""

from __future__ import annotations

import music21
import pytest

from linewright.theory import COLLECTIONS, MODES, QUALITIES, ChordSymbol, Key, PitchClass

#: Forte's set-class names (Forte 1973, appendix 1) of the collections, from memory of the table and
#: confirmed by music21 below, which carries the table itself.
FORTE = {
    "major pentatonic": "5-35",
    "minor pentatonic": "5-35",
    "major": "7-35",
    "dorian": "7-35",
    "phrygian": "7-35",
    "lydian": "7-35",
    "mixolydian": "7-35",
    "natural minor": "7-35",
    "locrian": "7-35",
    "harmonic minor": "7-32",
    "melodic minor": "7-34",
    "lydian dominant": "7-34",
    "altered": "7-34",
    "whole tone": "6-35",
    "half-whole diminished": "8-28",
    "whole-half diminished": "8-28",
    "major triad arpeggio": "3-11",
    "minor triad arpeggio": "3-11",
    "diminished triad arpeggio": "3-10",
    "augmented triad arpeggio": "3-12",
    "dominant seventh arpeggio": "4-27",
    "half-diminished seventh arpeggio": "4-27",
    "major seventh arpeggio": "4-20",
    "minor seventh arpeggio": "4-26",
    "diminished seventh arpeggio": "4-28",
}


def _vector(semitones: tuple[int, ...]) -> list[int]:
    counts = [0] * 6
    for i, low in enumerate(semitones):
        for high in semitones[i + 1 :]:
            gap = (high - low) % 12
            counts[min(gap, 12 - gap) - 1] += 1
    return counts


@pytest.mark.parametrize("name", sorted(COLLECTIONS))
def test_interval_vectors_and_forte_names(name: str) -> None:
    item = COLLECTIONS[name]
    chord = music21.chord.Chord([60 + s for s in item.semitones])
    assert chord.intervalVector == _vector(tuple(sorted(item.semitones)))
    if name in FORTE:
        assert chord.forteClassTn.rstrip("AB") == FORTE[name]


@pytest.mark.parametrize(
    ("name", "scale"),
    [
        ("major", music21.scale.MajorScale),
        ("natural minor", music21.scale.MinorScale),
        ("dorian", music21.scale.DorianScale),
        ("phrygian", music21.scale.PhrygianScale),
        ("lydian", music21.scale.LydianScale),
        ("mixolydian", music21.scale.MixolydianScale),
        ("locrian", music21.scale.LocrianScale),
        ("harmonic minor", music21.scale.HarmonicMinorScale),
        ("whole tone", music21.scale.WholeToneScale),
    ],
)
def test_scales_are_spelled_as_music21_spells_them(name: str, scale: type) -> None:
    from linewright.theory import Frame

    for tonic in ("C", "D", "E", "F", "G", "A"):
        theirs = [p.name.replace("-", "b") for p in scale(tonic).getPitches()][:-1]
        ours = list(Frame(PitchClass.parse(tonic), COLLECTIONS[name]).names)
        if name == "whole tone":  # its spelling is a convention: compare the sound
            assert [PitchClass.parse(n).number for n in ours] == [
                PitchClass.parse(n).number for n in theirs
            ]
        else:
            assert ours == theirs


@pytest.mark.parametrize("mode", ["major", "minor", "dorian", "phrygian", "lydian", "mixolydian"])
def test_signatures(mode: str) -> None:
    for tonic in ("C", "D", "E", "F", "G", "A", "B", "Bb", "Eb", "F#"):
        theirs = music21.key.Key(tonic.replace("b", "-"), mode).sharps
        if abs(theirs) > 7:
            continue
        key = Key(PitchClass.parse(tonic), mode)
        assert key.fifths == theirs
        altered = music21.key.KeySignature(theirs).alteredPitches
        assert key.signature == {p.step: int(p.accidental.alter) for p in altered}
    assert mode in MODES


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        ("C", "C"), ("Am", "Am"), ("G7", "G7"), ("Cmaj7", "Cmaj7"), ("Em7", "Em7"),
        ("Bm7b5", "Bm7b5"), ("F#dim", "F#dim"), ("Caug", "C+"), ("D6", "D6"), ("Dm6", "Dm6"),
        ("Ddim7", "Ddim7"), ("A9", "A9"), ("Gsus4", "Gsus4"), ("Gsus2", "Gsus2"),
        ("F#m", "F#m"), ("Bb7", "B-7"), ("Ebmaj7", "E-maj7"), ("CmMaj7", "CmM7"),
    ],
)  # fmt: skip
def test_chord_tones(ours: str, theirs: str) -> None:
    reference = {p.pitchClass for p in music21.harmony.ChordSymbol(theirs).pitches}
    assert ChordSymbol.parse(ours).numbers == reference


def test_every_quality_reads_back() -> None:
    for quality in QUALITIES:
        chord = ChordSymbol(PitchClass("E", -1), quality, PitchClass("G"))
        assert ChordSymbol.parse(chord.text) == chord


def test_spellings_of_one_chord() -> None:
    """Spellings of the half-diminished and major sevenths on lead sheets (common practice)."""
    assert len({ChordSymbol.parse(t) for t in ("Bm7b5", "Bø", "Bø7", "B-7b5", "Bm7(b5)")}) == 1
    assert len({ChordSymbol.parse(t) for t in ("Cmaj7", "CM7", "CΔ", "CΔ7")}) == 1
