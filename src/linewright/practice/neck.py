"""The frame on the neck: windows of one position, and one string from end to end."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from linewright.fretboard import OPEN_TO, hand_positions, places, position_name, reach_of
from linewright.lines import Line
from linewright.score import Instrument, Lick
from linewright.theory import Frame, Pitch, PitchClass

__all__ = [
    "Spot", "Window", "along_string", "frame_row", "home_window", "in_position", "in_window", "neck_windows",
    "spell", "window",
]  # fmt: skip

#: The highest fret a plan takes the hand to (most necks are comfortable as far as the octave).
_HIGHEST = 12


@dataclass(frozen=True, slots=True)
class Spot:
    """A pitch at a place on the neck."""

    pitch: Pitch
    string: int
    fret: int

    @property
    def midi(self) -> int:
        """MIDI number."""
        return self.pitch.midi


@dataclass(frozen=True)
class Window:
    """Every frame note in reach of one position, low to high, without a gap."""

    position: int
    name: str
    spots: tuple[Spot, ...]

    def place(self, midi: int) -> Spot | None:
        """Where a pitch lies in this position."""
        return next((spot for spot in self.spots if spot.midi == midi), None)


def spell(midi: int, name: PitchClass) -> Pitch:
    """The pitch of that MIDI number under a pitch class that sounds it."""
    octave = (midi - name.number) // 12 - 1
    for near in (octave, octave - 1, octave + 1):
        pitch = name.in_octave(near)
        if pitch.midi == midi:
            return pitch
    return name.in_octave(octave)


def in_position(
    pitches: Sequence[Pitch], at: Window, instrument: Instrument
) -> Sequence[Pitch | Spot]:
    """The pitches at places in one position, or as they are when one of them has none there."""
    reach = reach_of(instrument)
    found: list[Spot] = []
    for pitch in pitches:
        spot = at.place(pitch.midi)
        if spot is None:
            near = [
                (max(0, at.position - p.fret, p.fret - at.position - reach + 1), p.string, p.fret)
                for p in places(pitch.midi, instrument)
                if p.string not in dict(instrument.short) and (p.fret or at.position == 1)
            ]
            if not near or min(near)[0] > 1:
                return pitches
            _, string, fret = min(near)
            spot = Spot(pitch, string, fret)
        found.append(spot)
    return found


def frame_row(frame: Frame, low: int, high: int) -> list[Pitch]:
    """The frame's notes between two MIDI numbers, both included."""
    found = []
    for midi in range(low, high + 1):
        degree = frame.degree(midi % 12)
        if degree is not None:
            found.append(spell(midi, degree.above(frame.tonic)))
    return found


def _long_strings(instrument: Instrument) -> list[int]:
    short = dict(instrument.short)
    return [s for s in range(1, len(instrument.strings) + 1) if s not in short]


def window(frame: Frame, instrument: Instrument, position: int) -> Window:
    """The frame in one position; the finger next to the hand may stretch one fret for a note that
    would be missing.
    """
    reach = reach_of(instrument)
    has_open = position == 1
    frets = range(0 if has_open else position, position + reach)
    stretched = [f for f in (position - 1, position + reach) if f > 0]
    best: dict[int, Spot] = {}
    for group in (frets, stretched):
        for string in _long_strings(instrument):
            for fret in group:
                if not 0 <= fret <= instrument.frets - instrument.capo:
                    continue
                midi = instrument.midi_at(string, fret)
                degree = frame.degree(midi % 12)
                if degree is None or midi > 127:
                    continue
                spot = Spot(spell(midi, degree.above(frame.tonic)), string, fret)
                known = best.get(midi)
                if known is None or (group is frets and has_open and fret < known.fret):
                    best[midi] = spot
    # A stretch is only for a note between notes that lie under the hand.
    inside = [m for m, s in best.items() if s.fret in frets]
    if not inside:
        return Window(position, position_name(position, has_open), ())
    kept = [best[m] for m in sorted(best) if min(inside) <= m <= max(inside)]
    return Window(position, position_name(position, has_open), _unbroken(frame, kept))


def _unbroken(frame: Frame, spots: list[Spot]) -> tuple[Spot, ...]:
    """The longest stretch in which no frame note is missing."""
    runs: list[list[Spot]] = []
    for spot in spots:
        if runs and not frame_row(frame, runs[-1][-1].midi + 1, spot.midi - 1):
            runs[-1].append(spot)
        else:
            runs.append([spot])
    longest: list[Spot] = max(runs, key=len, default=[])
    return tuple(longest)


