"""Our own click or band, taken out of what the microphone heard.

What was played is known; what the room, the loudspeaker and the microphone made of it is found
by least squares (Wiener's filter, some 70 ms long, by the Levinson recursion), after the delay has
been found by the cross-correlation with phase transform (Knapp and Carter, IEEE Trans. ASSP 24,
1976). Nothing is taken out unless it clearly is in the recording.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from linewright.sound.hearing.frames import RATE, Floats

__all__ = ["cancelled", "click_track"]

_LATEST: Final = round(0.8 * RATE)
_EARLIEST: Final = round(0.15 * RATE)
_TAPS: Final = 1536
_LEAD: Final = 128
_TURNS: Final = 3
_CLEAR: Final = 7.0  # times the usual height of the correlation


def click_track(times: list[float], length: int) -> Floats:
    """An impulse at each time; the filter found for it is the click itself."""
    out = np.zeros(length, np.float32)
    at = np.round(np.array(times) * RATE).astype(int)
    out[at[(at >= 0) & (at < length)]] = 1.0
    return out


def cancelled(samples: Floats, played: Floats) -> tuple[Floats, float | None]:
    """The recording without what was played, and how many seconds late that was found.

    Parameters
    ----------
    samples, played : arrays
        Both at :data:`~linewright.sound.hearing.frames.RATE`, from the same moment on.

    Returns
    -------
    samples : array
        Unchanged where ``played`` is not found in them.
    late : float or None
    """
    count = len(samples)
    reference = np.zeros(count, np.float32)
    reference[: min(count, len(played))] = played[:count]
    if not reference.any() or not samples.any():
        return samples, None
    late = _delay(samples, reference)
    if late is None:
        return samples, None
    shifted = np.zeros_like(reference)
    start = late - _LEAD
    if start >= 0:
        shifted[start:] = reference[: count - start]
    else:
        shifted[:start] = reference[-start:]
    return (samples - _echo(samples, shifted)).astype(np.float32), late / RATE


def _size(count: int) -> int:
    return 1 << (count - 1).bit_length()


def _delay(samples: Floats, reference: Floats) -> int | None:
    size = _size(len(samples) + _LATEST + _EARLIEST)
    one, two = np.fft.rfft(_sharp(samples), size), np.fft.rfft(_sharp(reference), size)
    cross = one * np.conj(two)
    weight = np.maximum(np.abs(cross), 1e-3 * float(np.max(np.abs(cross))) + 1e-20)
    alike = np.fft.irfft(cross / weight, size)
    lags = np.concatenate([alike[-_EARLIEST:], alike[: _LATEST + 1]])
    height = np.abs(lags)
    best = int(np.argmax(height))
    if height[best] < _CLEAR * float(np.sqrt(np.mean(height**2))):
        return None
    near = np.flatnonzero(height > 0.5 * height[best])  # the direct sound comes first
    near = near[near > best - RATE // 100]
    return int(near[0]) - _EARLIEST


def _sharp(samples: Floats) -> Floats:
    return np.diff(samples, prepend=samples[:1])


def _echo(samples: Floats, shifted: Floats) -> Floats:
    """What the best filter makes of the reference.

    Moments in which the player is quiet count for more, in proportion to their quietness, so
    that the playing on every beat is not taken for a part of the click (least squares weighed
    anew by the residual, three times).
    """
    from scipy.linalg import solve_toeplitz

    size = _size(len(samples) + _TAPS)
    spectrum = np.fft.rfft(shifted, size)
    echo = np.zeros_like(samples)
    for turn in range(_TURNS):
        weight = np.ones_like(samples) if turn == 0 else _quietness(samples - echo)
        seen = np.fft.rfft(shifted * weight, size)
        own = np.fft.irfft(np.abs(seen) ** 2, size)[:_TAPS]
        cross = np.fft.irfft(np.fft.rfft(samples * weight, size) * np.conj(seen), size)[:_TAPS]
        own[0] = own[0] * (1 + 1e-4) + 1e-12
        found = solve_toeplitz(own, cross)
        filtered = np.fft.irfft(spectrum * np.fft.rfft(found, size), size)
        echo = np.asarray(filtered[: len(samples)], np.float32)
    return echo


def _quietness(residual: Floats) -> Floats:
    """One over the local amplitude (80 ms), at most a thousand times the least."""
    width = round(0.08 * RATE)
    total = np.concatenate([[0.0], np.cumsum(residual.astype(np.float64) ** 2)])
    at = np.arange(len(residual))
    low, high = np.clip(at - width // 2, 0, None), np.clip(at + width // 2, None, len(residual))
    size = np.sqrt(np.maximum(total[high] - total[low], 0) / np.maximum(high - low, 1))
    return np.asarray(1 / np.maximum(size, 1e-3 * size.max() + 1e-12), np.float32)
