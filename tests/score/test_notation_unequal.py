"""Tuplets in meters whose beats differ in length stand on their own beat."""

from fractions import Fraction

from linewright.score import Lick, Meter, Note, bars_for, notate
from linewright.theory import Pitch


def test_a_triplet_on_the_last_beat_of_seven_eight() -> None:
    onsets = [Fraction(5, 2) + Fraction(k, 3) for k in range(3)]
    notes = tuple(Note(o, Fraction(1, 3), Pitch.parse("C5")) for o in onsets)
    lick = Lick(notes, bars_for(Meter.parse("3+2+2/8"), Fraction(7, 2)))
    (tuplet,) = notate(lick)[0].tuplets
    assert (tuplet.actual, tuplet.normal) == (3, 2)
    assert (tuplet.onset, tuplet.duration) == (Fraction(5, 2), 1)
