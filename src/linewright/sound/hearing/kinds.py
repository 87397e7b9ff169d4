"""The sound of a click, from a row of its occurrences under playing; plain and accented ones apart."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.sound.hearing.frames import RATE, Floats

Times = NDArray[np.float64]

__all__ = ["Times", "mean_clicks", "pieces", "two_kinds"]

_CLEAR: Final = 1.4  # times the usual gain of a wrong division
_RARE: Final = 1.3  # so much clearer a bar of five or seven must be
_LONGEST_BAR: Final = 7
_WIDTH: Final = 221  # samples a weight is averaged over: 10 ms
_BLOCK: Final = 111  # samples a decision is averaged over: 5 ms
_TURNS: Final = 4


def pieces(heard: Floats, times: Times, length: int) -> Floats:
    """The ``length`` samples from each time on, to a fraction of a sample; zero outside.

    Shape (times, length).
    """
    from scipy.fft import irfft, rfft

    starts = np.floor(times * RATE).astype(int)
    low = max(0, -int(starts.min()))
    padded = np.pad(heard, (low, max(0, int(starts.max()) + length - len(heard))))
    rows = np.stack([padded[low + a : low + a + length] for a in starts])
    turn = np.arange(length // 2 + 1) * 2j * np.pi / length
    late = (times * RATE - starts)[:, None]
    return np.asarray(irfft(rfft(rows, axis=1) * np.exp(late * turn), length), np.float32)


def mean_clicks(rows: Floats, accented: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """The plain and the accented click: weighed means, anew as the playing gets better known.

    What of a mean is no larger than its own uncertainty is left out (Wiener's factor).
    """
    means = (np.zeros(rows.shape[1], np.float32),) * 2
    rest = rows
    for _ in range(_TURNS):
        trust = _trust(rest)
        means = (_sure_mean(rows, trust, ~accented), _sure_mean(rows, trust, accented))
        rest = rows - np.where(accented[:, None], means[1], means[0])
    return means


def two_kinds(rows: Floats) -> NDArray[np.bool_]:
    """Which clicks are of the rarer of two kinds; none when one kind explains them.

    Every division into one click in two, three, ... and the others is tried; the best stands when
    two mean clicks explain more than those of the other divisions do. Then each click goes to the
    kind it is more like where that explains still more, so that changes of meter do no harm.
    """
    count = len(rows)
    none = np.zeros(count, bool)
    if count < 8:
        return none
    trust = _trust(rows - _mean(rows, _trust(rows), ~none))
    found, best, gains = none, 0.0, []
    base = _explained(rows, trust, none)
    for bar in range(2, min(_LONGEST_BAR, count // 3) + 1):
        for first in range(bar):
            chosen = np.arange(count) % bar == first
            gain = _explained(rows, trust, chosen) - base
            gain /= _RARE if bar in (5, 7) else 1.0
            gains.append(gain)
            if gain > best:
                best, found = gain, chosen
    usual = max(float(np.median(gains)), 1e-12)
    if best < _CLEAR * usual:
        return none
    for _ in range(_TURNS):
        means = [_mean(rows, trust, kind) for kind in (~found, found)]
        away = [np.sum(trust * (rows - mean) ** 2, axis=1) for mean in means]
        again = away[1] < away[0]
        if not 2 <= again.sum() <= count - 2:
            break
        gain = _explained(rows, trust, again) - base
        if gain < best + usual:
            break
        found, best = again, gain
    return found if 2 * found.sum() <= count else ~found


def _trust(rest: Floats) -> Floats:
    """One over the local power."""
    from scipy.ndimage import uniform_filter1d

    return np.asarray(
        1 / (uniform_filter1d(rest**2, _WIDTH, axis=1) + 1e-4 * np.mean(rest**2) + 1e-12)
    )


def _mean(rows: Floats, trust: Floats, kind: NDArray[np.bool_]) -> Floats:
    """The mean of some rows, each sample weighed."""
    return np.asarray((trust[kind] * rows[kind]).sum(axis=0) / trust[kind].sum(axis=0))


def _sure_mean(rows: Floats, trust: Floats, kind: NDArray[np.bool_]) -> Floats:
    from scipy.ndimage import uniform_filter1d

    if not kind.any():
        return np.zeros(rows.shape[1], np.float32)
    mean = _mean(rows, trust, kind)
    power = uniform_filter1d(mean**2, _BLOCK)
    noise = uniform_filter1d(1 / trust[kind].sum(axis=0), _BLOCK)
    return np.asarray(mean * np.maximum(0, 1 - noise / np.maximum(power, 1e-20)), np.float32)


def _explained(rows: Floats, trust: Floats, chosen: NDArray[np.bool_]) -> float:
    """How much of the clicks' energy the mean of each kind explains."""
    return sum(
        float(np.sum(trust[kind].sum(axis=0) * _mean(rows, trust, kind) ** 2))
        for kind in (chosen, ~chosen)
        if kind.any()
    )
