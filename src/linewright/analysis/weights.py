"""How much each note of a lick weighs, and how it is treated.

A note weighs by its length, its place in the bar and whether it ends the phrase; these are the
accents of Lerdahl and Jackendoff (1983, ch. 2: metrical, durational and structural), in the
plainest form that orders notes as a listener does. Weights average 1, so a lick of n notes
carries n notes' worth of evidence however they are spread.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from linewright.score import Lick
from linewright.theory import ChordSymbol

__all__ = ["Neighbours", "Treatment", "neighbours", "note_weights", "treatments"]

Treatment = Literal["leading", "owned", "eased", "resolved", "bare"]

_METRIC = {0: 1.4, -1: 1.25, -2: 1.1}
_FINAL = 1.3
#: A rest at least this long (quarters) cuts the link between two notes.
_BREATH = Fraction(1)


def note_weights(lick: Lick) -> tuple[float, ...]:
    """Weight of each note, averaging 1 over the lick (empty for no notes)."""
    if not lick.notes:
        return ()
    mean = float(sum(n.duration for n in lick.notes)) / len(lick.notes)
    raw = []
    for note in lick.notes:
        length = min(2.0, max(0.6, (float(note.duration) / mean) ** 0.5))
        bar = lick.bar_at(note.onset)
        level = bar.meter.weight(bar.offset(note.onset))
        soft = 0.4 if note.has("dead") else 0.8 if note.has("ghost") else 1.0
        raw.append(length * _METRIC.get(level, 1.0) * soft)
    raw[-1] *= _FINAL
    scale = len(raw) / sum(raw)
    return tuple(weight * scale for weight in raw)


@dataclass(frozen=True, slots=True)
class Neighbours:
    """The different pitches before and after a note in the melody.

    ``before`` and ``after`` are note indexes (None at an end or across a breath), ``rise_in`` and
    ``rise_out`` the semitones moved into and out of the note (0 where there is no neighbour).
    """

    before: int | None
    after: int | None
    rise_in: int
    rise_out: int


def neighbours(lick: Lick) -> tuple[Neighbours, ...]:
    """Melodic neighbours of each note; notes repeated at one pitch look past the repetition."""
    melody = lick.melody
    place = {index: at for at, index in enumerate(melody)}
    found = []
    for index, note in enumerate(lick.notes):
        # A lower note of a double stop is heard against the tune's neighbours of its own moment.
        at = place.get(index)
        if at is None:
            at = next(i for i, m in enumerate(melody) if lick.notes[m].onset == note.onset)
        before = _look(lick, melody, at, -1, note.midi)
        after = _look(lick, melody, at, 1, note.midi)
        found.append(
            Neighbours(
                before,
                after,
                note.midi - lick.notes[before].midi if before is not None else 0,
                lick.notes[after].midi - note.midi if after is not None else 0,
            )
        )
    return tuple(found)


def _look(lick: Lick, melody: Sequence[int], at: int, step: int, midi: int) -> int | None:
    here = lick.notes[melody[at]]
    at += step
    while 0 <= at < len(melody):
        other = lick.notes[melody[at]]
        gap = other.onset - here.end if step > 0 else here.onset - other.end
        if gap >= _BREATH:
            return None
        if other.midi != midi:
            return melody[at]
        here = other
        at += step
    return None


def treatments(lick: Lick) -> tuple[Treatment, ...]:
    """How each note would be excused if it were outside.

    ``leading``: left by a semitone; ``owned``: a tone of the chord of the moment, where that is
    not the chord the lick stays on longest; ``eased``: stepwise in and out; ``resolved``: left by a whole
    step; ``bare``: none of these, or held, or the last note, so that it stands in its own right.
    """
    found: list[Treatment] = []
    main = _main_chord(lick)
    for index, (note, near) in enumerate(zip(lick.notes, neighbours(lick), strict=True)):
        by_step_in = near.before is not None and abs(near.rise_in) <= 2
        by_step_out = near.after is not None and abs(near.rise_out) <= 2
        bar = lick.bar_at(note.onset)
        held = note.duration >= bar.meter.beat * 2 or index == len(lick.notes) - 1
        if near.after is not None and abs(near.rise_out) == 1 and not held:
            found.append("leading")
        elif _is_owned(lick, index, main):
            found.append("owned")
        elif by_step_out and by_step_in and not held:
            found.append("eased")
        elif by_step_out and not held:
            found.append("resolved")
        else:
            found.append("bare")
    return tuple(found)


def _main_chord(lick: Lick) -> ChordSymbol | None:
    """The chord the lick stays on longest."""
    spans: dict[ChordSymbol, Fraction] = {}
    for span in lick.chords:
        if span.symbol is not None:
            spans[span.symbol] = spans.get(span.symbol, Fraction(0)) + span.duration
    return max(spans, key=lambda symbol: spans[symbol]) if spans else None


def _is_owned(lick: Lick, index: int, main: ChordSymbol | None) -> bool:
    note = lick.notes[index]
    chord = lick.chord_at(note.onset)
    return chord is not None and chord != main and note.midi % 12 in chord.numbers
