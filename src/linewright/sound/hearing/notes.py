"""From frames to notes: where to cut, what sounds between the cuts, and each note's values."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.score.performance import PlayedNote
from linewright.sound.hearing.divide import Costs, divide, spans
from linewright.sound.hearing.flux import Rises, peaks, rises
from linewright.sound.hearing.frames import HOP, RATE, Floats, Sound
from linewright.sound.hearing.pitch import Dips, Range, dips, semitones

__all__ = ["find_notes"]

_STEP: Final = 2  # spectra per pitch frame: 10 ms
_LEAST_RISE: Final = 0.03
_SECONDS: Final = HOP / RATE


def find_notes(sound: Sound, reach: Range) -> tuple[list[PlayedNote], float]:
    """The notes, and the tuning in cents."""
    risen = rises(sound)
    centres = np.arange(0, sound.count, _STEP) * HOP
    long, short = heard = (
        dips(sound.samples, centres, 512, reach),
        dips(sound.samples, centres, 256, reach),
    )
    loud = sound.level[::_STEP]
    tuning = tuning_of(long, loud)
    chance = 0.5 * (semitones(long, tuning, reach) + semitones(short, tuning, reach))
    quiet = _quiet(loud)
    cuts = _cuts(risen, chance, quiet)
    edges = np.minimum(cuts // _STEP, len(centres))
    weights = _weights(cuts, len(centres))
    like = np.log(0.02 + 0.98 * np.minimum(chance, 1) * (1 - quiet[:, None]))
    mute = np.log(0.015 + 0.97 * np.maximum(quiet, 0.05 * (1 - np.minimum(chance.sum(axis=1), 1))))
    found = divide(
        spans(like, weights, edges, len(centres)),
        spans(mute, weights, edges, len(centres)),
        _costs(risen, cuts),
    )
    ends = np.append(cuts, sound.count)
    notes = []
    top = float(np.max(loud, initial=-120))
    for first, last, index in found:
        a, b = int(cuts[first]), int(ends[last + 1])
        inside = loud[a // _STEP : max(a // _STEP + 1, b // _STEP)]
        notes.append(
            PlayedNote(
                onset_s=a * _SECONDS,
                offset_s=b * _SECONDS,
                midi=index + reach.low,
                cents=_cents(heard, a // _STEP, b // _STEP, index + reach.low, tuning),
                strength=float(np.clip(1 + (inside.max() - top) / 40, 0.01, 1)),
            )
        )
    return notes, 100 * tuning


def tuning_of(found: Dips, loud: Floats) -> float:
    """How far the instrument stands from A = 440 Hz, in semitones (-0.5 to 0.5).

    The circular mean of what remains of each pitch above its nearest semitone.
    """
    if not len(loud):
        return 0.0
    audible = (loud > loud.max() - 35)[:, None] & (found.weight > 0.5)
    if not audible.any():
        return 0.0
    turn = 2 * np.pi * found.pitch[audible]
    return float(np.angle(np.sum(found.weight[audible] * np.exp(1j * turn))) / (2 * np.pi))


def _quiet(loud: Floats) -> Floats:
    """How surely each frame is too quiet to be playing, 0 to 1."""
    top = np.quantile(loud, 0.95)
    floor = max(top - 42, min(np.quantile(loud, 0.02) + 6, top - 20))
    return np.asarray(1 / (1 + np.exp(np.clip((loud - floor) / 1.5, -40, 40))), np.float32)


def _cuts(risen: Rises, chance: Floats, quiet: Floats) -> NDArray[np.int64]:
    """Frames where something may begin or end."""
    begin = peaks(risen.whole, least=_LEAST_RISE)
    smooth = sum(np.roll(chance, k, axis=0) for k in (-2, -1, 0, 1, 2))
    best = np.where(quiet > 0.5, -1, np.argmax(smooth, axis=1))
    changed = _STEP * (1 + np.flatnonzero(np.diff(best)))
    near = np.searchsorted(begin, changed)
    padded = np.concatenate([[-99], begin, [10**9]])
    free = np.minimum(changed - padded[near], padded[near + 1] - changed) > 6
    return np.unique(np.concatenate([[0], begin, changed[free]])).astype(np.int64)


def _weights(cuts: NDArray[np.int64], count: int) -> Floats:
    """Less weight for pitch frames whose window looks across a cut."""
    at = np.arange(count) * _STEP
    near = np.searchsorted(cuts, at, side="right")
    before = at - cuts[np.maximum(near - 1, 0)]
    after = np.append(cuts, 10**9)[near] - at
    return np.where((before < 4) | (after < 4), 0.4, 1.0).astype(np.float32)


def _costs(risen: Rises, cuts: NDArray[np.int64]) -> Costs:
    rise = risen.whole[cuts] + 0.5 * risen.high[cuts]
    sure = np.log(np.maximum(rise, 1e-3))
    again = np.clip(6 - 7 * (sure - np.log(0.25)), 0.02, 25)
    move = np.clip(4 - 3 * (sure - np.log(0.15)), 0.3, 18)
    hold = -np.log1p(-np.exp(-np.maximum(again, 0.05)))
    stop = np.full(len(cuts), 4.0)
    return Costs(
        hold.astype(np.float32),
        again.astype(np.float32),
        move.astype(np.float32),
        stop.astype(np.float32),
        move.astype(np.float32),
    )


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
