"""The most any line can have: the largest value among the ways from each state, slot by slot."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from linewright.lines.chain import Chain

__all__ = ["Largest", "highest"]

Vector = NDArray[np.float64]


class Largest:
    """Ways laid out so that the largest of each state's is found by whole slices: first one way of
    every state, then the second of all that have two, and so on, states with most ways first
    (``numpy.maximum.reduceat`` takes seven times as long on states of three ways).

    Parameters
    ----------
    begin : array of int
        The state each way comes from; ways of one state stand together.

    Attributes
    ----------
    rows : array of int
        The ways in the order laid out.
    states : array of int
        The states that have a way.

    Examples
    --------
    >>> largest = Largest(np.array([2, 2, 5]))
    >>> value = np.array([[3.0], [4.0], [1.0]])
    >>> largest.states.tolist(), largest(value[largest.rows]).ravel().tolist()
    ([2, 5], [4.0, 1.0])
    """

    def __init__(self, begin: NDArray[np.intp]) -> None:
        firsts = np.flatnonzero(np.diff(begin, prepend=-1))
        counts = np.diff(firsts, append=len(begin))
        order = np.argsort(-counts, kind="stable")
        firsts, counts = firsts[order], counts[order]
        layers = [firsts[counts > k] + k for k in range(int(counts.max(initial=0)))]
        self.rows = np.concatenate([np.zeros(0, dtype=np.intp), *layers])
        self.states = begin[firsts]
        self._slices = list(pairwise(np.cumsum([len(layer) for layer in layers]).tolist()))

    def __call__(self, values: Vector) -> Vector:
        """The largest for each of ``states``, of values by ``rows`` (which are overwritten), column
        by column.
        """
        top = values[: len(self.states)]
        for a, b in self._slices:
            np.maximum(top[: b - a], values[a:b], out=top[: b - a])
        return top


def highest(chain: Chain, worth: Sequence[Vector]) -> Vector:
    """The largest sums any allowed line of a chain has of what its states are worth, section by
    section, for several worths at once (a column for each); minus infinity when no line is allowed.
    """
    tables = chain.tables
    no = -np.inf
    known: dict[int, Vector] = {}

    def steps(weight: Vector, rows: NDArray[np.intp] | None = None) -> Vector:
        found = known.get(id(weight))
        if found is None:
            some = weight if rows is None else weight[rows]
            found = known[id(weight)] = np.where(some > 0, 0.0, no)[:, None]
        return found

    def best(largest: Largest, to: NDArray[np.intp], weight: Vector, after: Vector) -> Vector:
        values = after.take(to[largest.rows], axis=0)
        values += steps(weight, largest.rows)
        return largest(values)

    value = steps(chain.closing)
    arriving = value
    for t in range(len(chain.slots) - 1, -1, -1):
        arriving = value + worth[chain.sections[t]] + steps(chain.factor(t))
        frame = chain.frames[t]
        edges, labels = chain.gated(t)
        named = tables.largest_label
        if len(named.states):
            other = best(named, tables.label_to, labels, arriving)
            arriving[named.states] = np.maximum(arriving[named.states], other)
        if not t:
            break
        value = np.full(arriving.shape, no)
        moves = tables.largest[frame]
        value[moves.states] = best(moves, tables.edges[frame][1], edges, arriving)
        if len(tables.exit_from):
            after = value[tables.exit_to]
            value[tables.exit_from] = np.maximum(value[tables.exit_from], after)
    numbers, _ = chain.entries()
    return np.asarray(arriving[numbers].max(axis=0, initial=no))
