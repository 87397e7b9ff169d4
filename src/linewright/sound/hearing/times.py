"""When exactly a note begins and ends."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.sound.hearing.evidence import STEP, Evidence
from linewright.sound.hearing.frames import HOP, RATE, Sound, greatest

__all__ = ["ends", "glides", "slide_start", "starts"]

_BEFORE: Final = round(0.030 * RATE)
_AFTER: Final = round(0.030 * RATE)
_REST: Final = round(0.012 * RATE)  # before the earliest rise
_GRAIN: Final = 22  # samples, 1 ms
#: The rise of a window 46 ms wide is seen this long before its cause.
_EARLY: Final = 0.0075
_PART: Final = 0.12
_NEARLY: Final = 0.8  # of the way up, from where the rise is followed back
_PAUSE: Final = 6  # grains; what rose and fell away longer before is not this rise
_RAMPS: Final = (4, 5, 6, 7, 8, 10, 12)  # pitch frames a step of a slide may take
_LIKE_A_RAMP: Final = 0.85  # its misfit against that of a step
_SURE_RAMP: Final = 0.6
_AROUND: Final = 20  # spectra before a move, and half so many after, a slide may reach


def starts(sound: Sound, frames: list[int]) -> list[float]:
    """Seconds of each onset: where the treble first rises above what sounded just before.

    The envelope is that of the first difference, in which a pluck's burst stands out of the
    strings that still sound; the onset is where it has risen an eighth of its way, followed back
    from its height. Where nothing rises clearly, the moment of the spectrum's change.
    """
    out = []
    samples = sound.samples
    sharp = np.abs(np.diff(samples, prepend=samples[:1]))
    if sound.echo is not None:
        left = np.abs(np.diff(sound.echo, prepend=sound.echo[:1]))
        sharp = np.maximum(sharp - sound.doubt * greatest(left, _GRAIN), 0)
    sharp = np.pad(sharp, (_BEFORE, 0))  # before the recording there is silence
    for frame in frames:
        centre = frame * HOP + _BEFORE
        low = centre - _BEFORE
        part = sharp[low : centre + _AFTER]
        count = len(part) // _GRAIN
        rest = (centre - low - _REST) // _GRAIN
        found = frame * HOP / RATE + _EARLY
        if rest >= 3 and count > rest + 10:
            envelope = part[: count * _GRAIN].reshape(count, _GRAIN).max(axis=1)
            ground = float(np.max(envelope[:rest]))
            top = float(np.max(envelope[rest:]))
            if top > 1.8 * ground:
                level = ground + _PART * (top - ground)
                grain = rest + _foot(envelope[rest:] > level, envelope[rest:] >= _NEARLY * top)
                start = low + grain * _GRAIN
                inside = sharp[start : start + _GRAIN] > level
                found = max(0, start + int(np.argmax(inside)) - _BEFORE) / RATE
        out.append(found)
    return out


def _foot(above: NDArray[np.bool_], high: NDArray[np.bool_]) -> int:
    """Where the rise to the first ``high`` grain begins: before it, only short pauses are bridged."""
    there = np.flatnonzero(above[: int(np.argmax(high)) + 1])
    breaks = np.flatnonzero(np.diff(there) > _PAUSE + 1)
    return int(there[breaks[-1] + 1] if len(breaks) else there[0])


def ends(seen: Evidence, first: int, last: int) -> float:
    """Seconds where a note between two spectra stops sounding: when it falls into the quiet."""
    a, b = first // STEP, max(first // STEP + 1, last // STEP)
    quiet = np.flatnonzero(seen.quiet[a + 2 : b] > 0.5)
    stop = a + 2 + int(quiet[0]) if len(quiet) else b
    return min(stop * STEP, last) * HOP / RATE


def glides(seen: Evidence, first: int, last: int, one: int, two: int) -> bool:
    """Whether the pitch slides, rather than jumps, from ``one`` to ``two`` between two spectra."""
    return _ramp(seen, first, last, one, two)[0] < _LIKE_A_RAMP


def slide_start(seen: Evidence, before: int, cut: int, one: int, two: int) -> float | None:
    """Seconds where the slide that is heard as a move at ``cut`` leaves its first pitch.

    None where the pitch jumps. Nothing before the spectrum ``before`` is looked at.
    """
    first = max(before, cut - _AROUND)
    misfit, start = _ramp(seen, first, cut + _AROUND // 2, one, two)
    return None if misfit > _SURE_RAMP else (first // STEP + start) * STEP * HOP / RATE


def _ramp(seen: Evidence, first: int, last: int, one: int, two: int) -> tuple[float, float]:
    """How much better a ramp than a step fits the pitches of the frames: the sum of absolute
    deviations against that of the best step; and the pitch frame, from the first, it starts at.
    """
    a, b = first // STEP, last // STEP + 4
    way, size = (1, two - one) if two > one else (-1, one - two)
    best = (np.inf, 0.0)
    for found in seen.heard[:2]:
        pitch = way * (found.pitch[a:b] - seen.tuning - one)
        weight = np.where((pitch > -0.6) & (pitch < size + 0.6), found.weight[a:b], 0)
        row = np.arange(len(pitch))
        top = np.argmax(weight, axis=1) if len(row) else row
        sure = weight[row, top] > 0.05
        at, track = row[sure], pitch[row, top][sure]
        if len(at) < 5:
            continue
        starts = np.arange(-2, b - a)
        lengths = np.array([0.5, *_RAMPS])
        ramp = size * np.clip((at - starts[:, None, None]) / lengths[:, None], 0, 1)
        off = np.abs(track - ramp).mean(axis=2)
        start, length = np.unravel_index(int(np.argmin(off[:, 1:])), off[:, 1:].shape)
        misfit = float(off[start, length + 1] / max(off[:, 0].min(), 0.02))
        if misfit < best[0]:
            best = (misfit, float(starts[start]))
    return best
