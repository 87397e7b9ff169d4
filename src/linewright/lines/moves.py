"""How a melody moves: the next move in frame steps, given the one before.

The size of a move is the lick's own counts of successive moves over a common-practice expectation:
steps are commonest, a leap turns back (the post-skip reversal of von Hippel and Huron 2000;
Narmour 1990). Whether a melody goes on its way or turns is learned apart, from how often the
lick turns after a step, a third or a leap, and after one move or more the same way, since that is
what tells a line with a shape from an aimless one; what is expected of it before the lick is
heard was counted in 1,362 tunes (``python -m benchmarks.line_habits``). The expectation counts as much as ``PRIOR_MOVES`` moves of the lick, so a
lick of one bar is not parroted and one of eight bars speaks for itself. Weights are the model's
own; they are shares, not facts.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

__all__ = ["KINDS", "NONE", "PRIOR_MOVES", "REPEAT", "MoveTable", "kind_of", "steps_between"]

#: Kinds of a move: its size (1, 2, 3 or more steps), its way, and whether the move before it
#: went the same way; then a repeated note, and no move before.
REPEAT: Final = 12
NONE: Final = 13
KINDS: Final = 14
PRIOR_MOVES: Final = 3.0
#: How often a melody goes on its way after a step, a third, a leap: after one move, and after two
#: or more (counted, see above), as this many moves say.
_GOES_ON: Final = ((0.63, 0.55), (0.46, 0.33), (0.29, 0.13))
_PRIOR_WAYS: Final = 1.5
#: Odds of going on after one move, and after two or more, are raised by this: range, chords and limits turn a line more often than its
#: moves alone would.
_PRESS: Final = (1.8, 2.6)
_WIDEST: Final = 12
_SIZE: Final = (0.10, 1.0, 0.6, 0.17, 0.09, 0.05)


def kind_of(steps: int, before: int = NONE) -> int:
    """The kind of a move of so many frame steps after a move of kind ``before``.

    >>> kind_of(1), kind_of(1, kind_of(2)), kind_of(0)
    (3, 9, 12)
    """
    if not steps:
        return REPEAT
    rises = steps > 0
    same = before < REPEAT and _rises(before) == rises
    return min(abs(steps), 3) - 1 + 3 * rises + 6 * same


def steps_between(before: int, after: int) -> int:
    """Frame steps between two heights (in half steps), a half step counted away from zero.

    >>> steps_between(4, 6), steps_between(4, 5), steps_between(6, 3)
    (1, 1, -2)
    """
    change = after - before
    return (change + 1) // 2 if change > 0 else -((1 - change) // 2)


def _rises(kind: int) -> bool:
    return kind // 3 % 2 == 1


def _expected(before: int, steps: int) -> float:
    size = abs(steps)
    weight = _SIZE[size] if size < len(_SIZE) else 0.02
    if before >= REPEAT or not steps:
        return weight
    onward = _rises(before) == (steps > 0)
    last = before % 3 + 1
    if last == 1:
        return weight
    if last == 2:
        return weight * ((1.0 if size <= 2 else 0.5) if onward else (1.5 if size == 1 else 0.6))
    return weight * (0.3 if onward else (2.0 if size == 1 else 0.8))


class MoveTable:
    """Weight of each move (-12 to 12 frame steps) after each kind of move.

    Parameters
    ----------
    moves : sequence of int
        The lick's moves between frame notes, in frame steps.
    ways : sequence of int
        All its moves in order, outside notes too, in frame steps.
    """

    def __init__(self, moves: Sequence[int], ways: Sequence[int] = ()) -> None:
        counts = [[0.0] * (2 * _WIDEST + 1) for _ in range(KINDS)]
        single = [0.0] * (2 * _WIDEST + 1)
        before = NONE
        for steps in moves:
            place = max(-_WIDEST, min(_WIDEST, steps)) + _WIDEST
            counts[before][place] += 1
            single[place] += 1
            before = kind_of(steps, before)
        on = _ways(ways or moves)
        self._weights: list[list[float]] = []
        total = sum(single)
        for kind in range(KINDS):
            expected = [_expected(kind, s - _WIDEST) for s in range(2 * _WIDEST + 1)]
            scale = sum(expected)
            mixed = [
                PRIOR_MOVES * (0.6 * e / scale + (0.4 * one / total if total else 0.4 * e / scale))
                for e, one in zip(expected, single, strict=True)
            ]
            row = [m + c for m, c in zip(mixed, counts[kind], strict=True)]
            self._weights.append(_turned(row, kind, on))

    def weight(self, before: int, steps: int) -> float:
        """Weight of moving ``steps`` frame steps after a move of kind ``before``."""
        if not -_WIDEST <= steps <= _WIDEST:
            return 0.0
        return self._weights[before][steps + _WIDEST]


def _ways(moves: Sequence[int]) -> list[list[float]]:
    """How likely it is to go on the same way after a move of each size, the first of its way or
    not.
    """
    on = [[_PRIOR_WAYS * share for share in row] for row in _GOES_ON]
    all_ = [[_PRIOR_WAYS] * 2 for _ in _GOES_ON]
    before = NONE
    for move in moves:
        if before < REPEAT and move:
            size, run = before % 3, before // 6
            all_[size][run] += 1
            on[size][run] += _rises(before) == (move > 0)
        before = kind_of(move, before)
    return [[o / a for o, a in zip(*rows, strict=True)] for rows in zip(on, all_, strict=True)]


def _turned(row: list[float], kind: int, on: Sequence[Sequence[float]]) -> list[float]:
    """A row whose moves go on and turn back as often as they should; it adds up to 1."""
    whole = sum(row)
    factors = [1.0] * len(row)
    if kind < REPEAT:
        rises = _rises(kind)
        onward = [(k > _WIDEST) == rises and k != _WIDEST for k in range(len(row))]
        same = sum(w for w, o in zip(row, onward, strict=True) if o)
        back = whole - same - row[_WIDEST]
        share = on[kind % 3][kind // 6]
        odds = share * _PRESS[kind // 6]
        share = odds / (odds + 1 - share)
        moving = same + back
        factors = [
            1.0 if k == _WIDEST else moving * (share / same if o else (1 - share) / back)
            for k, o in enumerate(onward)
        ]
    return [round(w * f / whole, 9) for w, f in zip(row, factors, strict=True)]
