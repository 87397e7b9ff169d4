"""The mix: loudness, true peak, loops, streams."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pyloudnorm
import pytest
from benchmarks.bench_sound import ensemble
from ear import BPM, mono, played
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.signal import resample_poly

from linewright.errors import OptionError
from linewright.score import Part, Performance, Stroke
from linewright.sound.loudness import integrated_loudness
from linewright.sound.render import render, render_stems

CEILING = 10 ** (-1 / 20)
EIGHTH = Fraction(1, 2)


def _true_peak(sound: NDArray[np.float32]) -> float:
    """ITU-R BS.1770 annex 2: the largest value at four times the rate, by scipy."""
    return float(np.abs(resample_poly(sound.astype(np.float64), 4, 1, axis=0)).max())


@pytest.fixture(scope="module")
def band() -> NDArray[np.float32]:
    return render(ensemble(4))


@pytest.mark.parametrize("rate", [44100, 48000])
def test_lead_and_band_have_programme_loudness(rate: int) -> None:
    sound = render(ensemble(4), rate=rate)
    measured = pyloudnorm.Meter(rate).integrated_loudness(sound.astype(np.float64))
    assert abs(measured + 16) < 1
    assert _true_peak(sound) < CEILING


@pytest.mark.parametrize("voice", ["steel", "nylon", "mandolin", "banjo", "bass"])
def test_a_line_alone_has_programme_loudness(voice: str) -> None:
    strokes = [Stroke(k * EIGHTH, EIGHTH, 45 + k % 5, 3, 2 + k % 5) for k in range(12)]
    sound = render(played(*strokes, voice=voice))
    measured = pyloudnorm.Meter(44100).integrated_loudness(sound.astype(np.float64))
    assert abs(measured + 16) < 1
    assert _true_peak(sound) < CEILING


@pytest.mark.parametrize("rate", [44100, 48000])
@pytest.mark.parametrize("hz", [100.0, 997.0, 5000.0])
def test_loudness_agrees_with_pyloudnorm(rate: int, hz: float) -> None:
    time = np.arange(rate * 4) / rate
    swell = np.where(time < 2, 0.02, 0.4)
    tone = (swell * np.sin(2 * np.pi * hz * time)).astype(np.float32)
    stereo = np.stack((tone, tone * np.float32(0.5)), axis=1)
    meter = pyloudnorm.Meter(rate, filter_class="DeMan")
    assert integrated_loudness(stereo, rate) == pytest.approx(
        meter.integrated_loudness(stereo.astype(np.float64)), abs=0.1
    )


def test_loudness_of_the_standards_own_sine() -> None:
    """ITU-R BS.1770-5: 0 dB FS at 997 Hz in one front channel reads -3.01 LKFS."""
    time = np.arange(48000 * 3) / 48000
    tone = np.sin(2 * np.pi * 997 * time).astype(np.float32)
    stereo = np.stack((tone, np.zeros_like(tone)), axis=1)
    assert integrated_loudness(stereo, 48000) == pytest.approx(-3.01, abs=0.03)


def test_a_click_alone_is_not_pressed_against_the_ceiling() -> None:
    clicks = tuple(Stroke(Fraction(k), EIGHTH, 76, attack="click") for k in range(6))
    sound = render(Performance((Part("click", "click", clicks),), Fraction(6), BPM))
    assert _true_peak(sound) < CEILING
    for k in range(6):
        around = np.abs(sound[max(0, k * 44100 - 100) : k * 44100 + 2000, 0])
        heard = np.nonzero(around > around.max() / 50)[0][0]
        assert abs(heard - min(100, k * 44100)) <= 44.1


def test_no_constant_part(band: NDArray[np.float32]) -> None:
    assert np.abs(band.mean(axis=0)).max() < 1e-4


def test_the_same_seed_gives_the_same_sound(band: NDArray[np.float32]) -> None:
    assert np.array_equal(render(ensemble(4), seed=0), band)
    assert not np.array_equal(render(ensemble(4), seed=1), band)


def test_stems_add_up_and_levels_silence_them(band: NDArray[np.float32]) -> None:
    stems = render_stems(ensemble(4))
    assert np.allclose(sum(stems.values()), band, atol=1e-6)
    quiet = render_stems(ensemble(4), levels={"lead": 0.0})
    assert not quiet["lead"].any()
    assert quiet["band"].any()


def test_a_loop_joins_without_a_click() -> None:
    piece = ensemble(2)
    loop = render(piece, loop=True)
    assert len(loop) == round(piece.seconds(piece.length) * 44100)
    twice = mono(np.concatenate((loop, loop)))
    join = len(loop)
    step = np.abs(np.diff(twice))
    attack = step[: 44100 // 4].max()
    assert step[join - 50 : join + 50].max() <= attack * 1.01
    # the first beat of the second round is the first of the first: nothing is missing of the tail
    assert np.abs(loop[:40]).max() > 1e-4


@pytest.mark.parametrize(
    ("options", "word"),
    [
        ({"rate": 22050}, "sample rate"),
        ({"levels": {"drums": 1.0}}, "drums"),
        ({"levels": {"lead": 9.0}}, "lead"),
        ({"levels": {"lead": math.nan}}, "lead"),
    ],
)
def test_options_out_of_range_are_refused(options: dict[str, object], word: str) -> None:
    with pytest.raises(OptionError, match=word):
        render(ensemble(1), **options)  # type: ignore[arg-type]


def test_an_endless_performance_is_refused() -> None:
    part = Part("lead", "steel", (Stroke(Fraction(0), EIGHTH, 57, 3, 2),))
    with pytest.raises(OptionError, match="minutes"):
        render(Performance((part,), Fraction(10**6), BPM))


def test_silence_is_silence() -> None:
    sound = render(Performance((Part("lead", "steel", ()),), Fraction(2), BPM))
    assert sound.shape == (2 * 44100, 2)
    assert not sound.any()


_ATTACKS = ("pluck", "pluck", "hammer-on", "pull-off", "slide", "release", "dead")


@st.composite
def _performances(draw: st.DrawFn) -> Performance:
    """Anything a part can say, crowded, on few strings."""
    strokes: list[Stroke] = []
    at = Fraction(0)
    for _ in range(draw(st.integers(1, 12))):
        string, fret = draw(st.integers(1, 3)), draw(st.integers(0, 20))
        duration = draw(st.sampled_from([Fraction(1, 32), Fraction(1, 6), EIGHTH, Fraction(2)]))
        strokes.append(
            Stroke(
                at, duration, (64, 59, 55)[string - 1] + fret, string, fret,
                draw(st.floats(0.0, 1.0)), draw(st.sampled_from(_ATTACKS)),
                Fraction(draw(st.integers(0, 6)), 2),
                lead_in=draw(st.sampled_from((0, 0, -2, 3))),
                lead_out=draw(st.sampled_from((0, 0, -4))),
                ring=draw(st.booleans()), muted=draw(st.booleans()),
                vibrato=draw(st.booleans()), harmonic=draw(st.booleans()),
            )
        )  # fmt: skip
        at += draw(st.sampled_from([Fraction(0), Fraction(1, 24), Fraction(1, 4), EIGHTH]))
    voice = draw(st.sampled_from(("steel", "nylon", "mandolin", "banjo", "bass")))
    return Performance((Part("lead", voice, tuple(strokes)),), at + 1, Fraction(120))


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(_performances(), st.booleans())
def test_whatever_is_played_nothing_clips(performance: Performance, loop: bool) -> None:
    sound = render(performance, loop=loop)
    assert sound.dtype == np.float32
    assert np.isfinite(sound).all()
    assert _true_peak(sound) < CEILING
