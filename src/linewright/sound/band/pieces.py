"""A part cut into bars that can be played one after another, again and again, in any order.

Each piece holds what is struck in one bar and rings as long as it would in the whole part: it
ends where its string is struck next, also in a later bar. A note that is hammered, pulled or slid
to belongs to the bar in which its string was plucked, since it has no sound without that pluck.
So pieces laid end to end with their tails overlapping add up to the whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Final

from linewright.score import Bar
from linewright.score.performance import Part, Stroke

__all__ = ["pieces"]

_JOINED: Final = frozenset({"hammer-on", "pull-off", "slide", "release"})


def pieces(part: Part, bars: Sequence[Bar]) -> tuple[Part, ...]:
    """What a part plays in each bar, in quarters from that bar's start.

    A stroke before the first bar belongs to it, one after the last to the last.
    """
    own: list[list[Stroke]] = [[] for _ in bars]
    homes = _homes(part.strokes, bars)
    for stroke, home in zip(_ended(part.strokes), homes, strict=True):
        own[home].append(replace(stroke, onset=max(Fraction(0), stroke.onset - bars[home].onset)))
    return tuple(replace(part, strokes=tuple(strokes)) for strokes in own)


def _homes(strokes: Sequence[Stroke], bars: Sequence[Bar]) -> list[int]:
    """The index of the bar each stroke belongs to."""
    plucked: dict[int | None, int] = {}
    homes = []
    at = 0
    for stroke in strokes:
        while at + 1 < len(bars) and stroke.onset >= bars[at + 1].onset:
            at += 1
        if stroke.attack not in _JOINED or stroke.string not in plucked:
            plucked[stroke.string] = at
        homes.append(plucked[stroke.string])
    return homes


def _ended(strokes: Sequence[Stroke]) -> list[Stroke]:
    """The strokes, those that ring let go where their string is struck next."""
    after: dict[int | None, Fraction] = {}
    found = []
    for stroke in reversed(strokes):
        again = after.get(stroke.string)
        if stroke.string is not None:
            after[stroke.string] = stroke.onset
            if again is not None and again > stroke.onset:
                if stroke.ring:
                    stroke = replace(stroke, duration=again - stroke.onset, ring=False)
                elif stroke.end > again:
                    stroke = replace(stroke, duration=again - stroke.onset)
        found.append(stroke)
    return found[::-1]
