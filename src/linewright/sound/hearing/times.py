"""When exactly a note begins and ends."""

from __future__ import annotations

from typing import Final

import numpy as np

from linewright.sound.hearing.evidence import STEP, Evidence
from linewright.sound.hearing.frames import HOP, RATE, Sound

__all__ = ["ends", "glides", "starts"]

_BEFORE: Final = round(0.030 * RATE)
_AFTER: Final = round(0.030 * RATE)
_REST: Final = round(0.012 * RATE)  # before the earliest rise
_GRAIN: Final = 22  # samples, 1 ms
#: The rise of a window 46 ms wide is seen this long before its cause.
_EARLY: Final = 0.0075
_PART: Final = 0.12


def starts(sound: Sound, frames: list[int]) -> list[float]:
    """Seconds of each onset: where the treble first rises above what sounded just before.

    The envelope is that of the first difference, in which a pluck's burst stands out of the
    strings that still sound; the onset is where it has risen an eighth of its way. Where
    nothing rises clearly, the moment of the spectrum's change.
    """
    from scipy.ndimage import maximum_filter1d

    out = []
    samples = sound.samples
    sharp = np.abs(np.diff(samples, prepend=samples[:1]))
    if sound.echo is not None:
        left = np.abs(np.diff(sound.echo, prepend=sound.echo[:1]))
        sharp = np.maximum(sharp - sound.doubt * maximum_filter1d(left, 2 * _GRAIN), 0)
    for frame in frames:
        centre = frame * HOP
        low = max(0, centre - _BEFORE)
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
                grain = rest + int(np.argmax(envelope[rest:] > level))
                start = low + grain * _GRAIN
                inside = sharp[start : start + _GRAIN] > level
                found = (start + int(np.argmax(inside))) / RATE
        out.append(found)
    return out


def ends(seen: Evidence, first: int, last: int) -> float:
    """Seconds where a note between two spectra stops sounding: when it falls into the quiet."""
    a, b = first // STEP, max(first // STEP + 1, last // STEP)
    quiet = np.flatnonzero(seen.quiet[a + 2 : b] > 0.5)
    stop = a + 2 + int(quiet[0]) if len(quiet) else b
    return min(stop * STEP, last) * HOP / RATE


def glides(seen: Evidence, first: int, last: int, one: int, two: int) -> bool:
    """Whether the pitch slides, rather than jumps, from ``one`` to ``two`` between two spectra."""
    a, b = first // STEP, last // STEP + 4
    between = 0
    for found in seen.heard[:2]:
        if a >= len(found.pitch):
            continue
        best = np.argmax(found.weight[a:b], axis=1)
        row = np.arange(len(best))
        pitch = found.pitch[a:b][row, best] - seen.tuning
        way = 1 if two > one else -1
        inside = (way * (pitch - one) > -1.3) & (way * (two - pitch) > 0.22)
        off = np.abs(pitch - np.round(pitch)) > 0.2
        between = max(between, int(np.sum(inside & off)))
    return between >= 2
