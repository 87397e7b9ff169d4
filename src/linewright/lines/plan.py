"""From a request to slots: bars and rhythm, chords, frames, pinned notes, what is in range."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random

from linewright.analysis import Analysis
from linewright.errors import MusicError, OptionError
from linewright.fretboard import finger
from linewright.lines.frames import follows_chords, frame_over, heard_thirds
from linewright.lines.hand import HandMap, hand_map, most_frets
from linewright.lines.heard import NOTES_HEARD
from linewright.lines.line import LineNote
from linewright.lines.progression import Progression, parse_progression
from linewright.lines.request import LineRequest, is_pitch
from linewright.lines.rhythms import closing_bars, own_grid
from linewright.lines.slots import Rhythm, Slot, bar_rhythms, choose, steady_bar
from linewright.score import Bar, ChordSpan, Lick, Note, bars_for
from linewright.theory import Frame, Key, Pitch, PitchClass

__all__ = ["Kept", "LinePlan", "plan_line"]

_USUAL_TEMPO = Fraction(100)
#: How far past the lick's own lowest and highest note, in semitones, a line may go when no range is
#: named: a step of any plain scale, so that figures can be moved; further where the hand stays.
_STEP = 3
_ROOM = 4


@dataclass(frozen=True, slots=True)
class Kept:
    """A note that is kept: all its notes sounding together, and its reason when it was made."""

    notes: tuple[Note, ...]
    reasons: tuple[LineNote, ...] = ()


@dataclass(frozen=True)
class LinePlan:
    """Everything about a line but its notes.

    ``slots`` has one entry for each note of the melody, pinned ones included (``kept`` holds
    those by slot number).
    """

    request: LineRequest
    progression: Progression
    home: Frame
    moved: int
    bars: tuple[Bar, ...]
    chords: tuple[ChordSpan, ...]
    slots: tuple[Slot, ...]
    kept: Mapping[int, Kept]
    hand: HandMap
    low: int
    high: int
    most_frets: int
    swing: Fraction | None

    @property
    def frames(self) -> tuple[Frame, ...]:
        """The frames in force, in order of first use."""
        return tuple(dict.fromkeys(slot.frame for slot in self.slots))


def plan_line(
    analysis: Analysis,
    placed: Lick,
    request: LineRequest,
    held: Mapping[int, tuple[Kept, ...]] | None = None,
) -> LinePlan:
    """Lay a request out in time. ``held`` gives bars kept from an earlier line."""
    lick, frame = analysis.lick, analysis.frame
    if frame is None:
        raise MusicError("a line needs a frame")
    progression = _progression(analysis, request)
    home, moved = _home(analysis, frame, progression)
    grid = own_grid(lick) if request.grid == "own" else request.grid
    rhythms = _Rhythms(lick, request, grid)
    closing = closing_bars(lick, request)
    kept, fixed = _pins(lick, placed, request, held or {})
    meter = lick.meter
    bars = bars_for(meter, meter.length * request.bars, key=_key(lick, progression, moved))
    chords = progression.spans(meter.length, request.bars)
    follow = request.follow or ("chords" if follows_chords(analysis) else "home")
    if follow == "chords" and frame.collection.name == NOTES_HEARD:
        raise OptionError(
            f"{lick.title} hangs on no plain scale, so there is none to move with the chords",
            accepted="Keep to home",
        )
    thirds = heard_thirds(analysis)

    slots: list[Slot] = []
    numbered: dict[int, Kept] = {}
    chord_before = None
    at_chord = 0
    for number, bar in enumerate(bars):
        last = number == request.bars - 1
        closes = (last and request.held) or closing[number % len(closing)]
        moments: Sequence[tuple[Fraction, Fraction, Kept | None]]
        if number + 1 in fixed:
            moments = [(k.notes[0].onset, k.notes[0].duration, k) for k in kept.get(number + 1, ())]
        else:
            moments = [(o, d, None) for o, d in rhythms(number, closes)]
        for place, (offset, duration, keep) in enumerate(moments):
            onset = bar.onset + offset
            while at_chord < len(chords) and chords[at_chord].end <= onset:
                at_chord += 1
            chord = chords[at_chord].symbol if at_chord < len(chords) else None
            beat, rest = meter.beat_at(offset)
            over = frame_over(home, chord, thirds) if follow == "chords" else home
            if keep is not None:
                numbered[len(slots)] = keep
            slots.append(
                Slot(
                    onset,
                    duration,
                    bar.number,
                    rest / meter.beats[beat - 1],
                    meter.weight(offset),
                    chord,
                    over,
                    chord != chord_before,
                    closes and place == len(moments) - 1,
                    keep.notes[0] if keep else None,
                )
            )
            chord_before = chord
    if not slots:
        raise OptionError("every bar is kept empty", accepted="Leave a bar free to write in")
    instrument = placed.instrument
    if instrument is None:
        raise MusicError("a line needs an instrument")
    hand = hand_map(placed, instrument, moved)
    low, high, moved = _range(lick, request, moved, hand)
    return LinePlan(
        request, progression, home, moved, bars, chords, tuple(slots), numbered, hand, low, high,
        _frets(slots, lick, request), _swing(lick, request, grid),
    )  # fmt: skip


def _progression(analysis: Analysis, request: LineRequest) -> Progression:
    asked = request.progression
    lick = analysis.lick
    if isinstance(asked, Progression):
        return asked
    if asked is not None:
        key = lick.key if lick.key and lick.key.tonic == analysis.tonic else Key(analysis.tonic)
        found = parse_progression(asked, key=key)
        return found if found.key != key else replace(found, key=None)
    bars = []
    for bar in lick.bars:
        if bar.number == 0 or not bar.is_full:
            continue
        inside = [lick.chord_at(bar.onset)]
        half = lick.chord_at(bar.onset + bar.duration / 2)
        if half != inside[0]:
            inside.append(half)
        bars.append(tuple(inside))
    return Progression(tuple(bars) or ((None,),), None, "the lick's own chords")


def _home(analysis: Analysis, frame: Frame, progression: Progression) -> tuple[Frame, int]:
    """The frame on the line's home tonic and how many semitones it has moved."""
    if progression.key is None or progression.key.tonic.number == analysis.tonic.number:
        return frame, 0
    tonic = progression.key.tonic
    interval = (tonic.number - analysis.tonic.number + 5) % 12 - 5
    if frame.tonic.number == analysis.tonic.number:
        return Frame(tonic, frame.collection), interval
    number = (frame.tonic.number + interval) % 12
    near = (PitchClass.from_fifths(k) for k in range(tonic.fifths - 6, tonic.fifths + 7))
    return Frame(next(p for p in near if p.number == number), frame.collection), interval


