"""From frames to notes: where to cut, what sounds between the cuts, and each note's values."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.score.performance import PlayedNote
from linewright.sound.hearing.atoms import score, silence, table
from linewright.sound.hearing.divide import divide
from linewright.sound.hearing.evidence import STEP, Evidence, gather
from linewright.sound.hearing.flux import Rises
from linewright.sound.hearing.frames import HOP, RATE, Floats, Sound
from linewright.sound.hearing.odds import costs, features
from linewright.sound.hearing.pitch import Dips, Range

__all__ = ["find_notes"]

_SECONDS: Final = HOP / RATE


def find_notes(sound: Sound, reach: Range) -> tuple[list[PlayedNote], float]:
    """The notes, and the tuning in cents."""
    seen = gather(sound, reach)
    cuts, loud, heard, tuning = seen.cuts, seen.loud, seen.heard, seen.tuning
    chances = score(table(seen, cuts))
    mute, sounding = silence(seen, cuts)
    found = divide(chances + sounding[:, None], mute, costs(features(seen)))
    ends = np.append(cuts, sound.count)
    notes = []
    top = float(np.max(loud, initial=-120))
    for first, last, index in found:
        a, b = int(cuts[first]), int(ends[last + 1])
        inside = loud[a // STEP : max(a // STEP + 1, b // STEP)]
        notes.append(
            PlayedNote(
                onset_s=a * _SECONDS,
                offset_s=b * _SECONDS,
                midi=index + reach.low,
                cents=_cents(heard, a // STEP, b // STEP, index + reach.low, tuning),
                strength=float(np.clip(1 + (inside.max() - top) / 40, 0.01, 1)),
            )
        )
    return notes, 100 * tuning


def _cents(heard: tuple[Dips, ...], a: int, b: int, midi: int, tuning: float) -> float:
    """Median deviation of the note's frames from its semitone."""
    values, weights = [], []
    for found in heard:
        off = found.pitch[a : b + 1] - midi - tuning
        good = np.abs(off) < 0.5
        values.append(off[good])
        weights.append(found.weight[a : b + 1][good])
    value, weight = np.concatenate(values), np.concatenate(weights)
    if not len(value):
        return 0.0
    order = np.argsort(value)
    at = np.searchsorted(np.cumsum(weight[order]), weight.sum() / 2)
    return 100 * float(value[order][min(at, len(value) - 1)])
