"""Bars for strings that carry no bar lines: where they begin by the count, or by the columns.

A system is barred here only when no system of the tab has a bar line inside it. With a
counting row a bar begins at each 1 the count comes back to. Without one the notes must stand
on an even grid of columns: the narrowest step of one or two dashes is an eighth, of three or
more a quarter (one dash for an eighth and three for a quarter is common practice in typed
tabs). Strings that are closed by a bar line were meant as one bar unless no bar could be that
full: more notes than eighths, on a grid finer than sixteenths.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from linewright.errors import ReadError
from linewright.formats.tab.counting import Count, count_unit, read_counts
from linewright.formats.tab.layout import Row
from linewright.formats.tab.signs import BarSpan, Sign, StringReader
from linewright.score import Instrument, Meter

__all__ = ["Cuts", "Unbarred", "find_cuts", "find_unbarred"]

_EIGHTH: Final = Fraction(1, 2)
_NARROW: Final = 3  # widest step, in columns, that is an eighth


@dataclass(frozen=True, slots=True)
class Unbarred:
    """A system without inner bar lines: column spans of its attacks, the column where its
    strings end, and whether a bar line closes them.
    """

    spans: tuple[tuple[int, int], ...]
    end: int
    closed: bool


@dataclass(frozen=True, slots=True)
class Cuts:
    """How a system is barred.

    ``columns`` are where signs begin to belong to the next bar (a grace note stands before its
    beat), ``spans`` the bars on the page, each from its first beat; ``remark`` says so.
    """

    columns: tuple[int, ...]
    spans: tuple[BarSpan, ...]
    remark: str


def find_unbarred(
    systems: Sequence[Sequence[Row]], instrument: Instrument
) -> list[Unbarred] | None:
    """The attacks of each system (rows from string 1 down), or None when bar lines are drawn.

    A tab that does not read is left to the reader, which says what is wrong with it.
    """
    readers = [StringReader(index + 1, instrument) for index in range(len(systems[0]))]
    found: list[Unbarred] = []
    for rows in systems:
        marks = [len(reader.signs) for reader in readers]
        ends, end = set(), 0
        for reader, row in zip(readers, rows, strict=True):
            try:
                spans = reader.read(row, 0)
            except ReadError:
                return None
            if len(spans) != 1:
                return None
            text = row.text.rstrip()
            end = max(end, spans[0].end)
            ends.add(spans[0].end if "|" in text[row.start + 1 :] else 0)
        if len(ends) > 1:
            return None
        signs = [
            sign
            for reader, mark in zip(readers, marks, strict=True)
            for sign in reader.signs[mark:]
            if not sign.grace
        ]
        found.append(Unbarred(_attacks(signs), end, 0 not in ends))
    return found


def _attacks(signs: Sequence[Sign]) -> tuple[tuple[int, int], ...]:
    """Column spans of signs that overlap, joined."""
    spans: list[tuple[int, int]] = []
    for sign in sorted(signs, key=lambda s: s.column):
        end = sign.column + sign.width
        if spans and sign.column < spans[-1][1]:
            spans[-1] = (spans[-1][0], max(end, spans[-1][1]))
        else:
            spans.append((sign.column, end))
    return tuple(spans)


def find_cuts(
    system: Unbarred,
    count: Row | None,
    word: str,
    start: int,
    meter: Meter,
    length: Fraction,
    first: Fraction,
) -> Cuts | None:
    """Where to bar a system whose strings begin at column ``start``; None for one bar.

    ``count`` is its counting row and ``word`` how that counts, as the Count header says;
    ``length`` is that of a bar in quarters, ``first`` that of the first one of this system.
    """
    if count is not None:
        counts = read_counts(count.text, max(int(length * 4), meter.numerator))
        unit = count_unit(meter, max((c.number for c in counts), default=0), word)
        return _by_count(system, counts, start, length / unit)
    return _by_columns(system, meter, length, first)


def _by_count(system: Unbarred, counts: Sequence[Count], start: int, full: Fraction) -> Cuts | None:
    columns = []
    for before, count in itertools.pairwise(counts):
        # a 1 after an early number is more likely a slip, which the reader points at
        if count.number == 1 and not count.part and before.number > full / 2:
            columns.append(_over(system, before, count))
    if not columns:
        return None
    return _cuts(
        system,
        [start, *columns, system.end],
        "No bar lines were drawn: a bar was begun at each 1 of the counting row.",
    )


def _cuts(system: Unbarred, edges: Sequence[int], remark: str) -> Cuts:
    columns = tuple(
        max((end for begin, end in system.spans if begin < edge), default=edge)
        for edge in edges[1:-1]
    )
    spans = tuple(BarSpan(a, b) for a, b in itertools.pairwise(edges))
    return Cuts(columns, spans, remark)


def _over(system: Unbarred, before: Count, count: Count) -> int:
    """The first column of what is struck on a count: its own, or that of the fret over it."""
    low = before.column + before.width
    over = [a for a, b in system.spans if low <= a <= count.column < b]
    beside = [a for a, b in system.spans if low <= a and b == count.column]
    exact = any(a == count.column for a, _ in system.spans)
    return min(over, default=count.column if exact or not beside else beside[0])


def _by_columns(system: Unbarred, meter: Meter, length: Fraction, first: Fraction) -> Cuts | None:
    grid = _grid(system.spans)
    if grid is None:
        return None
    step, slots = grid
    value = _EIGHTH if step <= _NARROW else Fraction(1)
    in_first, in_bar = first / value, length / value
    if in_first.denominator != 1 or in_bar.denominator != 1 or in_first < 1:
        return None
    bar, lead_in = int(in_bar), int(in_first)
    last = slots[-1]
    if last < lead_in or _fits_one_bar(system, last, length):
        return None
    bars = 1 + -(-(last + 1 - lead_in) // bar)
    edges = [_column(system.spans, slots, lead_in + index * bar, step) for index in range(bars)]
    word = "an eighth" if value == _EIGHTH else "a quarter"
    return _cuts(
        system,
        [system.spans[0][0], *edges],
        f"No bar lines were drawn: {step} columns were taken for {word} and bars of {meter} were"
        " counted off; draw the bar lines if they belong elsewhere.",
    )


def _fits_one_bar(system: Unbarred, last: int, length: Fraction) -> bool:
    """Whether strings closed by a bar line can be the one bar they are drawn as."""
    return system.closed and (last < length * 4 or len(system.spans) <= length * 2)


def _grid(spans: Sequence[tuple[int, int]]) -> tuple[int, list[int]] | None:
    """The narrowest step between attacks, if all stand on its grid, and the step of each.

    Columns are taken as they are, else as if every fret had one digit.
    """
    if len(spans) < 3:
        return None
    narrow, lost = [], 0
    for start, end in spans:
        narrow.append(start - lost)
        lost += end - start - 1
    for columns in ([start for start, _ in spans], narrow):
        step = min(b - a for a, b in itertools.pairwise(columns))
        if step > 1 and all((b - a) % step == 0 for a, b in itertools.pairwise(columns)):
            return step, [(column - columns[0]) // step for column in columns]
    return None


def _column(spans: Sequence[tuple[int, int]], slots: Sequence[int], slot: int, step: int) -> int:
    """The column of a slot: that of its attack, else counted on from the attack before."""
    before = max(index for index, at in enumerate(slots) if at <= slot)
    column, end = spans[before]
    away = slot - slots[before]
    return column if not away else column + away * step + end - column - 1
