"""What it costs to state a figure, in bits: the model part of the two-part code.

The tables are priors, each a probability turned into bits. They lean towards what players
practise (common practice: sequences in threes and fours, moved by one step, said two to four
times), so that textbook figures are cheap to state and odd ones dear.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from math import comb, log2
from typing import Final

__all__ = [
    "KIND_BITS",
    "RETURN_REFUND",
    "VIEW_BITS",
    "WHOLE_BITS",
    "Candidate",
    "Copy",
    "Detail",
    "cell_bits",
    "cut_bits",
    "change_bits",
    "count_bits",
    "edit_bits",
    "fewest_moves",
    "kept_up_bits",
    "length_bits",
    "more_bits",
    "shape_bits",
    "shift_bits",
]

#: Bits of each kind of figure.
KIND_BITS: Final = {
    "sequence": 1.6,
    "repetition": 2.5,
    "scale run": 2.4,
    "arpeggio run": 3.3,
    "chromatic run": 3.7,
    "alternation": 4.2,
    "pedal": 3.9,
}
#: Bits of the viewpoint a cell is copied in.
VIEW_BITS: Final = {"steps": 0.4, "semitones": 2.6, "letters": 3.7}

#: Bits given back to a cell that returns at a distance. Every occurrence pays for its place as
#: if the order of the places said something, log2(k!) bits too many for k of them; the rest is
#: calibrated on phrases without a plan, in which returning cells are the rarest false figure.
RETURN_REFUND: Final = 3.6

_LENGTH = {1: 0.04, 2: 0.2, 3: 0.2, 4: 0.27, 5: 0.09, 6: 0.07, 7: 0.03, 8: 0.04}
_COUNT = {2: 0.48, 3: 0.26, 4: 0.11}
#: Cells of two notes (broken thirds) are kept up for longer: a scale's worth of them, not two.
_COUNT_OF_PAIRS = {2: 0.02, 3: 0.29, 4: 0.24, 5: 0.11, 6: 0.1, 7: 0.05, 8: 0.07}
#: Bits of saying that a figure is kept up for the whole lick: how often is known from that.
WHOLE_BITS: Final = 1.0
#: Fewest moves of a kept-up figure and the probabilities of that many, one more, and so on.
_KEPT_UP = {
    "scale run": (4, (0.03, 0.15, 0.2, 0.22, 0.15)),
    "arpeggio run": (3, (0.35, 0.25, 0.15, 0.08, 0.07)),
    "chromatic run": (3, (0.35, 0.25, 0.15, 0.08, 0.07)),
    "alternation": (3, (0.12, 0.2, 0.2, 0.16, 0.12)),
    "repetition": (3, (0.15, 0.2, 0.2, 0.2, 0.1)),
}
_SHIFT = {0: 0.06, 2: 0.26, 4: 0.08, 6: 0.03, 8: 0.025, 10: 0.015, 12: 0.01, 14: 0.015}


@dataclass(frozen=True, slots=True)
class Copy:
    """One later occurrence of a cell: where, how far moved (half steps of its viewpoint, from
    the first), which notes differ and by how much, and whether rhythm and joins are kept.
    """

    start: int
    moved: int
    edits: tuple[tuple[int, int], ...] = ()
    same_rhythm: bool = True
    same_joins: bool = True


@dataclass(frozen=True, slots=True)
class Detail:
    """How a candidate is put together. Only sequences and repetitions of two notes or more list
    copies, of which the last may be cut short by the end of the span; a pedal knows its ``slot`` in the cell, a run its ``way`` (1 up, -1 down) and the notes
    after its ``turns``, with which it runs the other way.
    """

    length: int
    view: str = "steps"
    copies: tuple[Copy, ...] = ()
    way: int = 0
    slot: int = 0
    chord: tuple[int, str] | None = None
    turns: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Candidate:
    """A span ``[start, end)`` explained as a figure; ``saving`` in bits before its place is paid."""

    start: int
    end: int
    kind: str
    saving: float
    detail: Detail


def length_bits(length: int) -> float:
    """Bits of the number of notes in a cell."""
    return -log2(_LENGTH.get(length, 0.5 / (length * length)))


def count_bits(count: int, length: int = 0) -> float:
    """Bits of the number of occurrences, two or more, of a cell of ``length`` notes."""
    if length == 2:
        table = _COUNT_OF_PAIRS
        return -log2(table[count]) if count in table else 4.9 + more_bits(count - 9, 0.5)
    return -log2(_COUNT[count]) if count in _COUNT else 4.3 + more_bits(count - 5, 0.6)


def fewest_moves(kind: str) -> int:
    """Fewest moves that make a run, an alternation or a repeated note."""
    return _KEPT_UP[kind][0]


def kept_up_bits(kind: str, moves: int) -> float:
    """Bits of how long a run, an alternation or a repeated note is kept up."""
    fewest, shares = _KEPT_UP[kind]
    more = moves - fewest
    if more < len(shares):
        return -log2(shares[more])
    return -log2(1 - sum(shares)) + 1.6 + more_bits(more - len(shares), 0.6)


def more_bits(more: int, each: float) -> float:
    """Bits of going on for ``more`` past the fewest: so much each, by size once that is long."""
    return min(each * more, 2 + 2 * log2(1 + more))


def shift_bits(shift: int) -> float:
    """Bits of how far a copy is moved, in half frame steps."""
    return -log2(_SHIFT.get(abs(shift), 0.0015))


def edit_bits(length: int, edits: Sequence[tuple[int, int]], plain: Sequence[float]) -> float:
    """Bits of saying which notes of a copy differ, and by how much (or what they are, at their
    ``plain`` price).
    """
    if not edits:
        return 0.6 if length > 2 else 0.0  # two notes with one changed are no copy
    if len(edits) == 1 and edits[0][0] == length - 1:
        where = 2.2
    else:
        where = 3.2 + log2(comb(length, len(edits))) + 0.5 * len(edits)
    return where + sum(min(change_bits(size), plain[place] + 0.5) for place, size in edits)


def cut_bits(length: int) -> float:
    """Bits of saying that a last copy breaks off, and after how many of its notes."""
    return 2.5 + log2(length - 1)


def change_bits(size: int) -> float:
    """Bits of how far one note of a copy lies from the cell's."""
    return 1.6 + abs(size) / 2


def shape_bits(moves: Sequence[int], plain: float) -> float:
    """Bits of the moves inside a cell: plainly, or as a run, or as a run that turns once."""
    best = plain + (0.8 if len(moves) > 1 else 0.0)
    if moves and all(abs(move) == 2 for move in moves):
        turns = sum(a != b for a, b in itertools.pairwise(moves))
        if not turns:
            best = min(best, 2.0)
        elif turns == 1 and len(moves) > 2:
            best = min(best, 3.2 + log2(len(moves) - 1))
    return best


def cell_bits(kind: str, view: str, length: int) -> float:
    """Bits of a cell figure's head: its kind, viewpoint and length."""
    return KIND_BITS[kind] + VIEW_BITS[view] + length_bits(length)
