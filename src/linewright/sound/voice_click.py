"""The click: a short knock of two wooden modes, higher and louder for an accent."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from linewright.sound.string_sum import summed

__all__ = ["click_sound"]


@lru_cache(maxsize=16)
def click_sound(rate: int, accented: bool) -> NDArray[np.float32]:
    """One click at full strength, 60 ms; it begins at its first sample."""
    low = 1480.0 if accented else 1050.0
    poles = np.array([-95.0 + 2j * np.pi * low, -160.0 + 2j * np.pi * low * 2.31])
    heights = np.array([-1j, -0.6j]) * complex(0.62 if accented else 0.45)
    sound = summed(poles, heights, round(0.06 * rate), rate)
    fade = round(0.01 * rate)
    sound[-fade:] *= np.linspace(1.0, 0.0, fade, dtype=np.float32)
    return sound
