"""The recording as frames: one rate, rumble taken out, spectra five milliseconds apart."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import gcd
from typing import Final

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "HOP",
    "RATE",
    "WINDOW",
    "Floats",
    "Sound",
    "around",
    "at_rate",
    "fast_size",
    "filtered",
    "greatest",
    "spectra",
]

Floats = NDArray[np.float32]

#: Samples a second at which everything is heard.
RATE: Final = 22_050
#: Samples between frames: 5 ms.
HOP: Final = 110
#: Samples of a spectrum's window: 46 ms.
WINDOW: Final = 1024
_STRETCH: Final = 64  # samples filtered at once
#: Least and greatest share of our own sound that may be left, where it is read off the quietest
#: moments, and where its error is known; so many times the error may be met somewhere.
_DOUBT: Final = (0.05, 0.4)
_KNOWN: Final = (0.02, 0.4)
_SAFE: Final = 2.0
#: Frames worked on at once, so that memory does not grow with the recording.
BATCH: Final = 256


def at_rate(samples: Floats, rate: int) -> Floats:
    """The samples at :data:`RATE`."""
    if rate == RATE or not len(samples):
        return samples
    from scipy.signal import resample_poly

    shared = gcd(rate, RATE)
    return np.asarray(resample_poly(samples, RATE // shared, rate // shared), np.float32)


def fast_size(least: int) -> int:
    """The smallest size from ``least`` on that has no factor above 5: quick to transform."""
    size = least
    while True:
        rest = size
        for factor in (2, 3, 5):
            while rest % factor == 0:
                rest //= factor
        if rest == 1:
            return size
        size += 1


def filtered(samples: Floats, taps: Floats, ahead: int = 0, part: int = 1) -> Floats:
    """The samples through a short filter, ``ahead`` samples early; every ``part``-th of them.

    A product of matrices: each stretch, and the samples around it, by the filter shifted along.
    """
    wide = (_STRETCH - 1) * part + len(taps)
    lag = np.arange(_STRETCH) * part + len(taps) - 1 - np.arange(wide)[:, None]
    shifted = np.where((lag >= 0) & (lag < len(taps)), taps[np.clip(lag, 0, len(taps) - 1)], 0)
    count = -(-len(samples) // part)
    stretches = max(1, -(-count // _STRETCH))
    start = len(taps) - 1 - ahead
    rest = max(0, (stretches - 1) * _STRETCH * part + wide - start - len(samples))
    padded = np.pad(samples, (start, rest))
    rows = np.lib.stride_tricks.sliding_window_view(padded, wide)[:: _STRETCH * part][:stretches]
    return np.asarray(np.ascontiguousarray(rows) @ shifted.astype(np.float32)).ravel()[:count]


def greatest(curve: Floats, reach: int) -> Floats:
    """The greatest value within ``reach`` of each."""
    padded = np.pad(curve, reach, mode="edge")
    width = 2 * reach + 1
    out, done = padded, 1
    while done < width:  # windows of twice the width, by doubling
        step = min(done, width - done)
        out = np.maximum(out[:-step], out[step:])
        done += step
    return np.asarray(out, np.float32)


def around(samples: Floats, window: int = WINDOW) -> Floats:
    """The samples with silence before and after, for windows that reach beyond them."""
    return np.pad(samples, (window // 2, window))


def spectra(
    padded: Floats, centres: NDArray[np.int64], window: int = WINDOW, pad: int = 1
) -> Floats:
    """Magnitudes of Hann-windowed frames around ``centres``, shape (frames, pad * window / 2 + 1).

    ``padded`` are the samples with silence around them, :func:`around`.
    """
    half = window // 2
    shape = np.hanning(window + 1)[:-1].astype(np.float32)
    rows = np.lib.stride_tricks.sliding_window_view(padded, window)
    out = np.empty((len(centres), pad * half + 1), np.float32)
    for start in range(0, len(centres), BATCH):
        some = np.clip(centres[start : start + BATCH], 0, len(rows) - 1)
        out[start : start + BATCH] = np.abs(np.fft.rfft(rows[some] * shape, pad * window, axis=1))
    return out


@dataclass(frozen=True)
class Sound:
    """A recording at :data:`RATE`, its loudest sample near 1.

    Parameters
    ----------
    samples : array
    echo : array, optional
        What was taken out of it, on the same scale.
    wrong : float, optional
        What share of its amplitude is expected to be wrong.
    """

    samples: Floats
    echo: Floats | None = None
    wrong: float | None = None

    @property
    def seconds(self) -> float:
        """Length."""
        return len(self.samples) / RATE

    @cached_property
    def around(self) -> Floats:
        """The samples with silence around them, as :func:`spectra` takes them."""
        return around(self.samples)

    @cached_property
    def echo_around(self) -> Floats:
        """The same of what was taken out; nothing where nothing was."""
        return around(np.zeros(0, np.float32) if self.echo is None else self.echo)

    @cached_property
    def count(self) -> int:
        """Number of frames; frame ``k`` is centred on sample ``k * HOP``."""
        return len(self.samples) // HOP + 1

    @cached_property
    def level(self) -> Floats:
        """Root mean square around each frame (12 ms), in decibels against full scale."""
        return _level(self.samples, self.count)

    @cached_property
    def echo_level(self) -> Floats | None:
        """The same of what was taken out."""
        return None if self.echo is None else _level(self.echo, self.count)

    @cached_property
    def doubt(self) -> float:
        """What share of the amplitude of what was taken out may still be there.

        Where that is not known, read off the moments in which next to nothing else sounds.
        """
        if self.echo_level is None:
            return 0.0
        if self.wrong is not None:
            return float(np.clip(_SAFE * self.wrong, *_KNOWN))
        strong = self.echo_level > self.echo_level.max() - 12
        left = np.quantile(self.level[strong] - self.echo_level[strong], 0.15)
        return float(np.clip(1.5 * 10 ** (left / 20), *_DOUBT))

    @cached_property
    def echoing(self) -> NDArray[np.int64]:
        """Frames whose spectrum may hold some of what was taken out."""
        if self.echo_level is None:
            return np.zeros(0, np.int64)
        there = self.echo_level > self.echo_level.max() - 50
        reach = WINDOW // (2 * HOP)
        return np.flatnonzero(np.convolve(there, np.ones(2 * reach + 1), "same") > 0.5)

    @classmethod
    def of(
        cls, samples: Floats, rate: int, echo: Floats | None = None, wrong: float | None = None
    ) -> Sound:
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
        if peak > 0:
            sound = sound / peak
            echo = None if echo is None else at_rate(echo, rate) / peak
        return cls(sound, echo if echo is not None and echo.any() else None, wrong)


def _level(samples: Floats, count: int) -> Floats:
    half = 132
    squares = np.concatenate([[0.0], np.cumsum(samples.astype(np.float64) ** 2)])
    centres = np.arange(count) * HOP
    low, high = np.clip(centres - half, 0, None), np.clip(centres + half, None, len(samples))
    mean = (squares[high] - squares[low]) / np.maximum(high - low, 1)
    return np.asarray(10 * np.log10(np.maximum(mean, 1e-12)), np.float32)
