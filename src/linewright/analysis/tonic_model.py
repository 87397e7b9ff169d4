"""Two log-linear models: of the tonic, and of the mode on a tonic."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from linewright.analysis.tonic_evidence import TonicEvidence, heard_degrees, mode_facts

__all__ = ["ModeWeights", "TonicWeights", "Weights", "mode_chances", "tonic_chances"]


@dataclass(frozen=True, slots=True)
class TonicWeights:
    """A row of 12 for each kind of single evidence, one of 144 for each kind of pair.

    A weight stands at the semitones above the tonic; for a pair at 12 x first + second. The last
    kinds may be left out; they count nothing then.
    """

    singles: tuple[tuple[float, ...], ...]
    pairs: tuple[tuple[float, ...], ...]


@dataclass(frozen=True, slots=True)
class ModeWeights:
    """A weight for each mode fact, and what each mode starts with.

    ``heard`` has a weight for each mode in each state of :func:`heard_degrees` (at 4 x state +
    mode), or nothing.
    """

    facts: tuple[float, ...]
    start: tuple[float, ...]
    heard: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Weights:
    """The models as fitted on phrases of about ``notes`` notes.

    ``mode`` is for a tonic that was inferred, ``given`` for one that is known.
    """

    notes: int
    tonic: TonicWeights
    mode: ModeWeights
    given: ModeWeights


def tonic_chances(evidence: TonicEvidence, fitted: Sequence[Weights]) -> tuple[float, ...]:
    """P(tonic | notes) by pitch-class number.

    ``fitted`` is in order of length; between two of them scores are mixed by the logarithm of
    the number of notes.
    """
    scores = [0.0] * 12
    for share, weights in _mixed(evidence.count, fitted):
        singles, pairs = weights.tonic.singles, weights.tonic.pairs
        for kind, pc, value in evidence.singles:
            if kind >= len(singles):
                continue
            row, value = singles[kind], value * share
            for tonic in range(12):
                scores[tonic] += value * row[pc - tonic]  # a negative index turns round
        for kind, a, b, value in evidence.pairs:
            if kind >= len(pairs):
                continue
            row, value = pairs[kind], value * share
            for tonic in range(12):
                scores[tonic] += value * row[(a - tonic) % 12 * 12 + (b - tonic) % 12]
    return _chances(scores)


def mode_chances(
    evidence: TonicEvidence, tonic: int, fitted: Sequence[Weights], *, given: bool
) -> tuple[float, ...]:
    """P(mode | tonic, notes): of a known tonic, or of an inferred one."""
    facts = [mode_facts(evidence, tonic, mode) for mode in range(4)]
    state = 4 * heard_degrees(evidence, tonic)
    scores = [0.0] * 4
    for share, weights in _mixed(evidence.count, fitted):
        model = weights.given if given else weights.mode
        for mode in range(4):
            fit = sum(w * f for w, f in zip(model.facts, facts[mode], strict=True))
            fit += model.start[mode] + (model.heard[state + mode] if model.heard else 0.0)
            scores[mode] += share * fit
    return _chances(scores)


def _mixed(count: int, fitted: Sequence[Weights]) -> list[tuple[float, Weights]]:
    if count <= fitted[0].notes:
        return [(1.0, fitted[0])]
    for low, high in pairwise(fitted):
        if count < high.notes:
            share = math.log(count / low.notes) / math.log(high.notes / low.notes)
            return [(1 - share, low), (share, high)]
    return [(1.0, fitted[-1])]


def _chances(scores: Sequence[float]) -> tuple[float, ...]:
    top = max(scores)
    odds = [math.exp(score - top) for score in scores]
    total = sum(odds)
    return tuple(odd / total for odd in odds)
