"""The lick under the hand: positions, shifts, string crossings, the hardest spot.

Alternate picking is read as common practice teaches it: a downstroke on every grid point that a
steady down-up motion gives one to (the beat and its even divisions), an upstroke between. A
crossing is *outside* when the pick goes round the two strings, *inside* when it lies between them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby, pairwise
from typing import Literal

from linewright.analysis.prose import counted
from linewright.fretboard import hand_positions
from linewright.score import Lick

__all__ = ["Crossing", "Hand", "PositionWindow", "read_hand"]


@dataclass(frozen=True, slots=True)
class PositionWindow:
    """Notes ``first`` to ``last`` lie under the hand with the index finger at ``fret``."""

    first: int
    last: int
    fret: int


@dataclass(frozen=True, slots=True)
class Crossing:
    """A plucked move to another string: ``note`` is the note arrived at, ``strings`` how many
    strings away (positive toward the floor), ``way`` inside, outside or plain (same stroke).
    """

    note: int
    strings: int
    way: Literal["inside", "outside", "plain"]


@dataclass(frozen=True, slots=True)
class Hand:
    """How a lick with places on the neck lies under the hands.

    ``strokes`` holds ``down``, ``up`` or ``slur`` for each note; ``hardest`` is the index of the note
    whose arrival asks most, with ``why`` in words and ``seconds`` the time for it (None without a
    tempo).
    """

    windows: tuple[PositionWindow, ...]
    open_strings: int
    lowest_fret: int
    highest_fret: int
    strokes: tuple[str, ...]
    crossings: tuple[Crossing, ...]
    marks: tuple[tuple[str, int], ...]
    hardest: int | None
    why: str
    seconds: float | None


def read_hand(lick: Lick) -> Hand | None:
    """Read the hand's work, or None when notes have no place on the neck."""
    if not lick.notes or lick.instrument is None or any(n.fret is None for n in lick.notes):
        return None
    positions = hand_positions(lick)
    strokes = _strokes(lick)
    crossings = _crossings(lick, strokes)
    frets = [note.fret for note in lick.notes if note.fret is not None]
    hardest, why = _hardest(lick, positions, crossings)
    marks = Counter(mark.name for note in lick.notes for mark in note.marks)
    return Hand(
        windows=_windows(positions),
        open_strings=frets.count(0),
        lowest_fret=min((f for f in frets if f), default=0),
        highest_fret=max(frets),
        strokes=strokes,
        crossings=crossings,
        marks=tuple(sorted(marks.items())),
        hardest=hardest,
        why=why,
        seconds=_seconds(lick, hardest) if hardest else None,
    )


def _windows(positions: Sequence[int]) -> tuple[PositionWindow, ...]:
    found: list[PositionWindow] = []
    for index, fret in enumerate(positions):
        if found and found[-1].fret == fret:
            found[-1] = PositionWindow(found[-1].first, index, fret)
        else:
            found.append(PositionWindow(index, index, fret))
    return tuple(found)


def _strokes(lick: Lick) -> tuple[str, ...]:
    """Down on the pulse, up between; slurred notes take no stroke; written strokes are kept."""
    strokes: list[str] = []
    for at, notes in groupby(range(len(lick.notes)), key=lick.grid.bars.__getitem__):
        bar, inside = lick.bars[at], [lick.notes[i] for i in notes]
        offsets = [bar.offset(note.onset) for note in inside]
        unit = _unit(offsets)
        # By threes each beat begins anew.
        by_beat = unit.denominator % 3 == 0 or bar.meter.is_compound
        for note, offset in zip(inside, offsets, strict=True):
            if note.is_joined:
                strokes.append("slur")
            elif note.has("down") or note.has("up"):
                strokes.append("down" if note.has("down") else "up")
            else:
                since = bar.meter.beat_at(offset)[1] if by_beat else offset
                strokes.append("up" if since / unit % 2 == 1 else "down")
    return tuple(strokes)


def _unit(offsets: Sequence[Fraction]) -> Fraction:
    """The steady hand motion of a bar in quarters: its finest even grid, an eighth at the least."""
    unit = Fraction(1, 2)
    for offset in offsets:
        while offset % unit and unit > Fraction(1, 8):
            unit = Fraction(1, 3) if offset % 1 * 3 % 1 == 0 else unit / 2
    return unit


def _crossings(lick: Lick, strokes: Sequence[str]) -> tuple[Crossing, ...]:
    found = []
    melody = lick.melody
    for left, right in pairwise(melody):
        a, b = lick.notes[left], lick.notes[right]
        if a.string is None or b.string is None or a.string == b.string or strokes[right] == "slur":
            continue
        # String 1 is nearest the floor: a smaller number is toward the floor.
        toward_floor = a.string - b.string
        before, after = strokes[left], strokes[right]
        way: Literal["inside", "outside", "plain"]
        if before == after or before == "slur":
            way = "plain"
        elif (before == "down") == (toward_floor > 0):
            way = "outside"
        else:
            way = "inside"
        found.append(Crossing(right, toward_floor, way))
    return tuple(found)


def _seconds(lick: Lick, index: int) -> float | None:
    if lick.tempo is None or not index:
        return None
    gap = lick.notes[index].onset - lick.notes[index - 1].onset
    return float(gap) * lick.tempo.seconds_per_quarter


def _hardest(
    lick: Lick, positions: Sequence[int], crossings: Sequence[Crossing]
) -> tuple[int | None, str]:
    """The arrival that asks most for its time: shift, skipped strings, inside picking, stretch."""
    crossed = {c.note: c for c in crossings}
    best: tuple[float, int | None, str] = (0.0, None, "nothing asks much of the hands")
    for left, right in pairwise(lick.melody):
        a, b = lick.notes[left], lick.notes[right]
        if b.fret is None or a.fret is None:
            continue
        reasons = []
        effort = 0.0
        shift = abs(positions[right] - positions[left])
        if shift and a.fret and b.fret:
            effort += 1.0 + 0.3 * shift
            reasons.append(f"a shift of {counted(shift, 'fret')}")
        crossing = crossed.get(right)
        if crossing is not None:
            skipped = abs(crossing.strings) - 1
            effort += 0.3 + 0.5 * skipped + (0.4 if crossing.way == "inside" else 0.0)
            kind = f"{crossing.way} " if crossing.way != "plain" else ""
            if skipped:
                reasons.append(f"{kind}picking over {counted(skipped, 'skipped string')}")
            else:
                reasons.append(f"{'an' if kind else 'a'} {kind}string crossing")
        bend = abs(b.bend)
        if bend:
            effort += 0.5 * float(bend)
            reasons.append("a bend")
        gap = float(b.onset - a.onset) or 1.0
        effort /= gap**0.5
        if effort > best[0] and reasons:
            best = (effort, right, " with ".join(reasons))
    return best[1], best[2]
