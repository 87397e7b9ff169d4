"""A look-ahead limiter: no true peak above the ceiling, nothing else changed."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

__all__ = ["CEILING", "Limiter"]

_Sound = NDArray[np.float32]

#: -1.2 dBTP.
CEILING: Final = 10 ** (-1.2 / 20)
#: Seconds over which the gain comes down before a peak and comes back after it.
_REACH_S: Final = 0.004
#: Share of the ceiling under which samples hide no peak over it (4 dB: plucked strings hold
#: little above a quarter of the sample rate).
_NEAR: Final = 0.63
#: Samples looked at together for peaks between them, and those that a look needs on each side.
_STRETCH, _MARGIN = 2048, 32


class Limiter:
    """Limits sound that arrives piece by piece.

    The peaks that matter are those between the samples too, so they are read at four times the
    rate. The gain is the smallest one needed within reach, smoothed by a window of that reach,
    and so it is down in time for every peak.

    Parameters
    ----------
    rate : int
    ceiling : float
        Largest true peak let through, linear. The usual -1.2 dBTP leaves room for what the
        decoder of a lossy format may add.
    """

    def __init__(self, rate: int, ceiling: float = CEILING) -> None:
        self.ceiling = ceiling
        self.reach = round(_REACH_S * rate)
        window = np.hanning(2 * self.reach + 3)[1:-1]
        self._window = (window / window.sum()).astype(np.float32)

    @property
    def needs(self) -> int:
        """Samples past a piece's end that :meth:`gain` wants to see, and before its start."""
        return 2 * self.reach + 32

    def gain(self, around: _Sound, before: int, count: int) -> NDArray[np.float32] | None:
        """The gain for ``count`` samples from index ``before`` on of ``around``; None for 1.

        ``around`` holds what comes before and after them, as much as :attr:`needs` or as there is.
        """
        from scipy.ndimage import minimum_filter1d
        from scipy.signal import oaconvolve

        if float(np.abs(around).max(initial=0.0)) <= self.ceiling * _NEAR:
            return None
        peaks = _peaks(around, self.ceiling * _NEAR)
        if float(peaks.max()) <= self.ceiling:
            return None
        need = self.ceiling / np.maximum(peaks, np.float32(self.ceiling))
        lowest = minimum_filter1d(need, 2 * self.reach + 1, mode="nearest")
        padded = np.pad(lowest, self.reach, mode="edge")
        gain: NDArray[np.float32] = oaconvolve(padded, self._window, mode="valid")
        return np.minimum(gain[before : before + count], np.float32(1.0))

    def limited(self, around: _Sound, before: int, count: int) -> _Sound:
        """The ``count`` samples from index ``before`` on of ``around``, limited."""
        wanted = around[before : before + count]
        gain = self.gain(around, before, count)
        return wanted if gain is None else wanted * gain[:, None]


def _peaks(samples: _Sound, of_interest: float) -> NDArray[np.float32]:
    """The largest absolute value near every sample, between it and its neighbours included.

    Where no sample comes near ``of_interest`` the values between them cannot reach the ceiling
    and are not worked out.
    """
    from scipy.signal import resample_poly

    size = np.abs(samples)
    peaks: NDArray[np.float32] = np.maximum(size[:, 0], size[:, 1])
    whole = len(samples)
    stretches = np.add.reduceat(peaks > of_interest, np.arange(0, whole, _STRETCH))
    for start in (np.nonzero(stretches)[0] * _STRETCH).tolist():
        low, high = max(0, start - _MARGIN), min(whole, start + _STRETCH + _MARGIN)
        piece = np.ascontiguousarray(samples[low:high].T)
        fine = np.abs(resample_poly(piece, 4, 1, axis=1))
        each = np.maximum(fine[0], fine[1])
        between = np.maximum(np.maximum(each[0::4], each[1::4]), np.maximum(each[2::4], each[3::4]))
        between[1:] = np.maximum(between[1:], between[:-1])
        inner = slice(start - low, min(start + _STRETCH, whole) - low)
        peaks[start : start + _STRETCH] = between[inner]
    return peaks
