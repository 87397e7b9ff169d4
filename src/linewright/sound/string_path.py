"""How the pitch of one note moves while it sounds: bends, releases, slides, vibrato."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.score.performance import Stroke

__all__ = ["pitch_path", "read_at", "warped_time"]

_Float = NDArray[np.float64]

#: Seconds a bend, the letting down of one, one fret of a slide, and a slide away may take,
#: and the share of its note that each may take at most.
_BEND: Final = (0.2, 0.4)
_RELEASE: Final = (0.14, 0.4)
_FRET: Final = (0.045, 0.45)
_AWAY: Final = (0.28, 0.5)
#: Share of the time on a fret during which the finger is under way to the next.
_UNDERWAY: Final = 0.45
#: Vibrato: cycles a second, semitones to each side, share of the note before it begins, and the
#: most seconds before it does in a note left to ring.
_VIBRATO: Final = (5.4, 0.2, 0.25, 0.3)


def pitch_path(
    stroke: Stroke, count: int, rate: int, *, start: float = 0.0, towards: float | None = None
) -> _Float | None:
    """Semitones above ``stroke.midi`` at every sample, or None when the pitch stands still.

    Parameters
    ----------
    stroke : Stroke
    count, rate : int
        Samples the note lasts, and samples a second.
    start : float
        Where a released bend comes from.
    towards : float, optional
        Where a slide to the next note goes; it gets there at the end.
    """
    bent = float(stroke.bend)
    still = not (bent or start or stroke.lead_in or stroke.lead_out or stroke.vibrato or towards)
    if still or count < 8:
        return None
    path = np.zeros(count)
    if bent:
        rise = _samples(_BEND, 1, count, rate)
        path += bent
        path[:rise] = bent * _smooth(np.arange(rise) / rise)
    if start:
        fall = _samples(_RELEASE, 1, count, rate)
        path[:fall] += start * (1 - _smooth(np.arange(fall) / fall))
    if stroke.lead_in:
        frets = abs(stroke.lead_in)
        span = _samples(_FRET, frets, count, rate)
        path[:span] += stroke.lead_in * (1 - _stepped(np.arange(span) / span, frets))
    if stroke.vibrato:
        _add_vibrato(path, rate, stroke.ring)
    if towards:
        frets = max(1, round(abs(towards - bent)))
        span = _samples(_FRET, frets, count, rate)
        path[-span:] += (towards - bent) * _stepped(np.arange(1, span + 1) / span, frets)
    elif stroke.lead_out:
        span = _samples(_AWAY, 1, count, rate)
        way = _stepped(np.arange(1, span + 1) / span, abs(stroke.lead_out))
        path[-span:] += stroke.lead_out * way
    return path


def warped_time(path: _Float) -> _Float:
    """Samples of the unmoved note passed at every sample of the moved one, from 0."""
    speed = np.exp2(path / 12)
    time = np.empty(len(path))
    time[0] = 0.0
    np.cumsum((speed[:-1] + speed[1:]) / 2, out=time[1:])
    return time


def read_at(sound: NDArray[np.float32], time: _Float) -> NDArray[np.float32]:
    """``sound`` between its samples: Lagrange interpolation through six of them.

    ``time`` must stay three samples short of the end.
    """
    padded = np.concatenate((np.zeros(2, dtype=np.float32), sound))
    whole = time.astype(np.int64)
    part = (time - whole).astype(np.float32)
    off = [part + np.float32(2 - k) for k in range(6)]  # distance from each of the six
    result = np.zeros(len(time), dtype=np.float32)
    for k, denominator in enumerate((-120, 24, -12, 12, -24, 120)):
        weight = np.full(len(time), np.float32(1 / denominator))
        for other in range(6):
            if other != k:
                weight *= off[other]
        result += weight * padded[whole + k]
    return result


def _samples(limits: tuple[float, float], times: int, count: int, rate: int) -> int:
    seconds, share = limits
    return max(2, min(round(seconds * times * rate), round(count * share)))


def _smooth(at: _Float) -> _Float:
    return at * at * (3 - 2 * at)


def _stepped(at: _Float, frets: int) -> _Float:
    """From 0 to 1 fret by fret: resting on each, then gliding to the next."""
    whole = np.minimum(np.floor(at * frets), frets - 1)
    within = np.clip((at * frets - whole - (1 - _UNDERWAY)) / _UNDERWAY, 0.0, 1.0)
    return (whole + _smooth(within)) / frets


def _add_vibrato(path: _Float, rate: int, ring: bool) -> None:
    cycles, depth, share, most = _VIBRATO
    begin = round(len(path) * share)
    if ring:
        begin = min(begin, round(most * rate))
    time = np.arange(len(path) - begin) / rate
    swell = np.minimum(1.0, time / 0.15)
    path[begin:] += depth * swell * np.sin(2 * np.pi * cycles * time)
