"""Write then read gives the same lick, within what a tab can say."""

from dataclasses import replace
from fractions import Fraction as F
from itertools import groupby

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewright.errors import WriteError
from linewright.formats.tab import read_tab, write_tab
from linewright.fretboard import instrument
from linewright.score import Lick, Mark, Meter, Note, bars_for, bars_from_lengths
from linewright.theory import Pitch
from strategies import MARKS, licks

TABBED = (
    instrument("guitar"),
    instrument("guitar", "drop D"),
    instrument("guitar", "DADGAD", capo=2),
    instrument("mandolin"),
    instrument("tenor banjo", "irish"),
    instrument("bass"),
    instrument("ukulele"),
)
ROW_MARKS = ("palm mute", "let ring", "down", "up")
SAYABLE = tuple(name for name in MARKS if name not in ("bend", "release", "harmonic"))


def sayable(lick: Lick) -> Lick:
    """The lick without what docs/tab.md says a tab leaves out: one way of reaching a note, one
    stroke, row marks for a whole double stop.
    """
    notes = []
    for _, group in groupby(lick.notes, key=lambda note: note.onset):
        group = list(group)
        above = {m for n in group for m in n.marks if m.name in ROW_MARKS}
        if {Mark("down"), Mark("up")} <= above:
            above.remove(Mark("up"))
        for note in group:
            own = [m for m in note.marks if m.name not in ROW_MARKS]
            joins = [m for m in own if m.kind.joins]
            own = [m for m in own if m not in joins[1:]]
            notes.append(replace(note, marks=(*own, *above)))
    return replace(lick, notes=tuple(notes))


def said(lick: Lick):
    """All of a lick that a tab says, in a form that compares."""
    notes = [
        (n.onset, n.duration, n.midi, n.string, n.fret, frozenset(n.marks),
         tuple((g.string, g.fret, g.pitch.midi) for g in n.grace))
        for n in lick.notes
    ]  # fmt: skip
    bars = [(b.number, b.onset, b.duration, b.meter, b.key) for b in lick.bars]
    head = (lick.title, lick.tempo, lick.instrument, lick.swing, lick.style, lick.source, lick.tags)
    return notes, bars, lick.chords, head


@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_written_tab_reads_back_the_same(data):
    neck = data.draw(st.sampled_from(TABBED))
    lick = data.draw(licks(tuplets=False, marks=SAYABLE, instrument=neck, swing=True))
    lick = sayable(lick)
    text = write_tab(lick)
    assert said(read_tab(text)) == said(lick), text


@settings(max_examples=80, deadline=None)
@given(licks(tuplets=True, marks=(), chords=True, words=False, instrument=TABBED[0]))
def test_triplets_and_sextuplets_read_back_and_other_tuplets_are_refused(lick):
    odd = any(
        (edge * 24).denominator != 1 for note in lick.notes for edge in (note.onset, note.end)
    ) or any((span.onset * 24).denominator != 1 for span in lick.chords)
    try:
        text = write_tab(lick)
    except WriteError:
        assert odd  # fifths, sevenths and ninths have no count
    else:
        assert said(read_tab(text)) == said(lick), text


@settings(max_examples=40, deadline=None)
@given(licks(marks=None, instrument=TABBED[0], tuplets=False), st.integers(20, 200))
def test_bends_and_any_width(lick, width):
    lick = sayable(lick)
    kept = tuple(replace(n, marks=tuple(m for m in n.marks if m.name != "harmonic"))
                 for n in lick.notes)  # fmt: skip
    lick = replace(lick, notes=kept)
    assert said(read_tab(write_tab(lick, width=width))) == said(lick)


def _plain(*lengths, marks=(), places=None, meter=Meter(4, 4)):
    neck, at, notes = instrument("guitar"), F(0), []
    for index, length in enumerate(lengths):
        string, fret = places[index] if places else (2, index % 5)
        mark = marks[index] if index < len(marks) else ()
        push = sum((m.semitones for m in mark if m.name == "bend"), F(0))
        midi = round(neck.midi_at(string, fret) + push)
        pitch = next(p for p in _all_pitches() if p.midi == midi)
        notes.append(Note(at, length, pitch, string, fret, mark))
        at += length
    return Lick(tuple(notes), bars_for(meter, at), instrument=neck)


