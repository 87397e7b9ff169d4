"""Reading text tabs: what a teacher types, and what it means (common practice)."""

from fractions import Fraction as F

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from tab_rows import lengths, onsets, rhythm, tab

from linewright.errors import LinewrightError, ReadError, TooLarge
from linewright.formats.tab import read_tab
from linewright.score import Mark, Meter, Tempo


# -- header ------------------------------------------------------------------------------
def test_header_lines():
    lick = read_tab(
        tab(
            {"G": "-0-2-"},
            head="Title: Walk-up: part 2\nTempo: dotted quarter = 90\nMeter: 6/8\nKey: A dorian\n"
            "Capo: 2\nStyle: old time\nSource: class notes\nSwing: 3:2\nTags: easy, key of A",
        )
    )
    assert lick.title == "Walk-up: part 2"
    assert lick.tempo == Tempo(F(90), F(3, 2))
    assert lick.meter == Meter(6, 8)
    assert lick.key.name == "A dorian"
    assert lick.instrument.capo == 2
    assert (lick.style, lick.source, lick.swing) == ("old time", "class notes", F(3, 2))
    assert lick.tags == ("easy", "key of A")
    assert lick.notes[0].midi == 57  # the open G string with a capo at 2


@pytest.mark.parametrize(
    ("value", "meter", "tempo"),
    [
        ("120", "4/4", Tempo(F(120))),
        ("90 bpm", "6/8", Tempo(F(90), F(3, 2))),
        ("half = 60", "2/2", Tempo(F(60), F(2))),
        ("1/8 = 200", "7/8", Tempo(F(200), F(1, 2))),
        ("♩. = 66", "6/8", Tempo(F(66), F(3, 2))),
        ("quarter = 92.5", "4/4", Tempo(F(185, 2))),
    ],
)
def test_tempo(value, meter, tempo):
    assert read_tab(tab({"G": "-0-"}, head=f"Tempo: {value}\nMeter: {meter}")).tempo == tempo


def test_a_first_line_of_text_is_the_title():
    lick = read_tab(tab({"G": "-0-2-"}, head="My first lick\n"))
    assert lick.title == "My first lick"
    assert any("Line 1" in remark for remark in lick.remarks)


# -- strings and frets -------------------------------------------------------------------
def test_two_digits_side_by_side_are_one_fret():
    lick = read_tab(tab({"e": "-10-12-1-0-"}))
    assert [n.fret for n in lick.notes] == [10, 12, 1, 0]


@pytest.mark.parametrize(
    ("text", "name", "midis"),
    [
        ("E|-0-\nA|---\nD|---\nG|---", "mandolin", [76]),
        ("G|---\nD|---\nA|---\nE|-0-", "bass", [28]),
        ("A|---\nE|---\nC|---\nG|-0-", "ukulele", [67]),
        ("d|---\nB|---\nG|---\nD|---\ng|-0-", "five-string banjo", [67]),
        ("Instrument: tenor banjo\n-0-|\n---|\n---|\n---|", "tenor banjo", [69]),
        ("---\n---\n---\n---\n---\n-3-", "guitar", [43]),
        ("E|-3-\nA|---\nD|---\nG|---\nB|---\ne|---", "guitar", [43]),
    ],
)
def test_instrument_from_the_string_lines(text, name, midis):
    lick = read_tab(text)
    assert lick.instrument.name == name
    assert [n.midi for n in lick.notes] == midis


def test_string_names_give_the_tuning():
    lick = read_tab("D|---\nA|---\nG|---\nD|---\nA|---\nD|-0-")
    assert lick.instrument.tuning == "DADGAD"
    assert lick.notes[0].midi == 38


def test_double_stops_run_from_high_to_low_and_share_a_length():
    lick = read_tab(tab({"B": "-3---5-", "G": "-4---5-"}))
    assert [(n.midi, n.onset) for n in lick.notes] == [(62, 0), (59, 0), (64, 2), (60, 2)]


def test_line_ends_tabs_smart_dashes_and_bom_are_tolerated():
    plain = tab({"A": "-0-2-3-0-"})
    rough = "\ufeff" + plain.replace("\n", "   \r\n").replace("A|-0-2", "A|–0—2")
    assert rhythm(read_tab(rough)) == rhythm(read_tab(plain))


def test_several_systems_and_repeats():
    one = tab({"A": "-0-2-3-0-"})
    lick = read_tab(one + "\n\n" + one.replace("|\n", ":|\n") + "\n")
    assert len(lick.bars) == 2
    assert len(lick.notes) == 8
    assert any("repeat" in remark for remark in lick.remarks)


def test_words_after_the_strings_are_remarked():
    text = tab({"A": "-0-2-3-0-"}).replace("e|---------|", "e|---------|  x2")
    lick = read_tab(text)
    assert len(lick.notes) == 4
    assert any("x2" in remark and "once" in remark for remark in lick.remarks)


