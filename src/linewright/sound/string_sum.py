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

_BLOCK = 128
#: Rows times columns times depth up to which OpenBLAS stays on one thread.
_SINGLE_THREAD = 1 << 18
_MOST_ROWS = 64
#: A mode below this share of the strongest is silent (-78 dB).
_FLOOR = 1.2e-4


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
    columns = _powers(np.exp(poles), _BLOCK)
    right = np.concatenate((columns.real, -columns.imag), axis=1).T.astype(np.float32)
    out = np.zeros((rows + _MOST_ROWS, _BLOCK), dtype=np.float32)
    first, step, modes = 0, 4, len(poles)
    while first < rows:
        alive = int(np.searchsorted(-life, -first * _BLOCK))
        if alive == 0:
            break
        size_of = _slice_rows(alive)
        needed = -(-(rows - first) // size_of) * size_of  # no sample depends on ``count``
        last = first + min(step, needed)
        begin = heights[:alive] * np.exp(poles[:alive] * (first * _BLOCK))
        left = begin * _powers(np.exp(poles[:alive] * _BLOCK), last - first)
        table = np.concatenate((left.real, left.imag), axis=1).astype(np.float32)
        if alive < modes:
            pick = np.concatenate((right[:alive], right[modes : modes + alive]), axis=0)
        else:
            pick = right
        _product(table, pick, out[first:last], size_of)
        first, step = last, step * 2
    return out.reshape(-1)[:count]


def _slice_rows(modes: int) -> int:
    return max(1, min(_MOST_ROWS, _SINGLE_THREAD // (_BLOCK * 2 * modes)))


def _product(left: _Sound, right: _Sound, out: _Sound, slice_rows: int) -> None:
    """Matrix product in slices small enough that the BLAS does not wake its other threads.

    These cost more than they bring at such sizes, and whoever else uses the machine their core.
    """
    whole = len(left) - len(left) % slice_rows
    if whole:
        stacked = (-1, slice_rows, left.shape[1])
        sliced = out[:whole].reshape(-1, slice_rows, right.shape[1])
        np.matmul(left[:whole].reshape(stacked), right, out=sliced)
    if whole < len(left):
        np.matmul(left[whole:], right, out=out[whole:])


def _powers(base: _Complex, count: int) -> _Complex:
    """Powers 0 to ``count - 1`` of each base, shape (count, bases), by doubling."""
    table = np.empty((count, len(base)), dtype=np.complex128)
    table[0] = 1.0
    done, factor = 1, base
    while done < count:
        more = min(done, count - done)
        np.multiply(table[:more], factor, out=table[done : done + more])
        done += more
        factor = factor * factor
    return table
