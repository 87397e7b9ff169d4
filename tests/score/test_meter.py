"""Meters, bars and tempo."""

from __future__ import annotations

from fractions import Fraction as F

import pytest

from linewright.errors import MusicError
from linewright.score import Meter, Tempo, bars_for


def test_weights_of_four_four() -> None:
    """Longuet-Higgins and Lee (1984), from memory of the paper: 0 -3 -2 -3 -1 -3 -2 -3 over the eighths of 4/4."""
    meter = Meter(4, 4)
    assert [meter.weight(F(i, 2)) for i in range(8)] == [0, -3, -2, -3, -1, -3, -2, -3]


def test_weights_of_six_eight() -> None:
    """The same tree for 6/8 (from memory): two dotted beats of three: 0 -2 -2 -1 -2 -2."""
    meter = Meter(6, 8)
    assert [meter.weight(F(i, 2)) for i in range(6)] == [0, -2, -2, -1, -2, -2]


def test_weights_off_the_tree() -> None:
    """A triplet splits the beat, as sixteenths do the eighth: one level under the eighths (ours)."""
    meter = Meter(4, 4)
    assert [meter.weight(F(k, 3)) for k in range(4)] == [0, -4, -4, -2]
    assert meter.weight(F(1, 4)) == meter.weight(F(4, 3)) == -4
    assert meter.weight(F(1, 5)) < -4  # a quintuplet splits no level: below every one of them


@pytest.mark.parametrize(
    ("text", "beats", "length"),
    [
        # Common practice: simple, compound and additive meters.
        ("4/4", [1, 1, 1, 1], 4),
        ("C|", [2, 2], 4),
        ("3/4", [1, 1, 1], 3),
        ("6/8", [F(3, 2), F(3, 2)], 3),
        ("9/8", [F(3, 2)] * 3, F(9, 2)),
        ("3/8", [F(1, 2)] * 3, F(3, 2)),
        ("7/8", [1, 1, F(3, 2)], F(7, 2)),
        ("3+2+2/8", [F(3, 2), 1, 1], F(7, 2)),
        ("5/8", [1, F(3, 2)], F(5, 2)),
    ],
)
def test_beats(text: str, beats: list[F], length: F) -> None:
    meter = Meter.parse(text)
    assert list(meter.beats) == beats
    assert meter.length == length
    assert sum(meter.beats) == length


@pytest.mark.parametrize("text", ["4", "4/3", "0/4", "65/4", "x", "", "4/-4", "999999/4"])
def test_bad_meters_are_refused(text: str) -> None:
    with pytest.raises(MusicError):
        Meter.parse(text)


def test_a_pickup_counts_back_from_the_bar_line() -> None:
    bars = bars_for(Meter(4, 4), F(5), pickup=F(1))
    assert [bar.number for bar in bars] == [0, 1]
    assert bars[0].offset(F(0)) == 3
    assert bars[-1].end == 5


def test_tempo_limits() -> None:
    assert Tempo(F(120)).seconds_per_quarter == pytest.approx(0.5)
    assert Tempo(F(90), F(3, 2)).quarter_bpm == 135
    with pytest.raises(MusicError):
        Tempo(F(5))
