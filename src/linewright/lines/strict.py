"""Strict shares: lines conditioned on how many notes each element has.

The state is multiplied by the notes still owed to each element, so the counts become part of
the exact distribution. A line is counted in sections of whole bars, as long as the counting
allows; from the last section back, each takes the counts nearest to what is asked of it, and of
what the sections after it left over, that any line can have. Where the nearest of the first section
misses by more than half a note, each line draws between it and a count on the other side of what is
asked, so that many lines together have what is asked (randomised rounding, Raghavan and Thompson
1987): a figure of 6 notes where 27 are asked fills now 24, now 30. The other is taken for no count more
than twice as far off as the nearest, unless it is within one figure.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from random import Random
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from linewright.errors import OptionError
from linewright.lines.chain import Chain, pick

__all__ = ["StrictChain"]

Vector = NDArray[np.float64]
#: Products of a way on and a count that a whole line may take (about a nanosecond each, twice
#: over), and numbers kept for the next seed (eight bytes each).
_MOST_WORK: Final = 200_000_000
_MOST_KEPT: Final = 8_000_000
#: Counts beyond the wish that a section has room for, as a part of what an element's notes come
#: in; the larger when the smaller holds no line.
_SPARE: Final = (0.25, 0.75)

#: Counts as near as this to what is asked are always taken.
_NEAR: Final = 0.5
#: Counts of less weight than this part of the most are left out: sums have no cancellation, so a
#: weight above 0 is a line that can be, but near the smallest float it has lost its digits.
_LEAST: Final = 1e-200


@dataclass
class _Section:
    """Slots ``first`` to ``end`` with their counts: the shape of the table of what is owed, the
    counts chosen, and the value of each state at the section's end.
    """

    first: int
    end: int
    shape: tuple[int, ...]
    counts: tuple[int, ...]
    closing: Vector
    tables: list[Vector] | None = None
    is_kept: bool = False
    #: Other counts that a line may have, and how likely they are.
    other: tuple[int, ...] = ()
    odds: float = 0.0

    def draw(self, rng: Random) -> tuple[int, ...]:
        """The counts of one line."""
        return self.other if self.odds and rng.random() < self.odds else self.counts


class StrictChain:
    """A chain whose lines have counted shares.

    Parameters
    ----------
    chain : Chain
        With its messages worked out.
    rows : array, shape (elements, states)
    asked : array, shape (slots, elements)
        The share each element should have at each slot.
    lengths : sequence of float
        Notes each element comes at a time.

    Raises
    ------
    OptionError
        When the elements are too many to count together.
    """

    def __init__(self, chain: Chain, rows: Vector, asked: Vector, lengths: Sequence[float]) -> None:
        self.chain, self.asked, self.lengths = chain, asked, lengths
        self.own = rows.astype(np.intp)
        patterns, self.group = np.unique(self.own, axis=1, return_inverse=True)
        self.patterns = [tuple(int(x) for x in column) for column in patterns.T]
        self.group = self.group.ravel()
        self.members = [np.flatnonzero(self.group == g) for g in range(len(self.patterns))]
        tables = chain.tables
        self.steps: dict[tuple[int, int], tuple[Any, Any]] = {}
        self.ways = max((len(edges[0]) for edges in tables.edges), default=0) + len(
            tables.label_from
        )
        self.sections = self._choose()

    # -- sections ------------------------------------------------------------------------
    def _choose(self) -> list[_Section]:
        chain = self.chain
        reach = chain.forward()
        found: list[_Section] = []
        closing = chain.closing
        owed = np.zeros(self.asked.shape[1])
        limit = np.maximum(1.0, np.array(self.lengths, dtype=np.float64))
        kept = 0
        for first, end in reversed(self._cuts()):
            wish = self.asked[first:end].sum(axis=0) + owed
            section, before = self._section(first, end, wish, closing, reach)
            owed = np.clip(wish - np.array(section.counts), -limit, limit)
            if before is not None:
                closing = _scaled(before.reshape(len(before), -1)[:, self._flat(section)])
            kept += sum(table.size for table in section.tables or ())
            if kept > _MOST_KEPT:
                section.tables = None
            section.is_kept = section.tables is not None
            found.append(section)
        return found[::-1]

    def _section(
        self, first: int, end: int, wish: Vector, closing: Vector, reach: Sequence[Vector]
    ) -> tuple[_Section, Vector | None]:
        """A section with its counts chosen, and the table at the slot before it."""
        # One element is counted with room for the next count up.
        for spare in _SPARE[1:] if not first and len(self.lengths) == 1 else _SPARE:
            section = _Section(first, end, self._shape(wish, end - first, spare), (), closing)
            section.tables = self._backward(section)
            mass, before = self._totals(section, reach)
            if mass.max() > 0:
                section.counts = self._nearest(mass, wish)
                if not first:
                    section.other, section.odds = self._other(mass, wish, section.counts)
                return section, before
        raise OptionError(
            "no line has these shares to the note", accepted="Leave strict off, or ask for less"
        )

    def _shape(self, wish: Vector, size: int, spare: float) -> tuple[int, ...]:
        room = []
        for value, length in zip(wish, self.lengths, strict=True):
            more = round(spare) if length <= 1 else 1 + spare * min(16.0, length)
            room.append(int(min(size, math.ceil(max(0.0, value)) + more)) + 1)
        return tuple(room)

    def _cuts(self) -> list[tuple[int, int]]:
        """The longest sections of whole bars whose counting is little enough work."""
        slots = self.chain.slots
        bars = [t for t in range(len(slots)) if not t or slots[t].bar != slots[t - 1].bar]
        shortest = 2 * max(self.lengths, default=1.0)  # or figures seldom fit into their section
        grown = self._growing(bars, shortest)
        for size in range(len(bars), 0, -1):
            starts = sorted({*bars[::size], *grown})
            cuts = list(itertools.pairwise([*starts, len(slots)]))
            if size < len(bars) and cuts[0][1] < shortest:
                break
            if sum(self._work(a, b) for a, b in cuts) <= _MOST_WORK:
                return cuts
        raise OptionError(
            f"a strict mix of {self.asked.shape[1]} elements over {len(bars)} bars is more than"
            " can be counted together",
            accepted="Name fewer elements or bars, or leave strict off",
        )

    def _growing(self, bars: Sequence[int], shortest: float) -> list[int]:
        """Where a mix that grows takes its next size, as far as the parts between hold figures."""
        steps = self.chain.sections
        places = [t for t in bars if t and steps[t] != steps[t - 1]]
        for kept in (places, places[1::2], places[len(places) // 2 :][:1]):
            parts = itertools.pairwise([0, *kept, len(self.chain.slots)])
            if all(b - a >= shortest for a, b in parts):
                return list(kept)
        return []

    def _work(self, first: int, end: int) -> int:
        wish = self.asked[first:end].sum(axis=0)
        return (
            math.prod(self._shape(wish + 0.5, end - first, _SPARE[0])) * self.ways * (end - first)
        )

    def _nearest(self, mass: Vector, wish: Vector) -> tuple[int, ...]:
        places = np.argwhere(mass > mass.max() * _LEAST)
        away = np.abs(places - wish).sum(axis=1)
        best = int(np.argmin(away))
        return tuple(int(x) for x in places[best])

    def _other(
        self, mass: Vector, wish: Vector, nearest: tuple[int, ...]
    ) -> tuple[tuple[int, ...], float]:
        """The counts that with the nearest have a mean nearest to the wish, and how likely they
        must be for that; none where the nearest are as near as whole notes are.
        """
        miss = wish - np.array(nearest)
        if np.abs(miss).max(initial=0.0) <= _NEAR:
            return (), 0.0
        places = np.argwhere(mass > mass.max() * _LEAST)
        limit = np.maximum(2.0 * np.abs(miss), np.array(self.lengths, dtype=np.float64))
        away = places - np.array(nearest)
        allowed = (np.abs(places - wish) <= limit).all(axis=1) & away.any(axis=1)
        places, away = places[allowed], away[allowed]
        if not len(places):
            return (), 0.0
        odds = np.clip((away @ miss) / (away * away).sum(axis=1), 0.0, 1.0)
        left = np.abs(miss - odds[:, None] * away).sum(axis=1)
        far = np.abs(places - wish).sum(axis=1)
        best = int(np.lexsort((far, left.round(9)))[0])
        return tuple(int(x) for x in places[best]), float(odds[best])

    def _flat(self, section: _Section) -> int:
        return int(np.ravel_multi_index(section.counts, section.shape))

    # -- backward ------------------------------------------------------------------------
    def _backward(self, section: _Section) -> list[Vector]:
        """For each slot of a section the value of every state with every count still owed after it."""
        cells = math.prod(section.shape)
        table = np.zeros((self.chain.tables.size, cells))
        table[:, 0] = section.closing
        tables = [table]
        for t in range(section.end - 1, section.first, -1):
            table = _scaled(self._before(t, self._arrivals(t, tables[-1], section.shape)))
            tables.append(table)
        return tables[::-1]

    def _arrivals(self, t: int, after: Vector, shape: tuple[int, ...]) -> Vector:
        """Value of arriving at slot ``t`` with every count owed, the note itself included."""
        labelled = self._counted(after, shape) * self.chain.factor(t)[:, None]
        return np.asarray(self._matrices(t)[1] @ labelled)

    def _matrices(self, t: int) -> tuple[Any, Any]:
        """The ways from each state to the next, and from each state to what it may be called."""
        weight, labels = self.chain.gated(t)
        frame = self.chain.frames[t]
        found = self.steps.get((frame, id(weight)))
        if found is None:
            from scipy.sparse import csr_array, eye_array  # strict lines alone need it

            tables = self.chain.tables
            square = (tables.size, tables.size)
            source, target = tables.edges[frame][:2]
            ways = csr_array((weight, (source, target)), shape=square)
            exits = csr_array(
                (tables.exit_weight, (tables.exit_from, tables.exit_to)), shape=square
            )
            named = csr_array((labels, (tables.label_from, tables.label_to)), shape=square)
            same = eye_array(tables.size, format="csr")
            found = (csr_array((same + exits) @ ways), csr_array(same + named))
            self.steps[frame, id(weight)] = found
        return found

    def _counted(self, after: Vector, shape: tuple[int, ...]) -> Vector:
        """The table moved by what each state's own note counts for."""
        source = after.reshape(-1, *shape)
        moved = np.zeros_like(source)
        for pattern, rows in zip(self.patterns, self.members, strict=True):
            if any(p >= s for p, s in zip(pattern, shape, strict=True)):
                continue
            to: list[Any] = [rows, *(slice(p, None) for p in pattern)]
            fro: list[Any] = [
                rows, *(slice(None, s - p) for p, s in zip(pattern, shape, strict=True)),
            ]  # fmt: skip
            moved[tuple(to)] = source[tuple(fro)]
        return moved.reshape(after.shape)

    def _before(self, t: int, arriving: Vector) -> Vector:
        return np.asarray(self._matrices(t)[0] @ arriving)

    def _totals(self, section: _Section, reach: Sequence[Vector]) -> tuple[Vector, Vector | None]:
        """Weight of every count over the section, and the table at the slot before it."""
        tables = section.tables or []
        arriving = self._arrivals(section.first, tables[0], section.shape)
        if section.first == 0:
            numbers, weights = self.chain.entries()
            return (np.array(weights) @ arriving[numbers]).reshape(section.shape), None
        before = self._before(section.first, arriving)
        return (reach[section.first - 1] @ before).reshape(section.shape), before

    # -- forward -------------------------------------------------------------------------
    def sample(self, rng: Random) -> list[int]:
        """One line: the state of every slot."""
        path: list[int] = []
        at: int | None = None
        for section in self.sections:
            if section.tables is None:
                section.tables = self._backward(section)
            owed = section.draw(rng)
            for t in range(section.first, section.end):
                table = section.tables[t - section.first]
                shown, owed = self._pick(t, at, owed, table, section.shape, rng)
                path.append(shown)
                at = self._leave(t, shown, owed, table, section.shape, rng)
            if not section.is_kept:
                section.tables = None
        return path

    def _column(
        self, t: int, table: Vector, owed: tuple[int, ...], shape: tuple[int, ...]
    ) -> Vector:
        """Value of having each state at ``t`` with its note's own counts taken from what is owed."""
        values = np.zeros(self.chain.tables.size)
        for pattern, rows in zip(self.patterns, self.members, strict=True):
            left = tuple(o - p for o, p in zip(owed, pattern, strict=True))
            if min(left, default=0) >= 0:
                flat = int(np.ravel_multi_index(left, shape)) if shape else 0
                values[rows] = table[rows, flat]
        return values * self.chain.factor(t)

    def _pick(
        self,
        t: int,
        at: int | None,
        owed: tuple[int, ...],
        table: Vector,
        shape: tuple[int, ...],
        rng: Random,
    ) -> tuple[int, tuple[int, ...]]:
        chain = self.chain
        labelled = self._column(t, table, owed, shape)
        arriving = chain.arriving(t, labelled)
        numbers, weights = chain.entries() if at is None else chain.ways(t, at)
        shares = [w * float(arriving[n]) for n, w in zip(numbers, weights, strict=True)]
        shown = chain.label(t, numbers[pick(shares, rng)], labelled, rng)
        pattern = self.patterns[self.group[shown]]
        return shown, tuple(o - p for o, p in zip(owed, pattern, strict=True))

    def _leave(
        self,
        t: int,
        at: int,
        owed: tuple[int, ...],
        table: Vector,
        shape: tuple[int, ...],
        rng: Random,
    ) -> int:
        way = self.chain.tables.exit_of.get(at)
        if way is None or t == len(self.chain.slots) - 1:
            return at
        twin, weight = way
        flat = int(np.ravel_multi_index(owed, shape))
        leave = weight * float(table[twin, flat])
        return (twin, at)[pick([leave, max(0.0, float(table[at, flat]) - leave)], rng)]


def _scaled(table: Vector) -> Vector:
    largest = float(table.max(initial=0.0))
    return table * 2.0 ** -math.frexp(largest)[1] if largest > 0 else table
