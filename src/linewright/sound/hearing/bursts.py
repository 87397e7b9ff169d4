"""The way of clicks through the room, where what was played is short bursts with rests between.

Each burst is heard on its own. The playing is the noise of the problem, and it is not the same in
any two bursts: a click in a rest, or at frequencies at which the note of that moment has nothing,
tells nearly all, and one that falls on a note's beginning nearly nothing. So each burst counts at
each frequency by how little playing there is (Aitken's generalised least squares, the noise taken
from the residual, anew as it gets better known), and each tap of the filter is expected to be no
larger than its neighbours were found last, as a room's response is strong early and then dies away
(empirical Bayes; Tipping, J. Mach. Learn. Res. 1, 2001, does so tap by tap).
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from linewright.sound.hearing.frames import Floats

__all__ = ["Bursts", "find_bursts", "likeliest", "weighed"]

#: What stands apart of the reference for it to be taken as bursts, as a share of its blocks.
_MOST: Final = 0.9
#: Samples faded in and out where nothing of the reference sounds before and after.
_FADES: Final = (100, 600)
#: Bins (11 Hz) to either side over which the playing's power is taken together; that of the many
#: counts a good deal less, and only where the few happen to hold next to nothing.
_FEW: Final = 3
_MANY: Final = 22
_LESS: Final = 0.3
_FLOOR: Final = 1e-5  # least power of the playing, against its mean
_NEAR: Final = 32  # taps that are expected to be alike, 1.5 ms
_STEPS: Final = 200
_CLOSE: Final = 1e-10  # squared misfit of the equations at which they count as solved
_BLOCKS: Final = 64  # transformed at once

Doubles = NDArray[np.float64]


class Bursts(NamedTuple):
    """Blocks of the reference, twice as long as the filter.

    Parameters
    ----------
    starts : array of int
        First samples; each is where the reference begins to sound again.
    apart : array of bool
        Of which blocks the second half, and what comes before, is silence in the reference.
    """

    starts: NDArray[np.int64]
    apart: NDArray[np.bool_]


def find_bursts(played: Floats, taps: int) -> Bursts | None:
    """The bursts of a reference, or None where it sounds on."""
    sounds = np.flatnonzero(np.abs(played) > 1e-6 * float(np.max(np.abs(played), initial=0.0)))
    found, at = [], 0
    while at < len(sounds):
        found.append(int(sounds[at]))
        at = int(np.searchsorted(sounds, sounds[at] + taps))
    if not found:
        return None
    starts = np.array(found)
    silent = np.searchsorted(sounds, starts + 2 * taps) == np.searchsorted(sounds, starts + taps)
    apart = silent & np.append(True, np.diff(starts) > 2 * taps)
    return Bursts(starts, apart) if np.mean(apart) >= _MOST else None


def weighed(
    bursts: Bursts, row: Floats, heard: Floats, rest: Floats, taps: int
) -> tuple[Doubles, Doubles]:
    """Autocorrelation of ``row`` and what of ``heard`` follows it, by lag, shape (2, taps).

    In two halves, every second burst each, that tell how far they agree. ``rest`` is what was heard without what is taken for the reference's, whitened as the others.
    """
    size = 2 * taps
    rows = [
        np.lib.stride_tricks.sliding_window_view(np.pad(x, (0, size + taps)), size)
        for x in (row, heard, rest)
    ]
    least = _FLOOR * size * float(np.mean(rest**2)) + 1e-20
    own = np.zeros((2, taps + 1), np.complex128)
    cross = np.zeros_like(own)
    fade = np.ones(size, np.float32)
    rise, fall = (np.sin(np.pi / 2 * (np.arange(n) + 0.5) / n) ** 2 for n in _FADES)
    fade[: len(rise)], fade[-len(fall) :] = rise, fall[::-1]
    for first in range(0, len(bursts.starts), _BLOCKS):
        some = slice(first, first + _BLOCKS)
        mine, theirs, left = (x[bursts.starts[some]] for x in rows)
        shape = np.where(bursts.apart[some, None], fade, np.float32(1))
        followed, playing = (np.fft.rfft(x * shape, axis=1) for x in (theirs, left))
        head = np.conj(np.fft.rfft(mine[:, :taps], size, axis=1))
        head = head / (_about(np.abs(playing) ** 2) + least)
        whole = np.fft.rfft(mine, axis=1)
        for half in (0, 1):  # as _BLOCKS is even, the same half in every round
            each = slice(half, None, 2)
            own[half] += (head[each] * whole[each]).sum(axis=0)
            cross[half] += (head[each] * followed[each]).sum(axis=0)
    return np.fft.irfft(own, size)[:, :taps], np.fft.irfft(cross, size)[:, :taps]


def _about(power: Floats) -> Doubles:
    """The mean of each bin and its few neighbours, or a part of that of its many: the greater."""
    total = np.pad(power, ((0, 0), (_MANY + 1, _MANY)), mode="reflect").cumsum(1, np.float64)
    count = power.shape[1]
    few, many = (
        (total[:, _MANY + 1 + k :][:, :count] - total[:, _MANY - k :][:, :count]) / (2 * k + 1)
        for k in (_FEW, _MANY)
    )
    return np.asarray(np.maximum(few, _LESS * many))


def likeliest(own: Doubles, cross: Doubles, last: Doubles) -> Doubles:
    """The likeliest filter, each of whose taps is expected to be as large as those near it in ``last``.

    Where that is zero nothing is known of it yet, and all taps are expected alike.
    """
    near = np.convolve(last**2, np.full(_NEAR, 1 / _NEAR), "same")
    if near.any():
        spread = 2 * len(own) * np.maximum(near, 1e-5 * near.max())
    else:
        spread = np.full(len(own), 1e5 / (own[0] + 1e-20))
    return _solved(own, cross, spread, last)


def _solved(own: Doubles, cross: Doubles, spread: Doubles, start: Doubles) -> Doubles:
    """The solution of (T + 1 / spread) x = cross, the diagonals of T being ``own``.

    By conjugate gradients (Hestenes and Stiefel 1952) on the equations scaled by the root of
    ``spread``, T multiplied by a Fourier transform.
    """
    size = 2 * len(own)
    shape = np.fft.rfft(np.concatenate([own, [0.0], own[:0:-1]]))
    scale = np.sqrt(spread)

    def product(x: Doubles) -> Doubles:
        turned = np.fft.irfft(shape * np.fft.rfft(scale * x, size), size)[: len(x)]
        return np.asarray(x + scale * turned)

    wanted = scale * cross
    found = start / scale
    rest = wanted - product(found)
    way, power = rest, float(rest @ rest)
    least = _CLOSE * float(wanted @ wanted)
    for _ in range(_STEPS):
        if power <= least:
            break
        turned = product(way)
        step = power / float(way @ turned)
        found = found + step * way
        rest = rest - step * turned
        before, power = power, float(rest @ rest)
        way = rest + power / before * way
    return np.asarray(found * scale)