# -- chords ------------------------------------------------------------------------------
def test_chords_begin_over_their_notes():
    lick = read_tab(
        tab({"A": "-0-2-3-0-|-0-2-3-0-"}, above="  G    C7    N.C.")
    )  # before the first note of a bar is on its bar line
    assert [(c.onset, c.symbol and c.symbol.text) for c in lick.chords] == [
        (0, "G"), (2, "C7"), (4, None),
    ]  # fmt: skip
    assert lick.chords[-1].end == 8


def test_bar_lines_in_a_chord_row():
    text = tab({"A": "-0-2-3-0-|-0-2-3-0-"}, above=" | Am       | D7      |")
    assert [(c.onset, c.symbol.text) for c in read_tab(text).chords] == [(0, "Am"), (4, "D7")]


# -- counting ----------------------------------------------------------------------------
def test_eighths_and_a_half():
    lick = read_tab(tab({"A": "-0-2-3-------"}, below="   1 & 2   3 4"))
    assert rhythm(lick) == [(0, F(1, 2)), (F(1, 2), F(1, 2)), (1, 3)]
    assert lick.remarks == ()


@pytest.mark.parametrize(
    ("row", "count", "expected"),
    [
        ("-0-2-3-5-", "   1 e & a", [0, F(1, 4), F(1, 2), F(3, 4)]),
        ("-0-2-3-5-", "   1 + 2 and", [0, F(1, 2), 1, F(3, 2)]),
        ("-0-2----3---5-", "   1 trip let 2", [0, F(1, 3), F(2, 3), 1]),
        ("-0-2--3--5-", "   1 la li 2", [0, F(1, 3), F(2, 3), 1]),
        ("-0-2-3-5-", "   1 & a 2", [0, F(1, 3), F(2, 3), 1]),  # even columns: a triplet
        ("-0---2-3-5-", "   1   & a 2", [0, F(1, 2), F(3, 4), 1]),
        ("-0-5-", "   1 a", [0, F(3, 4)]),
        ("-0-2--3--4--5--7-", "   1 ta la ta li ta", [F(k, 6) for k in range(6)]),
    ],
)
def test_syllables(row, count, expected):
    assert onsets(read_tab(tab({"A": row}, below=count))) == expected


def test_count_header_settles_one_and_a():
    rows = {"A": "-0-2-3-5-"}
    straight = read_tab(tab(rows, head="Count: straight", below="   1 & a 2"))
    assert onsets(straight) == [0, F(1, 2), F(3, 4), 1]
    triplet = read_tab(tab({"A": "-0---3-5-"}, head="Count: triplets", below="   1   a 2"))
    assert onsets(triplet) == [0, F(2, 3), 1]


@pytest.mark.parametrize(
    ("meter", "count", "expected"),
    [
        ("6/8", "   1 2 3 4 5 6", [0, F(1, 2), 1, F(3, 2), 2, F(5, 2)]),
        ("6/8", "   1 & a 2 & a", [0, F(1, 2), 1, F(3, 2), 2, F(5, 2)]),
        ("7/8", "   1 2 3 4 5 6", [0, F(1, 2), 1, F(3, 2), 2, F(5, 2)]),
        ("2/2", "   1 & 2 & 3 &", [0, F(1, 2), 1, F(3, 2), 2, F(5, 2)]),
    ],
)
def test_what_numbers_count_in_other_meters(meter, count, expected):
    text = tab({"A": "-0-2-3-0-2-3-"}, head=f"Meter: {meter}", below=count)
    assert onsets(read_tab(text)) == expected


def test_two_two_counts_halves():
    lick = read_tab(tab({"A": "-0-2-3-0-"}, head="Meter: 2/2", below="   1 & 2 &"))
    assert onsets(lick) == [0, 1, 2, 3]


def test_rests_in_parentheses_last_to_the_next_fret():
    lick = read_tab(tab({"A": "-0-2-------3-"}, below="   1 & (2) & 3"))
    assert onsets(lick) == [0, F(1, 2), 2]
    assert lengths(lick) == [F(1, 2), F(1, 2), 2]


def test_notes_held_over_the_bar_line():
    lick = read_tab(tab({"A": "-0---2-|-----3-"}, below="   1   4   1 2 3"))
    assert rhythm(lick) == [(0, 3), (3, 3), (6, 2)]


def test_pickup_from_the_count():
    for count in ("   4 &   1 2", "   & 4   1 2"):
        lick = read_tab(tab({"A": "-0-2-|-3-5-"}, below=count))
        assert lick.bars[0].number == 0
        assert lick.pickup == (1 if count.startswith("   4") else F(3, 2))
    lick = read_tab(tab({"A": "-0-|-3-5-"}, below="   &   1 2"))
    assert lick.pickup == F(1, 2)
    assert [b.number for b in lick.bars] == [0, 1]


