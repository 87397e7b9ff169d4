"""Real scores: melodies of music21's corpus and W3C-style hand-written fragments.

The reader asks music21 for timing only and reads pitch, transposition, chords and places from
the elements itself, so music21's own sounding, tie-stripped stream of the same file is a fair
witness for what comes out.
"""

import warnings

import pytest

from linewright.errors import ChoiceNeeded
from linewright.formats.musicxml import read_musicxml

music21 = pytest.importorskip("music21")

#: Melodies and single parts of music21's corpus, with the part to read.
SCORES = [
    ("leadSheet/berlinAlexandersRagtime.mxl", None),
    ("leadSheet/fosterBrownHair.mxl", None),
    ("bach/bwv66.6.mxl", "Soprano"),
    ("bach/bwv57.8.mxl", "Alto"),
    ("mozart/k156/movement1.mxl", "Violin I"),
    ("weber/concertino_clarinet.mxl", "Bb Clarinet"),
    ("liliuokalani/aloha_oe.mxl", "Solo Voice"),
    ("ciconia/quod_jactatur.xml", None),
    ("haydn/opus1no1/movement1.mxl", "Cello"),
    ("johnson_j_r/lift_every_voice.mxl", "Tenor"),
]


def path_of(name):
    found = [p for p in music21.corpus.getCorePaths() if str(p).replace("\\", "/").endswith(name)]
    if not found:
        pytest.skip(f"this music21 has no {name}")
    return found[0]


def witness(path, part_id, *, play):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = music21.converter.parse(path, forceSource=True)
        part = next((p for p in score.parts if part_id in (None, p.partName)), score.parts[0])
        part = part.expandRepeats() if play else part
        flat = part.toSoundingPitch().flatten().stripTies()
    found = []
    for element in flat.notes:
        if isinstance(element, music21.harmony.Harmony) or element.duration.isGrace:
            continue
        for pitch in element.pitches:
            found.append((pitch.midi, pitch.step, float(flat.elementOffset(element))))
    return sorted(found)


@pytest.mark.parametrize(("name", "part"), SCORES)
def test_onsets_and_spelled_pitches_agree_with_music21(name, part):
    data = path_of(name).read_bytes()
    lick = read_musicxml(data, part=part)
    has_repeats = any("repeats" in remark for remark in lick.remarks)
    if has_repeats:
        lick = read_musicxml(data, part=part, repeats="play")
    ours = sorted((note.midi, note.pitch.step, note.onset) for note in lick.notes)
    theirs = witness(path_of(name), part, play=has_repeats)
    assert [note[:2] for note in ours] == [note[:2] for note in theirs]
    # some files count thirds in 1024 parts of a quarter: music21 keeps that, we do not
    assert all(abs(a[2] - b[2]) < 0.02 for a, b in zip(ours, theirs, strict=True))


def test_a_chorale_asks_for_the_part():
    with pytest.raises(ChoiceNeeded) as caught:
        read_musicxml(path_of("bach/bwv66.6.mxl").read_bytes())
    assert caught.value.options == ("Soprano", "Alto", "Tenor", "Bass")
