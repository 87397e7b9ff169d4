"""Exact sampling: backward messages over the lattice, then one choice after another forward.

The weight of a line is the product of its edges, labels and exits, of its pitches' weights at
their moments, and of the tilts of the elements it uses. :class:`Chain` sums that over every
allowed line from the end backward and samples from the start forward in proportion, so each line
comes with exactly its share of the whole and none is drawn and thrown away (Pachet, Roy and
Barbieri 2011; Papadopoulos et al. 2015). A sum of zero means no line is allowed at all.

Messages are kept whole for short lines; for long ones only every so many slots, the stretch
between being worked out again when sampling comes to it. Sums run in a fixed order and messages
are scaled by powers of two, which is exact.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from random import Random

import numpy as np
from numpy.typing import NDArray

from linewright.lines.largest import highest
from linewright.lines.lattice import FREE, OUTSIDE
from linewright.lines.slots import Slot
from linewright.lines.tables import Tables, Ways

__all__ = ["Chain", "Ends", "pick", "sums"]

Vector = NDArray[np.float64]
_BLOCK = 128


@dataclass(frozen=True)
class Ends:
    """How a stretch begins and ends: the states it may open with, or the one it comes from; and
    which pitches (by state) may close it.
    """

    opening: tuple[int, ...]
    entered: int | None  # the state of the note before, None at a free beginning
    closing: Callable[[int], float]


class Chain:
    """One stretch of slots between fixed ends.

    Parameters
    ----------
    tables : Tables
    frames : sequence of int
        The frame of each slot, by number.
    slots : sequence of Slot
    pitch_weights : sequence of array, shape (128,)
        For each slot the weight of every MIDI number.
    approach_weights : sequence of array, shape (5,)
        For each slot the weight of every way to reach it (:meth:`.Lattice.approach_of`).
    ends : Ends
    sections : sequence of int
        The section of each slot, from 0: each has its own tilts.
    """

    def __init__(
        self,
        tables: Tables,
        frames: Sequence[int],
        slots: Sequence[Slot],
        pitch_weights: Sequence[Vector],
        approach_weights: Sequence[Vector],
        ends: Ends,
        sections: Sequence[int],
    ) -> None:
        self.tables, self.frames, self.slots = tables, frames, slots
        self.weights, self.approaches, self.ends = pitch_weights, approach_weights, ends
        self.closing = self._closing()
        self._gated = [tables.gated(f, s) for f, s in zip(frames, slots, strict=True)]
        self._labels = [tables.open_labels(s) for s in slots]
        self.sections = sections
        self._tilts: list[Vector] = [np.ones(tables.size)] * (max(sections) + 1)
        self._factors: dict[tuple[int, int, int], Vector] = {}
        self._kept: dict[int, Vector] = {}
        self._block: dict[int, Vector] = {}
        self._twos = 0

    def _closing(self) -> Vector:
        tables = self.tables
        end = np.zeros(tables.size)
        for number, state in enumerate(tables.lattice.states):
            if state.node == FREE or state.node == OUTSIDE:
                end[number] = self.ends.closing(number)
        np.add.at(end, tables.exit_from, tables.exit_weight * end[tables.exit_to])
        return end

    # -- backward ------------------------------------------------------------------------
    def tilt(self, tilts: Sequence[Vector]) -> None:
        """Weigh every state by ``tilts[section of the slot]``; other tilts forget all messages."""
        same = len(self._tilts) == len(tilts)  # a stretch may begin with fewer than the line has
        if same and all(np.array_equal(a, b) for a, b in zip(self._tilts, tilts, strict=True)):
            return
        self._tilts = list(tilts)
        self._factors, self._kept, self._block = {}, {}, {}

    def factor(self, t: int) -> Vector:
        """Weight of each state at slot ``t``: its pitch there, how it was reached, its tilt."""
        key = (id(self.weights[t]), id(self.approaches[t]), self.sections[t])
        found = self._factors.get(key)
        if found is None:
            tables = self.tables
            found = self.weights[t][tables.midi] * self.approaches[t][tables.approach]
            found *= self._tilts[self.sections[t]]
            self._factors[key] = found
        return found

    def gated(self, t: int) -> tuple[Vector, Vector]:
        """Edge weights and label weights at slot ``t``."""
        return self._gated[t]

    def arriving(self, t: int, labelled: Vector) -> Vector:
        """Value of arriving in each state at ``t`` whatever it is called, from the values of
        having each name.
        """
        begin, to, labels = self._labels[t]
        if not len(labels):
            return labelled
        return labelled + sums(begin, labels * labelled[to], self.tables.size)

    def step(self, t: int, after: Vector, ways: Ways | None = None) -> Vector:
        """The message at ``t - 1`` from the one at ``t``, by all ways or those given."""
        return _halved(self._raw_step(t, after, ways))[0]

    def _raw_step(self, t: int, after: Vector, ways: Ways | None = None) -> Vector:
        tables = self.tables
        arriving = self.arriving(t, after * self.factor(t))
        source, target, weight = ways or self.moves(t)
        before = sums(source, weight * arriving[target], tables.size)
        if len(tables.exit_from):
            before[tables.exit_from] += tables.exit_weight * before[tables.exit_to]
        return before

    def moves(self, t: int) -> Ways:
        """All ways from the states of slot ``t - 1`` to those of ``t``."""
        source, target, _, _ = self.tables.edges[self.frames[t]]
        return source, target, self._gated[t][0]

    def moves_from(self, t: int, states: NDArray[np.bool_], bend: Vector) -> Ways:
        """The ways from some states, every move weighed."""
        source, target, weight = self.moves(t)
        rows = np.flatnonzero(states[source])
        rises = self.tables.rises(self.frames[t])[rows]
        return source[rows], target[rows], weight[rows] * bend[rises]

    def named(self, t: int, arrived: NDArray[np.intp]) -> NDArray[np.bool_]:
        """Whether each state can be gone on from after slot ``t``, of the states arrived in there."""
        tables = self.tables
        found = np.zeros(tables.size, dtype=np.bool_)
        found[arrived] = True
        begin, to, _ = self._labels[t]
        found[to[found[begin]]] = True
        found[tables.exit_to[found[tables.exit_from]]] = True
        return found

    def backward(self) -> bool:
        """Compute all messages; False when no line is allowed."""
        count = len(self.slots)
        if 0 in self._kept:
            return self.possible()
        sparse = count > 4 * _BLOCK
        message, self._twos = _halved(self.closing)
        self._kept = {count - 1: message}
        for t in range(count - 1, 0, -1):
            message, twos = _halved(self._raw_step(t, message))
            self._twos += twos
            if not sparse or (t - 1) % _BLOCK == 0:
                self._kept[t - 1] = message
            if not message.any():
                return False
        return self.possible()

    def message(self, t: int) -> Vector:
        """Value of each state after slot ``t``, up to scale."""
        found = self._kept.get(t)
        if found is not None:
            return found
        if t not in self._block:
            above = min(k for k in self._kept if k > t)
            self._block = {}
            message = self._kept[above]
            for k in range(above, t - t % _BLOCK, -1):
                message = self.step(k, message)
                self._block[k - 1] = message
        return self._block[t]

    def entries(self) -> tuple[list[int], list[float]]:
        """States the first slot may have, and the weight of the way into each."""
        if self.ends.entered is not None:
            return self.ways(0, self.ends.entered)
        return list(self.ends.opening), [1.0] * len(self.ends.opening)

    def ways(
        self, t: int, before: int, bend: Vector | None = None
    ) -> tuple[list[int], list[float]]:
        """States slot ``t`` may have after a state, and the weight of the way into each."""
        frame = self.frames[t]
        a, b = self.tables.slices[frame].get(before, (0, 0))
        weight = self._gated[t][0][a:b]
        if bend is not None:
            weight = weight * bend[self.tables.rises(frame)[a:b]]
        return self.tables.edges[frame][1][a:b].tolist(), weight.tolist()

    def _whole(self) -> float:
        """Weight of all lines, up to the scale of the messages."""
        arriving = self.arriving(0, self.message(0) * self.factor(0))
        numbers, weights = self.entries()
        return sum(w * float(arriving[n]) for n, w in zip(numbers, weights, strict=True))

    def possible(self) -> bool:
        """Whether any line is allowed."""
        return self._whole() > 0

    @property
    def log_weight(self) -> float:
        """Natural log of the weight of all allowed lines together; needs the messages."""
        return math.log(self._whole()) + self._twos * math.log(2.0)

    # -- forward -------------------------------------------------------------------------
    def sample(self, rng: Random) -> list[int]:
        """One line: the state of every slot."""
        path: list[int] = []
        at: int | None = None
        for t in range(len(self.slots)):
            shown, at = self.go_on(t, at, rng)
            path.append(shown)
        return path

    def go_on(
        self,
        t: int,
        before: int | None,
        rng: Random,
        message: Vector | None = None,
        bend: Vector | None = None,
        extra: Vector | None = None,
    ) -> tuple[int, int]:
        """The state of slot ``t`` after a state (None: from the stretch's own beginning), and the
        state to go on from, which differs when a figure ends there. Another message than the
        line's own may be given, weights of moves, and weights of the states there.
        """
        if message is None:
            message = self.message(t)
        labelled = message * self.factor(t)
        if extra is not None:
            labelled = labelled * extra
        arriving = self.arriving(t, labelled)
        numbers, weights = self.entries() if before is None else self.ways(t, before, bend)
        shares = [w * float(arriving[n]) for n, w in zip(numbers, weights, strict=True)]
        at = self.label(t, numbers[pick(shares, rng)], labelled, rng)
        return at, self._leave(t, at, message, rng)

    def label(self, t: int, at: int, labelled: Vector, rng: Random) -> int:
        """What a note arrived at is: plain, or the first of a figure."""
        rows = self.tables.label_list.get(at)
        if not rows:
            return at
        lattice = self.tables.lattice
        weights = self._gated[t][1]
        options = [at, *(lattice.labels[row][1] for row in rows)]
        shares = [float(labelled[at])]
        shares += [float(weights[row] * labelled[lattice.labels[row][1]]) for row in rows]
        return options[pick(shares, rng)]

    def _leave(self, t: int, at: int, message: Vector, rng: Random) -> int:
        """A figure that may end here ends, or goes on."""
        way = self.tables.exit_of.get(at)
        if way is None or t == len(self.slots) - 1:
            return at
        twin, weight = way
        leave = float(weight * message[twin])
        return (twin, at)[pick([leave, max(0.0, float(message[at]) - leave)], rng)]

    # -- the most there can be ----------------------------------------------------------
    def most(self, members: Vector) -> list[int]:
        """The largest number of notes any line has in each set of states (a row for each, 1 inside,
        0 outside); -1 when no line is allowed.
        """
        best = highest(self, [members.T] * (max(self.sections) + 1))
        return [-1 if value == -np.inf else int(value) for value in best]

    def highest(self, worth: Sequence[Vector]) -> float:
        """The largest sum any allowed line has of what its states are worth, section by section;
        minus infinity when no line is allowed.
        """
        return float(highest(self, [row[:, None] for row in worth])[0])

    # -- expectation ---------------------------------------------------------------------
    def expected(self, members: Vector, sections: int) -> Vector:
        """Expected number of notes in each set of states, by section.

        ``members`` has a row for each set and a column for each state; needs the messages.
        Returns an array of shape (sections, sets).
        """
        shares = np.zeros((sections, self.tables.size))
        for t, mass in enumerate(self.masses()):
            share = mass * self.message(t)
            shares[self.sections[t]] += share / share.sum()
        return np.array([[float((row * part).sum()) for row in members] for part in shares])

    def forward(self) -> list[Vector]:
        """Weight of all beginnings by the state of each slot."""
        return list(self.masses())

    def masses(
        self,
        first: int = 0,
        before: int | None = None,
        ways: Sequence[tuple[Ways | None, Vector]] | None = None,
    ) -> Iterator[Vector]:
        """Weight of all beginnings by the state of each slot, from ``first`` on (after a state,
        None: from the stretch's own beginning); ``ways`` gives for each slot the ways to it and
        weights of its states besides, and ends with them.
        """
        tables = self.tables
        numbers, weights = self.entries() if before is None else self.ways(first, before)
        mass = np.zeros(tables.size)
        np.add.at(mass, numbers, weights)
        end = len(self.slots) if ways is None else first + len(ways)
        for t in range(first, end):
            some, extra = (None, None) if ways is None else ways[t - first]
            if t > first:
                source, target, edges = some or self.moves(t)
                mass = sums(target, edges * mass[source], tables.size)
            begin, to, labels = self._labels[t]
            if len(labels):
                mass = mass + sums(to, labels * mass[begin], tables.size)
            mass = mass * self.factor(t)
            if extra is not None:
                mass = mass * extra
            mass = _halved(mass)[0]
            yield mass
            if len(tables.exit_from):  # figures that may end go on from their plain twins too
                mass = mass + sums(
                    tables.exit_to, tables.exit_weight * mass[tables.exit_from], tables.size
                )


def sums(index: NDArray[np.intp], values: Vector, size: int) -> Vector:
    """Sum of the values at each index, in order."""
    return np.bincount(index, values, size).astype(np.float64, copy=False)


def _halved(vector: Vector) -> tuple[Vector, int]:
    """The vector brought near 1 by a power of two, and that power."""
    largest = float(vector[vector.argmax()]) if len(vector) else 0.0
    if largest <= 0.0:
        return vector, 0
    power = math.frexp(largest)[1]
    return vector * 2.0**-power, power


def pick(weights: Sequence[float], rng: Random) -> int:
    """An index in proportion to its weight; one call to the generator."""
    sums = list(accumulate(weights))
    place = bisect_right(sums, rng.random() * sums[-1])
    while place >= len(sums) or not weights[place]:
        place -= 1
    return place
