"""The recording as frames: one rate, rumble taken out, spectra five milliseconds apart."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import gcd
from typing import Final

import numpy as np
from numpy.typing import NDArray

__all__ = ["HOP", "RATE", "WINDOW", "Floats", "Sound", "at_rate", "spectra"]

Floats = NDArray[np.float32]

#: Samples a second at which everything is heard.
RATE: Final = 22_050
#: Samples between frames: 5 ms.
HOP: Final = 110
#: Samples of a spectrum's window: 46 ms.
WINDOW: Final = 1024
#: Frames worked on at once, so that memory does not grow with the recording.
BATCH: Final = 2048


def at_rate(samples: Floats, rate: int) -> Floats:
    """The samples at :data:`RATE`."""
    if rate == RATE or not len(samples):
        return samples
    from scipy.signal import resample_poly

    shared = gcd(rate, RATE)
    return np.asarray(resample_poly(samples, RATE // shared, rate // shared), np.float32)


def spectra(
    samples: Floats, centres: NDArray[np.int64], window: int = WINDOW, pad: int = 1
) -> Floats:
    """Magnitudes of Hann-windowed frames around ``centres``, shape (frames, pad * window / 2 + 1)."""
    half = window // 2
    padded = np.pad(samples, (half, window))
    shape = np.hanning(window + 1)[:-1].astype(np.float32)
    rows = np.lib.stride_tricks.sliding_window_view(padded, window)
    out = np.empty((len(centres), pad * half + 1), np.float32)
    for start in range(0, len(centres), BATCH):
        some = np.clip(centres[start : start + BATCH], 0, len(rows) - 1)
        out[start : start + BATCH] = np.abs(np.fft.rfft(rows[some] * shape, pad * window, axis=1))
    return out


@dataclass(frozen=True)
class Sound:
    """A recording at :data:`RATE`, its loudest sample near 1, and its spectra."""

    samples: Floats

    @property
    def seconds(self) -> float:
        """Length."""
        return len(self.samples) / RATE

    @cached_property
    def count(self) -> int:
        """Number of frames; frame ``k`` is centred on sample ``k * HOP``."""
        return len(self.samples) // HOP + 1

    @cached_property
    def level(self) -> Floats:
        """Root mean square around each frame (12 ms), in decibels against full scale."""
        half = 132
        squares = np.concatenate([[0.0], np.cumsum(self.samples.astype(np.float64) ** 2)])
        centres = np.arange(self.count) * HOP
        low, high = (
            np.clip(centres - half, 0, None),
            np.clip(centres + half, None, len(self.samples)),
        )
        mean = (squares[high] - squares[low]) / np.maximum(high - low, 1)
        return np.asarray(10 * np.log10(np.maximum(mean, 1e-12)), np.float32)

    @classmethod
    def of(cls, samples: Floats, rate: int) -> Sound:
        """Resample, take out rumble below some 40 Hz, and scale to full."""
        sound = at_rate(samples, rate)
        width = RATE // 40
        if len(sound) > width:
            total = np.concatenate([[0.0], np.cumsum(sound, dtype=np.float64)])
            at = np.arange(len(sound))
            low, high = (
                np.clip(at - width // 2, 0, None),
                np.clip(at + width // 2 + 1, None, len(sound)),
            )
            sound = (sound - (total[high] - total[low]) / (high - low)).astype(np.float32)
        peak = float(np.max(np.abs(sound), initial=0.0))
        return cls(sound / peak if peak > 0 else sound)
