"""The plain code: what every note costs when nothing recurs.

Pitch is coded note by note as a move from the note before: how far (in frame steps), and
whether it keeps or turns the direction. Rhythm and joins are coded by the best of a few simple
predictors (the same as so many notes ago). All probabilities start from the priors below
(typical of folk and jazz lines: mostly steps, few leaps, a skip followed by a turn; compare
von Hippel and Huron 2000) and are then moved towards the lick's own counts, free of charge.
So the plain code is given every advantage: a lick that is simply full of steps, or of one
rhythm, makes those cheap, and a figure has to save bits against that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from math import log2

from linewright.analysis.figures.views import Views

__all__ = ["PlainCode", "move_bits", "plain_code"]

#: Prior of the size of a move in half frame steps (odd sizes reach or leave an outside note).
_SIZES = {
    0: 0.10, 2: 0.46, 4: 0.17, 6: 0.07, 8: 0.045, 10: 0.025, 12: 0.015, 14: 0.015, 16: 0.01,
    1: 0.04, 3: 0.02, 5: 0.01,
}  # fmt: skip
_OTHER_SIZE = 0.02 / 13
_SIZE_STRENGTH = 24.0
_KEEP = {False: 0.6, True: 0.4}  # after a step; after a skip or leap
_KEEP_STRENGTH = 12.0
_LAGS = (1, 2, 3, 4, 5, 6, 8)
FIRST_NOTE = 5.0
RANGE_BITS = 10.0


@dataclass(frozen=True, slots=True)
class PlainCode:
    """Bits of each note in each row, with running sums (``sums[k]`` is the sum before note k)."""

    pitch: list[float]
    rhythm: list[float]
    joins: list[float]
    pitch_sums: list[float]
    rhythm_sums: list[float]
    joins_sums: list[float]

    def pitch_bits(self, first: int, end: int) -> float:
        """Pitch bits of notes ``first`` to ``end - 1``."""
        return self.pitch_sums[end] - self.pitch_sums[first]

    def time_bits(self, first: int, end: int) -> float:
        """Rhythm and join bits of notes ``first`` to ``end - 1``."""
        return (
            self.rhythm_sums[end]
            - self.rhythm_sums[first]
            + self.joins_sums[end]
            - self.joins_sums[first]
        )


def move_bits(size: int) -> float:
    """Bits of a move under the prior alone, direction included."""
    return -log2(_SIZES.get(abs(size), _OTHER_SIZE)) + (size != 0)


def plain_code(views: Views) -> PlainCode:
    """Fit the plain code to a lick and price every note."""
    pitch = _pitch_bits(views.steps)
    rhythm = [*_predicted_bits(views.rhythm[:-1]), 0.0] if views.count else []
    joins = _predicted_bits(views.joins) if any(views.joins) else [0.0] * views.count
    return PlainCode(
        pitch, rhythm, joins, *([0.0, *accumulate(row)] for row in (pitch, rhythm, joins))
    )


def _pitch_bits(steps: Sequence[int]) -> list[float]:
    moves = [b - a for a, b in pairwise(steps)]
    sizes: dict[int, int] = {}
    kept = {False: 0, True: 0}
    turned = {False: 0, True: 0}
    turns: list[tuple[bool, bool] | None] = []
    before = 0
    for move in moves:
        sizes[abs(move)] = sizes.get(abs(move), 0) + 1
        if not move:
            turns.append(None)
            continue
        skip = abs(before) > 2
        keeps = before * move > 0
        turns.append((skip, keeps) if before else None)
        if before:
            (kept if keeps else turned)[skip] += 1
        before = move
    total = len(moves) + _SIZE_STRENGTH
    size_bits = {
        size: -log2((_SIZE_STRENGTH * _SIZES.get(size, _OTHER_SIZE) + n) / total)
        for size, n in sizes.items()
    }
    turn_bits = {}
    for skip in (False, True):
        share = (_KEEP_STRENGTH * _KEEP[skip] + kept[skip]) / (
            _KEEP_STRENGTH + kept[skip] + turned[skip]
        )
        turn_bits[skip, True], turn_bits[skip, False] = -log2(share), -log2(1 - share)
    bits = [FIRST_NOTE] if steps else []
    for move, turn in zip(moves, turns, strict=True):
        way = 0.0 if not move else 1.0 if turn is None else turn_bits[turn]
        bits.append(size_bits[abs(move)] + way)
    return _no_dearer_than_any_note(bits, steps)


def _no_dearer_than_any_note(bits: list[float], steps: Sequence[int]) -> list[float]:
    """Every note as any note of the range alike, where moves do not describe the line as well."""
    if len(steps) < 2:
        return bits
    low, high = min(steps), max(steps)
    outside = any(step % 2 for step in steps)
    each = log2((high - low) / 2 + 1) + outside
    if sum(bits) <= each * len(steps) + RANGE_BITS:
        return bits
    return [each] * len(steps)


def _predicted_bits(symbols: Sequence[int]) -> list[float]:
    """Bits of a row when each symbol is guessed to equal the one some places back."""
    count = len(symbols)
    kinds = len(set(symbols))
    if kinds <= 1:
        return [0.0] * count
    miss = log2(kinds - 1) if kinds > 1 else 0.0
    best: list[float] | None = None
    for lag in _LAGS:
        if lag > 1 and lag * 2 > count:
            break
        hits = [k >= lag and symbols[k] == symbols[k - lag] for k in range(count)]
        share = (sum(hits) + 1.5) / (max(0, count - lag) + 3)
        yes, no = -log2(share), -log2(1 - share) + miss
        first = log2(kinds)
        bits = [first if k < lag else yes if hit else no for k, hit in enumerate(hits)]
        if best is None or sum(bits) < sum(best):
            best = bits
    order0 = _order0_bits(symbols)
    return order0 if best is None or sum(order0) < sum(best) else best


def _order0_bits(symbols: Sequence[int]) -> list[float]:
    counts: dict[int, int] = {}
    for symbol in symbols:
        counts[symbol] = counts.get(symbol, 0) + 1
    total = len(symbols)
    price = {symbol: -log2(n / total) for symbol, n in counts.items()}
    return [price[symbol] for symbol in symbols]
