"""How well each pitch suits a moment: chord tones at changes and on strong beats, landings.

The weights say what a teacher says (common practice): land on a chord tone when the chord
changes, best on its 3rd or 7th; keep to chord tones on strong beats; do not sit on the note a
half step above a chord's 3rd; hold a note, and end a phrase, on a chord tone, best its root, 3rd
or 5th; end a line on the home note or one of those, come to by step. How strongly the strong
beats keep to the chord is learned from the lick: its share of chord tones there.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence
from typing import Final

from linewright.analysis import Analysis
from linewright.lines.habits import SHARES
from linewright.lines.moves import MoveTable, staff_heights
from linewright.lines.pulls import Pulls, third_of
from linewright.lines.settle import settle
from linewright.lines.slots import Slot
from linewright.theory import ChordSymbol

__all__ = ["Taste"]

#: Notes of the lick that what was counted of degrees weighs as much as.
_USUAL_NOTES: Final = 8
#: How far past the lick's notes degrees are settled, and the least leap they are settled with.
_ROOM: Final = 5
_FIFTH: Final = 7
_EVEN: Final = 0.6  # the share of chord tones on strong beats that earns the plain weights
#: Weights of the last note and of a phrase's last or a held one: by the chord's own number (the
#: 3rd is 3), of any other chord tone, of any other note; ``_HOME`` times the first for the tonic.
_LAST: Final = ({1: 30.0, 3: 9.0, 5: 6.0}, 0.5, 0.002)
_REST: Final = ({1: 4.0, 3: 4.0, 5: 3.0}, 1.5, 0.1)
_HOME: Final = 2.5
#: The same with no chord, by semitones above the tonic.
_LAST_ALONE: Final = ({0: 30.0, 7: 5.0, 3: 4.0, 4: 4.0}, 0.02)
_REST_ALONE: Final = ({0: 5.0, 7: 3.0, 3: 2.5, 4: 2.5}, 0.4)
#: Weights of coming to such a note by repeating it, by step, by a third, by leap, or unknown.
_TO_LAST: Final = (0.25, 3.0, 1.0, 0.3, 1.0)
_TO_REST: Final = (0.6, 1.8, 1.0, 0.5, 1.0)
#: Weight of the other 3rd or 7th than the chord's, where that is no blue note.
_CLASH: Final = 0.4
_ANY: Final = (1.0,) * 5


class Taste:
    """Weight of a pitch at a slot, from the chord and the place in bar and phrase."""

    def __init__(self, analysis: Analysis, table: MoveTable, pulls: Pulls) -> None:
        share = analysis.harmony.strong_chord_tones
        self.strength = 1.0 if share is None else round(0.4 + 0.6 * min(1.0, share / _EVEN), 3)
        lick = analysis.lick
        heights = [lick.notes[i].midi for i in lick.melody]
        self.center = sum(heights) / len(heights)
        self.width = max(4.0, (max(heights) - min(heights)) * 0.45)
        self.degrees, self.moves = _settled(analysis, heights, table, pulls, self._near)

    def _near(self, midi: int, moved: int = 0) -> float:
        away = (midi - self.center - moved) / self.width
        return 1.0 / (1.0 + away * away * 0.35)

    def weight(self, slot: Slot, midi: int, moved: int, *, last: bool, held: bool) -> float:
        """The weight of sounding ``midi`` at ``slot``; ``moved`` is how far the home has moved,
        ``held`` says that the note is a long one.
        """
        weight = self._near(midi, moved)
        chord = slot.chord
        tonic = slot.frame.tonic.number
        weight *= self.degrees[(midi - tonic) % 12]
        if last or slot.closes or held:
            return weight * _rest(chord, midi, tonic, last=last)
        if chord is None:
            return weight
        above = (midi - chord.root.number) % 12
        tones = {d.semitones: d.number for d in chord.degrees}
        number = tones.get(above)
        strong = 0.0
        if slot.arrives:
            strong = 1.5
        elif slot.level >= -1:
            strong = 1.0
        elif slot.on_beat:
            strong = 0.5
        strong *= self.strength
        if number is not None and number <= 7:
            factor = 3.2 if slot.arrives and number in (3, 7) else 2.2
        else:
            factor = 0.25 if chord.third == "major" and above == 5 else 0.55
            if _clashes(above, tones):
                weight *= _CLASH
        return float(weight * factor**strong)

    def approach(self, slot: Slot, *, last: bool, held: bool) -> tuple[float, ...]:
        """The weight of each way to reach a note (see :meth:`.Lattice.approach_of`)."""
        return _TO_LAST if last else _TO_REST if slot.closes or held else _ANY


def _clashes(above: int, tones: Mapping[int, int]) -> bool:
    """Whether a note is the major 3rd over a minor chord, or the other 7th than the chord's."""
    return (
        (above == 4 and 3 in tones)
        or (above == 11 and 10 in tones)
        or (above == 10 and 11 in tones)
    )


def _rest(chord: ChordSymbol | None, midi: int, tonic: int, *, last: bool) -> float:
    """The weight of coming to rest on a note."""
    home = (midi - tonic) % 12
    if chord is None:
        alone, other = _LAST_ALONE if last else _REST_ALONE
        return alone.get(home, other)
    numbers, tone, other = _LAST if last else _REST
    number = {d.semitones: d.number for d in chord.degrees}.get((midi - chord.root.number) % 12)
    if number is None:
        return other
    return numbers.get(number, tone) * (_HOME if last and not home else 1.0)


def _settled(
    analysis: Analysis,
    heights: Sequence[int],
    table: MoveTable,
    pulls: Pulls,
    near: Callable[[int], float],
) -> tuple[tuple[float, ...], MoveTable]:
    """The weight of each semitone above the tonic and the moves, with which degrees come as often as in
    the lick, over what was counted in tunes.
    """
    frame = analysis.frame
    if frame is None:
        return (1.0,) * 12, table
    degrees = frame.collection.degrees
    usual = SHARES[third_of(degrees)]
    shares = {degree.semitones: usual[degree.number - 1] for degree in degrees}
    total = sum(shares.values())
    counts = {above: _USUAL_NOTES * share / total for above, share in shares.items()}
    tonic = frame.tonic.number
    for midi in heights:
        if (midi - tonic) % 12 in counts:
            counts[(midi - tonic) % 12] += 1
    total = sum(counts.values())
    low, high = min(heights) - _ROOM, max(heights) + _ROOM
    pitches = [midi for midi in range(low, high + 1) if midi % 12 in frame.numbers]
    weights, moves = settle(
        pitches,
        staff_heights(frame, pitches),
        [(midi - tonic) % 12 for midi in pitches],
        table,
        pulls,
        [near(midi) for midi in pitches],
        max(_FIFTH, *(abs(b - a) for a, b in itertools.pairwise(heights))),
        {above: count / total for above, count in counts.items()},
    )
    return tuple(weights.get(above, 1.0) for above in range(12)), moves