def test_pickup_header():
    lick = read_tab(tab({"A": "-0-|-3-5-3-5-"}, head="Pickup: 1/8"))
    assert lick.pickup == F(1, 2)
    assert lick.notes[1].onset == F(1, 2)


def test_frets_between_counts_are_placed_by_column():
    lick = read_tab(tab({"A": "-0-2-3-5-0-2-3-5-"}, below="   1   2   3   4"))
    assert onsets(lick) == [F(k, 2) for k in range(8)]
    assert any("without a count" in remark for remark in lick.remarks)


def test_a_count_may_stand_above_the_strings_or_be_labelled():
    rows = {"A": "-0-2-3-"}
    want = [0, F(1, 2), 1]
    assert onsets(read_tab(tab(rows, above="   1 & 2"))) == want
    labelled = "\n".join("      " + row for row in tab(rows).splitlines())
    assert onsets(read_tab(labelled + "\nCount:   1 & 2")) == want


def test_counts_typed_beside_the_frets_are_taken_in_order():
    lick = read_tab(tab({"A": "-0-2-3-5-"}, below="  1 2 3 4"))
    assert onsets(lick) == [0, 1, 2, 3]
    assert any("in order" in remark for remark in lick.remarks)


def test_ties_written_out_change_nothing():
    a = read_tab(tab({"A": "-0---2-|-=---3-"}, below="   1   4   1 2 3"))
    b = read_tab(tab({"A": "-0---2-|-----3-"}, below="   1   4   1 2 3"))
    assert rhythm(a) == rhythm(b)


# -- marks -------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("row", "index", "pitch", "marks"),
    [
        ("-5h7---", 1, 57 - 5, [Mark("hammer-on")]),
        ("-7p5---", 1, 50, [Mark("pull-off")]),
        ("-5/7---", 1, 52, [Mark("slide")]),
        ("-5/--7-", 1, 52, [Mark("slide")]),
        ("-7\\5---", 1, 50, [Mark("slide")]),
        ("-5s7---", 1, 52, [Mark("slide")]),
        ("-/7----", 0, 52, [Mark("slide in", F(-1))]),
        ("-\\7----", 0, 52, [Mark("slide in", F(1))]),
        ("-7\\----", 0, 52, [Mark("slide out", F(-1))]),
        ("-7b9---", 0, 54, [Mark("bend", F(2))]),
        ("-7b(9)-", 0, 54, [Mark("bend", F(2))]),
        ("-7b----", 0, 54, [Mark("bend", F(2))]),
        ("-7b½---", 0, 53, [Mark("bend", F(1))]),
        ("-7b1/2-", 0, 53, [Mark("bend", F(1))]),
        ("-7^9---", 0, 54, [Mark("bend", F(2))]),
        ("-7b9r7-", 1, 52, [Mark("release")]),
        ("-7b9r--", 1, 52, [Mark("release")]),
        ("-7~~~--", 0, 52, [Mark("vibrato")]),
        ("-x-----", 0, 45, [Mark("dead")]),
        ("-(7)---", 0, 52, [Mark("ghost")]),
        ("-<12>--", 0, 57, [Mark("harmonic")]),
        ("-7*----", 0, 64, [Mark("harmonic")]),
        ("-7>----", 0, 52, [Mark("accent")]),
        ("-7.----", 0, 52, [Mark("staccato")]),
    ],
)
def test_marks(row, index, pitch, marks):
    note = read_tab(tab({"A": row})).notes[index]
    assert list(note.marks) == marks
    assert note.midi == pitch


def test_a_slur_goes_to_its_own_string():
    lick = read_tab(tab({"A": "-5h----7-", "D": "---7-----"}))
    assert [n.string for n in lick.notes if n.has("hammer-on")] == [5]


def test_rows_of_strokes_and_muting():
    lick = read_tab(tab({"A": "-0-2-3-0-"}, above="   d u d u\n   PM---|"))
    assert [n.has("down") for n in lick.notes] == [True, False, True, False]
    assert [n.has("palm mute") for n in lick.notes] == [True, True, True, False]


def test_grace_notes_take_no_time():
    lick = read_tab(tab({"A": "-g3h5---7-"}, below="     1   2"))
    assert onsets(lick) == [0, 1]
    assert [g.fret for g in lick.notes[0].grace] == [3]


def test_pitches_are_spelled_by_the_key():
    flat = read_tab(tab({"A": "-1-"}, head="Key: Eb")).notes[0]
    sharp = read_tab(tab({"A": "-1-"}, head="Key: B")).notes[0]
    assert (flat.pitch.name, sharp.pitch.name) == ("Bb2", "A#2")


