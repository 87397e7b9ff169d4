"""Write then read gives the same sounding lick, within what MIDI can say.

MIDI says keys and times: spelling, places, marks but bends, ornaments, words are not in it. A bar
is a full bar of its meter, a pickup a first bar of a shorter meter. Where long-short pairs recur
the reader may call them swung and write even eighths: the same sound, so times are compared as
they sound.
"""

from fractions import Fraction

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from linewright.formats.midi import read_midi, write_midi
from linewright.score import Lick, Meter, Note, bars_for
from linewright.theory import Key, Pitch, PitchClass
from strategies import GUITAR, METERS, licks

F = Fraction
PLAIN_METERS = tuple(meter for meter in METERS if not meter.groups)  # MIDI has no groups
LIMITS = {
    "irregular": False,
    "graces": False,
    "marks": (),
    "added_accidentals": False,
    "declared_key": False,
    "words": False,
}


def starts_in_its_first_bar(lick):
    return lick.notes and lick.notes[0].onset < lick.bars[0].end


def said(lick):
    """What MIDI can say of a lick, as it sounds."""
    moved = swung(lick)
    return [
        (moved.get(n.onset, n.onset), moved.get(n.end, n.end), n.midi, n.bend) for n in lick.notes
    ]


def swung(lick):
    """Swing moves the middle of a quarter-note beat that holds nothing finer."""
    if lick.swing is None:
        return {}
    times = {t for n in lick.notes for t in (n.onset, n.end)}
    moved = {}
    for bar in lick.bars:
        if set(bar.meter.beats) != {F(1)}:
            continue
        for at in range(int(bar.duration)):
            start = bar.onset + at
            if {t - start for t in times if start < t < start + 1} == {F(1, 2)}:
                moved[start + F(1, 2)] = start + lick.swing / (lick.swing + 1)
    return moved


def bars(lick):
    return [
        (b.number, b.onset, b.duration, b.meter.numerator, b.meter.denominator) for b in lick.bars
    ]


@settings(max_examples=150, deadline=None)
@given(licks(**LIMITS, tuplets=False, chords=False))
def test_plain_rhythms_come_back_note_for_note(lick):
    assume(starts_in_its_first_bar(lick))
    back = read_midi(write_midi(lick))
    assert said(back) == said(lick)
    assert back.title == lick.title


@settings(max_examples=60, deadline=None)
@given(licks(**LIMITS, chords=False, changes=False, tuplets=False))
def test_bars_and_pickups_come_back(lick):
    assume(starts_in_its_first_bar(lick))
    assert bars(read_midi(write_midi(lick))) == bars(lick)


@settings(max_examples=150, deadline=None)
@given(licks(**LIMITS, chords=False, meters=PLAIN_METERS, changes=False))
def test_tuplets_come_back_as_they_sound(lick):
    assume(starts_in_its_first_bar(lick))
    assert said(read_midi(write_midi(lick))) == said(lick)


@settings(max_examples=60, deadline=None)
@given(licks(**(LIMITS | {"marks": None}), tuplets=False, instrument=GUITAR))
def test_bends_come_back_from_the_pitch_wheel(lick):
    assume(starts_in_its_first_bar(lick))
    assert said(read_midi(write_midi(lick))) == said(lick)


@settings(max_examples=60, deadline=None)
@given(licks(**LIMITS, tuplets=False, changes=False))
def test_chords_and_tempo_come_back(lick):
    assume(starts_in_its_first_bar(lick))
    back = read_midi(write_midi(lick))
    assert [(c.onset, c.symbol) for c in back.chords] == [(c.onset, c.symbol) for c in lick.chords]
    if lick.tempo is not None:
        assert abs(back.tempo.quarter_bpm - lick.tempo.quarter_bpm) < F(1, 100)


@given(st.integers(-7, 7).filter(bool), st.sampled_from(["major", "minor"]))
def test_key_signatures_come_back(fifths, mode):
    tonic = PitchClass.from_fifths(fifths + (3 if mode == "minor" else 0))
    lick = Lick(
        (Note(F(0), F(4), Pitch.parse("G4")),), bars_for(Meter(4, 4), F(4), key=Key(tonic, mode))
    )
    assert read_midi(write_midi(lick)).key == lick.key
