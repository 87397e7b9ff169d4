"""The no-quotation rule as an automaton.

A quotation is a run of the source's melody, in any key: more than ``limit`` successive notes
whose semitone intervals are those of successive notes of the source. The automaton of Aho and
Corasick (1975) over all forbidden interval words tells, note by note, whether one would be
completed; in a product with the melody's own states it gives the max-order constraint of
Papadopoulos, Roy and Pachet (2014) exactly.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

__all__ = ["QuoteWatch"]


class QuoteWatch:
    """Follows a line's intervals; state 0 knows nothing.

    Parameters
    ----------
    source : sequence of int
        MIDI numbers of the source melody.
    limit : int
        Longest run in notes that may be quoted.

    >>> watch = QuoteWatch([60, 62, 64, 65], 2)
    >>> state = watch.after(0, 2)
    >>> watch.after(state, 2), watch.after(state, 5)
    (-1, 0)
    """

    def __init__(self, source: Sequence[int], limit: int) -> None:
        intervals = [b - a for a, b in itertools.pairwise(source)]
        words = sorted({tuple(intervals[i : i + limit]) for i in range(len(intervals) - limit + 1)})
        self.limit = limit
        self._next: list[dict[int, int]] = [{}]
        self._fail: list[int] = [0]
        self._bad: list[bool] = [False]
        for word in words:
            state = 0
            for interval in word:
                if interval not in self._next[state]:
                    self._next[state][interval] = len(self._next)
                    self._next.append({})
                    self._fail.append(0)
                    self._bad.append(False)
                state = self._next[state][interval]
            self._bad[state] = True
        queue = list(self._next[0].values())
        for state in queue:
            for interval, child in self._next[state].items():
                queue.append(child)
                fail = self._fail[state]
                while fail and interval not in self._next[fail]:
                    fail = self._fail[fail]
                self._fail[child] = self._next[fail].get(interval, 0)
        self._known: dict[tuple[int, int], int] = {}

    def after(self, state: int, interval: int) -> int:
        """The state after one more interval, or -1 when that completes a quotation."""
        key = (state, interval)
        found = self._known.get(key)
        if found is None:
            found = self._step(state, interval)
            if self._bad[found]:
                found = -1
            self._known[key] = found
        return found

    def through(self, state: int, interval: int) -> tuple[int, bool]:
        """The state after an interval that is kept anyhow (pinned), and whether it completes a
        quotation.
        """
        found = self._step(state, interval)
        if self._bad[found]:
            return self._fail[found], True
        return found, False

    def _step(self, state: int, interval: int) -> int:
        while state and interval not in self._next[state]:
            state = self._fail[state]
        return self._next[state].get(interval, 0)
