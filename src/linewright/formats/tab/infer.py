"""Rhythm from columns alone, for the bars of a tab that carry no counting row.

Two rules, tried in this order for each bar (docs/tab.md states them for the player):

1. Notes that are evenly spaced and fill the bar are equal. When their number does not divide
   the bar, and the columns do not fall exactly on a grid of eighths or sixteenths, they are the
   next shorter note value, the last one held to the end of the bar.
2. Otherwise time is proportional to columns: the bar's width is the bar's length, positions go
   to the nearest point of the coarsest grid that fits the columns, and a note lasts until the
   next one or the bar line.

Bars are always full. How many dashes stand between a bar line and the first beat is a habit
of whoever typed the tab, so it is chosen once for all bars, by the smallest misfit.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from typing import Final

from linewright.score import Meter

__all__ = ["Habit", "UntimedBar", "find_habit", "infer_bar"]

#: Columns off the grid that still count as on it.
_SLACK: Final = 0.6
_LEADS: Final = (0, 1, 2, 3)
_TAILS: Final = (0, 1, -1, -2)


@dataclass(frozen=True, slots=True)
class UntimedBar:
    """A bar to be timed: columns of its notes from the bar's first column, the width of each
    note's token, the width of the whole bar, its length and meter.
    """

    columns: tuple[int, ...]
    widths: tuple[int, ...]
    width: int
    length: Fraction
    meter: Meter


@dataclass(frozen=True, slots=True)
class Habit:
    """Columns between a bar line and beat 1 (``lead``), and columns by which the last beat is
    short of its share (``tail``).
    """

    lead: int = 1
    tail: int = 0


def find_habit(bars: Sequence[UntimedBar]) -> Habit:
    """The lead and tail that let the columns of all bars fall best on their grids."""
    best, best_cost = Habit(), float("inf")
    for lead in _LEADS:
        for tail in _TAILS:
            habit = Habit(lead, tail)
            cost = 0.1 * abs(tail) + 0.02 * abs(lead - 1)
            for bar in bars:
                cost += _on_grid(bar, habit)[2]
                if cost >= best_cost:
                    break
            if cost < best_cost:
                best, best_cost = habit, cost
    return best


def infer_bar(bar: UntimedBar, habit: Habit) -> tuple[list[Fraction], str]:
    """Offsets of a bar's notes from the bar line, and a clause that says how they were found."""
    if not bar.columns:
        return [], "without notes"
    even = _is_even(bar)
    if even and _divides(bar):
        return _equal(bar)
    offsets, step, _ = _on_grid(bar, habit)
    if even and not (offsets and _is_exact(bar, habit, offsets, step)):
        return _equal(bar)
    if offsets is None:
        count = len(bar.columns)
        return (
            [bar.length * k / count for k in range(count)],
            f"{count} notes that fit no grid, spread evenly",
        )
    quarter = _per_quarter(bar, habit)
    columns = f"{quarter:.1f}".removesuffix(".0")
    return offsets, f"read by column, {columns} columns to a quarter, to the nearest {_word(step)}"


