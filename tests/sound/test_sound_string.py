"""How a plucked note begins, decays and ends."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from ear import band_decay, mono, peak_frequency, played
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from linewright.score import Stroke
from linewright.sound.render import render
from linewright.sound.string_sum import summed

RATE = 44100
VOICES = ("steel", "nylon", "mandolin", "banjo", "bass")
LONG = Stroke(Fraction(0), Fraction(4), 57, 3, 2)
HALF = Fraction(1, 2)


def _sound(*strokes: Stroke, voice: str = "steel") -> NDArray[np.float64]:
    return mono(render(played(*strokes, voice=voice)))


def _high_share(sound: NDArray[np.float64], above: float) -> float:
    power = np.abs(np.fft.rfft(sound * np.hanning(len(sound)))) ** 2
    return float(power[int(above * len(sound) / RATE) :].sum() / power.sum())


@given(st.integers(1, 9000), st.integers(1, 90), st.integers(0, 3))
@settings(max_examples=20, deadline=None)
def test_the_matrix_product_is_the_sum_it_stands_for(count: int, modes: int, seed: int) -> None:
    scatter = np.random.default_rng(seed)
    poles = -scatter.uniform(0.5, 60, modes) + 2j * np.pi * scatter.uniform(60, 9000, modes)
    heights = scatter.normal(size=modes) + 1j * scatter.normal(size=modes)
    time = np.arange(count) / RATE
    direct = (heights[:, None] * np.exp(poles[:, None] * time)).sum(axis=0).real
    found = summed(poles, heights, count, RATE)
    assert np.abs(found - direct).max() < 4e-4 * np.abs(heights).sum()
    assert np.array_equal(found, summed(poles, heights, 9000, RATE)[:count])


@pytest.mark.parametrize("voice", VOICES)
def test_partials_fall_faster_the_higher_they_are(voice: str) -> None:
    sound = _sound(LONG, voice=voice)
    decays = [
        band_decay(sound, RATE, peak_frequency(sound[1000:40000], RATE, 220.0 * n))
        for n in (1, 2, 4, 7)
    ]
    assert decays == sorted(decays, reverse=True)
    assert 0.3 < decays[0] < 12


def test_the_fall_is_fast_first_and_then_slow() -> None:
    """The two-stage decay of coupled planes (Weinreich 1977)."""
    sound = _sound(LONG)
    level = [np.sqrt((sound[k : k + RATE // 4] ** 2).mean()) for k in (2000, 24000, 110000, 132000)]
    assert level[0] / level[1] > level[2] / level[3] * 1.05


@pytest.mark.parametrize("voice", VOICES)
def test_onsets_lie_within_a_millisecond_of_the_score(voice: str) -> None:
    """The first sample over a fiftieth of the note's peak, after silence."""
    times = [Fraction(0), Fraction(701, 1000), Fraction(4, 3), Fraction(20001, 10000)]
    strokes = [Stroke(at, Fraction(1, 8), 55 + k, 3, k, 0.7) for k, at in enumerate(times)]
    sound = _sound(*strokes, voice=voice)
    for at in times:
        start = round(float(at) * RATE)
        around = sound[max(0, start - 2000) : start + 4000]
        heard = np.nonzero(np.abs(around) > np.abs(around).max() / 50)[0][0]
        assert abs(heard - min(start, 2000)) <= RATE / 1000


def test_repeated_notes_begin_on_time_though_the_string_still_sounds() -> None:
    strokes = [Stroke(Fraction(k, 4), Fraction(1, 4), 57, 3, 2) for k in range(8)]
    sound = _sound(*strokes)
    bright = np.abs(np.diff(sound, 3))
    for k in range(1, 8):
        start = k * RATE // 4
        before, after = bright[start - 600 : start - 45], bright[start : start + 88]
        assert after.max() > 2 * before.max()  # a pick's brightness within 2 ms, none before


