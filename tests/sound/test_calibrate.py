"""Our clicks found in recordings with delays that were put in."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewright.errors import OptionError, TakeError
from linewright.sound.calibrate import calibrate, clicks_alone, find_clicks
from linewright.sound.voice_click import click_sound

UNEVEN = (1.0, 1.6, 2.35, 2.9, 3.8, 4.45, 5.4, 6.0)
EVEN = tuple(1 + 0.6 * k for k in range(10))


def recorded(times, delay, rate, *, snr_db=None, gain=0.1, accents=4, seed=1):
    """Clicks late by ``delay``, moved by parts of a sample too; the signal of the ratio is a
    plain click's first 20 ms.
    """
    out = np.zeros(round(8.5 * rate))
    for k, time in enumerate(times):
        click = click_sound(rate, accents and k % accents == 0).astype(float)
        place = (time + delay) * rate
        whole = int(np.floor(place))
        moved = np.interp(
            np.arange(len(click) + 1) - (place - whole), np.arange(len(click)), click, 0, 0
        )
        out[whole : whole + len(moved)] += gain * moved
    if snr_db is not None:
        power = gain**2 * float(np.mean(click_sound(rate, False)[: rate // 50] ** 2))
        noise = np.random.default_rng(seed).normal(
            0, np.sqrt(power / 10 ** (snr_db / 10)), len(out)
        )
        out += noise
    return out


@settings(max_examples=12)
@given(
    st.floats(-0.08, 0.95), st.sampled_from((22050, 44100, 48000)),
    st.sampled_from((0, 4)), st.sampled_from((1, -1)),
)  # fmt: skip
def test_delays_are_found_within_a_millisecond(delay, rate, accents, sign):
    sound = sign * recorded(UNEVEN, delay, rate, accents=accents)
    assert calibrate(sound, rate, UNEVEN) == pytest.approx(delay, abs=0.001)


@pytest.mark.parametrize("delay", [0.0, 0.0237, 0.31, 0.9])
def test_in_noise_within_two_milliseconds(delay):
    sound = recorded(UNEVEN, delay, 48000, snr_db=20)
    assert calibrate(sound, 48000, UNEVEN) == pytest.approx(delay, abs=0.002)


def test_in_a_room_the_direct_sound_counts():
    dry = recorded(UNEVEN, 0.05, 48000)
    wet = dry.copy()
    for late_ms, level in ((7, 0.5), (13, 0.4), (29, 0.3)):
        wet[late_ms * 48 :] += level * dry[: -late_ms * 48]
    assert calibrate(wet, 48000, UNEVEN) == pytest.approx(0.05, abs=0.001)


def test_what_is_not_there_is_not_found():
    noise = np.random.default_rng(3).normal(0, 0.1, 8 * 44100)
    tone = 0.3 * np.sin(2 * np.pi * 220 * np.arange(8 * 44100) / 44100)
    for sound in (np.zeros(8 * 44100), noise, tone, np.zeros(10), np.full(44100, np.nan)):
        with pytest.raises(TakeError, match="not found"):
            calibrate(sound, 44100, UNEVEN)


@pytest.mark.parametrize(
    ("rate", "times"),
    [(100, UNEVEN), (44100, (1, 2, 3)), (44100, (1, 1.01, 2, 3)), (44100, (1, 2, 3, float("nan")))],
)
def test_what_cannot_be_asked(rate, times):
    with pytest.raises(OptionError):
        calibrate(np.zeros(44100), rate, times)
    with pytest.raises(OptionError):
        calibrate(np.zeros((10, 2)), 44100, UNEVEN)


def test_clicks_that_are_missing_are_left_out():
    played = [t for k, t in enumerate(EVEN) if k % 4 != 3]
    found = find_clicks(recorded(played, 0.02, 44100, accents=0), 44100, EVEN)
    assert found is not None
    assert found.delay_s == pytest.approx(0.02, abs=0.001)
    assert found.times == pytest.approx([t + 0.02 for t in played], abs=0.001)
    alone = clicks_alone(found, 8 * 44100, 44100)
    assert float(np.max(np.abs(alone))) > 0.1
    assert not alone[:44100].any()
