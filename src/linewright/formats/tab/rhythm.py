"""When each attack of a bar happens: by its counting row, or inferred from columns."""

from __future__ import annotations

import itertools
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from linewright.errors import ReadError
from linewright.formats.tab.counting import Count
from linewright.formats.tab.infer import Habit, UntimedBar, infer_bar
from linewright.formats.tab.signs import Sign
from linewright.score import Meter

__all__ = ["Attack", "BarDraft", "Timing", "by_count", "by_column"]


@dataclass(slots=True)
class Attack:
    """Signs struck together, or a tie, at a column of the bar (counted from its first column)."""

    column: int
    end: int
    signs: list[Sign]

    @property
    def is_tie(self) -> bool:
        """Whether the note before goes on here."""
        return all(sign.fret is None for sign in self.signs)


@dataclass(slots=True)
class BarDraft:
    """A bar on its way: where it stands on the page, its attacks and counts, its length."""

    system: int
    start: int  # column of its first content in the system's rows
    end: int
    meter: Meter
    length: Fraction
    pickup: bool = False
    attacks: list[Attack] = field(default_factory=list)
    counts: list[Count] = field(default_factory=list)
    graces: list[tuple[int, Sign]] = field(default_factory=list)
    counted: bool = False  # the system has a counting row
    word: str = ""  # how it counts, as the Count header says
    number: int = 0

    @property
    def shift(self) -> Fraction:
        """What is to be taken from an offset into a full bar to get one into this bar."""
        return self.meter.length - self.length if self.pickup else Fraction(0)

    def untimed(self) -> UntimedBar:
        """What the inference needs to know."""
        return UntimedBar(
            tuple(attack.column for attack in self.attacks),
            tuple(attack.end - attack.column for attack in self.attacks),
            self.end - self.start,
            self.length,
            self.meter,
        )


@dataclass(frozen=True, slots=True)
class Timing:
    """Offsets of a bar's attacks and rests, points that tie columns to time, and what was
    decided along the way (a clause for the remarks, or '').
    """

    attacks: tuple[Fraction, ...]
    rests: tuple[Fraction, ...]
    anchors: tuple[tuple[int, Fraction], ...]
    how: str


def by_column(bar: BarDraft, habit: Habit) -> Timing:
    """Timing of a bar without counts. Silence before its first attack is a rest."""
    offsets, how = infer_bar(bar.untimed(), habit)
    rests = (Fraction(0),) if not offsets or offsets[0] > 0 else ()
    anchors = [(attack.column, at) for attack, at in zip(bar.attacks, offsets, strict=True)]
    return Timing(tuple(offsets), rests, tuple(anchors), how)


def by_count(bar: BarDraft, line: int) -> Timing:
    """Timing of a bar by its counts; raises ReadError when they contradict the frets."""
    counts = bar.counts
    matched, in_order = _match(bar, line)
    taken = {index for index in matched if index is not None}
    offsets: list[Fraction | None] = []
    for attack, index in zip(bar.attacks, matched, strict=True):
        if index is None:
            offsets.append(None)
            continue
        if counts[index].rest and not attack.is_tie:
            raise ReadError(
                "a fret stands over a rest",
                line=attack.signs[0].line,
                column=attack.signs[0].column + 1,
                accepted="A count in parentheses is a rest; take them off or move the fret",
            )
        offsets.append(counts[index].offset - bar.shift)
    anchors = [(count.column - bar.start, count.offset - bar.shift) for count in counts]
    loose = sum(at is None for at in offsets)
    done = _interpolated(bar, offsets, anchors)
    rests = tuple(
        count.offset - bar.shift
        for index, count in enumerate(counts)
        if count.rest and index not in taken
    )
    how = "its counts stand beside the frets and were given to them in order" if in_order else ""
    if loose:
        plural = "s" if loose > 1 else ""
        how = f"{loose} fret{plural} without a count placed by column between the counts"
    return Timing(tuple(done), rests, tuple(anchors), how)


