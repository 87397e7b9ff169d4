"""Which degree a melody goes to from which, over what its moves alone would say.

A leap in a tune mostly goes between notes of the home chord, the 7 goes to 1, and hardly any move
is a tritone (common practice). What the lick does is laid over what was counted in tunes
(:mod:`.habits`), each pair of degrees being a rate with a gamma prior.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Sequence
from typing import Final

from linewright.lines.habits import PULLS
from linewright.lines.moves import NONE, MoveTable, kind_of
from linewright.theory import Degree, Frame

__all__ = ["Pulls", "third_of"]

#: Times a pair should have come by the moves alone that what was counted weighs as much as.
_PRIOR: Final = 4.0
#: Weight of a tritone besides, which the counts of a letter's pairs do not tell from a fifth.
_TRITONE: Final = 0.2
_FAR: Final = 8


class Pulls:
    """Weight of going from one degree to another, both in semitones above the tonic.

    Parameters
    ----------
    frame : Frame
    heights : sequence of int
        The lick's notes in half steps (:func:`.staff_heights`).
    table : MoveTable
        The lick's moves.
    """

    def __init__(self, frame: Frame, heights: Sequence[int], table: MoveTable) -> None:
        degrees = frame.collection.degrees
        by_letter = len({degree.number for degree in degrees}) == len(degrees)
        size = 7 if by_letter else len(degrees)
        came, due = _pairs(heights, table, size)
        usual = PULLS[third_of(degrees)]
        self._known: dict[tuple[int, int], float] = {}
        for i, one in enumerate(degrees):
            for k, two in enumerate(degrees):
                pair = (one.number - 1, two.number - 1) if by_letter else (i, k)
                counted = usual[one.number - 1][two.number - 1]
                if (one.semitones - two.semitones) % 12 == 6:
                    counted *= _TRITONE
                weight = (_PRIOR * counted + came[pair]) / (_PRIOR + due[pair])
                self._known[one.semitones, two.semitones] = round(weight, 6)

    def __call__(self, one: int, two: int) -> float:
        """The weight of going from one degree to another; 1 for a degree the frame has not."""
        return self._known.get((one, two), 1.0)


def third_of(degrees: Sequence[Degree]) -> str:
    """``major`` or ``minor``, by the third a frame has."""
    return "major" if any(degree.semitones == 4 for degree in degrees) else "minor"


def _pairs(
    heights: Sequence[int], table: MoveTable, size: int
) -> tuple[Counter[tuple[int, int]], dict[tuple[int, int], float]]:
    """How often each pair of degrees came in the lick, and should have by the moves alone."""
    came: Counter[tuple[int, int]] = Counter()
    due: dict[tuple[int, int], float] = {(i, k): 0.0 for i in range(size) for k in range(size)}
    before = NONE
    for one, two in itertools.pairwise(heights):
        if one % 2 or two % 2:
            before = NONE
            continue
        here, steps = one // 2, (two - one) // 2
        weights = [table.weight(before, k) for k in range(-_FAR, _FAR + 1)]
        total = sum(weights)
        for k, weight in zip(range(-_FAR, _FAR + 1), weights, strict=True):
            due[here % size, (here + k) % size] += weight / total
        came[here % size, (here + steps) % size] += 1
        before = kind_of(steps, before)
    return came, due
