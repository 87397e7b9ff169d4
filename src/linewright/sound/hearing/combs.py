"""Which semitones explain a spectrum together: a fit of harmonic combs that may not be negative.

Autocorrelation alone takes a mixture for the common subharmonic of its parts; combs that must
account for every partial they promise do not (non-negative factorisation with fixed spectra, as
in Smaragdis and Brown, WASPAA 2003, with the updates of Lee and Seung, NIPS 2000, for the
Kullback-Leibler divergence, each step taken further as over-relaxation does).
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np

from linewright.sound.hearing.frames import RATE, WINDOW, Floats
from linewright.sound.hearing.pitch import Range

__all__ = ["Bins", "fit_combs"]


class Bins(NamedTuple):
    """How spectra were made.

    Parameters
    ----------
    size, width : int
        Samples at :data:`~linewright.sound.hearing.frames.RATE` of the transform and of its window.
    top : float
        Hz up to which the combs are fitted.
    """

    size: int = 2 * WINDOW
    width: int = WINDOW
    top: float = 5_000.0


_WHOLE: Final = Bins()
_SLOPES: Final = (0.4, 1.0, 2.0)  # a partial's magnitude falls as its number to this power
_ROUNDS: Final = 7
_HASTE: Final = 1.95  # each step goes that much further; below 2 it still converges


@lru_cache(maxsize=8)
def _combs(low: int, high: int, tuning: float, compression: float, made: Bins) -> Floats:
    """Spectra of all semitones and slopes, each summing to 1, shape (semitones * slopes, bins)."""
    count = int(made.top * made.size / RATE)
    lobe = np.hanning(made.width + 1)[:-1]
    shape = np.abs(np.fft.rfft(lobe, 64 * WINDOW))[: 64 * 4]
    shape /= shape[0]
    step = RATE / (64 * WINDOW)
    reach = int(len(shape) * step * made.size / RATE) + 1  # bins to either side
    out = np.zeros((high - low + 1, len(_SLOPES), count + 2 * reach + 1))
    partial = np.arange(1.0, 25.0)
    fallen = partial ** -np.array(_SLOPES)[:, None]
    base = 440 * 2 ** ((np.arange(low, high + 1) + tuning - 69) / 12)
    centre = base[:, None] * partial * np.sqrt(1 + 5e-5 * partial**2)
    near = np.floor(centre * made.size / RATE).astype(int)[:, :, None] + np.arange(
        -reach, reach + 1
    )
    off = np.abs(near * RATE / made.size - centre[:, :, None])
    value = np.interp(off, np.arange(len(shape)) * step, shape, right=0)
    for k, number in zip(*np.nonzero(centre <= made.top), strict=True):
        some = slice(near[k, number, 0] + reach, near[k, number, -1] + reach + 1)
        row = out[k, :, some]
        np.maximum(row, value[k, number] * fallen[:, number, None], out=row)
    combs = out[:, :, reach : reach + count].reshape(-1, count) ** compression
    return np.asarray(combs / np.maximum(combs.sum(axis=1, keepdims=True), 1e-9), np.float32)


def fit_combs(
    spectra: Floats, reach: Range, tuning: float, compression: float, made: Bins = _WHOLE
) -> Floats:
    """Share of each semitone in each spectrum.

    Parameters
    ----------
    spectra : array, shape (frames, bins)
        Magnitudes to the power ``compression``.
    tuning : float
        In semitones.
    made : Bins, optional
        How the spectra were made, where it is not the usual way, padded twofold.

    Returns
    -------
    array, shape (frames, semitones)
        Each row sums to 1, or to 0 for an empty spectrum.
    """
    combs = _combs(reach.low, reach.high, round(tuning, 1), compression, made)
    target = spectra[:, : combs.shape[1]]
    total = target.sum(axis=1, keepdims=True)
    target = target / np.maximum(total, 1e-9)
    active = np.maximum(target @ combs.T, 1e-9)
    active /= active.sum(axis=1, keepdims=True)
    for _ in range(_ROUNDS):
        model = active @ combs
        np.maximum(model, 1e-7, out=model)
        step = np.divide(target, model, out=model) @ combs.T
        active *= np.power(step, _HASTE, out=step)
    share = active.reshape(len(active), -1, len(_SLOPES)).sum(axis=2)
    share = share / np.maximum(share.sum(axis=1, keepdims=True), 1e-9)
    return np.asarray(np.where(total > 1e-9, share, 0), np.float32)
