"""Measuring sound by textbook means that share nothing with the synthesis."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from linewright.score import Part, Performance, Stroke

#: One quarter lasts one second, so that onsets read as seconds.
BPM = Fraction(60)


def played(*strokes: Stroke, voice: str = "steel", length: Fraction | None = None) -> Performance:
    """A lead of a few strokes, a second to the quarter."""
    end = max(stroke.end for stroke in strokes)
    return Performance((Part("lead", voice, strokes),), length or end, BPM)


def mono(sound: NDArray[np.float32]) -> NDArray[np.float64]:
    """Both channels together, in double precision."""
    return sound.astype(np.float64).mean(axis=1)


def peak_frequency(sound: NDArray[np.float64], rate: int, near: float) -> float:
    """Hz of the partial within a semitone of ``near``: Hann window, eightfold zero padding,
    parabola through the logarithms of the three highest bins (Smith and Serra 1987)."""
    window = np.hanning(len(sound))
    size = 1 << int(np.ceil(np.log2(8 * len(sound))))
    spectrum = np.abs(np.fft.rfft(sound * window, size))
    low, high = (int(near * ratio * size / rate) for ratio in (2 ** (-1 / 12), 2 ** (1 / 12)))
    top = low + int(spectrum[low : high + 1].argmax())
    left, middle, right = np.log(spectrum[top - 1 : top + 2])
    shift = 0.5 * (left - right) / (left - 2 * middle + right)
    return float((top + shift) * rate / size)


def cents(frequency: float, midi: float) -> float:
    """Deviation from equal temperament at A4 = 440 Hz (ISO 16)."""
    return float(1200 * np.log2(frequency / 440.0) - 100 * (midi - 69))


def band_decay(sound: NDArray[np.float64], rate: int, frequency: float) -> float:
    """Seconds to fall by 60 dB of what lies at a frequency: heterodyne, 50 ms mean, straight line
    through the decibels of its first 25 dB."""
    time = np.arange(len(sound)) / rate
    beat = sound * np.exp(-2j * np.pi * frequency * time)
    hop = round(0.05 * rate)
    count = len(beat) // hop - 1
    level = np.array(
        [abs((beat[k * hop : (k + 2) * hop] * np.hanning(2 * hop)).sum()) for k in range(count)]
    )
    decibels = 20 * np.log10(np.maximum(level / level.max(), 1e-9))
    start = int(decibels.argmax())
    after = np.nonzero(decibels[start:] < -25)[0]
    stop = start + (int(after[0]) if len(after) else len(decibels) - start)
    at = np.arange(start, stop) * hop / rate
    slope = np.polyfit(at, decibels[start:stop], 1)[0]
    return float(-60 / slope)
