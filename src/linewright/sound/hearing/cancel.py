"""Our own clicks and backing, taken out of what the microphone heard.

What was played is known; what the room, the loudspeaker and the microphone made of it is found
by least squares (a filter some 46 ms long, by the Levinson recursion), after the delay has been
found by the cross-correlation with phase transform (Knapp and Carter, IEEE Trans. ASSP 24, 1976).
The playing is the noise of that problem: it is whitened by linear prediction and weighed by its
loudness (Aitken's generalised least squares), anew as the residual gets better known; clicks and
other bursts with rests between are heard one by one (``bursts``). Nothing is taken out unless it
clearly is in the recording.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from linewright.sound.hearing.bursts import find_bursts, likeliest, weighed
from linewright.sound.hearing.frames import RATE, Floats, fast_size, filtered

__all__ = ["Cleared", "cancelled"]

_LATEST: Final = round(0.8 * RATE)
_EARLIEST: Final = round(0.15 * RATE)
_TAPS: Final = 1024
_LEAD: Final = 128
_TURNS: Final = 2  # of a band; more were no better
_BURST_TURNS: Final = 4
_FEWEST: Final = 4  # bursts whose halves are set against each other
_ORDER: Final = 16
_CLEAR: Final = 7.0  # times the usual height of the correlation
_GRAIN: Final = 21  # samples the local amplitude is first summed over: 1 ms
_BLOCKS: Final = 64  # transformed at once


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
    wrong : float or None
        What share of its amplitude is expected to be wrong, where that can be told.
    """

    samples: Floats
    late: float | None = None
    echo: Floats | None = None
    wrong: float | None = None


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
    echo, wrong = _echo(samples, _moved(reference, late - _LEAD))
    return Cleared((samples - echo).astype(np.float32), late / RATE, echo, wrong)


def _moved(row: Floats, by: int) -> Floats:
    out = np.zeros_like(row)
    if by >= 0:
        out[by:] = row[: len(row) - by]
    else:
        out[:by] = row[-by:]
    return out


