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
    bins = np.arange(count) * RATE / made.size
    lobe = np.hanning(made.width + 1)[:-1]
    shape = np.abs(np.fft.rfft(lobe, 64 * WINDOW))[: 64 * 4]
    shape /= shape[0]
    step = RATE / (64 * WINDOW)
    out = np.zeros(((high - low + 1) * len(_SLOPES), count))
    for k, midi in enumerate(range(low, high + 1)):
        base = 440 * 2 ** ((midi + tuning - 69) / 12)
        for partial in range(1, 25):
            centre = base * partial * np.sqrt(1 + 5e-5 * partial**2)
            if centre > made.top:
                break
            value = np.interp(np.abs(bins - centre), np.arange(len(shape)) * step, shape, right=0)
            for s, slope in enumerate(_SLOPES):
                row = out[k * len(_SLOPES) + s]
                np.maximum(row, value * partial**-slope, out=row)
    out = out**compression
    return np.asarray(out / out.sum(axis=1, keepdims=True), np.float32)


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
        active *= ((target / np.maximum(model, 1e-7)) @ combs.T) ** _HASTE
    share = active.reshape(len(active), -1, len(_SLOPES)).sum(axis=2)
    share = share / np.maximum(share.sum(axis=1, keepdims=True), 1e-9)
    return np.asarray(np.where(total > 1e-9, share, 0), np.float32)
