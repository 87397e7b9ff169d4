"""What the hand does in a figure: strings and playing marks that come round with it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from linewright.analysis.prose import counted, join_words
from linewright.score import Lick

__all__ = ["hand_words"]

_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")


def hand_words(lick: Lick, spans: Sequence[tuple[int, int]], kind: str) -> str:
    """Strings and marks of a figure in words, '' when they follow no pattern or are not known."""
    parts = [part for part in (_strings(lick, spans, kind), _marks(lick, spans)) if part]
    return join_words(parts)


def _strings(lick: Lick, spans: Sequence[tuple[int, int]], kind: str) -> str:
    rows = [[lick.notes[lick.melody[k]].string for k in range(a, b + 1)] for a, b in spans]
    if any(string is None for row in rows for string in row):
        return ""
    groups = [len(list(run)) for row in rows for _, run in groupby(row)]
    if kind.endswith(" run"):
        inner = groups[1:-1] or groups[:1]
        even = len(set(inner)) == 1 and all(g <= inner[0] for g in groups)
        if len(groups) > 1 and even and inner[0] > 1:
            return f"{counted(inner[0], 'note')} to a string"
        return "all on one string" if len(groups) == 1 else ""
    whole = [row for row in rows if len(row) == len(rows[0])]
    if len(whole) < 2:
        return ""
    if all(row == whole[0] for row in whole):
        if len(set(whole[0])) == 1:
            return "all on one string"
        return "on the same strings each time"
    shapes = {tuple((s or 0) - (row[0] or 0) for s in row) for row in whole}
    if len(shapes) == 1 and len(whole[0]) > 1:
        if shapes == {(0,) * len(whole[0])}:
            return f"{counted(len(whole[0]), 'note')} to a string"
        return "crossing strings the same way each time"
    return ""


def _marks(lick: Lick, spans: Sequence[tuple[int, int]]) -> str:
    length = spans[0][1] - spans[0][0] + 1
    if len(spans) < 2:
        return ""
    told = []
    for place in range(length):
        marks = [
            {mark.name for mark in lick.notes[lick.melody[a + place]].marks if mark.kind.joins}
            for a, b in spans
            if a + place <= b
        ]
        common = set.intersection(*marks)
        for name in sorted(common):
            which = "last" if place == length - 1 else _ordinal(place)
            told.append(f"a {name} to the {which} note each time")
    return join_words(told)


def _ordinal(place: int) -> str:
    return _ORDINALS[place] if place < len(_ORDINALS) else f"{place + 1}th"
