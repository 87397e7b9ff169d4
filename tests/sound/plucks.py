"""A plain pluck for tests of hearing: decaying partials after a short burst of noise.

No part of what is tested; nothing here is shared with the voices of the program.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

RATE = 22_050


def pluck(midi: float, seconds: float, rate: int = RATE, seed: int = 0) -> NDArray[np.float32]:
    """One note."""
    at = np.arange(round(seconds * rate)) / rate
    hz = 440 * 2 ** ((midi - 69) / 12)
    out = np.zeros(len(at))
    for k in range(1, 16):
        if hz * k < 0.45 * rate:
            out += np.sin(2 * np.pi * hz * k * at + k) * np.exp(-at * (1.5 + 0.8 * k)) / k
    noise = np.random.default_rng(seed + round(10 * midi)).normal(0, 0.5, len(at))
    out += noise * np.exp(-at / 0.004)
    fade = np.minimum(1, (seconds - at) / 0.02)
    return (0.3 * out * fade).astype(np.float32)


def play(
    notes: Sequence[tuple[float, float, float]], seconds: float, rate: int = RATE
) -> NDArray[np.float32]:
    """Notes as (onset, length, MIDI pitch)."""
    out = np.zeros(round(seconds * rate), np.float32)
    for number, (onset, length, midi) in enumerate(notes):
        sound = pluck(midi, length, rate, number)
        start = round(onset * rate)
        out[start : start + len(sound)] += sound[: len(out) - start]
    return out


#: A pentatonic lick in eighths at 120, a note repeated, a rest in the middle.
LICK = [
    (0.30 + 0.25 * slot, 0.23, midi)
    for slot, midi in zip(
        (0, 1, 2, 3, 4, 5, 8, 9, 10, 11), (57, 60, 62, 62, 64, 67, 69, 67, 64, 57), strict=True
    )
]
