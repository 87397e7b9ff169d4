"""Write then read gives the same lick, within what ABC can say."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings

from linewright.formats.abc import read_abc, write_abc
from linewright.score import Lick
from strategies import GUITAR, licks


def without_places(lick: Lick) -> Lick:
    """The lick without what ABC cannot say: string, fret, instrument."""
    return replace(
        lick,
        instrument=None,
        notes=tuple(
            replace(
                n,
                string=None,
                fret=None,
                grace=tuple(replace(g, string=None, fret=None) for g in n.grace),
            )
            for n in lick.notes
        ),
    )


@settings(max_examples=300, deadline=None)
@given(licks())
def test_write_then_read_gives_the_same_lick(lick: Lick) -> None:
    if not lick.notes:
        return
    assert read_abc(write_abc(lick)) == lick


@settings(max_examples=60, deadline=None)
@given(licks(instrument=GUITAR))
def test_places_on_the_neck_are_all_that_is_lost(lick: Lick) -> None:
    if not lick.notes:
        return
    assert read_abc(write_abc(lick)) == without_places(lick)
