"""How likely each semitone is between two cuts: the views of the pitch weighed together.

Two conditional logistic models (McFadden 1974) over the semitones: one for the pitch of a note that
begins at the first cut, one for that of a note that was there before. Each view of an atom's pitch
adds its logarithm with a fitted weight, differently where much of the spectrum is new than where
most of it rang before; the octaves above and below speak against, or for, a subharmonic.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.sound.hearing.evidence import STEP, Evidence
from linewright.sound.hearing.frames import Floats

__all__ = ["BEGUN_VIEWS", "HELD_VIEWS", "score", "silence", "table"]

BEGUN_VIEWS: Final = (
    "news", "combs of news", "news, longer", "combs of news, longer",
    "much news", "combs of much news", "much news, longer", "combs of much news, longer",
    "combs of news an octave up", "combs of news an octave down", "combs of news a twelfth up",
    "news an octave up", "combs of news two octaves up", "combs of longer news an octave up",
    "combs of longer news an octave down", "long window", "short window", "gain", "combs",
    "long window, news", "short window, news", "gain, news", "combs, news",
    "long window an octave up", "gain an octave up",
)  # fmt: skip
HELD_VIEWS: Final = (
    "long window", "short window", "gain", "combs",
    "long window, new", "short window, new", "gain, new", "combs, new",
    "combs an octave up", "combs an octave down", "combs a twelfth up", "gain an octave up",
    "combs two octaves up", "long window an octave up",
)  # fmt: skip
_EDGE: Final = 3  # spectra after a cut, and before the next, that count less
_LONGEST: Final = 20  # pitch frames of an atom that are looked at, from its start


def table(seen: Evidence, cuts: NDArray[np.int64]) -> tuple[Floats, Floats]:
    """Each view of each atom's semitones, shape (atoms, semitones, views).

    First the views of a note that begins there, then those of one that goes on.
    """
    count, semis = seen.chance.shape
    ends = np.append(cuts[1:], count * STEP)
    first = np.minimum(-(-(cuts + _EDGE) // STEP), count)
    last = np.minimum((ends - _EDGE) // STEP + 1, first + _LONGEST)
    short = last <= first
    first = np.where(short, np.minimum((cuts + ends) // (2 * STEP), max(count - 1, 0)), first)
    last = np.clip(np.where(short, first + 1, last), 0, count)
    frames = np.maximum(last - first, 1)
    means = []
    for view in seen.views:
        total = np.concatenate([np.zeros((1, semis)), np.cumsum(np.log(view + 0.02), axis=0)])
        means.append((total[last] - total[first]) / frames[:, None])
    share = np.append(0, np.cumsum(seen.gained, dtype=np.float64))
    gained = ((share[last] - share[first]) / frames)[:, None]
    power = np.sqrt(np.minimum(frames, 16))[:, None]
    long, _, gain, combs = means
    held = [*means, *(gained * m for m in means), _moved(combs, 12), _moved(combs, -12),
            _moved(combs, 19), _moved(gain, 12), _moved(combs, 24), _moved(long, 12)]  # fmt: skip
    dip, comb, dip2, comb2 = (np.log(v + 0.02) for v in seen.news)
    much = np.clip(1 + np.log10(np.maximum(seen.foretold.shares[:, :1], 1e-3)) / 2, 0, 1)
    less = np.sqrt(np.minimum(frames, 5))[:, None]
    begun = [dip, comb, dip2, comb2, much * dip, much * comb, much * dip2, much * comb2,
             _moved(comb, 12), _moved(comb, -12), _moved(comb, 19), _moved(dip, 12),
             _moved(comb, 24), _moved(comb2, 12), _moved(comb2, -12),
             *(less * m for m in means), *(less * much * m for m in means),
             less * _moved(long, 12), less * _moved(gain, 12)]  # fmt: skip
    return (
        np.stack(begun, axis=2).astype(np.float32),
        np.stack([power * c for c in held], axis=2).astype(np.float32),
    )


def score(views: Floats, weights: tuple[float, ...]) -> Floats:
    """Log probability of each semitone in each atom, shape (atoms, semitones)."""
    raw = views @ np.array(weights, np.float32)
    top = raw.max(axis=1, keepdims=True)
    return np.asarray(raw - top - np.log(np.exp(raw - top).sum(axis=1, keepdims=True)), np.float32)


def silence(seen: Evidence, cuts: NDArray[np.int64]) -> tuple[Floats, Floats]:
    """Log likelihoods of silence and of sound in each atom."""
    voiced = np.minimum(2 * seen.chance.max(axis=1, initial=0), 1)
    sounding = (1 - seen.quiet) * (0.5 + 0.5 * voiced)
    total = np.append(0, np.cumsum(sounding, dtype=np.float64))
    count = len(sounding)
    first = np.minimum(cuts // STEP, max(count - 1, 0))
    last = np.maximum(np.append(cuts[1:] // STEP, count), first + 1)
    mean = (total[np.minimum(last, count)] - total[first]) / (last - first)
    power = 1.5 * np.sqrt(last - first)
    return (
        (power * np.log(0.02 + 0.98 * (1 - mean))).astype(np.float32),
        (power * np.log(0.02 + 0.98 * mean)).astype(np.float32),
    )


def _moved(values: NDArray[np.float64], by: int) -> NDArray[np.float64]:
    """The value ``by`` semitones above each semitone; the least where there is none."""
    out = np.full_like(values, np.log(0.02))
    if by > 0:
        out[:, :-by] = values[:, by:]
    else:
        out[:, -by:] = values[:, :by]
    return out
