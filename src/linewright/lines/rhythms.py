"""What a line takes from the rhythm of its lick: its commonest note, and where it breathes."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from typing import Final

from linewright.lines.request import LineRequest
from linewright.lines.slots import UNITS
from linewright.score import Bar, Lick

__all__ = ["closing_bars", "own_grid"]

#: A steady lick is given a breath after so many bars without one.
_MOST_WITHOUT: Final = 4


def own_grid(lick: Lick) -> str:
    """The steady grid of the lick's commonest note length, of those that fit into its beats;
    eighths where two are as common, or none fits.
    """
    melody = [lick.notes[index] for index in lick.melody]
    lengths = Counter(note.duration for note in melody)
    fits = {
        name: lengths[unit]
        for name, unit in UNITS.items()
        if not any(beat % unit for beat in lick.meter.beats)
    }
    return max(fits, key=lambda name: (fits[name], name == "eighths"), default="eighths")


def closing_bars(lick: Lick, request: LineRequest) -> tuple[bool, ...]:
    """Which bars end a phrase, going round and round: every ``phrase`` bars, or where the lick's own
    bars end on a note held for a beat or more (or on a rest), and after four bars without such.
    """
    if request.phrase is not None:
        return (*(False,) * (request.phrase - 1), True) if request.phrase else (False,)
    found: list[bool] = []
    for bar in lick.bars:
        if bar.number and bar.is_full and bar.meter == lick.meter:
            steady = found[1 - _MOST_WITHOUT :]
            due = len(steady) == _MOST_WITHOUT - 1 and not any(steady)
            found.append(due or _breathes(lick, bar))
    if not any(found):
        found = [*found, *(False,) * (_MOST_WITHOUT - 1 - len(found)), True][:_MOST_WITHOUT]
    return tuple(found)


def _breathes(lick: Lick, bar: Bar) -> bool:
    """Whether a bar ends on a note longer than usual, begun on its last beat or before."""
    inside = [
        lick.notes[index].onset
        for index in lick.melody
        if bar.onset <= lick.notes[index].onset < bar.end
    ]
    if not inside:
        return True
    beats = bar.meter.beat_onsets
    lengths = Counter(lick.notes[index].duration for index in lick.melody)
    common = max(lengths, key=lambda length: (lengths[length], -length))
    held = bar.end - inside[-1]
    least = max(Fraction(1), 2 * common, bar.duration - beats[-1])
    return inside[-1] - bar.onset <= beats[-1] and held >= least
