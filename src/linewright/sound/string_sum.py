"""Sums of decaying sinusoids by matrix product.

``sum_p a_p e^(s_p t)`` at times ``t = (row * B + column) / rate`` factors into
``sum_p (a_p e^(s_p row B / rate)) (e^(s_p column / rate))``: two small tables and one product.
Modes that have died away are left out row by row.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["lifetime", "summed"]

_Complex = NDArray[np.complex128]
_Sound = NDArray[np.float32]

_BLOCK = 256
#: A mode below this share of the strongest is silent (-86 dB).
_FLOOR = 5e-5


def lifetime(poles: _Complex, heights: _Complex, floor: float = 1e-3) -> float:
    """Seconds until every mode lies under ``floor`` of the strongest one's start."""
    size = np.abs(heights)
    top = float(size.max(initial=0.0))
    if top == 0.0:
        return 0.0
    left = np.log(np.maximum(size / (top * floor), 1.0)) / np.maximum(-poles.real, 1e-3)
    return float(left.max())


def summed(poles: _Complex, heights: _Complex, count: int, rate: int) -> _Sound:
    """The real part of the sum of the modes, ``count`` samples from time 0.

    Parameters
    ----------
    poles, heights : ndarray of complex, shape (modes,)
    count, rate : int

    Returns
    -------
    ndarray of float32, shape (count,)
    """
    rows = -(-count // _BLOCK)
    size = np.abs(heights)
    floor = float(size.max(initial=0.0)) * _FLOOR
    kept = size > floor
    if rows == 0 or not kept.any():
        return np.zeros(count, dtype=np.float32)
    poles, heights, size = poles[kept] / rate, heights[kept], size[kept]
    life = np.log(size / floor) / np.maximum(-poles.real, 1e-9)
    order = np.argsort(-life)
    poles, heights, life = poles[order], heights[order], life[order]
    columns = np.exp(np.outer(poles, np.arange(_BLOCK)))
    right = np.concatenate((columns.real, -columns.imag), axis=0).astype(np.float32)
    out = np.zeros((rows, _BLOCK), dtype=np.float32)
    first, step, modes = 0, 2, len(poles)
    while first < rows:
        alive = int(np.searchsorted(-life, -first * _BLOCK))
        if alive == 0:
            break
        last = min(rows, first + step)
        left = heights[:alive] * np.exp(
            np.outer(np.arange(first, last) * float(_BLOCK), poles[:alive])
        )
        table = np.concatenate((left.real, left.imag), axis=1).astype(np.float32)
        if alive < modes:
            pick = np.concatenate((right[:alive], right[modes : modes + alive]), axis=0)
        else:
            pick = right
        np.matmul(table, pick, out=out[first:last])
        first, step = last, step * 2
    return out.reshape(-1)[:count]