# -- equal notes -------------------------------------------------------------------------
def _is_even(bar: UntimedBar) -> bool:
    """Whether the notes are evenly spaced and reach from the bar line to the bar line.

    Gaps are counted between first columns, or between the end of one token and the next, since
    many people put one dash between frets whether these have one digit or two.
    """
    count = len(bar.columns)
    if count == 1:
        return bar.columns[0] <= max(3, bar.width // 8)
    starts = [b - a for a, b in zip(bar.columns, bar.columns[1:], strict=False)]
    dashes = [gap - width for gap, width in zip(starts, bar.widths, strict=False)]
    lead = bar.columns[0]
    for gaps, tail in (
        (starts, bar.width - bar.columns[-1]),
        (dashes, bar.width - bar.columns[-1] - bar.widths[-1]),
    ):
        low, high = min(gaps), max(gaps)
        wide = high - low <= (1 if low >= 3 else 0)
        if wide and lead <= max(3, high) and low - 2 <= tail <= high + max(2, low // 2):
            return True
    return False


def _divides(bar: UntimedBar) -> bool:
    """Whether as many equal notes as the bar has fill it."""
    return bar.length / len(bar.columns) in _note_values(bar.meter)


def _is_exact(bar: UntimedBar, habit: Habit, offsets: Sequence[Fraction], step: Fraction) -> bool:
    """Whether each note stands in the very column its time asks for."""
    per_step = _per_quarter(bar, habit) * float(step)
    return (
        step.denominator % 3 != 0
        and per_step.is_integer()
        and all(
            column - _lead(bar, habit) == offset / step * int(per_step)
            for column, offset in zip(bar.columns, offsets, strict=True)
        )
    )


def _equal(bar: UntimedBar) -> tuple[list[Fraction], str]:
    count = len(bar.columns)
    for value in _note_values(bar.meter):
        cells = bar.length / value
        if cells.denominator == 1 and cells == count:
            plural = "s" if count > 1 else ""
            return (
                [value * k for k in range(count)],
                f"{count} evenly spaced note{plural} read as equal: {_word(value)} notes",
            )
    for value in _note_values(bar.meter):
        if value.denominator % 3 and bar.length / value >= count:
            return (
                [value * k for k in range(count)],
                f"{count} evenly spaced notes read as {_word(value)} notes, the last one held",
            )
    return (
        [bar.length * k / count for k in range(count)],
        f"{count} evenly spaced notes spread evenly over the bar",
    )


def _note_values(meter: Meter) -> tuple[Fraction, ...]:
    """Note values equal notes may have, long to short."""
    if meter.is_compound:
        values = [meter.length, meter.beat, meter.beat / 3, meter.beat / 6, meter.beat / 12]
        return tuple(values)
    values = [meter.length, *(Fraction(4) / 2**k for k in range(7))]
    if meter.length == 3:
        values.append(Fraction(3, 2))
    values += [Fraction(1, 3), Fraction(1, 6), Fraction(2, 3)]
    return tuple(sorted(set(values), reverse=True))


# -- by column ---------------------------------------------------------------------------
def _grids(meter: Meter) -> tuple[tuple[Fraction, float], ...]:
    """(grid step, cost of needing it), coarse to fine."""
    if meter.is_compound:
        third = meter.beat / 3
        return (
            (meter.beat, 0), (third, 0.2), (third / 2, 1.2), (third / 4, 3), (third / 8, 5),
        )  # fmt: skip
    return (
        (Fraction(1), 0), (Fraction(1, 2), 0.2), (Fraction(1, 4), 1.2), (Fraction(1, 3), 2),
        (Fraction(1, 8), 4), (Fraction(1, 6), 4), (Fraction(1, 12), 6), (Fraction(1, 32), 8),
    )  # fmt: skip


def _per_quarter(bar: UntimedBar, habit: Habit) -> float:
    return max(bar.width - _lead(bar, habit) + habit.tail, 1) / float(bar.length)


def _lead(bar: UntimedBar, habit: Habit) -> int:
    """The habit's lead, or the bar's own where its first note stands a column off it."""
    first = bar.columns[0] if bar.columns else habit.lead
    return first if abs(first - habit.lead) <= 1 else habit.lead


def _on_grid(bar: UntimedBar, habit: Habit) -> tuple[list[Fraction] | None, Fraction, float]:
    """Offsets on the best grid, its step, and what the fit costs."""
    best: tuple[list[Fraction] | None, Fraction, float] = (None, Fraction(1), 12.0)
    if not bar.columns:
        return [], Fraction(1), 0.0
    squeezed = _squeezed(bar)
    for columns, width, cost in ((bar.columns, bar.width, 0.0), (*squeezed, 0.5)):
        lead = _lead(bar, habit)
        per_quarter = max(width - lead + habit.tail, 1) / float(bar.length)
        places = [(column - lead) / per_quarter for column in columns]
        for step, extra in _grids(bar.meter):
            if cost + extra >= best[2]:
                continue
            cells = [max(0, round(place / float(step))) for place in places]
            if any(b <= a for a, b in itertools.pairwise(cells)):
                continue
            if cells[-1] >= ceil(bar.length / step):
                continue
            off = [
                abs(cell * float(step) - place) * per_quarter
                for cell, place in zip(cells, places, strict=True)
            ]
            misfit = sum(0.05 * o if o <= _SLACK else o for o in off)
            total = cost + extra + misfit + (0.15 if cells[0] else 0)
            if total < best[2]:
                best = ([cell * step for cell in cells], step, total)
    return best


def _squeezed(bar: UntimedBar) -> tuple[tuple[int, ...], int]:
    """Columns and width as if every token had one digit."""
    columns, lost = [], 0
    for column, width in zip(bar.columns, bar.widths, strict=True):
        columns.append(column - lost)
        lost += width - 1
    return tuple(columns), bar.width - lost


_NAMES: Final = {
    Fraction(4): "whole", Fraction(3): "dotted half", Fraction(2): "half",
    Fraction(3, 2): "dotted quarter", Fraction(1): "quarter", Fraction(2, 3): "quarter triplet",
    Fraction(1, 2): "eighth", Fraction(1, 3): "eighth triplet", Fraction(1, 4): "sixteenth",
    Fraction(1, 6): "sixteenth triplet", Fraction(1, 8): "32nd", Fraction(1, 16): "64th",
    Fraction(1, 12): "32nd triplet", Fraction(1, 32): "128th",
}  # fmt: skip


def _word(value: Fraction) -> str:
    return _NAMES.get(value, f"{value} of a quarter")
