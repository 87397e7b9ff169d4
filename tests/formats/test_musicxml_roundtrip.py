"""Write then read gives the same lick, within what MusicXML can say.

Its limits, each switched off below or met with a tolerance: explicit accidentals added to a key
(the notes carry theirs), a tempo counted in a beat no note value prints.
"""

from dataclasses import replace

from hypothesis import given, settings

from linewright.formats.musicxml import read_musicxml, write_musicxml, write_mxl
from strategies import GUITAR, licks


@settings(max_examples=80, deadline=None)
@given(licks(added_accidentals=False, swing=True))
def test_licks_without_places_come_back_the_same(lick):
    assert read_musicxml(write_musicxml(lick)) == lick


@settings(max_examples=80, deadline=None)
@given(licks(added_accidentals=False, instrument=GUITAR))
def test_licks_with_places_and_bends_come_back_the_same(lick):
    assert read_musicxml(write_musicxml(lick)) == lick


@settings(max_examples=15, deadline=None)
@given(licks(added_accidentals=False, max_bars=1, instrument=replace(GUITAR, capo=3)))
def test_a_capo_is_kept(lick):
    assert read_musicxml(write_mxl(lick)) == lick
