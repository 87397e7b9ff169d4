"""Tonic and mode of a short phrase, from its notes alone.

The lick's declared key, its chords and its spelling are never looked at: a pitch enters as its
number. A first form: pitch-class content weighted by length and place in the bar, read against
the scale-degree frequencies of Albrecht and Shanahan (2013), with a say for the last note.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from linewright.errors import MusicError
from linewright.score import Lick
from linewright.theory import PitchClass, spell_midi

__all__ = ["TONIC_MODES", "KeyEstimate", "estimate_key", "tonic_bits"]

#: The modes told apart, in the order of every row of numbers here.
TONIC_MODES: Final = ("major", "minor", "dorian", "mixolydian")

# Albrecht and Shanahan (2013), recalled from memory; Dorian and Mixolydian by exchanging the
# sixths of their minor and the sevenths of their major.
_PROFILES: Final = (
    (0.238, 0.006, 0.111, 0.006, 0.137, 0.094, 0.016, 0.214, 0.009, 0.080, 0.008, 0.081),
    (0.220, 0.006, 0.104, 0.123, 0.019, 0.103, 0.012, 0.214, 0.062, 0.022, 0.061, 0.052),
    (0.220, 0.006, 0.104, 0.123, 0.010, 0.103, 0.012, 0.214, 0.022, 0.062, 0.080, 0.023),
    (0.238, 0.006, 0.111, 0.006, 0.137, 0.094, 0.010, 0.214, 0.009, 0.080, 0.081, 0.008),
)
_PRIORS: Final = (0.3, 0.3, 0.2, 0.2)


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
    return tuple(-math.log2(max(sum(row), 1e-12)) for row in _table(lick))


def estimate_key(lick: Lick, *, tonic: PitchClass | None = None) -> KeyEstimate:
    """Tonic and mode together, or the mode when the tonic is given.

    Raises MusicError for a lick without notes.
    """
    if not lick.notes:
        raise MusicError("a lick without notes has no key", accepted="Give at least one note")
    table = _table(lick)
    if tonic is not None:
        given = tonic.number
        total = sum(table[given])
        table = tuple(
            tuple(p / total if t == given else 0.0 for p in row) for t, row in enumerate(table)
        )
    probability, number, mode = max(
        (p, -t, -m) for t, row in enumerate(table) for m, p in enumerate(row)
    )
    name = TONIC_MODES[-mode]
    spelled = tonic if tonic is not None else _spelled(-number, name)
    return KeyEstimate(spelled, name, probability, table)


def _spelled(number: int, mode: str) -> PitchClass:
    """The tonic's name with the fewer signs in its signature."""
    center = {"major": 0, "mixolydian": 1, "dorian": 2, "minor": 3}[mode]
    return spell_midi(60 + number, center).pitch_class


def _table(lick: Lick) -> tuple[tuple[float, ...], ...]:
    """P(tonic, mode | notes), a row of four for each pitch class."""
    content = [0.0] * 12
    notes = [lick.notes[i] for i in lick.melody]
    for note in notes:
        bar = lick.bar_at(note.onset)
        level = bar.meter.weight(bar.offset(note.onset))
        content[note.midi % 12] += float(note.duration) ** 0.5 * (1.0 + 0.3 * max(0, 2 + level))
    total = sum(content) or 1.0
    strength = len(notes) ** 0.6
    last = notes[-1].midi % 12 if notes else None
    scores = []
    for tonic in range(12):
        for mode, profile in enumerate(_PROFILES):
            fit = sum(w * math.log(profile[(pc - tonic) % 12]) for pc, w in enumerate(content))
            end = math.log(4.0 if last == tonic else 1.0)
            scores.append(strength * fit / total + end + math.log(_PRIORS[mode]))
    top = max(scores)
    odds = [math.exp(s - top) for s in scores]
    whole = sum(odds)
    return tuple(tuple(o / whole for o in odds[4 * t : 4 * t + 4]) for t in range(12))
