"""The price of saying where a figure stands.

A figure over ``s`` of ``n`` notes may begin at any of ``n - s + 1`` notes, but figures like to
begin with a bar or on a beat, and what comes back likes to come back at the same place of its
bar (parallelism: Lerdahl and Jackendoff 1983, metrical preference rule 1). So the place is drawn
from a mixture: any note, a note on a beat, a note that opens a bar, and for a return a note at
the place in the bar where it stood before. Once ``k`` figures are known to be there the next is
that much less surprising.
"""

from __future__ import annotations

from collections import Counter
from itertools import accumulate
from math import log2
from typing import Final

from linewright.analysis.figures.views import Views

__all__ = ["Places"]

_ANY: Final = 0.4
_BEAT: Final = 0.35
_BAR: Final = 0.25
_PARALLEL: Final = 0.5


class Places:
    """Bits of the place of a figure, when ``figures`` others are known to be there."""

    def __init__(self, views: Views, figures: int = 0) -> None:
        self._count = views.count
        self._discount = log2(figures + 1)
        self._beat = views.on_beat
        self._bar = [place == 0 for place in views.in_bar]
        self._beats = list(accumulate(self._beat))
        self._bars = list(accumulate(self._bar))
        self._in_bar = views.in_bar
        self._alike = Counter(views.in_bar)

    def bits(self, start: int, end: int) -> float:
        """Bits of a figure's first note, its number of notes being known."""
        return max(0.0, -log2(self._share(start, end)) - self._discount)

    def again_bits(self, first: int, start: int, end: int) -> float:
        """Bits of the place where a cell comes back that was first heard at ``first``."""
        share = self._share(start, end)
        if self._in_bar[first] == self._in_bar[start]:
            share = (1 - _PARALLEL) * share + _PARALLEL / (self._alike[self._in_bar[start]] - 1)
        else:
            share *= 1 - _PARALLEL
        return max(0.0, -log2(share) - self._discount)

    def _share(self, start: int, end: int) -> float:
        last = self._count - (end - start)
        beats, bars = self._beats[last], self._bars[last]
        share = _ANY / (last + 1)
        given = _ANY
        if beats:
            given += _BEAT
            share += _BEAT / beats if self._beat[start] else 0.0
        if bars:
            given += _BAR
            share += _BAR / bars if self._bar[start] else 0.0
        return share / given
