"""The lick in other keys, and the form to play it over next."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from linewright.analysis.prose import capital
from linewright.errors import MusicError
from linewright.fretboard import finger
from linewright.lines import Progression, parse_progression
from linewright.practice.called import called
from linewright.practice.frame_drills import shape
from linewright.practice.material import Material
from linewright.practice.model import Drill
from linewright.practice.neck import window
from linewright.score import Lick, Tempo
from linewright.theory import ChordSymbol, Frame, Interval, Key, PitchClass

__all__ = ["form_for", "moved_chords", "move_drills", "new_keys"]

#: Up a fourth, up a fifth, up a whole step (common practice: the keys a band calls next).
_MOVES = (Interval(3, 5), Interval(4, 7), Interval(1, 2))


def new_keys(m: Material) -> tuple[PitchClass, ...]:
    """Tonics to move to, under their plain names."""
    return tuple(_plain(m.analysis.tonic.transpose(move)) for move in _MOVES)


def move_drills(m: Material, bpm: int) -> tuple[Drill, ...]:
    """The frame of each new key where the hand already is, then the lick itself there."""
    drills = []
    for tonic in new_keys(m)[: m.level.keys]:
        home = m.analysis.tonic.in_octave(4)
        way = home.interval_to(tonic.in_octave(4))
        frame = Frame(_plain(m.frame.tonic.transpose(way)), m.frame.collection)
        there = window(frame, m.instrument, m.home.position)
        if len(there.spots) > 2:
            where = f"{frame.name} in {there.name}, where you know {m.frame.name}"
            if m.is_heard:
                where = f"The notes heard, moved there, in {there.name}"
            drills.append(
                Drill(
                    f"{capital(m.called.moved)} {tonic} without moving the hand",
                    f"{where}: only the notes change.",
                    m.steady(called(frame).name, shape(frame, there.spots, "up and down"), bpm),
                )
            )
        moved = _in_key(m, tonic)
        if moved is None:
            continue
        lick = replace(
            moved, title=f"{m.lick.title} in {tonic}", tempo=Tempo(Fraction(bpm), m.beat)
        )
        drills.append(
            Drill(
                f"The lick in {tonic}",
                f"Sing it in {tonic} first, find its first note, then play it without counting"
                " frets.",
                lick,
            )
        )
    return tuple(drills)


def moved_chords(m: Material, tonic: PitchClass) -> Progression:
    """The lick's own chords in another key."""
    home = m.analysis.tonic
    interval = home.in_octave(4).interval_to(tonic.in_octave(4))

    def moved(chord: ChordSymbol | None) -> ChordSymbol | None:
        if chord is None:
            return None
        bass = _plain(chord.bass.transpose(interval)) if chord.bass else None
        return ChordSymbol(_plain(chord.root.transpose(interval)), chord.quality, bass)

    bars = tuple(tuple(moved(chord) for chord in bar) for bar in m.progression.bars)
    return Progression(bars, _key(m, tonic), f"the lick's chords in {tonic}")


def form_for(m: Material) -> Progression:
    """A form in general use that suits the frame and the meter, in the lick's own key."""
    degrees = {degree.name for degree in m.frame.collection.degrees}
    meter = m.lick.meter
    chords = [chord for bar in m.progression.bars for chord in bar if chord is not None]
    tonic = m.analysis.tonic.number
    major_home = any(c.root.number == tonic and c.third == "major" for c in chords)
    minor = "b3" in degrees and "3" not in degrees and not major_home
    if len(meter.beats) == 3 and not meter.is_compound:
        name = "waltz" if not minor else "minor blues"
    elif minor:
        name = "minor ii-V-i" if any("7" in c.quality for c in chords) else "minor blues"
    elif any(c.is_dominant and c.root.number == tonic for c in chords) or "b3" in degrees:
        name = "12-bar blues"
    elif any(c.quality == "m7" for c in chords):
        name = "ii-V-I"
    elif meter.denominator == 2 or meter.is_compound or len(meter.beats) == 2:
        name = "fiddle tune"
    else:
        name = "1-4-5"
    found = parse_progression(name, key=_key(m, _plain(m.analysis.tonic)))
    return replace(found, bars=found.bars[:12])


def _in_key(m: Material, tonic: PitchClass) -> Lick | None:
    """The lick on another tonic, in the octave nearest its own that the instrument has."""
    home = m.analysis.tonic
    up = home.in_octave(4).interval_to(tonic.in_octave(4))
    up = up if up.semitones > 0 else up + Interval(7, 12)
    down = up + Interval(-7, -12)
    ways = (down, up) if up.semitones > 6 else (up, down)
    for way in ways:
        moved = m.lick.transpose(way)
        try:
            placed = finger(moved.with_(instrument=None), m.instrument)
        except MusicError:
            continue
        if all((note.fret or 0) <= 17 for note in placed.notes):
            return placed
    return None


def _key(m: Material, tonic: PitchClass) -> Key:
    degrees = {degree.name for degree in m.frame.collection.degrees}
    minor = "b3" in degrees and "3" not in degrees
    mode = m.lick.key.mode if m.lick.key is not None else "minor" if minor else "major"
    try:
        return Key(tonic, mode)
    except MusicError:  # more than seven signs
        return Key(tonic)


def _plain(note: PitchClass) -> PitchClass:
    """A pitch class under the name it has in the usual keys (Gb to F#)."""
    place = note.fifths
    while place > 6:
        place -= 12
    while place < -6:
        place += 12
    return PitchClass.from_fifths(place)
