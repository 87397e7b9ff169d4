"""The shared strategies make what they promise: sound licks that can be printed."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import Phase, find, given, settings
from hypothesis import strategies as st

from linewright.score import Lick, notate
from strategies import GUITAR, licks


@settings(max_examples=150, deadline=None)
@given(licks())
def test_every_lick_prints_and_its_symbols_fill_the_bars(lick: Lick) -> None:
    for measure in notate(lick):
        assert sum((s.duration for s in measure.symbols), Fraction(0)) == measure.bar.duration


@settings(max_examples=60, deadline=None)
@given(licks(instrument=GUITAR))
def test_with_an_instrument_every_note_has_its_place(lick: Lick) -> None:
    assert all(note.string is not None for note in lick.notes)


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_switches_take_away(data: st.DataObject) -> None:
    lick = data.draw(
        licks(double_stops=False, marks=(), graces=False, chords=False, declared_key=False)
    )
    assert len(lick.melody) == len(lick.notes)
    assert not lick.chords
    assert lick.key is None
    assert not any(note.marks or note.grace for note in lick.notes)


def test_the_rare_things_do_occur() -> None:
    # one example is enough, however large, and however long it takes to come
    once = settings(phases=(Phase.generate,), max_examples=2000)
    find(licks(), lambda lick: lick.pickup > 0 and len(lick.chords) > 1, settings=once)
    find(licks(), lambda lick: any(n.grace and n.marks for n in lick.notes), settings=once)
    find(licks(), lambda lick: any(n.duration.denominator == 3 for n in lick.notes), settings=once)
