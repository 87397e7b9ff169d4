"""Programme loudness and true peak after ITU-R BS.1770-5.

Loudness: K-weighting (annex 1: a shelf for the head, then a high-pass), mean square over blocks
of 400 ms that overlap by three quarters, absolute gate at -70 LUFS, relative gate 10 LU under the
mean of what is left. True peak (annex 2): the largest sample at four times the rate.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

__all__ = ["Loudness", "integrated_loudness"]

_Sound = NDArray[np.float32]
_Float = NDArray[np.float64]

_BLOCK_S: Final = 0.4
_HOP: Final = 4
_ABSOLUTE: Final = -70.0
_RELATIVE: Final = -10.0
_OFFSET: Final = -0.691


def _k_filters(rate: int) -> _Float:
    """Second-order sections of the K-weighting for a sample rate.

    The standard tabulates 48 kHz; for other rates its two analogue prototypes are mapped anew
    (their frequencies, gains and Qs as in Brecht De Man, "Evaluation of implementations of the
    EBU R128 loudness measurement", AES 145, 2018).
    """
    gain, q, corner = 3.999843853973347, 0.7071752369554196, 1681.974450955533
    k = math.tan(math.pi * corner / rate)
    vh = 10 ** (gain / 20)
    vb = vh**0.4996667741545416
    a0 = 1 + k / q + k * k
    shelf = [
        (vh + vb * k / q + k * k) / a0,
        2 * (k * k - vh) / a0,
        (vh - vb * k / q + k * k) / a0,
        1.0,
        2 * (k * k - 1) / a0,
        (1 - k / q + k * k) / a0,
    ]
    q, corner = 0.5003270373238773, 38.13547087602444
    k = math.tan(math.pi * corner / rate)
    a0 = 1 + k / q + k * k
    high = [1.0, -2.0, 1.0, 1.0, 2 * (k * k - 1) / a0, (1 - k / q + k * k) / a0]
    return np.array([shelf, high])


class Loudness:
    """Integrated loudness of sound that arrives piece by piece.

    Parameters
    ----------
    rate : int
    """

    def __init__(self, rate: int) -> None:
        self._hop = round(_BLOCK_S * rate / _HOP)
        self._sections = _k_filters(rate)
        self._state: _Float | None = None
        self._rest: _Float = np.zeros(0)
        self._quarters: list[float] = []

    def add(self, samples: _Sound) -> None:
        """Take the next piece, shape (frames, channels)."""
        from scipy.signal import sosfilt

        if not len(samples):
            return
        if self._state is None:
            self._state = np.zeros((2, 2, samples.shape[1]))
        weighted, self._state = sosfilt(
            self._sections, samples.astype(np.float64), axis=0, zi=self._state.transpose(0, 1, 2)
        )
        power = np.concatenate((self._rest, (weighted**2).sum(axis=1)))
        whole = len(power) // self._hop
        quarters = power[: whole * self._hop].reshape(whole, self._hop).mean(axis=1)
        self._quarters += quarters.tolist()
        self._rest = power[whole * self._hop :]

    @property
    def lufs(self) -> float:
        """LUFS so far; minus infinity for silence."""
        quarters = np.array(self._quarters)
        if len(quarters) < _HOP:  # shorter than a block: the mean of all there is
            total = float(quarters.sum()) * self._hop + float(self._rest.sum())
            count = len(quarters) * self._hop + len(self._rest)
            return _lufs(total / count) if count else -math.inf
        sums = np.convolve(quarters, np.ones(_HOP), mode="valid") / _HOP
        loud = sums[sums > _power(_ABSOLUTE)]
        if not len(loud):
            return -math.inf
        gate = _lufs(float(loud.mean())) + _RELATIVE
        return _lufs(float(loud[loud > _power(gate)].mean()))


def _lufs(power: float) -> float:
    return _OFFSET + 10 * math.log10(power) if power > 0 else -math.inf


def _power(lufs: float) -> float:
    return float(10 ** ((lufs - _OFFSET) / 10))


def integrated_loudness(samples: _Sound, rate: int) -> float:
    """LUFS of a whole programme, shape (frames, channels); minus infinity for silence."""
    meter = Loudness(rate)
    meter.add(samples)
    return meter.lufs
