"""Where something begins: rises of the spectrum, after SuperFlux.

The spectrum in bands a quarter tone wide, compressed by a logarithm against the recording's own
noise, is compared with the strongest of the neighbouring bands a moment before, so that vibrato
and slides do not read as onsets (Böck and Widmer, "Maximum filter vibrato suppression for onset
detection", DAFx 2013). The comparison is centred (as far after as before), so that a step in the
sound gives a peak at the step.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.sound.hearing.frames import BATCH, HOP, RATE, WINDOW, Floats, Sound, spectra

__all__ = ["Rises", "peaks", "rises"]

_LOW_HZ: Final = 70.0
_HIGH_HZ: Final = 10_000.0
_PER_OCTAVE: Final = 24
_SPLIT_HZ: Final = 2_500.0
_LAG: Final = 2  # frames to either side


@dataclass(frozen=True)
class Rises:
    """Rises of the spectrum a frame.

    Parameters
    ----------
    whole, high : arrays, shape (frames,)
        Mean rise over all bands and over those above 2.5 kHz, where a pluck's burst lies, in
        nepers of compressed magnitude.
    fall : array
        Mean fall of all bands.
    """

    whole: Floats
    high: Floats
    fall: Floats


def _filterbank() -> tuple[Floats, Floats]:
    """Triangular filters by spectrum bin, shape (bins, bands), and their centres in Hz."""
    count = int(np.floor(np.log2(_HIGH_HZ / _LOW_HZ) * _PER_OCTAVE))
    edges = _LOW_HZ * 2 ** (np.arange(-1, count + 1) / _PER_OCTAVE)
    bins = np.round(edges * WINDOW / RATE).astype(int)
    bins = bins[np.append(True, np.diff(bins) > 0)]
    bank = np.zeros((WINDOW // 2 + 1, len(bins) - 2), np.float32)
    for k, (low, mid, high) in enumerate(zip(bins, bins[1:], bins[2:], strict=False)):
        bank[low : mid + 1, k] = np.linspace(0, 1, mid - low + 1)
        bank[mid : high + 1, k] = np.linspace(1, 0, high - mid + 1)
    return bank / bank.sum(axis=0), (bins[1:-1] * RATE / WINDOW).astype(np.float32)


def _bands(padded: Floats, frames: NDArray[np.int64], bank: Floats) -> Floats:
    """Magnitude by frame and band."""
    parts = [
        spectra(padded, frames[k : k + BATCH] * HOP) @ bank for k in range(0, len(frames), BATCH)
    ]
    return np.concatenate(parts) if parts else np.zeros((0, bank.shape[1]), np.float32)


def rises(sound: Sound) -> Rises:
    """How much the spectrum rises and falls around each frame."""
    bank, centres = _filterbank()
    energy = _bands(sound.around, np.arange(sound.count), bank)
    floor = np.quantile(energy[:: max(1, len(energy) // 4000)], 0.08, axis=0)
    loud = np.quantile(energy[:: max(1, len(energy) // 4000)], 0.98)
    reference = np.maximum(2.0 * floor, 1e-3 * loud + 1e-9)
    compressed = np.log1p(energy / reference).astype(np.float32)
    padded = np.pad(compressed, ((_LAG, _LAG), (0, 0)), mode="edge")
    before, after = padded[: -2 * _LAG], padded[2 * _LAG :]
    rise = np.maximum(0, after - _widest(before))
    fall = np.maximum(0, before - _widest(after))
    if len(sound.echoing):
        # What may be left of our own sound is no rise: compressed against that much more.
        at, last = sound.echoing, sound.count - 1
        left = np.zeros_like(energy)
        left[at] = sound.doubt * _bands(sound.echo_around, at, bank)
        ground = reference + np.maximum.reduce(
            [left[np.clip(at + k, 0, last)] for k in range(-_LAG, _LAG + 1)]
        )
        old, new = (energy[np.clip(at + k, 0, last)] for k in (-_LAG, _LAG))
        rise[at] = np.maximum(0, np.log((new + ground) / (_widest(old) + ground)))
        fall[at] = np.maximum(0, np.log((old + ground) / (_widest(new) + ground)))
    high = centres > _SPLIT_HZ
    return Rises(
        rise.mean(axis=1), rise[:, high].mean(axis=1), fall.mean(axis=1).astype(np.float32)
    )


def _widest(values: Floats) -> Floats:
    """The greatest of each band and its two neighbours."""
    out = values.copy()
    np.maximum(out[:, 1:], values[:, :-1], out=out[:, 1:])
    np.maximum(out[:, :-1], values[:, 1:], out=out[:, :-1])
    return out


def peaks(curve: Floats, *, least: float, width: int = 3) -> NDArray[np.int64]:
    """Frames where the curve is the greatest within ``width`` frames and at least ``least``."""
    if not len(curve):
        return np.zeros(0, np.int64)
    padded = np.pad(curve, width, mode="constant", constant_values=-1)
    around = np.lib.stride_tricks.sliding_window_view(padded, 2 * width + 1)
    top = (curve >= around.max(axis=1)) & (curve >= least)
    found = np.flatnonzero(top)
    if len(found) > 1:  # of a plateau keep the first frame
        found = found[np.concatenate([[True], np.diff(found) > 1])]
    return found
