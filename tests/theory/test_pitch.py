"""Pitch numbers, frequencies, spelling and degrees."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewright.errors import MusicError
from linewright.theory import Degree, Interval, Pitch, PitchClass, degree_of, spell_midi

pitches = st.builds(Pitch, st.sampled_from("CDEFGAB"), st.integers(-1, 1), st.integers(1, 7))
intervals = st.sampled_from(
    [
        Interval(*pair)
        for pair in (
            (0, 0),
            (1, 1),
            (1, 2),
            (2, 3),
            (2, 4),
            (3, 5),
            (3, 6),
            (4, 7),
            (5, 9),
            (6, 10),
            (7, 12),
        )
    ]
)


@pytest.mark.parametrize(
    ("name", "midi", "hertz"),
    [
        # ISO 16:1975 fixes A4 at 440 Hz; MIDI 1.0 (MMA 1996) numbers middle C 60. Open strings of
        # the guitar and mandolin to two decimals from the usual tables (from memory).
        ("A4", 69, 440.00),
        ("C4", 60, 261.63),
        ("E2", 40, 82.41),
        ("A2", 45, 110.00),
        ("D3", 50, 146.83),
        ("G3", 55, 196.00),
        ("B3", 59, 246.94),
        ("E4", 64, 329.63),
        ("E5", 76, 659.26),
    ],
)
def test_midi_and_frequency(name: str, midi: int, hertz: float) -> None:
    pitch = Pitch.parse(name)
    assert pitch.midi == midi
    assert pitch.frequency == pytest.approx(hertz, abs=0.006)


@given(pitches)
def test_names_read_back(pitch: Pitch) -> None:
    assert Pitch.parse(str(pitch)) == pitch


@given(pitches, intervals)
def test_transposing_up_and_down_returns(pitch: Pitch, interval: Interval) -> None:
    moved = pitch.transpose(interval)
    assert moved.midi == pitch.midi + interval.semitones
    assert moved.transpose(-interval) == pitch
    assert pitch.interval_to(moved) == interval


@given(st.integers(0, 127), st.integers(-6, 8))
def test_spelling_a_number_keeps_its_sound(midi: int, center: int) -> None:
    pitch = spell_midi(midi, center)
    assert pitch.midi == midi
    assert abs(pitch.pitch_class.fifths - center) <= 6


@given(
    st.integers(-9, 12),
    st.sampled_from(["1", "b2", "2", "b3", "3", "4", "#4", "b5", "5", "b6", "6", "b7", "7"]),
)
def test_a_degree_above_a_tonic_is_that_degree(fifths: int, name: str) -> None:
    tonic = PitchClass.from_fifths(fifths)
    note = Degree.parse(name).above(tonic)
    assert (note.number - tonic.number) % 12 == Degree.parse(name).semitones
    if abs(note.alter) <= 2:
        assert degree_of(note, tonic).name == name


@pytest.mark.parametrize(
    ("note", "tonic", "degree"),
    [
        # Common practice, as players name notes.
        ("Db", "G", "b5"), ("C#", "G", "#4"), ("Bb", "C", "b7"), ("A", "C", "6"),
        ("A", "G", "2"), ("Bb", "G", "b3"), ("B", "G", "3"), ("G#", "A", "7"), ("F", "E", "b2"),
    ],
)  # fmt: skip
def test_degrees_players_name(note: str, tonic: str, degree: str) -> None:
    assert degree_of(PitchClass.parse(note), PitchClass.parse(tonic)).name == degree


@pytest.mark.parametrize("text", ["H4", "", "C", "4", "C##b4", "Cb#3", "C99"])
def test_a_bad_pitch_says_what_is_accepted(text: str) -> None:
    with pytest.raises(MusicError) as caught:
        Pitch.parse(text)
    assert caught.value.message