def _key(lick: Lick, progression: Progression, moved: int) -> Key | None:
    if progression.key is None or not moved:
        return lick.key
    if lick.key is None:
        return progression.key
    try:
        return Key(progression.key.tonic, lick.key.mode)
    except MusicError:
        return progression.key


class _Rhythms:
    """The rhythm of each free bar."""

    def __init__(self, lick: Lick, request: LineRequest, grid: str) -> None:
        self.lick, self.request, self.grid = lick, request, grid
        self.known = bar_rhythms(lick) if request.grid == "cells" else ()
        self.rng = Random(f"rhythm {request.seed}")
        if request.grid == "cells" and not self.known:
            raise OptionError(
                f"{lick.title} has no full bar to take a rhythm from", accepted="Use eighths"
            )

    def __call__(self, number: int, closes: bool) -> Rhythm:
        if self.known:
            return choose(self.known, self.rng, closes=closes)
        last = number == self.request.bars - 1 and self.request.held
        close = "held" if last else "breath" if closes else ""
        return steady_bar(self.lick.meter, self.grid, close)


def _pins(
    lick: Lick, placed: Lick, request: LineRequest, held: Mapping[int, tuple[Kept, ...]]
) -> tuple[dict[int, tuple[Kept, ...]], set[int]]:
    """Kept notes by bar (their onsets counted from the bar line), and the bars they fill."""
    found: dict[int, tuple[Kept, ...]] = dict(held)
    for start, pin in sorted(request.pins.items()):
        if pin.instrument != placed.instrument or any(n.string is None for n in pin.notes):
            pin = finger(pin.with_(instrument=None, notes=_bare(pin)), placed.instrument)
        full = [bar for bar in pin.bars if bar.number and bar.is_full]
        for number, bar in enumerate(full, start):
            if bar.meter != lick.meter:
                raise OptionError(
                    f"a pinned bar of {bar.meter} in a line of {lick.meter}",
                    accepted=f"Pin bars of {lick.meter}",
                )
            if number > request.bars:
                raise OptionError(
                    f"a pin of {len(full)} bars at bar {start} runs past the line's"
                    f" {request.bars} bars",
                    accepted="Pin it earlier, or make the line longer",
                )
            if number in found:
                raise OptionError(f"two pins in bar {number}", accepted="Pin each bar once")
            found[number] = _grouped(pin, bar)
    return found, set(found)