# -- errors ------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("text", "line", "column", "says"),
    [
        (tab({"A": "-0-35-"}), 5, 6, "no fret 35"),
        (tab({"A": "-0-123-"}), 5, 6, "two digits"),
        (tab({"A": "-0-q-"}), 5, 6, "'q' is no sign"),
        (tab({"A": "-5h---"}), 5, 5, "leads to no fret"),
        (tab({"A": "-7b5--"}), 5, 5, "cannot sound as fret 5"),
        (tab({"A": "-<6>--"}), 5, 4, "no natural harmonic at fret 6"),
        (tab({"A": "-0-2-"}, below="   1 5"), 7, 6, "past the end of a 4/4 bar"),
        (tab({"A": "-0-2-"}, below="   2 1"), 7, 6, "goes back"),
        (tab({"A": "-0-2-"}, below="   1 1"), 7, 6, "stands twice"),
        (tab({"A": "-12---"}, below="   1&"), 7, 5, "two counts"),
        (tab({"A": "-0-2-"}, below="   1 (2)"), 5, 6, "over a rest"),
        (tab({"A": "-0-"}, head="Instrument: lute"), 1, 13, "no instrument is called 'lute'"),
        (tab({"A": "-0-"}, head="Key: H"), 1, 6, "not a key"),
        (tab({"A": "-0-"}, head="Meter: 4/5"), 1, 8, "not a meter"),
        (tab({"A": "-0-"}, head="Capo: high"), 1, 7, "not a fret"),
        (tab({"A": "-0-"}, head="Title: A\nTitle: B"), 2, 1, "given twice"),
        ("e|-0-|\nB|---|", 1, 1, "2 string lines"),
        ("Instrument: guitar\ne|-0-|\nB|---|\nG|---|\nD|---|", 2, 1, "a guitar has 6 strings"),
        (tab({"A": "-0-|-2-"}).replace("e|---|---|", "e|-------|"), 1, 1, "this string has 1 bar"),
        (tab({"A": "-0-2-"}, above="  Gq7 G7 "), 1, 3, "not a chord symbol"),
        ("-0-\n---\n---\n---", 1, 1, "could be several instruments"),
        ("hello\nthere", None, None, "no string lines"),
        ("", None, None, "no string lines"),
        ("e|-\x000-|", 1, 4, "not plain text"),
    ],
)
def test_errors_name_line_and_column(text, line, column, says):
    with pytest.raises(ReadError) as caught:
        read_tab(text)
    assert says in str(caught.value)
    assert (caught.value.line, caught.value.column) == (line, column)


def test_too_large():
    with pytest.raises(TooLarge):
        read_tab("e|-0-|\n" * 200_000)
    with pytest.raises(TooLarge):
        read_tab("e|" + "-" * 50_000)


# -- anything at all ---------------------------------------------------------------------
_TABBY = st.text("0123456789-|hpbrsx/\\~^()<>*=.:gtv \n&eaEADGBC#m+½", max_size=300)


@settings(max_examples=300, deadline=None)
@given(_TABBY | st.text(max_size=200))
@example("e|--")
@example("0--")
@example("Pickup: 1/8\n-0--\n----\n----\n----\n----\n----")
def test_arbitrary_text_gives_a_lick_or_one_clear_error(text):
    try:
        lick = read_tab(text)
    except LinewrightError:
        return
    assert lick.bars


@settings(max_examples=300, deadline=None)
@given(
    st.lists(
        st.text("0123579-------|hpbr/~x=() ", min_size=1, max_size=40), min_size=6, max_size=6
    ),
    st.text("1234&ea()la  |", max_size=40),
    st.text("GACm7 |du", max_size=40),
    st.text("MeterKyPickuBlngh: 0123456789/+", max_size=20),
)
def test_arbitrary_rows_give_a_lick_or_one_clear_error(rows, count, chords, head):
    names = "eBGDAE"
    lines = [head, chords, *(f"{n}|{row}" for n, row in zip(names, rows, strict=True)), count]
    try:
        lick = read_tab("\n".join(lines))
    except LinewrightError:
        return
    assert lick.bars


@pytest.mark.parametrize("head", ["", "Instrument: guitar", "Tuning: BEADGBE"])
def test_seven_named_lines_are_a_seven_string_guitar(head):
    lines = [f"{name}|-0-2-3-5-|" for name in "eBGDAEB"]
    lick = read_tab("\n".join([head, *lines]))
    assert lick.instrument.name == "seven-string guitar"
    assert min(note.midi for note in lick.notes) == 35  # B1 (common practice)


def test_seven_lines_of_no_known_order_are_counted():
    with pytest.raises(ReadError, match="7 string lines"):
        read_tab("\n".join(["Instrument: guitar", *("|-0-2-3-5-|" for _ in range(7))]))
