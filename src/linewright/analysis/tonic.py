"""Tonic and mode of a short phrase, from its notes alone.

The lick's declared key, its chords and its spelling are never looked at: a pitch enters as its
number. Two log-linear models: each of the twelve candidates is scored on which degrees fill the
time, stand on bar lines, begin, end, lie lowest and highest, and follow one another; then each
mode is scored on what it would leave outside and on which third, sixth and seventh are heard,
by one model where the tonic was inferred and by another where it is known.
The weights were fitted on tune collections (``benchmarks/fit_tonic.py``) for phrases of
different lengths and are mixed for those between.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from linewright.analysis.tonic_evidence import TonicEvidence, tonic_evidence
from linewright.analysis.tonic_model import Weights, mode_chances, tonic_chances
from linewright.analysis.tonic_modes import TONIC_MODES
from linewright.analysis.tonic_weights import WEIGHTS
from linewright.errors import MusicError
from linewright.score import Lick
from linewright.theory import PitchClass, spell_midi

__all__ = ["TONIC_MODES", "KeyEstimate", "estimate_key", "tonic_bits"]


@dataclass(frozen=True, slots=True)
class KeyEstimate:
    """The likeliest tonic and mode of a phrase.

    Parameters
    ----------
    tonic : PitchClass
        Spelled as its key signature would.
    mode : str
        A name in :data:`TONIC_MODES`.
    probability : float
        Of this tonic and mode together.
    table : tuple of tuple of float
        Probability of each tonic (by pitch-class number) in each mode; sums to 1.
    """

    tonic: PitchClass
    mode: str
    probability: float
    table: tuple[tuple[float, ...], ...]

    @property
    def tonic_probability(self) -> float:
        """Of the tonic, whatever the mode."""
        return sum(self.table[self.tonic.number])


def tonic_bits(lick: Lick) -> tuple[float, ...]:
    """Surprise of each pitch class as the tonic, in bits, by pitch-class number.

    -log2 P(tonic | notes); the smallest is the likeliest. A lick without notes gives equal
    bits throughout.
    """
    chances = tonic_chances(_evidence(lick, WEIGHTS), WEIGHTS)
    return tuple(-math.log2(max(chance, 1e-12)) for chance in chances)


def estimate_key(
    lick: Lick, *, tonic: PitchClass | None = None, weights: tuple[Weights, ...] = WEIGHTS
) -> KeyEstimate:
    """The likeliest tonic and its likeliest mode, or the mode when the tonic is given.

    With the tonic given, every mode is as likely before a note is heard; without, in a short
    phrase, the modes common in the tune collections start a little ahead. ``weights`` is for
    measuring other fits. Raises MusicError for a lick without notes.
    """
    if not lick.notes:
        raise MusicError("a lick without notes has no key", accepted="Give at least one note")
    evidence = _evidence(lick, weights)
    if tonic is None:
        chances = tonic_chances(evidence, weights)
    else:
        chances = tuple(1.0 if number == tonic.number else 0.0 for number in range(12))
    table = tuple(
        tuple(chance * m for m in mode_chances(evidence, number, weights, given=tonic is not None))
        if chance
        else (0.0,) * len(TONIC_MODES)
        for number, chance in enumerate(chances)
    )
    number = max(range(12), key=lambda candidate: (chances[candidate], -candidate))
    mode = max(range(len(TONIC_MODES)), key=lambda candidate: table[number][candidate])
    name = TONIC_MODES[mode]
    spelled = tonic if tonic is not None else _spelled(number, name)
    return KeyEstimate(spelled, name, table[number][mode], table)


def _evidence(lick: Lick, weights: tuple[Weights, ...]) -> TonicEvidence:
    """The evidence that counts: all of it only where the fit to whole tunes has a share."""
    return tonic_evidence(lick, every=len(weights) < 2 or len(lick.melody) > weights[-2].notes)


def _spelled(number: int, mode: str) -> PitchClass:
    """The tonic's name with the fewer signs in its signature."""
    center = {"major": 0, "mixolydian": 1, "dorian": 2, "minor": 3}[mode]
    return spell_midi(60 + number, center).pitch_class
