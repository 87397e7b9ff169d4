"""From stems to a programme: loudness, true peak, ends."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.sound.loudness import integrated_loudness
from linewright.sound.mix_limiter import CEILING, Limiter

__all__ = ["TARGET_LUFS", "faded", "mastered", "programme_gain"]

_Sound = NDArray[np.float32]

#: Programme loudness asked for.
TARGET_LUFS: Final = -16.0
#: The limiter never takes away more than this on the way to the target: sparse clicks stay soft.
_MOST_LIMITING: Final = 10 ** (9.0 / 20)
#: Softer than this nothing sounds, and nothing is made louder.
_SILENCE: Final = 1e-6
_ROUNDS: Final = 3


def programme_gain(samples: _Sound, rate: int) -> float:
    """Linear gain that brings a programme to the target loudness, limiting counted in.

    1.0 for silence; less than the target asks when the limiter would have to take away too much.
    """
    peak = float(np.abs(samples).max(initial=0.0))
    loudness = integrated_loudness(samples, rate)
    if peak < _SILENCE or math.isinf(loudness):
        return 1.0
    most = CEILING * _MOST_LIMITING / peak
    gain = min(10 ** ((TARGET_LUFS - loudness) / 20), most)
    limiter = Limiter(rate)
    for _ in range(_ROUNDS):
        if gain * peak <= CEILING * 0.9 or gain == most:
            break
        limited = limiter.limited(samples * np.float32(gain), 0, len(samples))
        missing = TARGET_LUFS - integrated_loudness(limited, rate)
        if abs(missing) < 0.1:
            break
        gain = min(gain * 10 ** (missing / 20), most)
    return gain


def mastered(stems: Mapping[str, _Sound], rate: int, *, loop: bool = False) -> dict[str, _Sound]:
    """Stems whose sum has the target loudness and no true peak over the ceiling.

    One gain serves all. A loop is limited with its end before its start.
    """
    total = sum(stems.values(), start=np.zeros_like(next(iter(stems.values()))))
    gain = np.float32(programme_gain(total, rate))
    limiter = Limiter(rate)
    before = min(limiter.needs, len(total)) if loop else 0
    around = total
    if before:
        around = np.concatenate((total[-before:], total, total[:before]))
    curve = limiter.gain(around * gain, before, len(total))
    factor = gain if curve is None else gain * curve[:, None]
    return {group: stem * factor for group, stem in stems.items()}


def faded(stems: Mapping[str, _Sound], fade: int) -> dict[str, _Sound]:
    """Stems that fade to nothing over their last ``fade`` samples."""
    out = {}
    for group, stem in stems.items():
        length = min(fade, len(stem))
        copy = stem.copy()
        copy[len(stem) - length :] *= np.linspace(1.0, 0.0, length, dtype=np.float32)[:, None]
        out[group] = copy
    return out
