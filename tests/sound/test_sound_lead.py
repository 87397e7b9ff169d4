"""From a lick to strokes, and the unevenness of a hand."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewright.errors import MusicError, OptionError
from linewright.fretboard import instrument
from linewright.score import Grace, Lick, Mark, Meter, Note, Tempo, bars_for
from linewright.sound.lead import humanised, lead_part, voice_of
from linewright.theory import Pitch
from strategies import licks

EIGHTH = Fraction(1, 2)


def _lick(*notes: Note, swing: Fraction | None = None, name: str = "guitar") -> Lick:
    return Lick(
        notes,
        bars_for(Meter(4, 4), max(n.end for n in notes)),
        tempo=Tempo(Fraction(120)),
        instrument=instrument(name),
        swing=swing,
    )


def _note(at: Fraction, pitch: str, place: tuple[int, int], *marks: Mark | str) -> Note:
    named = tuple(m if isinstance(m, Mark) else Mark(m) for m in marks)
    return Note(at, EIGHTH, Pitch.parse(pitch), *place, named)


def test_marks_become_attacks() -> None:
    part = lead_part(
        _lick(
            _note(Fraction(0), "D4", (2, 3)),
            _note(EIGHTH, "E4", (2, 5), "hammer-on"),
            _note(Fraction(1), "D4", (2, 3), "pull-off"),
            _note(Fraction(3, 2), "G4", (2, 8), "slide"),
            _note(Fraction(2), "A4", (2, 8), Mark("bend", Fraction(2))),
            _note(Fraction(5, 2), "G4", (2, 8), "release"),
            _note(Fraction(3), "G4", (2, 8), "dead"),
        )
    )
    assert [s.attack for s in part.strokes] == [
        "pluck", "hammer-on", "pull-off", "slide", "pluck", "release", "dead",
    ]  # fmt: skip
    bend = part.strokes[4]
    assert (bend.midi, bend.bend) == (67, 2)  # struck at the fret, pushed to the pitch
    assert (part.name, part.voice) == ("lead", "steel")


def test_marks_become_ways_of_sounding() -> None:
    part = lead_part(
        _lick(
            _note(Fraction(0), "D4", (2, 3), "palm mute", "staccato"),
            _note(EIGHTH, "G3", (3, 0), "let ring"),
            _note(Fraction(1), "D4", (2, 3), "vibrato", "accent"),
            _note(Fraction(3, 2), "D4", (2, 3), "ghost"),
            _note(Fraction(2), "D4", (2, 3), Mark("slide in", Fraction(-1))),
            _note(Fraction(5, 2), "D4", (2, 3), Mark("slide out", Fraction(-1))),
            _note(Fraction(3), "D4", (4, 12), "harmonic"),
        )
    )
    muted, ring, shaken, ghost, slid, away, harmonic = part.strokes
    assert muted.muted
    assert muted.duration == EIGHTH / 2
    assert ring.ring
    assert shaken.vibrato
    assert ghost.strength < muted.strength < shaken.strength
    assert slid.lead_in < 0
    assert away.lead_out < 0
    assert harmonic.harmonic


def test_the_beat_is_stronger_than_what_lies_between() -> None:
    notes = [_note(k * EIGHTH, "D4", (2, 3)) for k in range(8)]
    strengths = [s.strength for s in lead_part(_lick(*notes)).strokes]
    assert strengths[0] == max(strengths)
    assert max(strengths[1::2]) < min(strengths[0::2])


def test_swung_eighths_fall_on_the_third_triplet() -> None:
    notes = [_note(k * EIGHTH, "D4", (2, 3)) for k in range(4)]
    part = lead_part(_lick(*notes, swing=Fraction(2)))
    assert [s.onset for s in part.strokes] == [0, Fraction(2, 3), 1, Fraction(5, 3)]
    assert [s.end for s in part.strokes[:3]] == [Fraction(2, 3), 1, Fraction(5, 3)]


def test_an_ornament_takes_its_time_from_its_note() -> None:
    note = Note(Fraction(0), EIGHTH, Pitch.parse("E4"), 2, 5, (), (Grace(Pitch.parse("D4"), 2, 3),))
    grace, main = lead_part(_lick(note)).strokes
    assert (grace.onset, grace.midi) == (0, 62)
    assert grace.end == main.onset
    assert main.end == EIGHTH
    assert main.attack == "hammer-on"
    assert float(grace.duration) * 60 / 120 == pytest.approx(0.07, abs=0.002)


def test_places_are_found_where_none_are_given() -> None:
    note = Note(Fraction(0), Fraction(1), Pitch.parse("A4"))
    (stroke,) = lead_part(_lick(note, name="mandolin")).strokes
    assert stroke.string is not None
    assert instrument("mandolin").midi_at(stroke.string, stroke.fret or 0) == 69
    with pytest.raises(MusicError):
        lead_part(_lick(Note(Fraction(0), Fraction(1), Pitch.parse("A1")), name="mandolin"))


@pytest.mark.parametrize(
    ("name", "voice"),
    [("guitar", "steel"), ("mandolin", "mandolin"), ("tenor banjo", "banjo"), ("bass", "bass"),
     ("ukulele", "nylon"), ("mandola", "mandolin")],
)  # fmt: skip
def test_an_instrument_has_its_voice(name: str, voice: str) -> None:
    assert voice_of(instrument(name)) == voice
    with pytest.raises(OptionError, match="trumpet"):
        lead_part(_lick(_note(Fraction(0), "D4", (2, 3))), voice="trumpet")


def _overlapping(part: object) -> bool:
    last: dict[int, Fraction] = {}
    for stroke in part.strokes:  # type: ignore[attr-defined]
        if last.get(stroke.string, Fraction(-1)) > stroke.onset:
            return True
        last[stroke.string] = stroke.end
    return False


@settings(max_examples=60, deadline=None)
@given(licks(), st.integers(0, 5))
def test_no_string_sounds_twice_at_a_time(lick: Lick, seed: int) -> None:
    try:
        part = lead_part(lick)
    except MusicError:
        return  # out of the instrument's range
    assert not _overlapping(part)
    assert all(s.duration > 0 for s in part.strokes)
    assert not _overlapping(humanised(part, seed, quarter_bpm=Fraction(120)))


def test_a_hand_is_a_little_uneven_and_the_same_for_a_seed() -> None:
    notes = [_note(k * EIGHTH, "D4", (2, 3)) for k in range(32)]
    part = lead_part(_lick(*notes))
    bpm = Fraction(120)
    moved = humanised(part, 7, quarter_bpm=bpm)
    assert moved == humanised(part, 7, quarter_bpm=bpm)
    assert moved != humanised(part, 8, quarter_bpm=bpm)
    off = [
        float(a.onset - b.onset) * 60 / 120
        for a, b in zip(moved.strokes, part.strokes, strict=True)
    ]
    assert 0.002 < max(map(abs, off)) <= 0.0151
    assert humanised(part, 7, quarter_bpm=bpm, timing_s=0, strength=0).strokes == part.strokes
    with pytest.raises(OptionError, match="timing"):
        humanised(part, 7, quarter_bpm=bpm, timing_s=1.0)
