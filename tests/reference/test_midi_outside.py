"""MIDI against others: files other libraries write, and the published numbers of notes."""

import io
import warnings
from fractions import Fraction

import mido
import pytest

from linewright.formats.midi import read_midi, write_midi
from linewright.fretboard import instrument
from linewright.score import Lick, Meter, Note, bars_for
from linewright.theory import Pitch

music21 = pytest.importorskip("music21")
symusic = pytest.importorskip("symusic")


def tunes():
    """The first tunes without ornaments of music21's copy of Ryan's Mammoth Collection (1883)."""
    found = sorted(p for p in music21.corpus.getCorePaths() if "ryansMammoth" in str(p))
    plain = [p for p in found[:60] if "{" not in p.read_text(encoding="utf-8", errors="replace")]
    return plain[:8]


@pytest.mark.parametrize("path", tunes(), ids=lambda p: p.stem)
def test_a_tune_written_by_music21_comes_in_note_for_note(path, tmp_path):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        part = music21.converter.parse(path).parts[0].stripTies()
        part.write("midi", tmp_path / "tune.mid")
    data = (tmp_path / "tune.mid").read_bytes()  # music21 plays the repeats out
    score = symusic.Score.from_midi(data)
    check(read_midi(data), score)


def check(ours, score):
    """Our notes against symusic's of the same file, both from the first note on."""
    theirs = sorted((n.start, n.pitch) for n in score.tracks[0].notes)
    start, first = ours.notes[0].onset, theirs[0][0]
    expected = [(Fraction(t - first, score.ticks_per_quarter), p) for t, p in theirs]
    assert [(n.onset - start, n.midi) for n in ours.notes] == expected


@pytest.mark.parametrize("path", tunes()[:4], ids=lambda p: p.stem)
def test_a_tune_symusic_plays_from_abc_comes_in_note_for_note(path):
    score = symusic.Score.from_abc(path.read_text(encoding="utf-8", errors="replace"))
    target = score.dumps_midi()
    check(read_midi(target, track=1 if len(score.tracks) > 1 else None), score)


def test_what_we_write_symusic_reads_the_same():
    notes = tuple(
        Note(Fraction(n, 3), Fraction(1, 3), Pitch.parse(p))
        for n, p in enumerate(["E4", "F#4", "G4", "A4", "B4", "C5"])
    )
    lick = Lick(notes, bars_for(Meter(2, 4), Fraction(2)))
    score = symusic.Score.from_midi(write_midi(lick))
    played = [
        (Fraction(n.start, score.ticks_per_quarter), n.duration, n.pitch)
        for n in score.tracks[0].notes
    ]
    assert played == [(n.onset, score.ticks_per_quarter // 3, n.midi) for n in notes]


#: Open strings: MIDI numbers (General MIDI counts middle C as 60) and frequencies in hertz at
#: A4 = 440 (ISO 16), equal temperament; values as tables of guitar and mandolin tuning print them.
OPEN_STRINGS = [
    ("guitar", [64, 59, 55, 50, 45, 40], [329.63, 246.94, 196.00, 146.83, 110.00, 82.41]),
    ("mandolin", [76, 69, 62, 55], [659.26, 440.00, 293.66, 196.00]),
]


@pytest.mark.parametrize(("name", "keys", "hertz"), OPEN_STRINGS)
def test_open_strings_have_their_published_numbers(name, keys, hertz):
    strings = instrument(name).strings
    notes = tuple(
        Note(Fraction(n), Fraction(1), pitch, n + 1, 0) for n, pitch in enumerate(strings)
    )
    lick = Lick(notes, bars_for(Meter(4, 4), Fraction(len(strings))), instrument=instrument(name))
    file = mido.MidiFile(file=io.BytesIO(write_midi(lick)))
    struck = [m.note for m in file.tracks[1] if m.type == "note_on"]
    assert struck == keys
    assert [round(pitch.frequency, 2) for pitch in strings] == pytest.approx(hertz, abs=0.011)


def test_the_bytes_of_a_written_file_are_those_the_specification_gives():
    """Standard MIDI File 1.0: header chunk, tempo 0x51, meter 0x58, key 0x59."""
    lick = Lick(
        (Note(Fraction(0), Fraction(1), Pitch.parse("C4")),), bars_for(Meter(6, 8), Fraction(3))
    )
    data = write_midi(lick)
    assert data[:14] == b"MThd\x00\x00\x00\x06\x00\x01\x00\x02\x01\xe0"  # type 1, 2 tracks, 480
    assert b"\xff\x58\x04\x06\x03" in data  # 6 over 2 to the third
    assert b"\x90\x3c\x50" in data  # key 60 on channel 1
    assert data.endswith(b"\xff\x2f\x00")
