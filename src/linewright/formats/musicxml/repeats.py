"""The order a part's bars are read in: every strain once, or as repeats and endings play it.

Our own, since music21's expander takes minutes over forty repeat signs in a row.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal, get_args

from linewright.errors import OptionError, ReadError, TooLarge

__all__ = ["BarSigns", "Repeats", "bar_order"]

#: Whether repeated bars are read once or written out as played.
Repeats = Literal["once", "play"]
_MAX_PLAYED_BARS: Final = 2_000


@dataclass
class BarSigns:
    """A bar's repeat signs: where a strain starts or goes back, and which passes play the bar
    (empty when all do).
    """

    forward: bool = False
    backward: bool = False
    passes: frozenset[int] = frozenset()


def bar_order(signs: Sequence[BarSigns], repeats: Repeats) -> list[int]:
    """Indexes of bars in the order they are read.

    ``once`` leaves out the endings that another ending follows. Raises ReadError when, played
    as written, some bar would never sound.
    """
    if repeats not in get_args(Repeats):
        raise OptionError(f"repeats cannot be {repeats!r:.40}", accepted="Use once or play")
    if repeats == "once":
        return [i for i in range(len(signs)) if not _has_later_ending(signs, i)]
    order = _played(signs)
    missing = sorted(set(range(len(signs))) - set(order))
    if missing:
        raise ReadError(
            "the repeat signs and endings do not pair up, so the bar would never be played",
            place=f"measure {missing[0] + 1}",
            accepted="Read the repeats once",
        )
    return order


def _has_later_ending(signs: Sequence[BarSigns], index: int) -> bool:
    own = signs[index].passes
    if not own:
        return False
    following = next((s.passes for s in signs[index:] if s.passes != own), frozenset())
    return bool(following) and min(following) > min(own)


def _played(signs: Sequence[BarSigns]) -> list[int]:
    order: list[int] = []
    start = at = 0
    turn = 1
    while at < len(signs):
        bar = signs[at]
        after_endings = at > start and signs[at - 1].passes and not bar.passes
        if (bar.forward and at != start) or after_endings:
            start, turn = at, 1
        if bar.passes and turn not in bar.passes:
            at += 1
            continue
        order.append(at)
        if len(order) > _MAX_PLAYED_BARS:
            raise TooLarge(
                f"the repeats play out to more than {_MAX_PLAYED_BARS:,} bars",
                accepted="Read the repeats once",
            )
        if bar.backward and turn < _turns(signs, start, at):
            turn += 1
            at = start
            continue
        at += 1
        if bar.backward and not bar.passes:
            start, turn = at, 1
    return order


def _turns(signs: Sequence[BarSigns], start: int, at: int) -> int:
    """How often a strain is played: twice, or as often as its endings say."""
    if not signs[at].passes:
        return 2
    end = at
    while end < len(signs) and signs[end].passes:
        end += 1
    return max(2, *(max(bar.passes, default=0) for bar in signs[start:end]))