def _all_pitches():
    return [Pitch(s, a, o) for o in range(2, 7) for a in (0, 1) for s in "CDEFGAB"]


@pytest.mark.parametrize(
    "marks",
    [
        [(), (Mark("hammer-on"),), (Mark("pull-off"),)],
        [(), (Mark("slide"),), (Mark("slide out", F(-1)),), (Mark("slide in", F(-1)),)],
        [(Mark("slide out", F(1)),), ()],
        [(Mark("slide out", F(1)),), (Mark("slide"),)],
        [(Mark("bend", F(2)),), (Mark("release"),), (Mark("pull-off"),)],
        [(Mark("bend", F(1, 2)),), (Mark("vibrato"), Mark("accent"), Mark("staccato"))],
        [(Mark("bend", F(1)), Mark("ghost"), Mark("vibrato"))],
        [(Mark("dead"), Mark("ghost")), (Mark("slide in", F(1)), Mark("hammer-on"))],
    ],
)
def test_marks_read_back(marks):
    places = [(2, 5), (2, 5), (2, 5), (2, 8)]
    if marks[0] == () and len(marks) == 3:
        places = [(2, 5), (2, 8), (2, 5), (2, 8)]
    lick = _plain(*(F(1, 2),) * 4, marks=marks, places=places)
    assert said(read_tab(write_tab(lick)))[0] == said(lick)[0]


def test_natural_harmonics_read_back():
    lick = _plain(F(2), F(2), places=[(1, 12), (1, 12)])
    notes = (replace(lick.notes[0], marks=(Mark("harmonic"),)), lick.notes[1])
    assert (
        said(read_tab(write_tab(replace(lick, notes=notes))))[0]
        == said(replace(lick, notes=notes))[0]
    )


def test_an_eighth_and_two_sixteenths_do_not_read_back_as_a_triplet():
    lick = _plain(F(1, 2), F(1, 4), F(1, 4), F(1, 2), F(1, 4), F(1, 4))
    assert said(read_tab(write_tab(lick)))[0] == said(lick)[0]


def test_irregular_bars_key_and_meter_changes_read_back():
    four, six = Meter(4, 4), Meter(6, 8)
    bars = bars_from_lengths(
        [(F(1, 2), four, None), (F(4), four, None), (F(3), six, None), (F(2), six, None),
         (F(3), six, None)],
        pickup=True,
    )  # fmt: skip
    lick = _plain(F(1, 2), F(2), F(4), F(1), F(5))
    lick = replace(lick, bars=bars)
    assert said(read_tab(write_tab(lick))) == said(lick)


def test_a_lick_without_places_is_fingered_first():
    lick = _plain(F(1), F(1), F(2))
    bare = replace(
        lick, instrument=None, notes=tuple(replace(n, string=None, fret=None) for n in lick.notes)
    )
    back = read_tab(write_tab(bare))
    assert [n.midi for n in back.notes] == [n.midi for n in lick.notes]


def test_what_a_tab_cannot_say_is_refused():
    with pytest.raises(WriteError, match=r"bar 1: no count names the moment 1/5"):
        write_tab(_plain(*(F(1, 5),) * 5, F(3)))
    low = replace(_plain(F(1)), notes=(Note(F(0), F(1), Pitch.parse("C2")),))
    with pytest.raises(WriteError, match="below the lowest note"):
        write_tab(low)
    with pytest.raises(WriteError, match="harmonic at fret 6"):
        write_tab(_plain(F(1), marks=[(Mark("harmonic"),)], places=[(1, 6)]))


def test_without_a_counting_row_plain_columns_still_tell_the_rhythm():
    lick = _plain(F(1, 2), F(1, 2), F(1), F(3, 2), F(1, 2), F(1), F(1), F(2))
    text = write_tab(lick, counting=False)
    assert "1 &" not in text
    assert said(read_tab(text))[0] == said(lick)[0]


def test_rows_keep_to_the_width_and_line_up():
    lick = _plain(*(F(1, 2),) * 64)
    for row in write_tab(lick, width=60).splitlines():
        assert len(row) <= 60
    systems = write_tab(lick).split("\n\n")[1:]
    assert len(systems) > 1
    for system in systems:
        strings = [row for row in system.splitlines() if "|" in row]
        assert len({len(row) for row in strings}) == 1
        assert len({tuple(i for i, c in enumerate(row) if c == "|") for row in strings}) == 1
