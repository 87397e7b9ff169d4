"""A plucked string as the sum of its partials, each with its own pitch, height and decay.

The modes of the digital waveguide string that Karplus and Strong (1983) began and Jaffe and
Smith (1983) made tunable, summed in closed form instead of run sample by sample: Woodhouse
(2004) found modal synthesis one of the two best ways of computing a guitar pluck. It puts every
partial exactly where it belongs at any sample rate, and a whole note is one matrix product.

Force on the bridge of a string let go at a share ``p`` of its length: partial ``n`` in
proportion to ``sin(n pi p) / n``, rounded off above the pluck's corner frequency.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from linewright.sound.voices import StrungVoice

__all__ = ["StringModes", "frequency_of", "hammered", "plucked", "string_modes"]

_Complex = NDArray[np.complex128]
_Float = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class StringModes:
    """Modes of a stopped string: one row of partials for each strand.

    A strand is one string of the course in one plane of vibration.

    Parameters
    ----------
    number : ndarray, shape (partials,)
        1, 2, 3, ...
    poles : ndarray of complex, shape (strands, partials)
        In 1/s: minus the loss, plus i times the angular frequency.
    share : ndarray, shape (strands, 1)
        How a pluck divides among the strands.
    """

    number: _Float
    poles: _Complex
    share: _Float


def frequency_of(midi: float) -> float:
    """Hz of a MIDI number in equal temperament at A4 = 440 Hz (ISO 16)."""
    return float(440.0 * 2.0 ** ((midi - 69.0) / 12.0))


@lru_cache(maxsize=512)
def string_modes(
    voice: StrungVoice, frequency: float, speaking: float, damping: float, dulling: float
) -> StringModes:
    """Modes of a string that sounds ``frequency`` Hz.

    Parameters
    ----------
    voice : StrungVoice
    frequency : float
    speaking : float
        Share of the open string that speaks, above 0, at most 1.
    damping : float
        Loss in 1/s added to every partial (a palm, a resting finger).
    dulling : float
        Loss in 1/s per kHz added.
    """
    count = max(1, min(100, int(voice.top / frequency)))
    number = np.arange(1.0, count + 1)
    stiff = voice.stiffness / speaking**2
    partial = frequency * number * np.sqrt((1 + stiff * number**2) / (1 + stiff))
    kilo = partial / 1000.0
    loss = (
        voice.air * (frequency / 110.0) ** 0.45
        + (voice.friction + dulling) * kilo
        + voice.bending * kilo**3
    )
    strands: list[tuple[float, float, float]] = []  # cents, loss factor, share
    pair = (0.0,) if voice.courses == 1 else (-voice.detune, voice.detune)
    for index, cents in enumerate(pair):
        part = (0.55, 0.45)[index] if len(pair) > 1 else 1.0
        strands.append((cents - 0.1, 1.0, part * (1 - voice.slow_share)))
        strands.append((cents + 0.1, voice.slow_loss, part * voice.slow_share))
    table = np.array(strands)
    off, factor, share = table[:, :1], table[:, 1:2], table[:, 2:]
    poles = -(loss * factor + damping) + 2j * np.pi * partial * 2.0 ** (off / 1200.0)
    return StringModes(number, poles, share)


def plucked(modes: StringModes, at: float, corner: float) -> _Complex:
    """Force of each mode after a pluck of unit depth at share ``at`` of the string."""
    partial = modes.poles.imag / (2 * np.pi)
    rounded = 1.0 / (1.0 + (partial / corner) ** 2)
    force = modes.share * np.sin(modes.number * np.pi * at) / modes.number * rounded
    return force.astype(np.complex128)


def hammered(modes: StringModes, corner: float) -> _Complex:
    """Force of each mode when a finger lands at the end of the string that now speaks."""
    partial = modes.poles.imag / (2 * np.pi)
    rounded = 1.0 / (1.0 + (partial / corner) ** 2)
    force = modes.share * np.cos(modes.number * np.pi) / modes.number * rounded
    return force.astype(np.complex128)
