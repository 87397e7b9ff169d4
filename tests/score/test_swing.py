"""Swing: common practice, the second eighth is late and nothing finer moves."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewright.errors import MusicError
from linewright.score import Meter, Part, Performance, Stroke, bars_for, swing_place, swung

BARS = bars_for(Meter(4, 4), 8)
HALF = Fraction(1, 2)


def test_triplet_swing_puts_the_second_eighth_on_the_last_triplet():
    assert swing_place(Fraction(2)) == Fraction(2, 3)
    times = [Fraction(k, 2) for k in range(8)]
    assert swung(times, BARS, Fraction(2)) == {k + HALF: k + Fraction(2, 3) for k in range(4)}


def test_straight_and_triplets_and_sixteenths_stay():
    assert swung([HALF], BARS, None) == {}
    assert swung([Fraction(1, 3), Fraction(2, 3)], BARS, Fraction(2)) == {}
    assert swung([HALF, Fraction(3, 4)], BARS, Fraction(2)) == {}


def test_a_jig_is_not_swung_by_quarters():
    bars = bars_for(Meter(6, 8), 6)
    assert swung([HALF, Fraction(1), Fraction(3, 2)], bars, Fraction(2)) == {}


@given(
    st.lists(st.fractions(0, 7, max_denominator=12), max_size=30),
    st.fractions(1, 4, max_denominator=6),
)
def test_swing_keeps_the_order_of_moments(times, ratio):
    moved = swung(times, BARS, ratio)
    ordered = sorted(set(times))
    sounding = [moved.get(t, t) for t in ordered]
    assert sounding == sorted(set(sounding))


def test_a_part_out_of_order_or_for_an_unknown_voice_is_refused():
    early, late = Stroke(Fraction(0), HALF, 60), Stroke(Fraction(1), HALF, 62)
    with pytest.raises(MusicError, match="out of order"):
        Part("lead", "steel", (late, early))
    with pytest.raises(MusicError, match="steel"):
        Part("lead", "kazoo", (early,))


def test_seconds_of_a_performance():
    part = Part("lead", "steel", (Stroke(Fraction(0), HALF, 60),))
    assert Performance((part,), Fraction(4), Fraction(120)).seconds(Fraction(3)) == 1.5
