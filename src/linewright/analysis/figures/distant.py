"""Cells that come back later, with other notes between: a small dictionary of cells.

Every stretch of moves is numbered (equal stretches share a number), so that all exact
returns of every length are found by grouping; the longer lengths are numbered from two
shorter halves, as in suffix sorting by doubling. The most promising groups become entries,
and near copies of an entry are then looked up by the half of it that is left unchanged.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise

from linewright.analysis.figures.cells import copy_of, copy_saving
from linewright.analysis.figures.places import Places
from linewright.analysis.figures.plain import PlainCode
from linewright.analysis.figures.prices import (
    RETURN_REFUND,
    Candidate,
    Copy,
    Detail,
    cell_bits,
    count_bits,
    shape_bits,
    shift_bits,
)
from linewright.analysis.figures.views import Views

__all__ = ["Entry", "entries"]

_LENGTHS = (*range(3, 25), 28, 32, 40, 48, 64, 96, 128)
_VIEWS = ("steps", "semitones")
_MOST_ENTRIES = 64


@dataclass(frozen=True, slots=True)
class Entry:
    """A cell in the dictionary.

    ``price`` is paid once, when the entry is used; ``uses`` are the spans that may be coded by
    it, one occurrence or several in a row; their savings do not pay for their places.
    """

    kind: str
    detail: Detail
    price: float
    uses: tuple[Candidate, ...]


def entries(views: Views, plain: PlainCode, places: Places) -> list[Entry]:
    """The most promising cells, best first."""
    found: list[tuple[float, str, int, int, list[Copy]]] = []
    numbers: dict[str, dict[int, list[int]]] = {}
    for view in _VIEWS:
        row = views.row(view)
        numbers[view] = _numbered(row)
        for length in _LENGTHS:
            if length - 1 in numbers[view]:
                found += _groups(views, plain, view, row, numbers[view][length - 1], length, places)
    found.sort(key=lambda group: (-group[0], group[2], group[3]))
    taken = [False] * views.count
    kept: list[Entry] = []
    for _, view, length, first, copies in found:
        free = [c for c in copies if not any(taken[c.start : c.start + length])]
        if len(free) < 2 or len(kept) >= min(8 + views.count // 16, _MOST_ENTRIES):
            continue
        if free[0].start != first:
            continue
        for copy in free:
            taken[copy.start : copy.start + length] = [True] * length
        if _better_longer(free, length, views.count):
            continue
        wider = _near(views, view, numbers[view], first, length, free)
        kept.append(_entry(views, plain, view, length, wider))
    return kept


def _numbered(row: list[int]) -> dict[int, list[int]]:
    """For each number of moves m, the number of the stretch of m moves at every place."""
    moves = [b - a for a, b in pairwise(row)]
    out: dict[int, list[int]] = {1: moves}
    for length in _LENGTHS:
        size = length - 1
        half = max(m for m in out if m < size)
        if 2 * size + 1 > len(row) or 2 * half < size:
            return out
        numbers: dict[tuple[int, int], int] = {}
        pairs = zip(out[half], out[half][size - half :], strict=False)
        out[size] = [numbers.setdefault(pair, len(numbers)) for pair in pairs]
        if len(numbers) == len(out[size]):  # all different: so are all longer ones
            return out
    return out


def _groups(
    views: Views,
    plain: PlainCode,
    view: str,
    row: list[int],
    stretch: list[int],
    length: int,
    places: Places,
) -> list[tuple[float, str, int, int, list[Copy]]]:
    groups: dict[int, list[int]] = defaultdict(list)
    for start, number in enumerate(stretch):
        group = groups[number]
        if not group or start >= group[-1] + length:
            group.append(start)
    out = []
    for starts in groups.values():
        if len(starts) < 2:
            continue
        first = starts[0]
        # A quick bound first: everything the copies could save, for nothing.
        most = sum(
            plain.pitch_bits(s, s + length) + plain.time_bits(s, s + length) for s in starts[1:]
        )
        if most + RETURN_REFUND < 4:
            continue
        copies = [copy_of(views, row, first, length, s, view) for s in starts]
        good = [copy for copy in copies if copy is not None]
        gain = _entry_gain(plain, view, length, good, places) if len(good) > 1 else 0.0
        if len(good) > 1 and gain > 0:
            out.append((gain, view, length, first, good))
    return out


def _entry_gain(
    plain: PlainCode, view: str, length: int, copies: list[Copy], places: Places
) -> float:
    kind, moving = _kind(view, copies)
    first = copies[0].start
    saved = sum(
        copy_saving(plain, c, length)
        - places.again_bits(first, c.start, c.start + length)
        - moving[c.start]
        for c in copies[1:]
    )
    head = cell_bits(kind, view, length) + count_bits(len(copies)) - RETURN_REFUND
    return saved - places.bits(first, first + length) - head


def _kind(view: str, copies: list[Copy]) -> tuple[str, dict[int, float]]:
    """Repetition when most copies stay where the first is, and the bits of each one's move."""
    still = [c for c in copies if not c.moved]
    if len(still) == len(copies):
        return "repetition", dict.fromkeys((c.start for c in copies), 0.0)
    return "sequence", {c.start: (shift_bits(c.moved) if view == "steps" else 4.0) for c in copies}


