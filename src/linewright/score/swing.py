"""Where swung notes sound: the one rule that MIDI, sound and the cursor on the page share."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from linewright.score.meter import Bar

__all__ = ["swing_place", "swung"]


def swing_place(ratio: Fraction) -> Fraction:
    """Where in the beat the second eighth falls for a long : short ratio, 0 to 1.

    >>> swing_place(Fraction(2))
    Fraction(2, 3)
    """
    return ratio / (ratio + 1)


def swung(
    times: Iterable[Fraction], bars: Sequence[Bar], ratio: Fraction | None
) -> dict[Fraction, Fraction]:
    """Written moment -> sounding moment, in quarters, for the second eighths that swing moves.

    They are those of quarter-note beats that hold nothing finer (common practice: triplets and
    sixteenths are played as written in a swung line). Moments that stay are not listed, so look
    up with ``moved.get(time, time)``.

    Parameters
    ----------
    times : iterable of Fraction
        Every moment at which a note of the part begins or ends.
    bars : sequence of Bar
    ratio : Fraction or None
        Long : short; None is straight.
    """
    if ratio is None:
        return {}
    place = swing_place(ratio)
    ordered = sorted(set(times))
    moved: dict[Fraction, Fraction] = {}
    at = 0
    for bar in bars:
        if bar.meter.beat != 1 or len(set(bar.meter.beats)) > 1:
            continue
        start = bar.onset - bar.offset(bar.onset) % 1
        while start < bar.end:
            while at < len(ordered) and ordered[at] <= start:
                at += 1
            inside = []
            while at < len(ordered) and ordered[at] < start + 1:
                inside.append(ordered[at] - start)
                at += 1
            if inside == [Fraction(1, 2)]:
                moved[start + Fraction(1, 2)] = start + place
            start += 1
    return moved