def _delay(samples: Floats, reference: Floats) -> int | None:
    if not reference.any() or not samples.any():
        return None
    size = fast_size(len(samples) + _LATEST + _EARLIEST)
    one, two = (np.fft.rfft(_sharp(row), size) for row in (samples, reference))
    cross = one * np.conj(two)
    weight = np.maximum(np.abs(cross), 1e-3 * float(np.max(np.abs(cross))) + 1e-20)
    alike = np.fft.irfft(cross / weight, size)
    height = np.abs(np.concatenate([alike[-_EARLIEST:], alike[: _LATEST + 1]]))
    best = int(np.argmax(height))
    if height[best] < _CLEAR * float(np.sqrt(np.mean(height**2))):
        return None
    near = np.flatnonzero(height > 0.5 * height[best])  # the direct sound comes first
    near = near[near > best - RATE // 100]
    return int(near[0]) - _EARLIEST


def _sharp(samples: Floats) -> Floats:
    return np.diff(samples, prepend=samples[:1])


def _whitened(rest: Floats, *rows: Floats) -> list[Floats]:
    """All through the filter that makes ``rest`` as white as linear prediction can."""
    own = np.array([np.dot(rest[k:], rest[: len(rest) - k]) for k in range(_ORDER + 1)], np.float64)
    own[0] = own[0] * (1 + 1e-4) + 1e-9
    back = np.append(1.0, -_solved(own[:-1], own[1:])).astype(np.float32)
    return [filtered(row, back) for row in (rest, *rows)]


def _echo(samples: Floats, played: Floats) -> tuple[Floats, float | None]:
    """What the best filter makes of the reference, and what share of it may be wrong."""
    echo = np.zeros_like(samples)
    found = np.zeros(_TAPS)
    bursts = find_bursts(played, _TAPS)
    for turn in range(_TURNS if bursts is None else _BURST_TURNS):
        rest, row, *others = _whitened(samples - echo, played, *([samples] if turn else []))
        heard = others[0] if turn else rest
        if bursts is not None:
            last = found
            halves = weighed(bursts, row, heard, rest, _TAPS)
            found = likeliest(halves[0].sum(axis=0), halves[1].sum(axis=0), last)
        else:
            weight = _quietness(rest)
            own, cross = _alike(row * weight, heard * weight)
            # The filter is expected to be no larger than it was found last (a Gaussian prior).
            length = float(np.sum(found**2))
            prior = float(np.mean((rest * weight) ** 2)) * _TAPS / length if length > 0 else 0.0
            own[0] += max((1e-6 if prior else 1e-4) * own[0], prior) + 1e-12
            found = _solved(own, cross)
        echo = _filtered(played, found.astype(np.float32))
    if bursts is None or len(bursts.starts) < _FEWEST:
        return echo, None
    # Filters found from one half of the bursts and from the other differ by twice the error of
    # that found from all.
    one, two = (likeliest(2 * own, 2 * cross, last) for own, cross in zip(*halves, strict=True))
    wrong = _filtered(played, (0.5 * (one - two)).astype(np.float32))
    return echo, float(np.sqrt(np.sum(wrong**2) / (np.sum(echo**2) + 1e-20)))


def _solved(own: NDArray[np.float64], cross: NDArray[np.float64]) -> NDArray[np.float64]:
    """The filter whose autocorrelation equations these are, by Levinson's recursion.

    Their matrix is symmetric and constant along its diagonals (Levinson, J. Math. Phys. 25, 1946).
    """
    both = np.zeros((2, len(own)))  # the filter, and that of prediction, which starts with its 1
    found, back = both
    found[0], back[0] = cross[0] / own[0], 1.0
    left = own[0]
    turned = np.ascontiguousarray(own[::-1])
    for n in range(1, len(own)):
        given, next_one = (both[:, :n] @ turned[-n - 1 : -1]).tolist()
        turn = -next_one / left
        back[1 : n + 1] += turn * back[n - 1 :: -1]
        left *= 1 - turn * turn
        found[: n + 1] += (cross[n] - given) / left * back[n::-1]
    return found


def _filtered(row: Floats, taps: Floats) -> Floats:
    """``row`` through a filter, as long as it was: block by block, overlapping results added."""
    size = 4 * _TAPS
    step = size - len(taps) + 1
    count = -(-len(row) // step)
    blocks = np.pad(row, (0, count * step - len(row))).reshape(count, step)
    shape = np.fft.rfft(taps, size)
    out = np.zeros(count * step + size, np.float32)
    for first in range(0, count, _BLOCKS):
        some = first + np.flatnonzero(blocks[first : first + _BLOCKS].any(axis=1))
        part = np.fft.irfft(np.fft.rfft(blocks[some], size, axis=1) * shape, axis=1)
        for number, block in zip(some, part, strict=True):
            out[number * step : number * step + size] += block
    return out[: len(row)]


def _alike(row: Floats, heard: Floats) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Autocorrelation of ``row`` and what of ``heard`` follows it, by lag up to the filter's length.

    Summed over blocks: far quicker than one transform of all.
    """
    size, step = 4 * _TAPS, 3 * _TAPS
    count = -(-len(row) // step)
    later = [np.pad(x, (0, count * step + _TAPS - len(x))) for x in (row, heard)]
    blocks = [np.lib.stride_tricks.sliding_window_view(x, size)[::step] for x in later]
    own = np.zeros(size // 2 + 1, np.complex128)
    cross = np.zeros_like(own)
    for first in range(0, count, _BLOCKS):
        some = first + np.flatnonzero(blocks[0][first : first + _BLOCKS, :step].any(axis=1))
        mine, theirs = (b[some] for b in blocks)
        head = np.conj(np.fft.rfft(mine[:, :step], size, axis=1))
        own += (head * np.fft.rfft(mine, axis=1)).sum(axis=0)
        cross += (head * np.fft.rfft(theirs, axis=1)).sum(axis=0)
    return np.fft.irfft(own, size)[:_TAPS], np.fft.irfft(cross, size)[:_TAPS]


def _quietness(residual: Floats) -> Floats:
    """One over the local amplitude (120 ms), at most a thousand times the least."""
    grains = -(-len(residual) // _GRAIN)
    power = np.pad(residual, (0, grains * _GRAIN - len(residual))).reshape(grains, _GRAIN)
    power = np.einsum("gk,gk->g", power, power, dtype=np.float64) / _GRAIN
    width = round(0.12 * RATE / _GRAIN)
    size = np.sqrt(np.maximum(np.convolve(power, np.full(width, 1 / width), "same"), 0))
    size = np.maximum(size, 1e-3 * size.max() + 1e-12).astype(np.float32)
    # In between, along straight lines from the middle of one grain to that of the next.
    low, high = (np.concatenate(x) for x in ((size[:1], size), (size, size[-1:])))
    share = (np.arange(_GRAIN, dtype=np.float32) + 0.5) / _GRAIN
    lines = (low[:, None] + (high - low)[:, None] * share).ravel()
    return np.asarray(1 / lines[_GRAIN // 2 :][: len(residual)], np.float32)
