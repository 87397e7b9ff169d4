"""Pitch, against equal temperament at A4 = 440 Hz (ISO 16), by an estimate of its own."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from ear import cents, mono, peak_frequency, played

from linewright.fretboard import instrument
from linewright.score import Stroke
from linewright.sound.render import render

RATE = 44100


def _frets(name: str, voice: str, string: int) -> list[float]:
    """Cents off at every fret of a string, each note held for a second."""
    neck = instrument(name)
    frets = range(neck.frets + 1)
    strokes = [
        Stroke(Fraction(fret), Fraction(19, 20), neck.midi_at(string, fret), string, fret)
        for fret in frets
    ]
    sound = mono(render(played(*strokes, voice=voice), rate=RATE))
    found = []
    for fret in frets:
        part = sound[fret * RATE + RATE // 25 : fret * RATE + RATE * 9 // 10]
        midi = neck.midi_at(string, fret)
        found.append(cents(peak_frequency(part, RATE, 440 * 2 ** ((midi - 69) / 12)), midi))
    return found


@pytest.mark.parametrize("string", range(1, 7))
def test_every_fret_of_a_guitar_is_within_two_cents(string: int) -> None:
    assert np.abs(_frets("guitar", "steel", string)).max() < 2


@pytest.mark.parametrize("string", range(1, 5))
def test_every_fret_of_a_mandolin_is_within_two_cents(string: int) -> None:
    assert np.abs(_frets("mandolin", "mandolin", string)).max() < 2


@pytest.mark.parametrize(("name", "voice"), [("bass", "bass"), ("guitar", "nylon")])
def test_other_voices_are_in_tune_on_their_middle_strings(name: str, voice: str) -> None:
    assert np.abs(_frets(name, voice, 3)).max() < 2


@pytest.mark.parametrize("partial", [2, 3, 4])
def test_low_partials_lie_close_to_whole_multiples(partial: int) -> None:
    sound = mono(render(played(Stroke(Fraction(0), Fraction(2), 45, 5, 0))))
    off = cents(peak_frequency(sound[2000:80000], RATE, 110.0 * partial) / partial, 45)
    assert 0 <= off < 3  # stiffness stretches, and little


@pytest.mark.parametrize("bend", [Fraction(1, 2), Fraction(1), Fraction(2), Fraction(3)])
def test_a_bend_ends_on_its_pitch(bend: Fraction) -> None:
    stroke = Stroke(Fraction(0), Fraction(3, 2), 62, 2, 3, bend=bend)
    sound = mono(render(played(stroke)))
    goal = 62 + float(bend)
    late = sound[int(0.6 * RATE) : int(1.45 * RATE)]
    assert abs(cents(peak_frequency(late, RATE, 440 * 2 ** ((goal - 69) / 12)), goal)) < 5
    early = sound[: int(0.05 * RATE)]
    assert abs(cents(peak_frequency(early, RATE, 293.66), 62)) < 45  # a short look, a wide bound


def test_a_release_comes_back_to_the_fretted_pitch() -> None:
    bent = Stroke(Fraction(0), Fraction(1), 62, 2, 3, bend=Fraction(2))
    back = Stroke(Fraction(1), Fraction(3, 2), 62, 2, 3, attack="release")
    sound = mono(render(played(bent, back)))
    late = sound[int(1.4 * RATE) : int(2.4 * RATE)]
    assert abs(cents(peak_frequency(late, RATE, 293.66), 62)) < 5


@pytest.mark.parametrize("midi", [59, 64, 67])
def test_slides_arrive_on_pitch_when_the_note_is_written(midi: int) -> None:
    first = Stroke(Fraction(0), Fraction(1), 62, 2, 3)
    reached = Stroke(Fraction(1), Fraction(3, 2), midi, 2, midi - 59, attack="slide")
    sound = mono(render(played(first, reached)))
    part = sound[int(1.005 * RATE) : int(2.0 * RATE)]
    assert abs(cents(peak_frequency(part, RATE, 440 * 2 ** ((midi - 69) / 12)), midi)) < 5


def test_a_slide_in_ends_on_pitch_and_starts_below() -> None:
    sound = mono(render(played(Stroke(Fraction(0), Fraction(2), 64, 2, 5, lead_in=-2))))
    part = sound[int(0.15 * RATE) : int(1.9 * RATE)]
    assert abs(cents(peak_frequency(part, RATE, 329.63), 64)) < 5
    early = sound[: int(0.04 * RATE)]
    assert cents(peak_frequency(early, RATE, 293.66), 64) < -100


def test_vibrato_is_centred_on_its_pitch() -> None:
    sound = mono(render(played(Stroke(Fraction(0), Fraction(2), 64, 2, 5, vibrato=True))))
    hop = RATE // 20
    track = [
        cents(peak_frequency(sound[k : k + 2 * hop], RATE, 329.63), 64)
        for k in range(hop * 12, hop * 36, hop // 2)
    ]
    assert abs(float(np.mean(track))) < 5
    assert max(track) > 5
    assert min(track) < -5


@pytest.mark.parametrize(("fret", "partial", "above"), [(12, 2, 12), (7, 3, 19), (5, 4, 24)])
def test_natural_harmonics_are_whole_multiples_of_the_open_string(
    fret: int, partial: int, above: int
) -> None:
    stroke = Stroke(Fraction(0), Fraction(3, 2), 50 + above, 4, fret, harmonic=True)
    sound = mono(render(played(stroke)))
    goal = 440 * 2 ** ((50 - 69) / 12) * partial
    found = peak_frequency(sound[2000:60000], RATE, goal)
    assert abs(1200 * np.log2(found / goal)) < 1
