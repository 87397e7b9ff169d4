"""What is new after a cut: against partials whose continuation is known in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from linewright.sound.hearing.forecast import PART, SIZE, forecast
from linewright.sound.hearing.frames import HOP, RATE, Sound

CUT = 100  # spectra, half a second
AT = np.arange(RATE) / RATE


def partials(hz: float, *, start: float = 0.0, stop: float = 9.0, size: float = 1.0) -> np.ndarray:
    """Four harmonics that die away, each at its own pace."""
    since = AT - start
    on = (since >= 0) & (stop > AT)
    return sum(
        size / k * np.sin(2 * np.pi * k * hz * since) * np.exp(-k * np.abs(since) / 1.5) * on
        for k in range(1, 5)
    )


def heard(sound: np.ndarray) -> tuple[float, np.ndarray]:
    made = Sound.of(sound.astype(np.float32), RATE)
    found, gains = forecast(made, np.array([0, CUT]), np.array([0]))
    assert found.shares.shape == (2, 2)
    assert gains[0].shape == (2, SIZE // 2 + 1)
    return float(found.shares[1, 1]), gains[1][1]


def loudest(gain: np.ndarray) -> float:
    return float(np.argmax(gain)) * RATE / PART / SIZE


ONSET = CUT * HOP / RATE + 0.004


def test_what_sounds_on_is_foretold() -> None:
    share, _ = heard(partials(110) + 0.7 * partials(146.83))
    assert share < 0.01


@pytest.mark.parametrize("size", [1.0, 0.3])
def test_a_new_note_stands_out_of_those_that_ring_on(size: float) -> None:
    old = partials(110) + 0.7 * partials(146.83)
    share, gain = heard(old + partials(392, start=ONSET, size=size))
    assert loudest(gain) == pytest.approx(392, abs=8)
    assert share > 0.03


def test_what_stops_is_not_new() -> None:
    """The string before is stopped as the new one is struck."""
    share, gain = heard(partials(110, stop=ONSET) + partials(392, start=ONSET, size=0.3))
    assert loudest(gain) == pytest.approx(392, abs=8)
    assert share > 0.9


def test_after_silence_all_is_new_and_of_silence_nothing() -> None:
    share, gain = heard(partials(220, start=ONSET))
    assert share > 0.99
    assert loudest(gain) == pytest.approx(220, abs=8)
    assert heard(np.zeros(RATE))[0] == 0
