"""Candidates made of one cell said again at once: sequences and repetitions, exact or varied.

For every cell length the melody is laid over itself at that lag. Where the differences stay
level the next stretch is a copy; where one or two of them stick out it is a varied copy.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import accumulate
from math import log2
from operator import ne

from linewright.analysis.figures.plain import PlainCode
from linewright.analysis.figures.prices import (
    VIEW_BITS,
    WHOLE_BITS,
    Candidate,
    Copy,
    Detail,
    cell_bits,
    change_bits,
    count_bits,
    cut_bits,
    edit_bits,
    shape_bits,
    shift_bits,
)
from linewright.analysis.figures.views import Views

__all__ = ["adjacent_cells", "copy_of", "copy_saving", "edits_allowed"]

LONGEST = 16
_MOST_COPIES = 16
#: Bits against a change that comes with a new bar: there a cell is cut short (the 2 of 3+3+2).
_OVER_BAR = 2.0


def edits_allowed(length: int) -> int:
    """How many notes of a copy may differ before it stops being one."""
    return 0 if length < 3 else 1 if length < 6 else length // 3 if length < 12 else 4


def copy_of(
    views: Views, row: list[int], first: int, length: int, start: int, view: str
) -> Copy | None:
    """The notes at ``start`` as a copy of the cell at ``first``, or None when too much differs."""
    gaps = [row[start + k] - row[first + k] for k in range(length)]
    moved = gaps[0]
    agree = gaps.count(moved)
    if agree != length:
        if view != "steps":
            return None
        for gap in gaps:
            if gap != moved and gaps.count(gap) > agree:
                moved, agree = gap, gaps.count(gap)
        if length - agree > edits_allowed(length):
            return None
    if moved % 2:
        return None
    edits = [(k, gap - moved) for k, gap in enumerate(gaps) if gap != moved]
    if view == "steps" and not moved:  # two notes between the same frame notes may still differ
        heard = views.semitones
        edits = [
            (k, (gaps[k] or (1 if heard[start + k] > heard[first + k] else -1)))
            for k in range(length)
            if heard[start + k] != heard[first + k]
        ]
    if len(edits) > edits_allowed(length):
        return None
    rhythm, joins = views.rhythm, views.joins
    return Copy(
        start,
        moved,
        tuple(edits),
        rhythm[first : first + length - 1] == rhythm[start : start + length - 1],
        joins[first : first + length] == joins[start : start + length],
    )


def copy_saving(plain: PlainCode, copy: Copy, length: int) -> float:
    """Bits saved by a copy once its place and how far it is moved are known."""
    start, end = copy.start, copy.start + length
    saved = plain.pitch_bits(start, end)
    saved -= edit_bits(length, copy.edits, plain.pitch[start:end])
    rhythm = plain.rhythm_sums[end - 1] - plain.rhythm_sums[start]
    if rhythm:
        saved += rhythm - 0.4 if copy.same_rhythm else -1.6
    joins = plain.joins_sums[end] - plain.joins_sums[start]
    if joins:
        saved += joins - 0.4 if copy.same_joins else -1.6
    return saved


def adjacent_cells(views: Views, plain: PlainCode) -> Iterator[Candidate]:
    """Every cell that is said again at once, with each number of times it is said."""
    for view in VIEW_BITS:
        if view == "letters" and not views.has_frame:
            continue
        row = views.row(view)
        for length in range(2, min(LONGEST, views.count // 2) + 1):
            yield from _at_lag(views, plain, view, row, length)


def _at_lag(
    views: Views, plain: PlainCode, view: str, row: list[int], length: int
) -> Iterator[Candidate]:
    gaps = [b - a for a, b in zip(row, row[length:], strict=False)]
    jumps = [0, *accumulate(map(ne, gaps, gaps[1:]))]
    slack = 2 * edits_allowed(length) if view == "steps" else 0
    for start in range(views.count - 2 * length + 1):
        uneven = jumps[start + length - 1] - jumps[start]
        if uneven > slack:
            continue
        before = start - length
        if (
            not uneven
            and before >= 0
            and gaps[before] == gaps[start]
            and jumps[start] == jumps[before]
        ):
            continue  # the same chain, entered one cell late
        yield from _chain(views, plain, view, row, start, length)


def _chain(
    views: Views, plain: PlainCode, view: str, row: list[int], start: int, length: int
) -> Iterator[Candidate]:
    moves = [
        b - a
        for a, b in zip(
            row[start : start + length - 1], row[start + 1 : start + length], strict=False
        )
    ]
    inside = plain.pitch_bits(start + 1, start + length)
    told = inside - shape_bits(moves if view == "steps" else (), inside)
    copies: list[Copy] = []
    saved = shifts = 0.0
    at, last, first_shift = start + length, 0, 0
    even, varied, moved = True, False, False
    while at + length <= views.count and len(copies) < _MOST_COPIES:
        copy = copy_of(views, row, start, length, at, view)
        if copy is None:
            return
        shift = copy.moved - last
        if not copies:
            first_shift = shift
        even = even and shift == first_shift
        shifts += shift_bits(shift) if view == "steps" or not shift else 4.0
        saved += copy_saving(plain, copy, length)
        if any(_is_new_bar(views, start, at, place) for place, _ in copy.edits):
            saved -= _OVER_BAR
        copies.append(copy)
        at, last = at + length, copy.moved
        varied = varied or bool(copy.edits)
        moved = moved or bool(copy.moved)
        if not (moved or varied or any(moves)):
            continue  # one note struck again and again: its cell is that note
        shared = _shared_change(plain, copies, length) if varied else 0.0
        kind = "sequence" if moved else "repetition"
        if kind == "repetition":
            moving = 0.0
        elif even:
            moving = shift_bits(first_shift) if view == "steps" else 4.0
        else:
            moving = 1.5 + shifts
        counted = count_bits(len(copies) + 1, length)
        if at - start == views.count:
            counted = min(counted, WHOLE_BITS)
        price = cell_bits(kind, view, length) + counted + moving
        saving = told + saved + shared - price
        if saving > 0:
            yield Candidate(start, at, kind, saving, Detail(length, view, tuple(copies)))
        step = first_shift if even else 0
        part = _cut(views, row, start, length, at, last + step) if even or not moved else None
        if part is not None:
            # The end of the lick may come in the middle of a copy too.
            end = at + part
            counted = count_bits(len(copies) + 1, length)
            price = cell_bits(kind, view, length) + counted + moving + cut_bits(length)
            saving = told + saved + shared - price + plain.pitch_bits(at, end)
            if saving > 0:
                kept = Copy(at, last + step)
                yield Candidate(start, end, kind, saving, Detail(length, view, (*copies, kept)))


def _is_new_bar(views: Views, first: int, start: int, place: int) -> bool:
    """Whether a bar line stands before a note inside a copy, and not in the cell."""
    return place > 0 and not views.in_bar[start + place] and views.in_bar[first + place] != 0


def _cut(
    views: Views, row: list[int], first: int, length: int, start: int, moved: int
) -> int | None:
    """How many notes a copy keeps up before it breaks off: at least two and half the cell, and not all."""
    rhythm, kept = views.rhythm, 0
    while (
        kept < min(length, views.count - start)
        and row[start + kept] - row[first + kept] == moved
        and (kept < 1 or rhythm[start + kept - 1] == rhythm[first + kept - 1])
    ):
        kept += 1
    return kept if 2 <= kept < length <= 2 * kept else None


def _shared_change(plain: PlainCode, copies: list[Copy], length: int) -> float:
    """Bits won back when the same one note of the cell is the one that changes each time."""
    places = {place for copy in copies for place, _ in copy.edits}
    if len(places) != 1 or len(copies) < 2:
        return 0.0
    place = places.pop()
    apart = sum(
        edit_bits(length, copy.edits, plain.pitch[copy.start : copy.start + length])
        for copy in copies
    )
    together = 1.5 if place == length - 1 else 2.0 + log2(length)
    for copy in copies:
        size = copy.edits[0][1] if copy.edits else 0
        new = plain.pitch[copy.start + place] + 0.5
        together += min(change_bits(size), new) if size else 1.6
    return max(0.0, apart - together)
