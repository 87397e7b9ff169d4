"""How a lick walks through a frame: the second view of the same notes, in frame steps.

Which notes sound does not tell everything. In its own frame a melody moves mostly to the next
degree or the one after, whatever the frame's size: a pentatonic tune read as a major scale seems to
leap over the 4 and the 7 for no reason, and an arpeggio read as a scale does so all the time. So
every note inside a frame costs by how many frame steps it lies from the frame note before it, and
notes outside are looked past: each costs by how it is treated, and one that leads by a semitone is
cheap only if what it leads into is in the frame (Temperley 2007, ch. 4, has pitch proximity and key
as the two makers of a melody; here both are frame steps).

The shares of the steps are those of published tunes in their labelled keys
(``benchmarks/frame_steps.py`` prints them); the chances of the treatments are a stated judgement.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log2
from typing import Final

from linewright.analysis.frame import candidates
from linewright.analysis.ranking import subset_sums
from linewright.analysis.weights import Neighbours, Treatment
from linewright.score import Lick

__all__ = ["STEP_SHARES", "Walk", "walk_of"]

#: Share of the moves that go so many frame steps; further ones fall off by :data:`_FALL` each.
STEP_SHARES: Final = (0.10, 0.52, 0.24, 0.07, 0.03)
_FALL: Final = 0.65
#: A note is outside the frame this often, and is then treated so; to these the bits of which note
#: it is, given where it goes.
_OUTSIDE: Final = 0.11
_TREATED: Final[dict[Treatment, tuple[float, float]]] = {
    "leading": (0.75, 0.4),
    "owned": (0.5, 2.0),
    "eased": (0.03, 2.0),
    "resolved": (0.04, 2.0),
    "bare": (0.004, 2.0),
}
#: A note that leads by a semitone into another outside one costs this much more.
_CHAIN_BITS: Final = 4.0
#: What naming each pitch class left outside costs: half the bits of which it is, and this.
_NAMED_BITS: Final = -0.5

_INSIDE_BITS: Final = -log2(1 - _OUTSIDE)
_OUTSIDE_BITS: Final = {
    kind: -log2(_OUTSIDE) - log2(chance) + which for kind, (chance, which) in _TREATED.items()
}
_LOG: Final = (0.0, *(log2(n) for n in range(1, 13)))


def _move_bits() -> tuple[float, ...]:
    last = len(STEP_SHARES) - 1
    return tuple(
        -log2(STEP_SHARES[min(steps, last)] * _FALL ** max(0, steps - last)) for steps in range(160)
    )


_MOVE: Final = _move_bits()


def _rungs(semitones: Sequence[int]) -> tuple[int | None, ...]:
    """Number of each semitone above a low tonic on the frame's ladder; None outside the frame."""
    degree = {semitone: at for at, semitone in enumerate(semitones)}
    return tuple(
        len(semitones) * (height // 12) + degree[height % 12] if height % 12 in degree else None
        for height in range(140)
    )


#: The least that a note inside costs, and the degrees each candidate leaves out.
_LEAST_INSIDE: Final = _INSIDE_BITS + min(_MOVE[1], _LOG[3])
_RESTS: Final = tuple(0xFFF & ~candidate.degrees for candidate in candidates)
_LADDERS: Final = tuple(_rungs(candidate.collection.semitones) for candidate in candidates)


@dataclass(frozen=True, slots=True)
class Walk:
    """The notes of a lick as a walk.

    ``tune`` has a row for each note of the melody: MIDI number, weight, treatment, and the MIDI
    number it goes to (0 where it goes nowhere). ``below`` has the same of the lower notes of double
    stops, which are no part of the walk.
    """

    tune: tuple[tuple[int, float, Treatment, int], ...]
    below: tuple[tuple[int, float, Treatment], ...]

    def bits(self, tonic: int, number: int) -> float:
        """Bits of the notes under a candidate (by its place in ``candidates``) on a tonic."""
        rungs, candidate = _LADDERS[number], candidates[number]
        size, up = len(candidate.collection.semitones), 12 - tonic
        bits, outside = 0.0, 0
        last: int | None = None
        for midi, weight, kind, goal in self.tune:
            rung = rungs[midi + up]
            if rung is not None:
                move = _LOG[size] if last is None else _MOVE[abs(rung - last)]
                bits += weight * (_INSIDE_BITS + move)
                last = rung
                continue
            cost = _OUTSIDE_BITS[kind]
            if kind == "leading" and rungs[goal + up] is None:
                cost += _CHAIN_BITS
            bits += weight * cost
            outside |= 1 << (midi + up) % 12
        for midi, weight, kind in self.below:
            if rungs[midi + up] is not None:
                bits += weight * (_INSIDE_BITS + _LOG[size])
            else:
                bits += weight * (_OUTSIDE_BITS[kind] + _LOG[12 - size])
                outside |= 1 << (midi + up) % 12
        named = _LOG[12 - size] / 2 + _NAMED_BITS
        count = outside.bit_count()
        if candidate.colour_saving and candidate.colour_bit & outside:
            count -= 1  # known by its name
        return bits + count * named

    def least_bits(self, tonic: int) -> list[float]:
        """No more than :meth:`bits` of every candidate on a tonic: each note inside goes one step,
        each outside is treated at its best, and naming what is outside costs nothing.
        """
        inside = 0.0
        outside = [0.0] * 12
        for midi, weight, kind in ((m, w, k) for m, w, k, _ in self.tune):
            inside += weight * _LEAST_INSIDE
            outside[(midi - tonic) % 12] += weight * (_OUTSIDE_BITS[kind] - _LEAST_INSIDE)
        for midi, weight, kind in self.below:
            inside += weight * _LEAST_INSIDE
            outside[(midi - tonic) % 12] += weight * (_OUTSIDE_BITS[kind] - _LEAST_INSIDE)
        low, high = subset_sums(outside[:6]), subset_sums(outside[6:])
        return [inside - 1e-9 + low[rest & 63] + high[rest >> 6] for rest in _RESTS]

    def no_frame_bits(self) -> float:
        """Bits of the notes with all twelve pitch classes equal: as a walk in semitones, or none."""
        walked = 0.0
        last: int | None = None
        for midi, weight, _, _ in self.tune:
            walked += weight * (_LOG[12] if last is None else _MOVE[abs(midi - last)])
            last = midi
        plain = _LOG[12] * sum([row[1] for row in self.tune])
        return min(walked, plain) + _LOG[12] * sum([row[1] for row in self.below])


def walk_of(
    lick: Lick,
    weights: Sequence[float],
    near: Sequence[Neighbours],
    kinds: Sequence[Treatment],
) -> Walk:
    """The walk of a lick, its weights, neighbours and treatments given; dead notes are no part."""
    notes, grid = lick.notes, lick.grid
    midis, melody = grid.midis, set(grid.melody)
    tune, below = [], []
    for index, note in enumerate(notes):
        if note.marks and note.has("dead"):
            continue
        if index in melody:
            after = near[index].after
            goal = midis[after] if after is not None else 0
            tune.append((midis[index], weights[index], kinds[index], goal))
        else:
            below.append((midis[index], weights[index], kinds[index]))
    return Walk(tuple(tune), tuple(below))