def _bare(pin: Lick) -> tuple[Note, ...]:
    return tuple(replace(note, string=None, fret=None) for note in pin.notes)


def _grouped(pin: Lick, bar: Bar) -> tuple[Kept, ...]:
    groups: dict[Fraction, list[Note]] = {}
    for note in pin.notes:
        if bar.onset <= note.onset < bar.end:
            inside = replace(
                note,
                onset=note.onset - bar.onset,
                duration=min(note.end, bar.end) - note.onset,
            )
            groups.setdefault(inside.onset, []).append(inside)
    return tuple(Kept(tuple(group)) for group in groups.values())


def _range(lick: Lick, request: LineRequest, moved: int, hand: HandMap) -> tuple[int, int, int]:
    """Lowest and highest note, and the move of the home by the octave that suits the instrument."""
    heights = [lick.notes[i].midi for i in lick.melody]
    if request.range is not None:
        low, high = request.range[0].midi, request.range[1].midi
        center = (low + high) / 2 - (min(heights) + max(heights)) / 2
        return low, high, round(center)
    low, high = min(heights) + moved, max(heights) + moved
    bottom, top = min(hand.place), max(hand.place)
    while low < bottom and high + 12 <= top:
        low, high, moved = low + 12, high + 12, moved + 12
    while high > top and low - 12 >= bottom:
        low, high, moved = low - 12, high - 12, moved - 12
    low, high = max(bottom, low), min(top, high)
    hands = {hand.position[midi] for midi in range(low, high + 1) if midi - moved in heights}
    least, most = low - _ROOM, high + _ROOM
    low, high = low - _STEP, high + _STEP
    while low - 1 >= max(bottom, least) and hand.position.get(low - 1) in hands:
        low -= 1
    while high + 1 <= min(top, most) and hand.position.get(high + 1) in hands:
        high += 1
    ends = [
        Pitch.parse(end.strip()).midi
        for end in (request.start, request.landing)
        if end and is_pitch(end)
    ]
    return max(bottom, min([low, *ends])), min(top, max([high, *ends])), moved


def _frets(slots: Sequence[Slot], lick: Lick, request: LineRequest) -> int:
    """Frets the hand may move between the closest two notes of the line."""
    tempo = request.tempo or (lick.tempo.quarter_bpm if lick.tempo else _USUAL_TEMPO)
    gaps = [b.onset - a.onset for a, b in itertools.pairwise(slots)]
    shortest = min(gaps, default=Fraction(1))
    return most_frets(float(shortest) * 60.0 / float(tempo))


def _swing(lick: Lick, request: LineRequest, grid: str) -> Fraction | None:
    if grid in ("triplets", "sixteenths") and request.swing is None:
        return None
    if request.swing is None:
        return lick.swing
    return (lick.swing or Fraction(2)) if request.swing else None