@pytest.mark.parametrize("attack", ["hammer-on", "pull-off", "slide"])
def test_a_slur_goes_on_without_a_jump_and_softer_than_a_pluck(attack: str) -> None:
    up = attack != "pull-off"
    first = Stroke(Fraction(0), HALF, 62 if up else 64, 2, 3 if up else 5)
    second = Stroke(HALF, HALF, 64 if up else 62, 2, 5 if up else 3, 0.6, attack)
    slurred, struck = _sound(first, second), _sound(first, replace(second, attack="pluck"))
    at = RATE // 2
    step = np.abs(np.diff(slurred))
    around = step[at - 400 : at + 400].max()
    assert around < 1.5 * max(step[:3000].max(), 1e-9)
    assert _high_share(slurred[at : at + 900], 4000) < _high_share(struck[at : at + 900], 4000)
    ringing = np.abs(slurred[at - 300 : at]).max()
    assert ringing > 0.05  # no gap before it
    assert np.abs(slurred[at : at + 2000]).max() > ringing / 2


@pytest.mark.parametrize("voice", VOICES)
def test_no_joint_steps_further_than_the_attack_of_a_pluck(voice: str) -> None:
    """Every join of a slurred passage against the largest step that plucks make themselves."""
    attacks = ("pluck", "hammer-on", "hammer-on", "pull-off", "slide", "pluck", "pull-off", "slide")
    frets = (3, 5, 7, 5, 8, 8, 5, 3)
    strokes = [
        Stroke(Fraction(k, 4), Fraction(1, 4), 59 + f, 2, f, 0.65, a)
        for k, (f, a) in enumerate(zip(frets, attacks, strict=True))
    ]
    sound = _sound(*strokes, voice=voice)
    step = np.abs(np.diff(sound))
    plucked = max(step[:3000].max(), step[5 * RATE // 4 : 5 * RATE // 4 + 3000].max())
    assert step.max() <= plucked * 1.01


def test_palm_muting_is_shorter_and_darker() -> None:
    plain = _sound(replace(LONG, duration=Fraction(1)))
    muted = _sound(replace(LONG, duration=Fraction(1), muted=True))
    late = slice(RATE // 2, RATE * 9 // 10)
    assert np.abs(muted[late]).max() / np.abs(muted).max() < 0.1
    assert np.abs(plain[late]).max() / np.abs(plain).max() > 0.1
    start = slice(1500, 8000)
    assert _high_share(muted[start], 2000) < _high_share(plain[start], 2000)


def test_a_dead_note_is_a_short_thud() -> None:
    sound = _sound(replace(LONG, duration=Fraction(1), attack="dead"))
    assert np.abs(sound[RATE // 8 :]).max() < 0.05 * np.abs(sound).max()


def test_a_note_is_damped_within_a_tenth_of_a_second_of_its_end() -> None:
    sound = _sound(replace(LONG, duration=Fraction(1)), Stroke(Fraction(3), HALF, 57, 3, 2))
    held = np.abs(sound[RATE - 2000 : RATE]).max()
    assert np.abs(sound[RATE + RATE // 10 : 2 * RATE]).max() < held / 300


def test_let_ring_rings_until_the_string_is_struck_again() -> None:
    first = Stroke(Fraction(0), HALF, 55, 3, 0, ring=True)
    other = Stroke(HALF, HALF, 64, 1, 0, strength=0.1)
    again = Stroke(Fraction(2), HALF, 60, 3, 5)
    sound = _sound(first, other, again)
    ringing = sound[RATE : 2 * RATE - 400]
    assert np.abs(ringing).max() > 0.05
    open_g = np.exp(-2j * np.pi * 196.0 * np.arange(RATE // 2) / RATE) * np.hanning(RATE // 2)
    before = abs((sound[RATE : RATE + RATE // 2] * open_g).sum())
    after = abs((sound[2 * RATE : 2 * RATE + RATE // 2] * open_g).sum())
    assert after < before / 20


def test_harder_is_louder_and_brighter() -> None:
    soft, hard = (
        render(
            played(replace(LONG, strength=s), Stroke(Fraction(4), Fraction(1), 60, 3, 5, 0.7))
        ).mean(axis=1)[:8000]
        for s in (0.35, 0.95)
    )
    assert np.abs(hard).max() > 1.8 * np.abs(soft).max()
    assert _high_share(hard[1000:], 2500) > _high_share(soft[1000:], 2500)


def test_the_same_pitch_sounds_otherwise_on_another_string() -> None:
    thin, thick = (
        _sound(replace(LONG, midi=64, string=1, fret=0)),
        _sound(replace(LONG, midi=64, string=4, fret=14)),
    )
    shares = [_high_share(s[2000:20000], 2000) for s in (thin, thick)]
    assert abs(np.log(shares[0] / shares[1])) > 0.1
