"""Tabs without a counting row: the rhythm a teacher most likely meant (common practice)."""

from fractions import Fraction as F

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tab_rows import lengths, tab

from linewright.formats.tab import read_tab


# -- nothing counted ---------------------------------------------------------------------
@pytest.mark.parametrize(
    ("row", "meter", "expected"),
    [
        ("-0-2-3-0-2-3-0-2-", "4/4", [F(1, 2)] * 8),
        ("0-2-3-0-2-3-0-2-", "4/4", [F(1, 2)] * 8),
        ("--0--2--3--0--2--3--0--2--", "4/4", [F(1, 2)] * 8),
        ("-0---2---3---0---", "4/4", [1] * 4),
        ("-0-2-3-0-", "4/4", [1] * 4),
        ("-0-2-3-0-2-3-0-2-3-0-2-3-", "4/4", [F(1, 3)] * 12),
        ("-0-2-3-0-2-3-0-2-3-0-2-3-0-2-3-0-", "4/4", [F(1, 4)] * 16),
        ("-0-2-3-0-2-3-", "3/4", [F(1, 2)] * 6),
        ("-0-2-3-0-2-3-", "6/8", [F(1, 2)] * 6),
        ("-10-12-10-8-10-12-10-8-", "4/4", [F(1, 2)] * 8),
        ("-0-------------", "4/4", [4]),
        ("-5-7-8-5-7-5-7-", "4/4", [F(1, 2)] * 6 + [1]),
        ("-0---2-3-5-------", "4/4", [1, F(1, 2), F(1, 2), 2]),
        ("-0-2-3---5-2-3---", "4/4", [F(1, 2), F(1, 2), 1, F(1, 2), F(1, 2), 1]),
        ("-0-----2-3-------", "4/4", [F(3, 2), F(1, 2), 2]),
        ("--0---2-3-5-------", "4/4", [1, F(1, 2), F(1, 2), 2]),
        ("-5h7-5-3-5h7-5-3-", "4/4", [F(1, 2)] * 8),
    ],
)
def test_inferred_rhythm(row, meter, expected):
    lick = read_tab(tab({"A": row}, head=f"Meter: {meter}"))
    assert lengths(lick) == expected
    assert lick.remarks[0].startswith("Nothing was counted")
    assert any(remark.startswith("Bar 1: ") for remark in lick.remarks)


def test_dashes_before_the_first_note_are_a_rest():
    lick = read_tab(tab({"A": "-0-2-3-5-0-2-3-5-|-----0-2-3-5-0-2-"}))
    assert lick.notes[8].onset == 5


def test_a_column_more_or_less_after_a_bar_line_is_no_rest():
    lick = read_tab(tab({"A": "-0-2-3-5---0-2---|--0-2-3-5---0-2---"}))
    assert lick.notes[6].onset == 4
    assert lengths(lick)[6:] == lengths(lick)[:6]


def test_a_narrow_first_bar_is_a_pickup():
    lick = read_tab(tab({"A": "-0-2-|-0-2-3-0-2-3-0-2-"}))
    assert lick.bars[0].number == 0
    assert lick.pickup == 1
    assert any("pickup" in remark for remark in lick.remarks)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.sampled_from((1, 2, 3, 4, 6, 8)), min_size=1, max_size=8).filter(
        lambda parts: sum(parts) == 8
    )
    | st.permutations((1, 1, 2, 4)),
    st.sampled_from((1, 2)),
)
def test_proportional_columns_give_proportional_time(parts, lead):
    row = "-" * lead + "".join("5" + "-" * (2 * part - 1) for part in parts)
    lick = read_tab(tab({"A": row}))
    assert lengths(lick) == [F(part, 2) for part in parts]


@settings(max_examples=60, deadline=None)
@given(st.text("0123456789-h", min_size=1, max_size=60), st.sampled_from(("4/4", "3/4", "6/8")))
def test_bars_are_always_full(row, meter):
    row = "".join(c for i, c in enumerate(row) if not (c.isdigit() and row[i - 1 : i].isdigit()))
    row = row.rstrip("h-") or "5"
    lick = read_tab(tab({"A": "-" + row + "-"}, head=f"Meter: {meter}"))
    assert all(bar.is_full for bar in lick.bars)
    if lick.notes:
        assert lick.notes[-1].end == lick.length
