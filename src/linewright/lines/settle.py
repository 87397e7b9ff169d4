"""Degrees, turns and repeated notes come as often in a line as they should.

A weight on a note or a move is not its share: how often a walk comes to a note also depends on the
notes beside it, and how often it turns on the range it must keep to. So the weights are found on a
small walk (pitch, kind of the last move) with the lick's own moves and pulls, without chords, figures,
echoes or outside notes: each is raised or lowered until what it is for has the share wanted in a
long walk (iterative proportional fitting, Deming and Stephan 1940). How often a long walk takes an
edge is the product of the leading left vector of its matrix, the edge and the leading right vector.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.lines.chain import sums
from linewright.lines.moves import (
    GROUPS,
    KINDS,
    NONE,
    OUTCOMES,
    MoveTable,
    group_of,
    kind_of,
    outcome_of,
    steps_between,
)

__all__ = ["settle"]

#: Rounds at most, and how near a share must come to the one wanted.
_TURNS: Final = 60
_CLOSE: Final = 0.003
#: Steps of the walk a round; the leading vectors follow the weights, which move little.
_STEPS: Final = 3


def settle(
    pitches: Sequence[int],
    heights: Sequence[int],
    classes: Sequence[int],
    table: MoveTable,
    pull: Callable[[int, int], float],
    suits: Sequence[float],
    leap: int,
    wanted: Mapping[int, float],
) -> tuple[dict[int, float], MoveTable]:
    """The weight of each degree, and the moves with their turns and repeats settled.

    Parameters
    ----------
    pitches : sequence of int
        MIDI numbers of the frame's notes in range, rising.
    heights : sequence of int
        The height of each on the staff, in half steps.
    classes : sequence of int
        The degree of each, as semitones above the tonic.
    table : MoveTable
    pull : callable
        Weight of going from one degree to another.
    suits : sequence of float
        Weight of each pitch for its height.
    leap : int
        Largest move in semitones.
    wanted : mapping of int to float
        The share of each degree; adds up to 1.

    Returns
    -------
    dict of int to float
        Degree to weight, 1 on average.
    MoveTable
    """
    pairs = [
        (a, b, pull(classes[a], classes[b]), steps_between(heights[a], heights[b]))
        for a, low in enumerate(pitches)
        for b, high in enumerate(pitches)
        if abs(high - low) <= leap
    ]
    ways = {steps: _after_each(table, steps) for steps in {pair[3] for pair in pairs}}
    start = np.concatenate([a * KINDS + np.arange(NONE) for a, _, _, _ in pairs])
    end = np.concatenate([b * KINDS + ways[steps][0] for _, b, _, steps in pairs])
    plain = np.concatenate([ways[steps][1] * bond for _, _, bond, steps in pairs])
    what = np.concatenate([ways[steps][2] for _, _, _, steps in pairs])
    degrees = sorted(set(classes))
    of = np.repeat(np.array([degrees.index(c) for c in classes], dtype=np.intp), KINDS)
    high_suits = np.repeat(np.array(suits, dtype=np.float64), KINDS)
    goal = np.array([wanted[d] for d in degrees])
    aims = np.array([table.outcomes(group) for group in range(GROUPS)])
    found, bent = np.ones(len(degrees)), np.ones(aims.shape)
    size = len(pitches) * KINDS
    left, right = np.ones(size), np.ones(size)
    for turn in range(_TURNS):
        suit = high_suits * found[of]
        moved = plain * bent.ravel()[what]
        for _ in range(_STEPS if turn else 5 * _STEPS):
            left = sums(end, moved * left[start], size) * suit
            left /= left.sum()
            right = sums(start, moved * (suit * right)[end], size)
            right /= right.sum()
        share = sums(of, left * right, len(degrees))
        share /= share.sum()
        flow = moved * left[start] * (suit * right)[end]
        taken = sums(what, flow, aims.size).reshape(aims.shape)
        whole = taken.sum(axis=1, keepdims=True)
        got = np.where(whole > 0, taken / np.where(whole > 0, whole, 1.0), aims)
        miss = float(np.abs(got - aims).max())
        if max(miss, float(np.abs(share - goal).max())) < _CLOSE:
            break
        found = found * np.sqrt(goal / np.maximum(share, 1e-9))
        found /= found.mean()
        bent = bent * np.sqrt(np.where(got > 1e-9, aims / np.maximum(got, 1e-9), 1.0))
        bent = np.clip(bent / bent[:, 1:2], 0.05, 20.0)
    weights = {d: round(float(w), 6) for d, w in zip(degrees, found, strict=True)}
    return weights, table.bent([[float(x) for x in row] for row in bent.round(6)])


def _after_each(
    table: MoveTable, steps: int
) -> tuple[NDArray[np.intp], NDArray[np.float64], NDArray[np.intp]]:
    """Of a move of so many steps after each kind of move its own kind, its weight, and what it does."""
    kinds = range(NONE)
    return (
        np.array([kind_of(steps, kind) for kind in kinds], dtype=np.intp),
        np.array([table.weight(kind, steps) for kind in kinds]),
        np.array([OUTCOMES * group_of(k) + outcome_of(k, steps) for k in kinds], dtype=np.intp),
    )
