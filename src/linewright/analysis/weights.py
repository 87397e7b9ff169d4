"""How much each note of a lick weighs, and how it is treated.

A note weighs by its length, its place in the bar and whether it ends the phrase; these are the
accents of Lerdahl and Jackendoff (1983, ch. 2: metrical, durational and structural), in the
plainest form that orders notes as a listener does. Weights average 1, so a lick of n notes
carries n notes' worth of evidence however they are spread.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from typing import Final, Literal, NamedTuple

from linewright.analysis.cadence import altered_tensions, is_foreign, scale_numbers
from linewright.score import BREATH, Lick
from linewright.theory import COLLECTIONS, STEPS, ChordSymbol, PitchClass

__all__ = ["Neighbours", "Treatment", "longest_chord", "neighbours", "note_weights", "treatments"]

Treatment = Literal["leading", "owned", "eased", "resolved", "bare"]

_METRIC: Final = {0: 1.4, -1: 1.25, -2: 1.1}
_FINAL: Final = 1.3


def note_weights(lick: Lick) -> tuple[float, ...]:
    """Weight of each note, averaging 1 over the lick (empty for no notes)."""
    if not lick.notes:
        return ()
    grid = lick.grid
    lengths = [end - onset for onset, end in zip(grid.onsets, grid.ends, strict=True)]
    mean = sum(lengths) / grid.ticks / len(lengths)
    accent = {
        length: min(2.0, max(0.6, (length / grid.ticks / mean) ** 0.5)) for length in set(lengths)
    }
    raw = []
    for note, length, level in zip(lick.notes, lengths, grid.levels, strict=True):
        soft = 1.0
        if note.marks:
            soft = 0.4 if note.has("dead") else 0.8 if note.has("ghost") else 1.0
        raw.append(accent[length] * _METRIC.get(level, 1.0) * soft)
    raw[-1] *= _FINAL
    scale = len(raw) / sum(raw)
    return tuple([weight * scale for weight in raw])


class Neighbours(NamedTuple):
    """The different pitches before and after a note in the melody.

    ``before`` and ``after`` are note indexes (None at an end or across a breath), ``rise_in`` and
    ``rise_out`` the semitones moved into and out of the note (0 where there is no neighbour).
    """

    before: int | None
    after: int | None
    rise_in: int
    rise_out: int


def neighbours(lick: Lick) -> tuple[Neighbours, ...]:
    """Melodic neighbours of each note; notes repeated at one pitch look past the repetition.

    A lower note of a double stop is heard against the tune's neighbours of its own moment. Dead
    notes have no pitch: nothing is next to them, and they stand between no two notes.
    """
    if any(note.marks and note.has("dead") for note in lick.notes):
        return _between_pitches(lick)
    grid = lick.grid
    melody, midis = grid.melody, grid.midis
    # A breath before a tune note: nothing links it to the one before.
    breath = BREATH * grid.ticks
    onsets, ends = grid.onsets, grid.ends
    apart = [True]
    apart += [onsets[b] - ends[a] >= breath for a, b in pairwise(melody)]
    apart.append(True)

    before: list[int | None] = []
    for place, index in enumerate(melody):
        if apart[place]:
            before.append(None)
        else:
            left = melody[place - 1]
            before.append(left if midis[left] != midis[index] else before[-1])
    after: list[int | None] = [None] * len(melody)
    for place in range(len(melody) - 2, -1, -1):
        if not apart[place + 1]:
            right = melody[place + 1]
            after[place] = right if midis[right] != midis[melody[place]] else after[place + 1]

    found = []
    for index, (midi, place) in enumerate(zip(midis, grid.places, strict=True)):
        if melody[place] == index:
            left_note, right_note = before[place], after[place]
        else:
            left_note = _look(grid.melody, midis, apart, place, -1, midi)
            right_note = _look(grid.melody, midis, apart, place, 1, midi)
        found.append(
            Neighbours(
                left_note,
                right_note,
                midi - midis[left_note] if left_note is not None else 0,
                midis[right_note] - midi if right_note is not None else 0,
            )
        )
    return tuple(found)


def _between_pitches(lick: Lick) -> tuple[Neighbours, ...]:
    """Neighbours where some notes are dead: those of the lick without them."""
    alive = [i for i, note in enumerate(lick.notes) if not note.has("dead")]
    found = [Neighbours(None, None, 0, 0)] * len(lick.notes)
    if alive:
        plain = lick.with_(notes=tuple(lick.notes[i] for i in alive))
        for index, (before, after, rise_in, rise_out) in zip(alive, neighbours(plain), strict=True):
            found[index] = Neighbours(
                None if before is None else alive[before],
                None if after is None else alive[after],
                rise_in,
                rise_out,
            )
    return tuple(found)


def _look(
    melody: Sequence[int],
    midis: Sequence[int],
    apart: Sequence[bool],
    place: int,
    step: int,
    midi: int,
) -> int | None:
    """The nearest tune note of another pitch than ``midi``, one way from a place in the melody."""
    while not apart[place if step < 0 else place + 1]:
        place += step
        if midis[melody[place]] != midi:
            return melody[place]
    return None


def treatments(
    lick: Lick, near: Sequence[Neighbours] | None = None, home: PitchClass | None = None
) -> tuple[Treatment, ...]:
    """How each note would be excused if it were outside.

    ``leading``: left by a semitone; ``owned``: a tone of the chord of the moment, where that is
    not the chord of a known ``home`` or, without one, the chord the lick stays on longest (the b3 of a
    dominant, its blue third, and the scale of an altered one among them), or the 3rd of a dominant
    that is, reached from its b3, or an altered tension of one that goes to a major chord;
    ``eased``: stepwise in and out; ``resolved``: left by a whole
    step; ``bare``: none of these, or held, or the last note, so that it stands in its own right.

    Where every note is in the scale of the key nothing is owned: its chords lend a tune no notes it
    has not (common practice of functional harmony). A chord foreign to a known home lends none.
    """
    grid = lick.grid
    main = _main_chord(lick, home)
    symbols = [span.symbol for span in lick.chords if span.symbol is not None]
    tense: dict[ChordSymbol, frozenset[int]] = {}
    for left, right in pairwise(symbols):
        tense[left] = tense.get(left, frozenset()) | altered_tensions(left, right)
    lends: dict[ChordSymbol, bool] = {}
    if not _keeps_to_key(lick, main if home is not None else None):
        for chord in dict.fromkeys(grid.chords):
            if chord is not None:
                lends[chord] = chord != main and not (home and is_foreign(chord, home))
    found: list[Treatment] = []
    last = len(lick.notes) - 1
    for index, (before, after, rise_in, rise_out) in enumerate(near or neighbours(lick)):
        held = index == last or grid.ends[index] - grid.onsets[index] >= 2 * grid.beats[index]
        by_step_out = after is not None and -2 <= rise_out <= 2 and not held
        chord = grid.chords[index]
        if by_step_out and -1 <= rise_out <= 1:
            found.append("leading")
        elif (not held and rise_in == 1 and _is_blue_third(grid.midis[index], main)) or (
            chord is not None
            and lends.get(chord, False)
            and (
                grid.midis[index] % 12 in chord.numbers
                or grid.midis[index] % 12 in scale_numbers(chord)
                or grid.midis[index] % 12 in tense.get(chord, ())
                or (chord.is_dominant and (grid.midis[index] - chord.root.number) % 12 == 3)
            )
        ):
            found.append("owned")
        elif by_step_out and before is not None and -2 <= rise_in <= 2:
            found.append("eased")
        else:
            found.append("resolved" if by_step_out else "bare")
    return tuple(found)


def _is_blue_third(midi: int, chord: ChordSymbol | None) -> bool:
    """The major 3rd of the dominant chord a blues stands on, which its minor third rises to."""
    return chord is not None and chord.is_dominant and (midi - chord.root.number) % 12 == 4


def _main_chord(lick: Lick, home: PitchClass | None) -> ChordSymbol | None:
    """The chord on home that holds longest, or without one the chord that does."""
    spans = [(s.symbol, s.duration) for s in lick.chords if s.symbol is not None]
    own = [span for span in spans if home is not None and span[0].root.number == home.number]
    return longest_chord(own or spans)


def _keeps_to_key(lick: Lick, home_chord: ChordSymbol | None) -> bool:
    """Whether every note is in the scale of the key: the written one, or that of the home chord."""
    if lick.key is not None:
        scale = {PitchClass(step, lick.key.alter(step)).number for step in STEPS}
    elif home_chord is not None and home_chord.third != "none" and not home_chord.is_dominant:
        name = "major" if home_chord.third == "major" else "natural minor"
        root = home_chord.root.number
        scale = {(root + above) % 12 for above in COLLECTIONS[name].semitones}
    else:
        return False
    return all(midi % 12 in scale for midi in lick.grid.midis)


def longest_chord(spans: Sequence[tuple[ChordSymbol, Fraction]]) -> ChordSymbol | None:
    """The chord that holds longest in all, the earlier one on a tie; None without chords."""
    if len(spans) < 2:
        return spans[0][0] if spans else None
    total: dict[ChordSymbol, Fraction] = {}
    for symbol, duration in spans:
        total[symbol] = total.get(symbol, Fraction(0)) + duration
    return max(total, key=total.__getitem__)
