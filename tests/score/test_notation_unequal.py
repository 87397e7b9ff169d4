"""Tuplets in meters whose beats differ in length stand on their own beat."""

import itertools
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


def test_tuplets_in_two_beats_do_not_push_each_other_out() -> None:
    onsets = [Fraction(n, 6) for n in (0, 1, 2, 9, 11, 12, 13, 21)]
    notes = tuple(Note(a, b - a, Pitch.parse("C5")) for a, b in itertools.pairwise(onsets))
    lick = Lick(notes, bars_for(Meter.parse("3+2+2/8"), Fraction(7, 2)))
    (measure,) = notate(lick)
    assert [(t.actual, t.onset, t.duration) for t in measure.tuplets] == [
        (3, 0, Fraction(1, 2)),
        (3, Fraction(3, 2), 1),
    ]
    assert sum(symbol.duration for symbol in measure.symbols) == Fraction(7, 2)
