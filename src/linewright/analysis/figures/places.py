"""The price of saying where a figure stands.

A figure over ``s`` of ``n`` notes may begin at any of ``n - s + 1`` notes, but figures like to fill
the units a player hears: they begin, and what follows them begins, with a bar, on a beat, or with a
new group (after a rest or a note longer than those beside it: Lerdahl and Jackendoff 1983, grouping
preference rule 2). What comes back likes to come back at the same place of its bar (parallelism: their
metrical preference rule 1). So the two ends are drawn from a mixture of such places, among all the
places a figure of that length has, and for a return from the places in the bar where it stood
before. Once ``k`` figures are known to be there the next is that much less surprising.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import accumulate
from math import log2
from operator import mul
from typing import Final

from linewright.analysis.figures.views import Views

__all__ = ["Places"]

#: Shares of the kinds of places a figure begins at, and of those the note after it stands at: any,
#: on a beat, at a bar line, at the start of a group. Kinds a lick does not have give theirs up.
_BEGINS: Final = (0.4, 0.3, 0.22, 0.08)
_ENDS: Final = (0.75, 0.12, 0.08, 0.05)
_PARALLEL: Final = 0.5


class Places:
    """Bits of the place of a figure, when ``figures`` others are known to be there."""

    def __init__(self, views: Views, figures: int = 0) -> None:
        self._discount = log2(figures + 1)
        bars = [place == 0 for place in views.in_bar]
        kinds = [[True] * views.count, views.on_beat, bars, views.opens]
        self._begins = _mixture(_BEGINS, kinds)
        # The end of the lick is a place of every kind.
        self._ends = _mixture(_ENDS, [[*kind, True] for kind in kinds])
        # How much lies on the last so many notes.
        self._late = [0.0, *accumulate(reversed(self._begins))]
        self._all: dict[int, float] = {}
        self._in_bar = views.in_bar
        self._alike = Counter(views.in_bar)

    def bits(self, start: int, end: int) -> float:
        """Bits of a figure's first note, its number of notes being known."""
        return max(0.0, -log2(self._share(start, end)) - self._discount)

    def again_bits(self, first: int, start: int, end: int) -> float:
        """Bits of the place where a cell comes back that was first heard at ``first``."""
        share = self._begins[start] / self._first_of(end - start)
        if self._in_bar[first] == self._in_bar[start]:
            share = (1 - _PARALLEL) * share + _PARALLEL / (self._alike[self._in_bar[start]] - 1)
        else:
            share *= 1 - _PARALLEL
        return max(0.0, -log2(share) - self._discount)

    def _share(self, start: int, end: int) -> float:
        length = end - start
        total = self._all.get(length)
        if total is None:
            total = self._all[length] = sum(map(mul, self._begins, self._ends[length:]))
        return self._begins[start] * self._ends[end] / total

    def _first_of(self, length: int) -> float:
        """The share of the places at which so many notes can begin."""
        return 1.0 - self._late[length - 1]


def _mixture(shares: Sequence[float], kinds: Sequence[Sequence[bool]]) -> list[float]:
    """The probability of every place, drawn from the kinds there are."""
    each = [
        share / sum(kind) if any(kind) else 0.0 for share, kind in zip(shares, kinds, strict=True)
    ]
    return [
        sum(share for share, holds in zip(each, place, strict=True) if holds)
        for place in zip(*kinds, strict=True)
    ]
