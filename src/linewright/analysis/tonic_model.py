"""Two log-linear models: of the tonic, and of the mode on a tonic."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from linewright.analysis.tonic_evidence import TonicEvidence, mode_facts

__all__ = ["ModeWeights", "TonicWeights", "Weights", "mode_chances", "tonic_chances"]


@dataclass(frozen=True, slots=True)
class TonicWeights:
    """A row of 12 for each kind of single evidence, one of 144 for each kind of pair.

    A weight stands at the semitones above the tonic; for a pair at 12 x first + second.
    """

    singles: tuple[tuple[float, ...], ...]
    pairs: tuple[tuple[float, ...], ...]


@dataclass(frozen=True, slots=True)
class ModeWeights:
    """A weight for each mode fact, a bias for each mode, and each mode's log prior.

    The prior counts only when the tonic is not given.
    """

    facts: tuple[float, ...]
    bias: tuple[float, ...]
    prior: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Weights:
    """Both models as fitted on phrases of about ``notes`` notes."""

    notes: int
    tonic: TonicWeights
    mode: ModeWeights


def tonic_chances(evidence: TonicEvidence, fitted: Sequence[Weights]) -> tuple[float, ...]:
    """P(tonic | notes) by pitch-class number.

    ``fitted`` is in order of length; between two of them scores are mixed by the logarithm of
    the number of notes.
    """
    scores = [0.0] * 12
    for share, weights in _mixed(evidence.count, fitted):
        for kind, pc, value in evidence.singles:
            row, value = weights.tonic.singles[kind], value * share
            for tonic in range(12):
                scores[tonic] += value * row[pc - tonic]  # a negative index turns round
        for kind, a, b, value in evidence.pairs:
            row, value = weights.tonic.pairs[kind], value * share
            for tonic in range(12):
                scores[tonic] += value * row[(a - tonic) % 12 * 12 + (b - tonic) % 12]
    return _chances(scores)


def mode_chances(
    evidence: TonicEvidence, tonic: int, fitted: Sequence[Weights], *, prior: bool
) -> tuple[float, ...]:
    """P(mode | tonic, notes); with ``prior`` the commoner modes start ahead."""
    facts = [mode_facts(evidence, tonic, mode) for mode in range(4)]
    scores = [0.0] * 4
    for share, weights in _mixed(evidence.count, fitted):
        for mode in range(4):
            fit = sum(w * f for w, f in zip(weights.mode.facts, facts[mode], strict=True))
            fit += weights.mode.bias[mode] + (weights.mode.prior[mode] if prior else 0.0)
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
