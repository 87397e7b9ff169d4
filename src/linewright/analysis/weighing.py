"""Every candidate by its bits once both views of the notes have spoken.

The :class:`~linewright.analysis.ranking.Ranking` says which notes are inside and outside, and is
quick over all 432 frames; the :class:`~linewright.analysis.walk.Walk` says how the melody moves
through one of them. They look at the same notes, so their bits are not added but mixed.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from itertools import islice
from typing import Final

from linewright.analysis.frame import NO_FRAME_BITS, Evidence, no_frame_bits
from linewright.analysis.ranking import Ranked, Ranking
from linewright.analysis.walk import Walk

__all__ = ["Weighing"]

#: Share of the walk in the bits of the notes.
_WALKED: Final = 0.4


class Weighing:
    """Candidates on one tonic, or anywhere, by the bits of both views.

    Parameters
    ----------
    found : Evidence
    ranking : Ranking
    walk : Walk
    """

    def __init__(self, found: Evidence, ranking: Ranking, walk: Walk) -> None:
        self._found = found
        self.ranking = ranking
        self._walk = walk
        self._on: dict[int, tuple[Ranked, ...]] = {}

    def bits(self, tonic: int, number: int) -> float:
        """Bits of one candidate on one tonic."""
        whole, notes = self.ranking.parts(tonic, number)
        return whole - _WALKED * notes + _WALKED * self._walk.bits(tonic, number)

    def on(self, tonic: int) -> tuple[Ranked, ...]:
        """Every candidate on one tonic, cheapest first."""
        if tonic not in self._on:
            self._on[tonic] = tuple(sorted(self.cheapest(tonic)))
        return self._on[tonic]

    def cheapest(self, tonic: int) -> Iterator[Ranked]:
        """The same one by one, walked only as far as it is asked for.

        A candidate waits with the least it can cost, its walk all steps, until it is its turn.
        """
        least = self._walk.least_bits(tonic)
        waiting = [
            (whole + _WALKED * (low - notes), False, number, whole - _WALKED * notes)
            for number, ((whole, notes), low) in enumerate(
                zip(self.ranking.parts_on(tonic), least, strict=True)
            )
        ]
        heapq.heapify(waiting)
        while waiting:
            bits, is_walked, number, rest = heapq.heappop(waiting)
            if is_walked:
                yield bits, tonic, number
            else:
                bits = rest + _WALKED * self._walk.bits(tonic, number)
                heapq.heappush(waiting, (bits, True, number, rest))

    def away(self, tonic: int, count: int) -> list[Ranked]:
        """The ``count`` candidates on other tonics whose notes alone are cheapest."""
        others = (item for item in self.ranking if item[1] != tonic)
        return [(self.bits(t, number), t, number) for _, t, number in islice(others, count)]

    def no_frame_bits(self) -> float:
        """Bits of the notes with no frame at all."""
        walked = NO_FRAME_BITS + self._walk.no_frame_bits()
        return (1 - _WALKED) * no_frame_bits(self._found) + _WALKED * walked
