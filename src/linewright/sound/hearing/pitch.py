"""How strongly each frame sounds at each semitone.

The difference function of YIN (de Cheveigné and Kawahara, JASA 111, 2002) for many frames at
once, by Fourier transform; its dips are weighed as in probabilistic YIN (Mauch and Dixon, ICASSP
2014): a dip's probability is the share of thresholds under which it would be the first, here in
closed form. Two windows serve low and quick notes alike. For strings that ring on, the same is
done on what the spectrum has gained since just before an onset (the generalised autocorrelation
of Tolonen and Karjalainen, IEEE Trans. Speech Audio Proc. 8, 2000).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.sound.hearing.frames import BATCH, RATE, WINDOW, Floats, fast_size

__all__ = ["COMPRESSION", "Dips", "Range", "dips", "gain_dips", "semitones", "spectral_dips"]

COMPRESSION: Final = 0.67
_KEPT: Final = 6  # dips kept a frame


@dataclass(frozen=True)
class Range:
    """Semitones listened for, lowest and highest."""

    low: int
    high: int

    @property
    def longest(self) -> int:
        """Longest period in samples, with half a tone to spare."""
        return int(np.ceil(RATE / (440 * 2 ** ((self.low - 1 - 69) / 12))))

    @property
    def shortest(self) -> int:
        """Shortest period in samples, with half a tone to spare."""
        return max(3, int(RATE / (440 * 2 ** ((self.high + 1 - 69) / 12))))

    @property
    def count(self) -> int:
        """Number of semitones."""
        return self.high - self.low + 1


@dataclass(frozen=True)
class Dips:
    """The likeliest pitches of each frame: ``pitch`` (MIDI, fractional; NaN where none) and ``weight``,
    both of shape (frames, dips).
    """

    pitch: Floats
    weight: Floats


def dips(samples: Floats, centres: NDArray[np.int64], window: int, reach: Range) -> Dips:
    """Pitches and their probabilities around ``centres``, heard through ``window`` samples."""
    longest = reach.longest
    span = window + longest
    size = fast_size(span)
    padded = np.pad(samples, (span // 2, span))
    rows = np.lib.stride_tricks.sliding_window_view(padded, span)
    total = np.append(0, np.cumsum(padded.astype(np.float64) ** 2))
    sums = np.lib.stride_tricks.sliding_window_view(total, longest + 1)
    parts = []
    for start in range(0, len(centres), BATCH):
        some = np.clip(centres[start : start + BATCH], 0, len(rows) - 1)
        frame = rows[some]
        whole = np.fft.rfft(frame, size, axis=1)
        head = np.fft.rfft(frame[:, :window], size, axis=1)
        product = np.fft.irfft(np.conj(head) * whole, size, axis=1)[:, : longest + 1]
        energy = (sums[some + window] - sums[some]).astype(np.float32)
        difference = np.maximum(energy[:, :1] + energy - 2 * product, 0)
        parts.append(_weigh(difference, reach))
    return _joined(parts)


def gain_dips(now: Floats, before: Floats, reach: Range) -> tuple[Dips, Floats, Floats]:
    """Pitches of what ``now`` holds beyond ``before``, what share that is, and the gain itself.

    Both of shape (frames, WINDOW + 1): magnitudes to the power COMPRESSION, padded twofold.
    """
    gained = np.maximum(now - before, 0)
    share = gained.sum(axis=1) / np.maximum(now.sum(axis=1), 1e-9)
    return spectral_dips(gained, 2 * WINDOW, WINDOW, reach), share.astype(np.float32), gained


def spectral_dips(spectra: Floats, size: int, width: int, reach: Range) -> Dips:
    """Pitches of compressed magnitudes.

    ``size`` samples at RATE a transform (what is missing at the top counts as nothing) and
    ``width`` of its Hann window.
    """
    turns, own = _turns(size, width, spectra.shape[1], reach.longest + 1)
    alike = spectra @ turns
    alike /= np.maximum(alike[:, :1], 1e-9)
    alike /= own
    return _weigh(np.maximum(1 - alike, 0) + 1e-6, reach)


@lru_cache(maxsize=4)
def _turns(size: int, width: int, bins: int, lags: int) -> tuple[Floats, Floats]:
    """Cosines that make an autocorrelation of a spectrum, shape (bins, lags), and the window's own.

    So few lags are quicker by a product of matrices than by a Fourier transform.
    """
    wave = np.cos(2 * np.pi * np.arange(size) / size) * (2 / size)
    turns = wave[np.arange(bins)[:, None] * np.arange(lags) % size]
    turns[0] /= 2
    if bins == size // 2 + 1:
        turns[-1] /= 2
    shape = np.hanning(width + 1)[:-1]
    own = np.fft.irfft(np.abs(np.fft.rfft(shape, size)) ** 2)[:lags]
    # compression widens peaks: half the decay fits
    own = np.sqrt(np.maximum(own / own[0], 0.05)).astype(np.float32)
    return turns.astype(np.float32), own


def semitones(found: Dips, tuning: float, reach: Range) -> Floats:
    """Probability of each semitone a frame, shape (frames, semitones)."""
    at = np.round(found.pitch - tuning) - reach.low
    weight = np.where(np.isfinite(at) & (at >= 0) & (at < reach.count), found.weight, 0)
    column = np.nan_to_num(np.clip(at, 0, reach.count - 1)).astype(np.int64)
    out = np.zeros((len(weight), reach.count), np.float32)
    np.add.at(out, (np.arange(len(weight))[:, None], column), weight)
    return out


def _joined(parts: list[Dips]) -> Dips:
    if not parts:
        return Dips(np.zeros((0, _KEPT), np.float32), np.zeros((0, _KEPT), np.float32))
    return Dips(np.concatenate([p.pitch for p in parts]), np.concatenate([p.weight for p in parts]))


def _weigh(difference: Floats, reach: Range) -> Dips:
    """From difference functions to dips with probabilities."""
    lags = np.arange(difference.shape[1], dtype=np.float32)
    ratio = difference * lags
    ratio /= np.maximum(np.cumsum(difference, axis=1), 1e-30)
    ratio[:, 0] = 1.0
    first, last = reach.shortest, difference.shape[1] - 1
    middle, left, right = (
        ratio[:, first:last],
        ratio[:, first - 1 : last - 1],
        ratio[:, first + 1 :],
    )
    depth = np.where((middle < left) & (middle <= right), middle, np.float32(1))
    earlier = np.ones_like(depth)
    np.minimum.accumulate(depth[:, :-1], axis=1, out=earlier[:, 1:])
    row, column = np.nonzero(depth < earlier)  # only such a dip can be the first under a threshold
    chosen = _share(earlier[row, column]) - _share(depth[row, column])
    order = np.lexsort((-chosen, row))
    row, column, chosen = row[order], column[order], chosen[order]
    rank = np.arange(len(row)) - np.searchsorted(row, row)
    kept = (rank < _KEPT) & (chosen > 1e-3)
    row, column, rank = row[kept], column[kept], rank[kept]
    a, b, c = left[row, column], middle[row, column], right[row, column]
    curve = a - 2 * b + c
    shift = np.clip(0.5 * (a - c) / np.maximum(curve, 1e-12), -0.5, 0.5)
    pitch = np.full((len(difference), _KEPT), np.nan, np.float32)
    weight = np.zeros_like(pitch)
    pitch[row, rank] = 69 + 12 * np.log2(RATE / (first + column + shift) / 440)
    weight[row, rank] = chosen[kept]
    return Dips(pitch, weight)


def _share(threshold: Floats) -> Floats:
    """Share of thresholds below: half the Beta(2, 18) distribution (mean 0.1) of probabilistic YIN,
    half Beta(2, 4) (mean 0.33), so that a frame with other sound in it still has its say.
    """
    x = np.clip(threshold, 0, 1)
    two = (1 - x) ** 2
    four = two * two
    eighteen = (four * four) ** 2 * two
    return np.asarray(1 - 0.5 * eighteen * (1 + 18 * x) - 0.5 * four * (1 + 4 * x))