def _match(bar: BarDraft, line: int) -> tuple[list[int | None], bool]:
    """The count of each attack, and whether they were matched in order rather than by column.

    It is the count under the attack. When most stand beside the frets, and there are as many
    counts as attacks, they are taken in order; else an attack takes a count a column away.
    """
    counts = [(c.column - bar.start, c.column - bar.start + c.width) for c in bar.counts]
    matched: list[int | None] = []
    at = 0
    for attack in bar.attacks:
        while at < len(counts) and counts[at][1] <= attack.column:
            at += 1
        under = [i for i in range(at, min(at + 4, len(counts))) if counts[i][0] < attack.end]
        if len(under) > 1:
            raise ReadError(
                "two counts stand under one note",
                line=line,
                column=bar.counts[under[1]].column + 1,
                accepted="Put each count under the first digit of its fret",
            )
        if under and matched and matched[-1] == under[0]:
            matched.append(None)
        else:
            matched.append(under[0] if under else None)
    plain = [index for index, count in enumerate(bar.counts) if not count.rest]
    missed = sum(index is None for index in matched)
    if missed * 2 > len(matched) and len(plain) == len(matched):
        return list(plain), True
    _match_beside(bar.attacks, counts, matched)
    return matched, False


def _match_beside(
    attacks: Sequence[Attack], counts: Sequence[tuple[int, int]], matched: list[int | None]
) -> None:
    """Give attacks without a count the free count that stands one column beside them."""
    taken = {index for index in matched if index is not None}
    by_start = {start: index for index, (start, _) in enumerate(counts)}
    by_end = {end: index for index, (_, end) in enumerate(counts)}
    following = [len(counts)] * (len(matched) + 1)  # the count of the next matched attack
    for position in range(len(matched) - 1, -1, -1):
        index = matched[position]
        following[position] = following[position + 1] if index is None else index
    low = -1  # the count of the last matched attack
    for position, attack in enumerate(attacks):
        found = matched[position]
        if found is not None:
            low = found
            continue
        high = following[position + 1]
        for index in (by_start.get(attack.end), by_end.get(attack.column)):
            if index is not None and index not in taken and low < index < high:
                matched[position] = low = index
                taken.add(index)
                break


def _interpolated(
    bar: BarDraft, offsets: list[Fraction | None], anchors: Sequence[tuple[int, Fraction]]
) -> list[Fraction]:
    """Fill in attacks without a count, by column between the counts either side."""
    done: list[Fraction] = []
    anchors = [*anchors, (max(bar.end - bar.start, 1), bar.length)]
    at = 0
    while at < len(offsets):
        known = offsets[at]
        if known is not None:
            done.append(known)
            at += 1
            continue
        last = at
        while last < len(offsets) and offsets[last] is None:
            last += 1
        done.extend(_between(bar, range(at, last), done, offsets[last : last + 1], anchors))
        at = last
    return done


def _between(
    bar: BarDraft,
    group: range,
    done: Sequence[Fraction],
    following: Sequence[Fraction | None],
    anchors: Sequence[tuple[int, Fraction]],
) -> list[Fraction]:
    """Offsets for attacks that stand, uncounted, between two timed ones."""
    floor = done[-1] if done else Fraction(-1)
    ceiling = following[0] if following and following[0] is not None else bar.length
    raw: list[Fraction] = []
    columns = [anchor[0] for anchor in anchors]
    for index in group:
        column = bar.attacks[index].column
        place = bisect_right(columns, column)
        before = anchors[place - 1] if place else (0, Fraction(0))
        after = anchors[min(place, len(anchors) - 1)]
        if after[0] <= before[0] or after[1] <= before[1]:
            raw.append(before[1])
            continue
        share = Fraction(column - before[0], after[0] - before[0])
        raw.append(before[1] + (after[1] - before[1]) * share)
    for step in (Fraction(1, 2), Fraction(1, 3), Fraction(1, 4), Fraction(1, 6), Fraction(1, 8)):
        snapped = [round(at / step) * step for at in raw]
        off = max(abs(a - b) for a, b in zip(raw, snapped, strict=True))
        edges = [floor, *snapped, ceiling]
        if off <= step / 4 and all(a < b for a, b in itertools.pairwise(edges)):
            return snapped
    low = max(floor, Fraction(0))
    first = 1 if done else 0
    cells = len(group) + first
    return [low + (ceiling - low) * Fraction(k + first, cells) for k in range(len(group))]