def home_window(frame: Frame, placed: Lick, instrument: Instrument) -> Window:
    """The position the frame has where the lick lies: the lick's own when the hand never leaves
    it (the open one when it is in first or second position with open strings). Else most of the
    lick's frame notes lie under its fingers without a stretch, then as few of the frame's as may
    be need one, then the hand is where the lick mostly has it.
    """
    hands = Counter(hand_positions(placed))
    if len(hands) == 1:
        (own,) = hands
        has_open = own <= OPEN_TO and any(note.fret == 0 for note in placed.notes)
        found = window(frame, instrument, 1 if has_open else own)
        if len(found.spots) > len(frame.collection.degrees):
            return found
    heard = Counter((note.string, note.fret) for note in placed.notes)

    def fit(at: int) -> tuple[int, int, int, int, int]:
        found = window(frame, instrument, at)
        under, stretched = _under_the_fingers(found, instrument)
        held = sum(heard[spot.string, spot.fret] for spot in under)
        return held, -len(stretched), hands[at], len(found.spots), -at

    limit = max(1, min(_HIGHEST, instrument.frets - instrument.capo - 4))
    return window(frame, instrument, max(range(1, limit + 1), key=fit))


def _under_the_fingers(at: Window, instrument: Instrument) -> tuple[list[Spot], list[Spot]]:
    """The spots of a position a finger each lies over, and those it must stretch to."""
    covered = range(0 if at.position == 1 else at.position, at.position + reach_of(instrument))
    under = [spot for spot in at.spots if spot.fret in covered]
    return under, [spot for spot in at.spots if spot.fret not in covered]


def neck_windows(
    frame: Frame, instrument: Instrument, home: Window, count: int
) -> tuple[Window, ...]:
    """Positions up the neck, one from each frame note on the lowest string, nearest home first
    taken, then in order; the home position is among them.
    """
    strings = _long_strings(instrument)
    lowest = min(strings, key=instrument.open_midi)
    limit = max(1, min(_HIGHEST, instrument.frets - instrument.capo - reach_of(instrument) + 1))
    starts = {
        _settled(frame, instrument, max(1, fret), limit)
        for fret in range(limit + 1)
        if frame.degree(instrument.midi_at(lowest, fret) % 12) is not None
    }
    taken = [home.position]
    for start in sorted(starts, key=lambda s: (abs(s - home.position), s)):
        if len(taken) < count and all(abs(start - other) > 1 for other in taken):
            taken.append(start)
    made = [window(frame, instrument, s) for s in taken[1:]] + [home]
    made = [w for w in made if len(w.spots) > len(frame.collection.degrees)]
    return tuple(sorted(made or [home], key=lambda w: w.position))


def _settled(frame: Frame, instrument: Instrument, start: int, limit: int) -> int:
    """The position in which a hand about a fret has the frame with the fewest stretches: a box
    from fret 8 of the lowest string that is from fret 7 on the next is in seventh position.
    """

    def ease(at: int) -> tuple[int, int, int]:
        found = window(frame, instrument, at)
        return (
            -len(_under_the_fingers(found, instrument)[1]), len(found.spots), -abs(at - start)
        )  # fmt: skip

    return max((at for at in (start, start - 1, start + 1) if 1 <= at <= limit), key=ease)


def along_string(frame: Frame, instrument: Instrument, home: Window) -> tuple[Spot, ...]:
    """The frame along one string, from the open string to the octave: the string in the middle of
    the home position.
    """
    strings = [spot.string for spot in home.spots] or _long_strings(instrument)
    string = Counter(strings).most_common(1)[0][0] if strings else 1
    top = min(_HIGHEST + 2, instrument.frets - instrument.capo)
    found = []
    for fret in range(top + 1):
        midi = instrument.midi_at(string, fret)
        degree = frame.degree(midi % 12)
        if degree is not None:
            found.append(Spot(spell(midi, degree.above(frame.tonic)), string, fret))
    return tuple(found)


def in_window(line: Line, at: Window) -> Line:
    """A line with every note it can played in a position."""
    notes = []
    for note in line.lick.notes:
        spot = at.place(note.midi)
        placed = spot is not None and not note.marks
        notes.append(replace(note, string=spot.string, fret=spot.fret) if placed and spot else note)
    return replace(line, lick=line.lick.with_(notes=tuple(notes)))
