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
    parts = []
    for start in range(0, len(centres), BATCH):
        frame = rows[np.clip(centres[start : start + BATCH], 0, len(rows) - 1)]
        whole = np.fft.rfft(frame, size, axis=1)
        head = np.fft.rfft(frame[:, :window], size, axis=1)
        product = np.fft.irfft(np.conj(head) * whole, size, axis=1)[:, : longest + 1]
        power = np.cumsum(np.pad(frame.astype(np.float64) ** 2, ((0, 0), (1, 0))), axis=1)
        energy = power[:, window : window + longest + 1] - power[:, : longest + 1]
        difference = np.maximum(energy[:, :1] + energy - 2 * product, 0)
        parts.append(_weigh(difference, reach))
    return _joined(parts)


def gain_dips(now: Floats, before: Floats, reach: Range) -> tuple[Dips, Floats, Floats]:
    """Pitches of what the magnitudes ``now`` hold beyond those ``before``, what share that is, and the gain itself.

    Both of shape (frames, WINDOW + 1): spectra padded twofold.
    """
    whole = now**COMPRESSION
    gained = np.maximum(whole - before**COMPRESSION, 0)
    share = gained.sum(axis=1) / np.maximum(whole.sum(axis=1), 1e-9)
    return spectral_dips(gained, 2 * WINDOW, WINDOW, reach), share.astype(np.float32), gained


def spectral_dips(spectra: Floats, size: int, width: int, reach: Range) -> Dips:
    """Pitches of compressed magnitudes.

    ``size`` samples at RATE a transform (what is missing at the top counts as nothing) and
    ``width`` of its Hann window.
    """
    shape = np.hanning(width + 1)[:-1]
    own = np.fft.irfft(np.abs(np.fft.rfft(shape, size)) ** 2)[: reach.longest + 1]
    own = np.sqrt(np.maximum(own / own[0], 0.05))  # compression widens peaks: half the decay fits
    alike = np.fft.irfft(spectra, size, axis=1)[:, : reach.longest + 1]
    alike = alike / np.maximum(alike[:, :1], 1e-9) / own
    return _weigh(np.maximum(1 - alike, 0) + 1e-6, reach)


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


def _weigh(difference: NDArray[np.float64], reach: Range) -> Dips:
    """From difference functions to dips with probabilities."""
    lags = np.arange(difference.shape[1])
    running = np.cumsum(difference, axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(running > 0, difference * lags / running, 1.0)
    ratio[:, 0] = 1.0
    first, last = reach.shortest, difference.shape[1] - 1
    middle, left, right = (
        ratio[:, first:last],
        ratio[:, first - 1 : last - 1],
        ratio[:, first + 1 :],
    )
    depth = np.where((middle < left) & (middle <= right), middle, 1.0)
    earlier = np.ones_like(depth)
    np.minimum.accumulate(depth[:, :-1], axis=1, out=earlier[:, 1:])
    weight = np.zeros_like(depth)
    first_below = np.nonzero(depth < earlier)  # only such a dip can be the first under a threshold
    weight[first_below] = _share(earlier[first_below]) - _share(depth[first_below])
    order = np.argpartition(-weight, min(_KEPT, weight.shape[1] - 1), axis=1)[:, :_KEPT]
    row = np.arange(len(weight))[:, None]
    chosen, a, b, c = weight[row, order], left[row, order], middle[row, order], right[row, order]
    curve = a - 2 * b + c
    with np.errstate(divide="ignore", invalid="ignore"):
        shift = np.clip(np.where(curve > 1e-12, (a - c) / (2 * curve), 0), -0.5, 0.5)
        period = first + order + shift
        pitch = 69 + 12 * np.log2(RATE / period / 440)
    pitch = np.where(chosen > 1e-3, pitch, np.nan)
    return Dips(pitch.astype(np.float32), np.where(chosen > 1e-3, chosen, 0).astype(np.float32))


def _share(threshold: NDArray[np.float64]) -> NDArray[np.float64]:
    """Share of thresholds below: half the Beta(2, 18) distribution (mean 0.1) of probabilistic YIN,
    half Beta(2, 4) (mean 0.33), so that a frame with other sound in it still has its say.
    """
    x = np.clip(threshold, 0, 1)
    two = (1 - x) ** 2
    four = two * two
    eighteen = (four * four) ** 2 * two
    return np.asarray(1 - 0.5 * eighteen * (1 + 18 * x) - 0.5 * four * (1 + 4 * x))
