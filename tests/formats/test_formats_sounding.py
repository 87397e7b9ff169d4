"""How a lick that was read sounds: an octave lower, with a capo, in another tuning."""

from __future__ import annotations

import pytest

from linewright.errors import OptionError
from linewright.formats import ReadOptions, read_bytes
from linewright.fretboard import parse_instrument

ABC = b'X:1\nT:Gate\nM:4/4\nL:1/8\nK:G\n"G"GABd "D7"edBA|"G"G8|\n'
TAB = b"""\
Title: Gate
Key: G

   G
e|-----------------|
B|-----------------|
G|-0---2---0-------|
D|-----------4---0-|
A|-----------------|
E|-----------------|
   1 & 2 & 3 & 4 &
"""


def test_guitar_music_in_the_treble_clef_sounds_an_octave_lower() -> None:
    """Written G4, sounding G3, the open third string (common practice)."""
    written = read_bytes(ABC)
    sounding = read_bytes(ABC, options=ReadOptions(octave="guitar"))
    assert written.notes[0].pitch.name == "G4"
    assert sounding.notes[0].pitch.name == "G3"
    assert {a.midi - b.midi for a, b in zip(written.notes, sounding.notes, strict=True)} == {12}
    assert sounding.key == written.key
    assert sounding.chords == written.chords
    assert "an octave lower than written" in sounding.remarks[-1]


def test_a_tab_is_not_written_an_octave_higher() -> None:
    with pytest.raises(OptionError, match="how its notes sound"):
        read_bytes(TAB, options=ReadOptions(octave="guitar"))


@pytest.mark.parametrize(
    ("capo", "key", "chord", "first"),
    [(0, "G major", "G", "G3"), (2, "A major", "A", "A3"), (3, "Bb major", "Bb", "Bb3"),
     (5, "C major", "C", "C4")],
)  # fmt: skip
def test_with_a_capo_a_tab_sounds_higher_and_its_key_and_chords_with_it(
    capo: int, key: str, chord: str, first: str
) -> None:
    """The shapes of G with a capo at 2 sound in A, at 3 in B flat (common practice)."""
    lick = read_bytes(TAB, options=ReadOptions(instrument=parse_instrument("guitar", capo=capo)))
    assert lick.key.name == key
    assert [str(c.symbol) for c in lick.chords] == [chord]
    assert lick.notes[0].pitch.name == first
    assert [n.fret for n in lick.notes] == [0, 2, 0, 4, 0]
    assert all(lick.instrument.midi_at(n.string, n.fret) == n.midi for n in lick.notes)
    assert any("shapes of G major" in r for r in lick.remarks) == bool(capo)


def test_a_capo_the_tab_names_is_not_counted_twice() -> None:
    text = b"Capo: 2\n" + TAB
    named = read_bytes(text)
    same = read_bytes(text, options=ReadOptions(instrument=parse_instrument("guitar", capo=2)))
    assert same == named
    assert named.notes[0].pitch.name == "A3"
    higher = read_bytes(text, options=ReadOptions(instrument=parse_instrument("guitar", capo=4)))
    assert higher.notes[0].pitch.name == "B3"


def test_an_abc_tune_keeps_its_pitches_and_key_under_a_capo() -> None:
    lick = read_bytes(ABC, options=ReadOptions(instrument=parse_instrument("guitar", capo=2)))
    assert lick.key.name == "G major"
    assert lick.notes[0].pitch.name == "G4"


def test_a_tuning_that_moves_some_strings_leaves_key_and_chords() -> None:
    options = ReadOptions(instrument=parse_instrument("guitar", "DADGAD"))
    text = b"Instrument: guitar\nTuning: standard\n" + TAB
    lick = read_bytes(text, options=options)
    assert lick.key.name == "G major"
