"""What is new after each cut: what the sound just before it does not foretell.

Strings that sound on go on as they were: sums of partials that die away slowly, which linear
prediction continues well (Makhoul, "Linear prediction: a tutorial review", Proc. IEEE 63, 1975;
forward and backward covariance method with a ridge). What differs from that continuation is new,
or is what stopped; what stopped is in the difference only, not in the sound. So the new note is
what both hold, bin by bin the lesser of the two.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.sound.hearing.frames import HOP, RATE, Floats, Sound, filtered

__all__ = ["PART", "SIZE", "WIDTHS", "Forecast", "forecast"]

#: Every third sample is looked at: what is below 3.6 kHz tells the pitch.
PART: Final = 3
_RATE: Final = RATE // PART
#: Samples of a spectrum, zeros included.
SIZE: Final = 1440
#: Samples of its windows, 46 and 93 ms.
WIDTHS: Final = (340, 680)
#: Samples the next one is foretold from (18 ms, two periods of 110 Hz), and the ridge for each of
#: their mean energy, which keeps what is only noise from being foretold.
_ORDER: Final = 133
_RIDGE: Final = 1e-3
#: Samples before a cut that are learned from, at most and at least.
_PAST: Final = round(0.120 * _RATE)
_LEAST: Final = round(0.050 * _RATE)
_GUARD: Final = round(0.002 * _RATE)  # before a cut, that may be met already
_CLEAR: Final = round(0.012 * _RATE)  # after the cut before, until a pluck's burst is over
_SKIP: Final = round(0.012 * _RATE)  # after the cut itself, likewise
_SHORT: Final = round(0.020 * _RATE)  # the narrowest window, where the next cut is near
_REACH: Final = _GUARD + _SKIP + WIDTHS[-1]
_BATCH: Final = 256  # cuts at a time, which bounds the memory


@dataclass(frozen=True)
class Forecast:
    """How much is new after each cut.

    Parameters
    ----------
    shares : array, shape (cuts, 2)
        Energy of what is new as a share of all, 0 to 1, through the short and the long window.
    error : array, shape (cuts,)
        What share of the energy before the cut its own prediction leaves.
    past : array, shape (cuts,)
        Seconds since the strong cut before, at most 0.12.
    """

    shares: Floats
    error: Floats
    past: Floats


def forecast(
    sound: Sound, cuts: NDArray[np.int64], strong: NDArray[np.int64]
) -> tuple[Forecast, list[Floats]]:
    """Look at each cut; what it is foretold from begins after the ``strong`` cut before it.

    Returns
    -------
    Forecast
    list of two arrays, shape (cuts, SIZE / 2 + 1)
        Magnitudes of what is new, through the short and the long window.
    """
    low = _slower(sound.samples)
    at = np.round(cuts * (HOP / PART)).astype(int)
    beyond = [-(10**9), *strong, sound.count]
    edges = np.round(np.array(beyond) * (HOP / PART)).astype(np.int64)
    last = edges[np.searchsorted(strong, cuts, side="left")]
    length = edges[np.searchsorted(strong, cuts, side="right") + 1] - at
    stop = at - _GUARD
    start = np.clip(np.minimum(last + _CLEAR, stop - _LEAST), stop - _PAST, None).astype(int)
    shift = _PAST + _ORDER
    padded = np.pad(low, (shift, _REACH + WIDTHS[-1]))
    echo = None
    if sound.echo is not None:
        echo = sound.doubt * np.pad(_slower(sound.echo), (shift, _REACH + WIDTHS[-1]))
    gains = [np.zeros((len(cuts), SIZE // 2 + 1), np.float32) for _ in WIDTHS]
    shares = np.zeros((len(cuts), 2), np.float32)
    error = np.ones(len(cuts), np.float32)
    for first in range(0, len(cuts), _BATCH):
        some = slice(first, min(first + _BATCH, len(cuts)))
        stops = stop[some] + shift
        pasts = [padded[a:b] for a, b in zip(start[some] + shift, stops, strict=True)]
        weights, error[some] = _weights(pasts)
        after = np.stack([padded[at : at + _REACH] for at in stops])
        rest = after - _continued(pasts, weights)
        ours = None if echo is None else np.stack([echo[at : at + _REACH] for at in stops])
        for number, (gain, most) in enumerate(zip(gains, WIDTHS, strict=True)):
            part = slice(_GUARD + _SKIP, _GUARD + _SKIP + most)
            shape = _windows(np.clip(length[some] + _GUARD - _SKIP, _SHORT, most), most)
            now, new = (
                np.abs(np.fft.rfft(x[:, part] * shape, SIZE, axis=1)) for x in (after, rest)
            )
            if ours is not None:
                left = np.abs(np.fft.rfft(ours[:, part] * shape, SIZE, axis=1))
                new = np.maximum(new - left, 0)
            gain[some] = np.minimum(new, now)
            energy = np.maximum((now**2).sum(axis=1), 1e-9)
            shares[some, number] = (gain[some] ** 2).sum(axis=1) / energy
    past = np.clip((at - last) / _RATE, 0, 0.12).astype(np.float32)
    return Forecast(shares, error, past), gains


def _slower(samples: Floats) -> Floats:
    """Every third sample, what is above half the new rate taken out (a windowed sinc)."""
    at = np.arange(-10 * PART, 10 * PART + 1)
    taps = np.kaiser(len(at), 5.0) * np.sinc(at / PART)
    return filtered(samples, (taps / taps.sum()).astype(np.float32), at[-1], PART)


def _weights(pasts: list[Floats]) -> tuple[Floats, Floats]:
    """Prediction weights by row, the nearest sample first, and what share of energy they leave."""
    together = _products(pasts)
    together += together[:, ::-1, ::-1].copy()
    own, cross = together[:, :-1, :-1], together[:, :-1, -1]
    power = np.einsum("kii->k", own) / _ORDER
    ridge = (_RIDGE * power + 1e-7)[:, None, None] * np.eye(_ORDER + 1, dtype=np.float32)
    found = _solved(together + ridge)
    whole = together[:, -1, -1]
    kept = (own @ found[:, :, None])[:, :, 0] - 2 * cross
    left = whole + (found * kept).sum(axis=1)
    return found[:, ::-1], np.clip(left / np.maximum(whole, 1e-7), 1e-4, 1)


def _products(pasts: list[Floats]) -> Floats:
    """Of each, the products of its samples with each other, summed along the past, by two lags.

    Along a diagonal a sum differs from the one before by what enters at one end and leaves at the
    other, so only the first row is summed in full.
    """
    out = np.empty((len(pasts), _ORDER + 1, _ORDER + 1), np.float32)
    ends = np.empty((2, len(pasts), _ORDER), np.float32)
    for k, past in enumerate(pasts):
        short = max(0, _ORDER + 40 - len(past))
        past = np.pad(past, (short, 0)) if short else past
        out[k, 0] = np.correlate(past, past[: len(past) - _ORDER], "valid")
        ends[:, k] = past[:_ORDER], past[len(past) - _ORDER :]
    out[:, :, 0] = out[:, 0]
    leaves, enters = ends
    for row in range(_ORDER):
        below = out[:, row + 1, 1:]
        np.multiply(enters[:, row, None], enters, out=below)
        below -= leaves[:, row, None] * leaves
        below += out[:, row, :-1]
    return out


def _solved(together: Floats) -> Floats:
    """For each symmetric positive matrix, the weights of its other columns that make its last.

    Its Cholesky factor's last row is the first half of the solution already.
    """
    try:
        factor = np.linalg.cholesky(together)
    except np.linalg.LinAlgError:  # too near to singular for single precision
        return np.asarray(
            np.linalg.solve(together[:, :-1, :-1].astype(np.float64), together[:, :-1, -1:])[
                :, :, 0
            ],
            np.float32,
        )
    rest = factor[:, -1, :-1].copy()
    for k in range(rest.shape[1] - 1, -1, -1):
        rest[:, k] /= factor[:, k, k]
        rest[:, :k] -= factor[:, k, :k] * rest[:, k, None]
    return rest


def _continued(pasts: list[Floats], weights: Floats) -> Floats:
    """The next samples of each as foretold, no louder than what was, shape (rows, _REACH)."""
    rows = np.zeros((_ORDER + _REACH, len(pasts)), np.float32)
    for k, past in enumerate(pasts):
        rows[:_ORDER, k] = past[-_ORDER:]
    top = 1.5 * np.array([np.max(np.abs(past)) for past in pasts], np.float32)
    turned = np.ascontiguousarray(weights.T[::-1])
    for n in range(_ORDER, _ORDER + _REACH):
        row = np.einsum("ok,ok->k", turned, rows[n - _ORDER : n])
        np.clip(row, -top, top, out=rows[n])
    return rows[_ORDER:].T


def _windows(width: NDArray[np.int64], most: int) -> Floats:
    """Hann windows of those widths, zero beyond, shape (rows, most)."""
    at = np.arange(most)
    turn = 2 * np.pi * at / width[:, None]
    return np.where(at < width[:, None], 0.5 - 0.5 * np.cos(turn), 0).astype(np.float32)
