"""Tabs without bar lines: adding the bar lines where they belong gives the same lick."""

from fractions import Fraction as F

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewright.errors import ReadError
from linewright.formats.tab import read_tab


def compositions(whole):
    """Every way to fill ``whole`` eighths with notes of one to four."""
    if not whole:
        return [()]
    return [
        (part, *more) for part in range(1, min(whole, 4) + 1) for more in compositions(whole - part)
    ]


BAR = st.sampled_from([parts for parts in compositions(8) if 1 in parts])


def sheet(bars, *, drawn, closed, lead=1, count=None, head=""):
    """Six strings of which A has notes; inner bar lines drawn, or their column left out."""
    between = "|" + "-" * lead if drawn else ""
    close = "|" if closed else ""
    note = "-" * lead + between.join(bars) + close
    rest = "".join(c if c == "|" else "-" for c in note)
    rows = [f"{name}|{note if name == 'A' else rest}" for name in "eBGDAE"]
    row = [" " * (2 + lead) + (" " * len(between)).join(count)] if count else []
    return "\n".join([*([head] if head else []), *rows, *row])


def heard(lick):
    return (
        [(n.onset, n.duration, n.string, n.fret) for n in lick.notes],
        [(b.number, b.onset, b.duration) for b in lick.bars],
    )


def row(parts):
    return "".join("5" + "-" * (2 * part - 1) for part in parts)


@settings(max_examples=80, deadline=None)
@given(st.lists(BAR, min_size=2, max_size=5))
def test_bars_are_counted_off_by_column(bars):
    texts = [row(parts) for parts in bars]
    lick = read_tab(sheet(texts, drawn=False, closed=False))
    assert heard(lick) == heard(read_tab(sheet(texts, drawn=True, closed=True)))
    assert [n.duration for n in lick.notes] == [F(part, 2) for parts in bars for part in parts]
    assert any(remark.startswith("No bar lines were drawn") for remark in lick.remarks)


@settings(max_examples=80, deadline=None)
@given(st.lists(BAR, min_size=2, max_size=5), st.booleans(), st.booleans())
def test_bars_begin_where_the_count_does(bars, closed, sparse):
    texts = [row(parts) for parts in bars]
    count = "1 & 2 & 3 & 4 & " if not sparse else "1   2   3   4   "
    counts = [count] * len(bars)
    lick = read_tab(sheet(texts, drawn=False, closed=closed, count=counts))
    assert heard(lick) == heard(read_tab(sheet(texts, drawn=True, closed=True, count=counts)))
    assert len(lick.bars) == len(bars)


@pytest.mark.parametrize(
    ("text", "meter", "bars"),
    [
        ("0-2-3-0-2-3-" * 4, "6/8", 4),
        ("0-2-3-0-2-3-" * 4, "3/4", 4),
        ("0---2---3---0---" * 2, "4/4", 2),
        ("0--2--3--0--2--3--0--2--" * 3, "4/4", 3),
        ("10-12-10-8-10-12-10-8-" * 2, "4/4", 2),
    ],
)
def test_the_meter_decides_how_long_a_bar_is(text, meter, bars):
    lick = read_tab(sheet([text], drawn=False, closed=False, head=f"Meter: {meter}"))
    assert len(lick.bars) == bars
    assert all(bar.is_full for bar in lick.bars)
    value = 1 if "0---" in text else F(1, 2)
    assert {note.duration for note in lick.notes} == {value}


def test_thirty_two_notes_between_two_bar_lines_are_not_32nds():
    lick = read_tab(sheet(["0-2-3-5-" * 8], drawn=False, closed=True))
    assert len(lick.bars) == 4
    assert lick.notes[0].duration == F(1, 2)


def test_sixteen_notes_between_two_bar_lines_stay_the_bar_that_was_drawn():
    lick = read_tab(sheet(["0-2-3-5-" * 4], drawn=False, closed=True))
    assert len(lick.bars) == 1
    assert not any("No bar lines" in remark for remark in lick.remarks)


def test_a_pickup_line_makes_the_first_bar_short():
    lick = read_tab(sheet(["3-5-" + "0-2-3-5-" * 4], drawn=False, closed=False, head="Pickup: 1/4"))
    assert [(bar.number, bar.duration) for bar in lick.bars] == [(0, 1), (1, 4), (2, 4)]


def test_a_counted_pickup_needs_no_bar_line():
    count = ["4 & ", "1 & 2 & 3 & 4 & "]
    lick = read_tab(sheet(["3-5-", "0-2-3-5-0-2-3-5-"], drawn=False, closed=True, count=count))
    assert [(bar.number, bar.duration) for bar in lick.bars] == [(0, 1), (1, 4)]


def test_a_hammer_on_over_the_bar_line_stays_one():
    lick = read_tab(sheet(["0-2-3-5-0-2-3-5h" + "7-5-3-2-0---0---"], drawn=False, closed=False))
    assert len(lick.bars) == 2
    assert lick.notes[8].has("hammer-on")
    assert lick.notes[8].onset == 4


def test_chords_and_systems_keep_their_places():
    line = sheet(["0-2-3-5-0-2-3-5-0-2-3-5-0-2-3-5-"], drawn=False, closed=False)
    above = "   G               C"
    lick = read_tab("\n".join([above, line, "", line]))
    assert len(lick.bars) == 4
    assert [(span.symbol.text, span.onset) for span in lick.chords] == [("G", 0), ("C", 4)]


def test_a_count_that_slips_is_still_an_error():
    with pytest.raises(ReadError, match="goes back"):
        read_tab(sheet(["0-2-"], drawn=False, closed=True, count=["2 1 "]))


def test_uneven_columns_are_left_as_one_bar():
    lick = read_tab(sheet(["0-2---3--5----0-2--3-----5-2-3--0---"], drawn=False, closed=False))
    assert len(lick.bars) == 1


def test_a_grace_note_belongs_to_the_bar_of_its_beat():
    text = "0---2---3---0-g3h5---2---3---0---"
    count = ["1   2   3   4     1   2   3   4   "]
    lick = read_tab(sheet([text], drawn=False, closed=False, count=count))
    assert len(lick.bars) == 2
    assert lick.notes[4].onset == 4
    assert [grace.fret for grace in lick.notes[4].grace] == [3]
