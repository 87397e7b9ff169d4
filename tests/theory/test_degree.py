"""Degrees and the intervals they stand for."""

from __future__ import annotations

import pytest

from linewright.errors import MusicError
from linewright.theory import Degree, Interval, PitchClass


@pytest.mark.parametrize(
    ("name", "number", "semitones"),
    [
        # Simple and compound intervals above the tonic (common practice).
        ("b3", 2, 3), ("4", 3, 5), ("#4", 3, 6), ("b7", 6, 10),
        ("b9", 8, 13), ("9", 8, 14), ("#9", 8, 15), ("11", 10, 17), ("#11", 10, 18), ("13", 12, 21),
    ],
)  # fmt: skip
def test_the_interval_of_a_degree(name: str, number: int, semitones: int) -> None:
    degree = Degree.parse(name)
    assert degree.interval == Interval(number, semitones)
    assert degree.semitones == semitones % 12
    assert degree.above(PitchClass("C")).number == semitones % 12


@pytest.mark.parametrize("name", ["0", "14", "b99", "bb0"])
def test_degrees_that_are_not(name: str) -> None:
    with pytest.raises(MusicError, match=f"there is no degree {name}"):
        Degree.parse(name)
    with pytest.raises(MusicError, match="there is no degree bbbb3"):
        Degree(3, -4)
