"""How late our own sound comes back: our clicks found in a recording of them.

The player's loudspeaker plays a row of clicks, the microphone records them. A matched filter (the
click itself, correlated with the recording; the textbook detector of a known signal in white
noise, e.g. Turin, "An introduction to matched filters", IRE Trans. IT-6, 1960) is summed over the
clicks at every delay; the delay with the largest sum is refined between samples by a parabola. It
is believed only when most clicks, each by itself, say the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linewright.errors import OptionError, TakeError
from linewright.sound.voice_click import click_sound

__all__ = ["EARLIEST_S", "LATEST_S", "Clicks", "calibrate", "clicks_alone", "find_clicks"]


#: Delays that are looked for.
EARLIEST_S: Final = -0.1
LATEST_S: Final = 1.0
_LEAST_CLICKS: Final = 4
_CLEAR: Final = 5.0  # times the usual height of the sum
#: The same while someone plays: plucks on the beat, all alike, come to 6.0 at most in our own
#: renders, a click a quarter as loud as usual to 7.7 at least.
_CLEAR_PLAYED: Final = 7.0
_AGREE_S: Final = 0.002
_AGREE: Final = 0.6
_AGREE_PLAYED: Final = 0.4  # a click under a note is not its own loudest moment
_THERE: Final = 0.3
_CLOSEST_S: Final = 0.14
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Clicks:
    """Clicks found in a recording: how late they are, and where each of them lies."""

    delay_s: float
    times: tuple[float, ...]
    accents: tuple[bool, ...]


def calibrate(samples: ArrayLike, rate: int, click_times: Sequence[float]) -> float:
    """Seconds by which our clicks come late in a recording.

    Parameters
    ----------
    samples : array-like, shape (n,)
        One channel, recorded with the clicks audible and nobody playing.
    rate : int
        Samples a second, 8,000 to 192,000.
    click_times : sequence of float
        When each click was played out, in seconds of the recording; four or more, at least 140 ms
        apart. Clicks that are all equally far apart are looked for up to that distance only: later
        ones could not be told from the next click.

    Returns
    -------
    float
        Between :data:`EARLIEST_S` and :data:`LATEST_S`; accents may be anywhere.

    Raises
    ------
    TakeError
        When the clicks are not clearly found.
    OptionError
        For a rate or times that cannot be.
    """
    sound, times = _checked(samples, rate, click_times)
    found = _find(sound, rate, times, _CLEAR, _AGREE)
    if found is None:
        raise TakeError(
            "our clicks were not found in the recording",
            accepted="Turn the loudspeaker up, take headphones off, and let nobody play meanwhile",
        )
    return found.delay_s


def find_clicks(samples: ArrayLike, rate: int, click_times: Sequence[float]) -> Clicks | None:
    """Our clicks in a recording of somebody playing to them; None when they cannot be heard in it.

    Parameters are those of :func:`calibrate`; clicks may be missing (a click on two and four, bars
    of silence).
    """
    sound, times = _checked(samples, rate, click_times)
    return _find(sound, rate, times, _CLEAR_PLAYED, _AGREE_PLAYED)


def _checked(samples: ArrayLike, rate: int, click_times: Sequence[float]) -> tuple[Floats, Floats]:
    sound = np.asarray(samples, np.float64)
    times = np.sort(np.asarray(click_times, np.float64))
    if sound.ndim != 1:
        raise OptionError("the samples are not in one row", accepted="Mix channels down first")
    if not 8_000 <= rate <= 192_000:
        raise OptionError(f"{rate} samples a second", accepted="Use 8,000 to 192,000")
    if len(times) < _LEAST_CLICKS or not np.all(np.isfinite(times)):
        raise OptionError(
            f"{len(times)} click times", accepted=f"Give {_LEAST_CLICKS} or more, in seconds"
        )
    if np.min(np.diff(times)) < _CLOSEST_S:
        raise OptionError(
            "clicks too close together", accepted=f"At least {1000 * _CLOSEST_S:.0f} ms apart"
        )
    return np.nan_to_num(sound, nan=0.0, posinf=0.0, neginf=0.0), times


def _find(sound: Floats, rate: int, times: Floats, clear: float, agree: float) -> Clicks | None:
    first = round(EARLIEST_S * rate)
    gaps = np.diff(times)
    is_even = float(np.ptp(gaps)) < 0.02
    latest = min(LATEST_S, float(gaps.min()) + EARLIEST_S - 0.02) if is_even else LATEST_S
    count = round(latest * rate) - first + 1
    matched = [_matched(sound, rate, accented) for accented in (False, True)]
    rows, used = [], []
    for time in times:
        at = round(float(time) * rate) + first
        row = np.stack([_cut(signal, at, count) for signal in matched])
        if np.any(row):
            rows.append(row)
            used.append(float(time))
    if len(rows) < _LEAST_CLICKS:
        return None
    # Each click is plain or accented: the kind that answers more strongly over all delays.
    accents = [bool(np.argmax(np.max(np.abs(row), axis=1))) for row in rows]
    own = [row[int(accent)] for row, accent in zip(rows, accents, strict=True)]
    # A loud click must not outvote the others, nor a player's cough.
    even = [one / (np.max(np.abs(one)) or 1.0) for one in own]
    total = np.sum(even, axis=0)
    height = np.abs(total)
    best = int(np.argmax(height))
    if height[best] < clear * float(np.sqrt(np.mean(height**2))):
        return None
    near = round(_AGREE_S * rate)
    span = slice(max(0, best - near), best + near + 1)
    sure = np.array([float(np.max(np.abs(one[span]))) > 0.9 for one in even])
    if np.mean(sure) < agree:
        return None
    delay = (first + best + _between(height, best)) / rate
    heights = np.array([float(np.max(np.abs(one[span]))) for one in own])
    there = heights > _THERE * float(np.median(heights[sure]))
    return Clicks(
        delay,
        tuple(time + delay for time, is_there in zip(used, there, strict=True) if is_there),
        tuple(accent for accent, is_there in zip(accents, there, strict=True) if is_there),
    )


def clicks_alone(clicks: Clicks, count: int, rate: int) -> NDArray[np.float32]:
    """Those clicks as they were played out, in a recording of ``count`` samples."""
    out = np.zeros(count, np.float32)
    for time, accented in zip(clicks.times, clicks.accents, strict=True):
        at = round(time * rate)
        if 0 <= at < count:
            sound = click_sound(rate, accented)[: count - at]
            out[at : at + len(sound)] += sound
    return out


def _matched(sound: Floats, rate: int, accented: bool) -> Floats:
    """The recording through the click's matched filter: at each sample, how much a click that
    begins there is in it.
    """
    from scipy.signal import fftconvolve

    click = click_sound(rate, accented).astype(np.float64)
    full = fftconvolve(sound, click[::-1])[len(click) - 1 :]
    return np.asarray(full / np.sqrt(np.sum(click**2)), np.float64)


def _cut(signal: Floats, start: int, count: int) -> Floats:
    out = np.zeros(count)
    low, high = max(start, 0), min(start + count, len(signal))
    if high > low:
        out[low - start : high - start] = signal[low:high]
    return out


def _between(height: Floats, best: int) -> float:
    """Where between samples the top lies, -0.5 to 0.5."""
    if not 0 < best < len(height) - 1:
        return 0.0
    left, middle, right = height[best - 1 : best + 2]
    bend = left - 2 * middle + right
    return float(np.clip(0.5 * (left - right) / bend, -0.5, 0.5)) if bend < 0 else 0.0