def _better_longer(copies: list[Copy], length: int, count: int) -> bool:
    """Whether exactly one note follows each occurrence before the next: such a cell is better
    told as one note longer, with an end that varies.
    """
    steady = all(b.start - a.start == length + 1 for a, b in pairwise(copies))
    return steady and copies[-1].start + length < count


def _near(
    views: Views,
    view: str,
    numbers: dict[int, list[int]],
    first: int,
    length: int,
    exact: list[Copy],
) -> list[Copy]:
    """The exact copies and those near copies that stand clear of them."""
    if view != "steps" or length < 5:
        return exact
    seed = max(m for m in numbers if m <= max(2, (length - 1) // 2))
    row, found = views.steps, {c.start: c for c in exact}
    stretch = numbers[seed]
    for offset in (0, length - 1 - seed):
        wanted = stretch[first + offset]
        for place, number in enumerate(stretch):
            start = place - offset
            if number != wanted or start in found or not 0 <= start <= views.count - length:
                continue
            copy = copy_of(views, row, first, length, start, view)
            if copy is not None and all(abs(start - c.start) >= length for c in exact):
                found[start] = copy
    return [found[start] for start in sorted(found)]


def _entry(views: Views, plain: PlainCode, view: str, length: int, copies: list[Copy]) -> Entry:
    exact = next(c for c in copies if not c.moved and not c.edits and c.same_rhythm)
    first = exact.start
    kind, moving = _kind(view, copies)
    row = views.row(view)
    moves = [
        b - a
        for a, b in zip(
            row[first : first + length - 1], row[first + 1 : first + length], strict=False
        )
    ]
    inside = plain.pitch_bits(first + 1, first + length)
    time = plain.time_bits(first, first + length - 1)
    told = shape_bits(moves if view == "steps" else (), inside) if view == "steps" else inside
    price = cell_bits(kind, view, length) + count_bits(2) + told + time - RETURN_REFUND
    savings = {
        c.start: inside + time
        if c.start == first
        else copy_saving(plain, c, length) - moving[c.start]
        for c in copies
    }
    by_start = {c.start: c for c in copies}
    uses: list[Candidate] = []
    for copy in copies:
        row_of: list[Copy] = []
        saved, at = 0.0, copy.start
        while at in by_start and len(row_of) < 8:
            row_of.append(by_start[at])
            saved += savings[at] - (0.7 if len(row_of) > 1 else 0.0)
            at += length
            uses.append(Candidate(copy.start, at, kind, saved, Detail(length, view, tuple(row_of))))
    return Entry(kind, Detail(length, view, (exact,)), price, tuple(uses))
