"""How a melody moves: the next move in frame steps, given the one before.

The table is the lick's own counts of successive moves over a common-practice expectation: steps
are commonest, a step tends to go on its way, a leap turns back (step inertia and the
post-skip reversal of von Hippel and Huron 2000; Narmour 1990). The expectation counts as much
as ``PRIOR_MOVES`` moves of the lick, so a lick of one bar is not parroted and one of
eight bars speaks for itself. Weights are the model's own; they are shares, not facts.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

__all__ = ["FAR", "NONE", "PRIOR_MOVES", "MoveTable", "kind_of"]

#: Moves past this many steps count as this many when looking back.
FAR: Final = 3
#: The kind of "no move before".
NONE: Final = 2 * FAR + 1
PRIOR_MOVES: Final = 6.0
_WIDEST: Final = 12
_SIZE: Final = (0.10, 1.0, 0.42, 0.17, 0.09, 0.05)


def kind_of(steps: int) -> int:
    """The kind of a move, 0 (far down) to 2 * FAR (far up)."""
    return max(-FAR, min(FAR, steps)) + FAR


def _expected(before: int, steps: int) -> float:
    size = abs(steps)
    weight = _SIZE[size] if size < len(_SIZE) else 0.02
    if before == NONE or not steps:
        return weight
    last = before - FAR
    if not last:
        return weight
    onward = (last > 0) == (steps > 0)
    if abs(last) == 1:
        return weight * ((1.7 if size == 1 else 1.0) if onward else (0.55 if size == 1 else 0.8))
    if abs(last) == 2:
        return weight * ((1.0 if size <= 2 else 0.5) if onward else (1.5 if size == 1 else 0.6))
    return weight * (0.3 if onward else (2.0 if size == 1 else 0.8))


class MoveTable:
    """Weight of each move (-12 to 12 frame steps) after each kind of move."""

    def __init__(self, moves: Sequence[int]) -> None:
        counts = [[0.0] * (2 * _WIDEST + 1) for _ in range(NONE + 1)]
        single = [0.0] * (2 * _WIDEST + 1)
        before = NONE
        for steps in moves:
            place = max(-_WIDEST, min(_WIDEST, steps)) + _WIDEST
            counts[before][place] += 1
            single[place] += 1
            before = kind_of(steps)
        self._weights: list[list[float]] = []
        total = sum(single)
        for kind in range(NONE + 1):
            expected = [_expected(kind, s - _WIDEST) for s in range(2 * _WIDEST + 1)]
            scale = sum(expected)
            mixed = [
                PRIOR_MOVES * (0.6 * e / scale + (0.4 * one / total if total else 0.4 * e / scale))
                for e, one in zip(expected, single, strict=True)
            ]
            row = [m + c for m, c in zip(mixed, counts[kind], strict=True)]
            whole = sum(row)
            self._weights.append([round(w / whole, 9) for w in row])

    def weight(self, before: int, steps: int) -> float:
        """Weight of moving ``steps`` frame steps after a move of kind ``before``."""
        if not -_WIDEST <= steps <= _WIDEST:
            return 0.0
        return self._weights[before][steps + _WIDEST]
