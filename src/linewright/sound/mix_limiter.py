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
        self._window = window / window.sum()

    @property
    def needs(self) -> int:
        """Samples past a piece's end that :meth:`gain` wants to see, and before its start."""
        return 2 * self.reach + 32

    def gain(self, around: _Sound, before: int, count: int) -> NDArray[np.float32] | None:
        """The gain for ``count`` samples from index ``before`` on of ``around``; None for 1.

        ``around`` holds what comes before and after them, as much as :attr:`needs` or as there is.
        """
        from scipy.ndimage import minimum_filter1d

        if float(np.abs(around).max(initial=0.0)) <= self.ceiling * 0.7:
            return None
        need = np.minimum(1.0, self.ceiling / np.maximum(_peaks(around), 1e-9))
        if float(need.min()) == 1.0:
            return None
        lowest = minimum_filter1d(need, 2 * self.reach + 1, mode="nearest")
        padded = np.pad(lowest, self.reach, mode="edge")
        gain = np.convolve(padded, self._window, mode="valid")[before : before + count]
        return gain.astype(np.float32)

    def limited(self, around: _Sound, before: int, count: int) -> _Sound:
        """The ``count`` samples from index ``before`` on of ``around``, limited."""
        wanted = around[before : before + count]
        gain = self.gain(around, before, count)
        return wanted if gain is None else wanted * gain[:, None]


def _peaks(samples: _Sound) -> NDArray[np.float64]:
    """The largest absolute value near every sample, between it and its neighbours included."""
    from scipy.signal import resample_poly

    fine = np.abs(resample_poly(samples, 4, 1, axis=0)).max(axis=1)
    by_sample = fine.reshape(-1, 4)
    here = by_sample.max(axis=1)
    here[1:] = np.maximum(here[1:], by_sample[:-1].max(axis=1))
    peaks: NDArray[np.float64] = here.astype(np.float64)
    return peaks
