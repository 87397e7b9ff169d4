"""Our own click or band, taken out of what the microphone heard.

What was played is known; what the room, the loudspeaker and the microphone made of it is found
by least squares (a filter some 46 ms long, by the Levinson recursion), after the delay has been
found by the cross-correlation with phase transform (Knapp and Carter, IEEE Trans. ASSP 24, 1976).
The playing is the noise of that problem: it is whitened by linear prediction and weighed by its
loudness (Aitken's generalised least squares), anew as the residual gets better known. Nothing is
taken out unless it clearly is in the recording.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from linewright.sound.hearing.frames import RATE, Floats
from linewright.sound.hearing.kinds import Times, mean_clicks, pieces, two_kinds

__all__ = ["Cleared", "cancelled", "clicks_cancelled"]

_LATEST: Final = round(0.8 * RATE)
_EARLIEST: Final = round(0.15 * RATE)
_NEAR: Final = round(0.08 * RATE)  # how far a click may be from its given time
_TAPS: Final = 1024
_LEAD: Final = 128
_TURNS: Final = 4
_ORDER: Final = 16
_CLEAR: Final = 7.0  # times the usual height of the correlation
_CLEAR_CLICK: Final = 4.0  # variance ratio of what the clicks have in common
_BLUR: Final = 110  # samples it is measured over: 5 ms


class Cleared(NamedTuple):
    """A recording without what was played.

    Parameters
    ----------
    samples : array
        Unchanged where what was played is not found in them.
    late : float or None
        Seconds by which it was found to come late.
    echo : array or None
        What was taken out.
    """

    samples: Floats
    late: float | None = None
    echo: Floats | None = None


def cancelled(samples: Floats, played: Floats) -> Cleared:
    """Take out what was played.

    Parameters
    ----------
    samples, played : arrays
        Both at :data:`~linewright.sound.hearing.frames.RATE`, from the same moment on.
    """
    reference = np.zeros(len(samples), np.float32)
    reference[: min(len(samples), len(played))] = played[: len(samples)]
    late = _delay(samples, reference)
    if late is None:
        return Cleared(samples)
    echo = _echo(samples, _moved(reference, late - _LEAD))
    return Cleared((samples - echo).astype(np.float32), late / RATE, echo)


def clicks_cancelled(samples: Floats, times: Sequence[float]) -> Cleared:
    """Take out a click of unknown sound, given only when it sounds, to some hundredths of a second.

    The filter found for a row of impulses is the click itself. An accented click may have a sound
    of its own: where two sounds explain the recording clearly better than one, there are two.
    """
    inside = np.array(sorted({float(t) for t in times if 0 <= t * RATE < len(samples) - _TAPS}))
    gap = float(np.min(np.diff(inside), initial=1.0)) * RATE
    near = min(_NEAR, round(0.4 * gap))
    if len(inside) < 4 or near < RATE // 200:
        return Cleared(samples)
    late = _lateness(samples, inside, near)
    if late is None:
        return Cleared(samples)
    moved = inside + (late - _LEAD) / RATE
    echo = _mean_echo(samples, moved)
    return Cleared((samples - echo).astype(np.float32), late / RATE, echo)


def _mean_echo(samples: Floats, times: Times) -> Floats:
    """A row of clicks as it is in the recording, by the mean of each kind of them."""
    from scipy.signal import fftconvolve, lfilter

    echo = np.zeros_like(samples)
    accented: NDArray[np.bool_] | None = None
    for _ in range(2):
        (white,), back = _whitened(samples - echo, samples)
        rows = pieces(white, times, _TAPS)
        accented = two_kinds(rows) if accented is None else accented
        echo = np.zeros_like(samples)
        for mean, kind in zip(mean_clicks(rows, accented), (~accented, accented), strict=True):
            if kind.any():
                click = np.asarray(lfilter([1.0], back, mean), np.float32)
                row = _impulses(times[kind], len(samples))
                echo += np.asarray(fftconvolve(row, click)[: len(samples)], np.float32)
    return echo


def _impulses(times: Times, length: int) -> Floats:
    """An impulse, limited to the band, at each time."""
    out = np.zeros(length, np.float32)
    for time in times * RATE:
        at = np.arange(int(time) - 7, int(time) + 9)
        shape = np.sinc(at - time) * np.cos(np.pi * (at - time) / 18) ** 2
        inside = (at >= 0) & (at < length)
        out[at[inside]] += shape[inside]
    return out


def _moved(row: Floats, by: int) -> Floats:
    out = np.zeros_like(row)
    if by >= 0:
        out[by:] = row[: len(row) - by]
    else:
        out[:by] = row[-by:]
    return out


def _delay(samples: Floats, reference: Floats) -> int | None:
    from scipy.fft import irfft, next_fast_len, rfft

    if not reference.any() or not samples.any():
        return None
    size = next_fast_len(len(samples) + _LATEST + _EARLIEST, real=True)
    one, two = rfft(_sharp(samples), size), rfft(_sharp(reference), size)
    cross = one * np.conj(two)
    weight = np.maximum(np.abs(cross), 1e-3 * float(np.max(np.abs(cross))) + 1e-20)
    alike = irfft(cross / weight, size)
    height = np.abs(np.concatenate([alike[-_EARLIEST:], alike[: _LATEST + 1]]))
    best = int(np.argmax(height))
    if height[best] < _CLEAR * float(np.sqrt(np.mean(height**2))):
        return None
    near = np.flatnonzero(height > 0.5 * height[best])  # the direct sound comes first
    near = near[near > best - RATE // 100]
    return int(near[0]) - _EARLIEST


def _lateness(samples: Floats, times: Times, near: int) -> int | None:
    """By how many samples a sound that is the same at all ``times`` is late (-near to near)."""
    if not samples.any():
        return None
    (white,), _ = _whitened(samples, samples)
    white = white * _quietness(white)
    at = np.round(times * RATE).astype(int)
    padded = np.pad(white, (near, near + _BLUR))
    rows = np.stack([padded[a : a + 2 * near + _BLUR] for a in at])
    mean, spread = rows.mean(axis=0), rows.var(axis=0, ddof=1) / len(rows)
    # Pieces that have nothing in common give a mean about as strong as its own uncertainty.
    same, other = (np.convolve(v, np.ones(_BLUR), "valid") for v in (mean**2, spread))
    alike = same / np.maximum(other, 1e-3 * float(np.mean(other)) + 1e-20)
    best = int(np.argmax(alike))
    if alike[best] < _CLEAR_CLICK:
        return None
    best += int(np.argmax(np.abs(mean[best : best + _BLUR])))
    middle = np.abs(mean)
    first = np.flatnonzero(middle > 0.3 * middle[best])
    first = first[first > best - RATE // 100]
    return int(first[0]) - near


def _sharp(samples: Floats) -> Floats:
    return np.diff(samples, prepend=samples[:1])


def _whitened(rest: Floats, *rows: Floats) -> tuple[list[Floats], Floats]:
    """The rows through the filter that makes ``rest`` as white as linear prediction can; it."""
    from scipy.fft import irfft, next_fast_len, rfft
    from scipy.linalg import solve_toeplitz
    from scipy.signal import lfilter

    size = next_fast_len(len(rest) + _ORDER, real=True)
    own = irfft(np.abs(rfft(rest, size)) ** 2, size)[: _ORDER + 1].astype(np.float64)
    own[0] = own[0] * (1 + 1e-4) + 1e-9
    back = np.append(1.0, -solve_toeplitz(own[:-1], own[1:])).astype(np.float32)
    return [np.asarray(lfilter(back, 1, row), np.float32) for row in rows], back


def _echo(samples: Floats, played: Floats) -> Floats:
    """What the best filter makes of the reference."""
    from scipy.fft import irfft, next_fast_len, rfft
    from scipy.linalg import solve_toeplitz

    size = next_fast_len(len(samples) + _TAPS, real=True)
    plain = rfft(played, size)
    echo = np.zeros_like(samples)
    length = 0.0  # of the filter, squared
    for _ in range(_TURNS):
        (rest, heard, row), _ = _whitened(samples - echo, samples - echo, samples, played)
        weight = _quietness(rest)
        mine = rfft(row * weight, size)
        own = irfft(np.abs(mine) ** 2, size)[:_TAPS].astype(np.float64)
        cross = irfft(rfft(heard * weight, size) * np.conj(mine), size)[:_TAPS]
        # The filter is expected to be no larger than it was found last (a Gaussian prior).
        prior = float(np.mean((rest * weight) ** 2)) * _TAPS / length if length > 0 else 0.0
        own[0] += max((1e-6 if prior else 1e-4) * own[0], prior) + 1e-12
        found = solve_toeplitz(own, cross)
        length = float(np.sum(found**2))
        echo = irfft(plain * rfft(found.astype(np.float32), size), size)[: len(samples)]
    return np.asarray(echo, np.float32)


def _quietness(residual: Floats) -> Floats:
    """One over the local amplitude (120 ms), at most a thousand times the least."""
    width = round(0.12 * RATE)
    total = np.concatenate([[0.0], np.cumsum(residual.astype(np.float64) ** 2)])
    at = np.arange(len(residual))
    low, high = np.clip(at - width // 2, 0, None), np.clip(at + width // 2, None, len(residual))
    size = np.sqrt(np.maximum(total[high] - total[low], 0) / np.maximum(high - low, 1))
    return np.asarray(1 / np.maximum(size, 1e-3 * size.max() + 1e-12), np.float32)
