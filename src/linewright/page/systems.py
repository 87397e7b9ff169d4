"""Where systems break: bars shared out over lines so that none is crammed or half empty."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from math import log2

from linewright.score import Lick, Measure

__all__ = ["bar_widths", "share_bars"]

#: Comfortable widths in staff-line spaces, found by eye on engraved pages.
_SYMBOL, _BAR, _ACCIDENTAL, _GRACE, _LETTER = 3.3, 2.5, 0.8, 2.2, 0.95
#: Clef, signature and meter at the head of a system.
HEAD = 9.0


def bar_widths(
    lick: Lick, measures: Sequence[Measure], labels: Mapping[int, str]
) -> tuple[float, ...]:
    """A comfortable width for each bar, in staff-line spaces."""
    widths = []
    for measure in measures:
        width = _BAR
        for symbol in measure.symbols:
            room = _SYMBOL
            if symbol.duration > Fraction(1, 2):
                room *= 1 + 0.3 * log2(float(symbol.duration) * 2)
            if not symbol.tie_in:
                texts = [len(labels.get(i, "")) for i in symbol.notes]
                room = max(room, max(texts, default=0) * _LETTER + 1.2)
                for index in symbol.notes:
                    room += _GRACE * len(lick.notes[index].grace)
                    room += _ACCIDENTAL if lick.notes[index].pitch.alter else 0
            width += room
        texts_wide = sum(
            len(c.symbol.text if c.symbol else "N.C.") * _LETTER + 1.5
            for c in lick.chords
            if measure.bar.onset <= c.onset < measure.bar.end
        )
        widths.append(max(width, texts_wide))
    return tuple(widths)


def share_bars(widths: Sequence[float], room: float, *, pickup: bool = False) -> tuple[int, ...]:
    """Places of the bars that begin a system, the first left out.

    Parameters
    ----------
    widths : sequence of float
        Comfortable width of each bar.
    room : float
        Width of a system, in the same unit.
    pickup : bool
        Whether the first bar is a pickup, which never stands on a system of its own.

    Notes
    -----
    The fewest systems that hold the bars at their comfortable width (a wide bar alone may pass
    it), then the shares whose fullest system is least full: the least sum of squares.
    """
    count = len(widths)
    # best[i]: (systems, sum of squares) of bars i.. laid out at their best, and its first break
    best: list[tuple[int, float]] = [(0, 0.0)] * (count + 1)
    follow = [count] * (count + 1)
    for start in range(count - 1, -1, -1):
        found: tuple[int, float] | None = None
        total = HEAD
        for stop in range(start + 1, count + 1):
            total += widths[stop - 1]
            alone = stop == start + 1 or (pickup and start == 0 and stop == 2)
            if total > room and not alone:
                break
            if pickup and start == 0 and stop == 1 and count > 1:
                continue
            systems, squares = best[stop]
            cost = (systems + 1, squares + (total / room) ** 2)
            if found is None or cost < found:
                found, follow[start] = cost, stop
        best[start] = found if found is not None else (count, 0.0)
    breaks = []
    at = follow[0]
    while at < count:
        breaks.append(at)
        at = follow[at]
    return tuple(breaks)
