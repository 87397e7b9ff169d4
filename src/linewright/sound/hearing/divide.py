"""The best division of a recording into notes and silence, by dynamic programming.

The recording is cut at every place where something might begin. Between two cuts each semitone
(and silence) has a likelihood; at a cut the sound goes on, is struck again at the same pitch,
moves to another pitch, stops or starts, each at a cost that depends on how sharply the spectrum
rises there. Viterbi's algorithm finds the cheapest path.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from linewright.sound.hearing.frames import Floats

__all__ = ["Costs", "divide"]

SILENT: Final = -1


@dataclass(frozen=True)
class Costs:
    """What each event costs at each cut, arrays of shape (cuts,)."""

    hold: Floats
    again: Floats
    move: Floats
    stop: Floats
    start: Floats


def divide(
    begins: Floats, goes_on: Floats, silence: Floats, costs: Costs
) -> list[tuple[int, int, int]]:
    """The cheapest path as notes.

    Parameters
    ----------
    begins, goes_on : arrays, shape (atoms, semitones)
        Log likelihood of each semitone in the atom that begins at each cut, if a note of it begins
        there, and if it sounded before.
    silence : array, shape (atoms,)
    costs : Costs

    Returns
    -------
    list of (first atom, last atom, semitone index)
        Silence is left out.
    """
    atoms, count = begins.shape
    if not atoms:
        return []
    score = np.append(begins[0] - costs.start[0], silence[0])
    came = np.empty((atoms, count + 1), np.int32)
    fresh = np.zeros((atoms, count + 1), bool)
    fresh[0] = True
    everyone = np.arange(count)
    for k in range(1, atoms):
        held = score[:-1] - costs.hold[k] + goes_on[k]
        again = score[:-1] - costs.again[k] + begins[k]
        best = int(np.argmax(score[:-1]))
        others = np.delete(score[:-1], best)
        second = int(np.argmax(others)) if count > 1 else best
        second += second >= best and count > 1
        # From elsewhere: the best pitch, or for that pitch itself the second best.
        source = np.full(count, best)
        source[best] = second
        outside = np.where(everyone == source, -np.inf, score[source] - costs.move[k])
        started = score[-1] - costs.start[k]
        source = np.where(outside >= started, source, count)
        outside = np.maximum(outside, started)
        outside = outside + begins[k]
        own = np.maximum(held, again)
        new = own >= outside
        came[k, :-1] = np.where(new, everyone, source)
        fresh[k, :-1] = np.where(new, again > held, True)
        quiet, stopped = score[-1], score[best] - costs.stop[k]
        came[k, -1] = count if quiet >= stopped else best
        score = np.append(np.maximum(own, outside), max(quiet, stopped) + silence[k])
    state = int(np.argmax(score))
    notes: list[tuple[int, int, int]] = []
    last = atoms - 1
    for k in range(atoms - 1, -1, -1):
        before = int(came[k, state]) if k else count
        if state != count and (fresh[k, state] or before != state or k == 0):
            notes.append((k, last, state))
            last = k - 1
        elif state == count:
            last = k - 1
        state = before
    return notes[::-1]
