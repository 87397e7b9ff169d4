"""Two log-linear models: of the tonic, and of the mode on a tonic."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from linewright.analysis.tonic_evidence import TonicEvidence
from linewright.analysis.tonic_modes import heard_degrees, mode_facts

__all__ = ["ModeWeights", "TonicWeights", "Weights", "mode_chances", "tonic_chances"]


@dataclass(frozen=True)
class TonicWeights:
    """A row of 12 for each kind of single evidence, one of 144 for each kind of pair.

    A weight stands at the semitones above the tonic; for a pair at 12 x first + second. The last
    kinds may be left out; they count nothing then.
    """

    singles: tuple[tuple[float, ...], ...]
    pairs: tuple[tuple[float, ...], ...]

    @cached_property
    def turned(self) -> _Turned:
        """The weights of an entry of evidence for each of the twelve candidates."""
        return _Turned(self.singles, self.pairs)


class _Turned(dict[tuple[int, ...], tuple[float, ...]]):
    """(kind, pitch class) or (kind, first, second) -> a weight for each candidate, when asked."""

    def __init__(
        self, singles: tuple[tuple[float, ...], ...], pairs: tuple[tuple[float, ...], ...]
    ) -> None:
        self._singles, self._pairs = singles, pairs

    def __missing__(self, key: tuple[int, ...]) -> tuple[float, ...]:
        kind, a = key[:2]
        if len(key) == 2:
            row = self._singles[kind]
            made = tuple([row[a - tonic] for tonic in range(12)])  # a negative index turns round
        else:
            row, b = self._pairs[kind], key[2]
            made = tuple([row[(a - t) % 12 * 12 + (b - t) % 12] for t in range(12)])
        self[key] = made
        return made


@dataclass(frozen=True, slots=True)
class ModeWeights:
    """A weight for each mode fact, and what each mode starts with.

    ``heard`` has a weight for each mode in each state of :func:`heard_degrees` (at 4 x state +
    mode); it may be empty.
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
        turned = weights.tonic.turned
        singles, pairs = len(weights.tonic.singles), len(weights.tonic.pairs)
        for kind, pc, value in evidence.singles:
            if kind < singles:
                value *= share
                scores = [s + value * w for s, w in zip(scores, turned[kind, pc], strict=True)]
        for kind, a, b, value in evidence.pairs:
            if kind < pairs:
                value *= share
                scores = [s + value * w for s, w in zip(scores, turned[kind, a, b], strict=True)]
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
            fit = sum([w * f for w, f in zip(model.facts, facts[mode], strict=True)])
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
