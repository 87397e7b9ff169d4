"""The ABC reader: what the standard says (section numbers are ABC 2.1's) and what it tolerates."""

from __future__ import annotations

from fractions import Fraction as F

import pytest

from linewright.errors import ChoiceNeeded, LinewrightError, OptionError, ReadError, TooLarge
from linewright.formats.abc import MAX_SIZE, decode, read_abc, split_book
from linewright.score import Lick


def tune(
    body: str, *, key: str = "C", meter: str = "4/4", unit: str = "1/8", more: str = ""
) -> Lick:
    return read_abc(f"X:1\nT:t\nM:{meter}\nL:{unit}\n{more}K:{key}\n{body}\n")


def rhythm(lick: Lick) -> list[F]:
    return [n.duration for n in lick.notes]


def names(lick: Lick) -> str:
    return " ".join(str(n.pitch) for n in lick.notes)


# -- lengths ---------------------------------------------------------------------------------
def test_unit_note_length_follows_the_meter() -> None:  # 3.1.7
    assert rhythm(read_abc("X:1\nM:2/4\nK:C\nA|")) == [F(1, 4)]
    assert rhythm(read_abc("X:1\nM:3/4\nK:C\nA|")) == [F(1, 2)]
    assert rhythm(read_abc("X:1\nM:none\nK:C\nA|")) == [F(1, 2)]


def test_note_lengths() -> None:  # 4.3
    lick = tune("A A2 A/ A/2 A3/2 A// A/4 A3/")
    assert rhythm(lick) == [F(n, 8) for n in (4, 8, 2, 2, 6, 1, 1, 6)]


def test_broken_rhythm() -> None:  # 4.4
    assert rhythm(tune("A>B c<d e>>f")) == [F(3, 4), F(1, 4), F(1, 4), F(3, 4), F(7, 8), F(1, 8)]
    assert rhythm(tune("A>{g}[Bd] z<c")) == [F(3, 4), F(1, 4), F(1, 4), F(3, 4)]


def test_tuplets() -> None:  # 4.13
    assert rhythm(tune("(3ABc")) == [F(1, 3)] * 3
    assert rhythm(tune("(2AB", meter="6/8")) == [F(3, 4)] * 2
    assert rhythm(tune("(5ABcde", meter="6/8")) == [F(3, 10)] * 5
    assert rhythm(tune("(5ABcde")) == [F(1, 5)] * 5
    assert rhythm(tune("(3:2:4G2A2Bc d")) == [F(2, 3), F(2, 3), F(1, 3), F(1, 3), F(1, 2)]
    assert rhythm(tune("(3::2AB c")) == [F(1, 3), F(1, 3), F(1, 2)]


def test_ties_are_merged_and_slurs_are_not() -> None:  # 4.11
    assert rhythm(tune("A4-A4-|A2 (AB)")) == [F(5), F(1, 2), F(1, 2)]
    assert rhythm(tune("[ce]4-[ce]4|")) == [F(4), F(4)]
    lick = tune("A-B")
    assert rhythm(lick) == [F(1, 2), F(1, 2)]
    assert any("slur" in remark for remark in lick.remarks)


def test_rests_leave_time() -> None:  # 4.5
    lick = tune("A z B2 x2 c2|Z2|d8|")
    assert [n.onset for n in lick.notes] == [0, 1, 3, 12]


# -- pitch -----------------------------------------------------------------------------------
def test_octaves() -> None:  # 4.1
    assert names(tune("C, C c c' c''")) == "C3 C4 C5 C6 C7"


def test_accidentals_end_with_the_bar() -> None:  # 4.2
    assert names(tune("^c c|c")) == "C#5 C#5 C5"
    assert names(tune("^c c'|", more="I:propagate-accidentals octave\n")) == "C#5 C6"
    assert names(tune("^c c|", more="%%propagate-accidentals not\n")) == "C#5 C5"


@pytest.mark.parametrize(
    ("text", "signature"),
    [
        ("G", {"F": 1}), ("Am", {}), ("Dmin", {"B": -1}), ("A dorian", {"F": 1}),
        ("EPhr", {}), ("Bb", {"B": -1, "E": -1}), ("F#m", {"F": 1, "C": 1, "G": 1}),
        ("D Mix", {"F": 1}), ("F lydian", {}), ("G ^c", {"F": 1, "C": 1}),
        ("D =c", {"F": 1}), ("D Phr ^f", {"B": -1, "E": -1, "F": 1}),
        ("D exp _b _e ^f", {"B": -1, "E": -1, "F": 1}), ("C clef=bass", {}),
    ],
)  # fmt: skip
def test_keys(text: str, signature: dict[str, int]) -> None:  # 3.1.14, whose table this follows
    key = tune("C", key=text).key
    assert key is not None
    assert key.signature == signature


def test_keys_without_a_tonic() -> None:
    assert tune("F C", key="none").key is None
    lick = tune("F C G", key="HP")
    assert lick.key is None
    assert names(lick) == "F#4 C#4 G4"


# -- ornaments and words ---------------------------------------------------------------------
def test_graces_take_no_time() -> None:  # 4.12
    lick = tune("{/g}A2 {fga}B2")
    assert rhythm(lick) == [1, 1]
    assert [len(n.grace) for n in lick.notes] == [1, 3]


def test_decorations_become_marks() -> None:  # 4.14
    lick = tune("uA vB .c Ld !accent!e !slide!f !trill!g")
    assert [[m.name for m in n.marks] for n in lick.notes] == [
        ["up"], ["down"], ["staccato"], ["accent"], ["accent"], ["slide in"], [],
    ]  # fmt: skip
    assert any("trill" in remark for remark in lick.remarks)


def test_redefined_letters() -> None:  # 4.16
    lick = tune("TA", more="U:T=!upbow!\n")
    assert lick.notes[0].has("up")


def test_chord_symbols_last_to_the_next_and_other_words_do_not_count() -> None:  # 4.18, 4.19
    lick = tune('"G7"A2 "^slow"B2 "4"c2 "N.C."d2|"Am/C"e8|')
    assert [(s.onset, s.duration, str(s.symbol)) for s in lick.chords] == [
        (0, 3, "G7"), (3, 1, "None"), (4, 4, "Am/C"),
    ]  # fmt: skip
    assert any('"4" is not a chord symbol' in remark for remark in lick.remarks)


def test_tempo_forms() -> None:  # 3.1.8
    def quarters(text: str) -> F | None:
        tempo = tune("A", more=f"Q:{text}\n").tempo
        return tempo.quarter_bpm if tempo else None

    assert quarters("1/4=120") == quarters('"Fast" 1/4=120 "now"') == quarters("120") == 120
    assert quarters("3/8=50") == 75
    assert quarters("1/4 3/8=40") == 100
    assert quarters("C=200") == 100
    assert quarters('"Andante"') is None


def test_words_of_the_header() -> None:
    lick = read_abc("X:1\nT:Caf\\'e \\% % note\nR:reel\nB:Book\nN:309\nS:a player\nK:C\nA|\n")
    assert (lick.title, lick.style) == ("Café %", "reel")
    assert lick.source == "Book, no. 309; a player"


# -- bars and repeats ------------------------------------------------------------------------
def test_a_short_first_bar_is_the_pickup() -> None:
    assert [(b.number, b.duration) for b in tune("A2|B8|c8|]").bars] == [(0, 1), (1, 4), (2, 4)]
    assert [b.number for b in tune("B8|c8|").bars] == [1, 2]


def test_once_takes_the_last_ending() -> None:  # 4.9
    lick = tune("|:A8|[1 B8:|[2 c8|]")
    assert names(lick) == "A4 C5"
    assert any("once" in remark for remark in lick.remarks)


def test_play_unfolds() -> None:
    def played(body: str) -> str:
        lick = read_abc(f"X:1\nM:4/4\nL:1/1\nK:C\n{body}\n", repeats="play")
        return "".join(n.pitch.step for n in lick.notes)

    assert played("|:A|1 B:|2 C|]") == "ABAC"
    assert played("|:A|[1,3 B:|[2 C:|[4 D|]") == "ABACABAD"
    assert played("A:|B::C:|") == "AABBCC"
    assert played("|:A|\\\n1 B:|2 C|]") == "ABAC"  # the ending's bar line on the line before
    assert played("|::A::|B") == "AAAB"  # 4.8: |:: and ::| mean three times
    assert played("|:A|1 B:|2 C:|D") == "ABACD"  # a sign after the last ending adds no third pass


def test_a_bar_split_by_a_repeat_sign_is_joined() -> None:
    lick = tune("A2|B8|c6::d2|e8|f6:|")
    assert [b.duration for b in lick.bars] == [1, 4, 4, 4, 3]


def test_meter_and_key_come_back_with_a_repeat() -> None:
    lick = read_abc("X:1\nM:4/4\nL:1/4\nK:C\n|:F4|[M:3/4][K:D]F3:|\n", repeats="play")
    assert [b.meter.text for b in lick.bars] == ["4/4", "3/4", "4/4", "3/4"]
    assert [str(b.key) for b in lick.bars] == ["C major", "D major"] * 2


def test_irregular_bars_stay_and_are_named() -> None:
    lick = tune("A8|B6|c8|d8|]")
    assert [b.duration for b in lick.bars] == [4, 3, 4, 4]
    assert any("kept as they are: 2" in remark for remark in lick.remarks)


# -- books and voices ------------------------------------------------------------------------
BOOK = "% a book\nM:3/4\n\nX:7\nT:One\nK:C\nA|\n\nX:9\nT:Two\nM:4/4\nK:G\nB\n"


def test_a_book_needs_a_choice() -> None:
    with pytest.raises(ChoiceNeeded) as found:
        read_abc(BOOK)
    assert found.value.options == ("7", "9")
    assert read_abc(BOOK, tune=9).title == "Two"
    with pytest.raises(OptionError):
        read_abc(BOOK, tune=3)


def test_each_tune_of_a_book_reads_alone_with_what_the_book_sets() -> None:
    one, two = split_book(BOOK)
    assert (one.number, one.title, two.number, two.title) == (7, "One", 9, "Two")
    assert read_abc(one.text).meter.text == "3/4"
    line = one.text.split("\n").index("X:7") + 1
    assert one.first_line + line - 1 == 4


def test_errors_carry_the_line_in_the_whole_text() -> None:
    with pytest.raises(ReadError) as found:
        read_abc(BOOK.replace("\nB\n", "\nB C'''''''''''''\n"), tune=9)
    assert (found.value.line, found.value.column) == (13, 3)


def test_voices_need_a_choice() -> None:
    text = 'X:1\nV:1 name="Fiddle"\nV:2\nK:C\n[V:1]A|B|\n[V:2]C|D|\n'
    with pytest.raises(ChoiceNeeded) as found:
        read_abc(text)
    assert found.value.options == ("1", "2")
    assert names(read_abc(text, voice="2")) == "C4 D4"
    assert names(read_abc(text, voice="Fiddle")) == "A4 B4"


# -- what old collections do -------------------------------------------------------------------
@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ("A!B!c", "A4 B4 C5"),  # line breaks of old programs
        ("A2!\nB2!", "A4 B4"),
        ("A*\nB", "A4 B4"),
        ("A \\\nB", "A4 B4"),  # continued line
        ("A`B``c", "A4 B4 C5"),
        ("A % comment B\nc", "A4 C5"),
        ("A|\nw:la la\nB", "A4 B4"),
        ("A|\nN:a note\nB", "A4 B4"),
        ("[r:remark]A", "A4"),
        ("+CE+", "E4 C4"),
        ('"unclosed A B', None),
        ("A B & c d|e", "A4 B4 E5"),
        ("A y2 B", "A4 B4"),
        ("A:|\nB:]", "A4 B4"),
        ("E:|:F:|", "E4 F4"),  # starts like a field
        ("A [CE B|c", "A4 C4 E4 B4 C5"),
    ],
)
def test_old_and_sloppy_text(body: str, expected: str | None) -> None:
    if expected is None:
        with pytest.raises(ReadError):
            tune(body)
    else:
        assert names(tune(body)) == expected


def test_what_means_nothing_is_named_with_its_place() -> None:
    lick = tune("A @ B")
    assert names(lick) == "A4 B4"
    assert lick.remarks[0].startswith("line 6, column 3: '@'")


# -- what is not music -------------------------------------------------------------------------
@pytest.mark.parametrize(
    "text",
    [
        "", "   \n", "hello, this is a letter", "X:1\nT:no key\nABC|", "X:1\nK:C\n",
        "X:1\nK:C\nz4|", "X:1\nK:?\nA", "X:1\nM:5/7\nK:C\nA", "X:1\nL:3/7\nK:C\nA",
        "X:1\nK:C\nA/97", "X:1\nK:C\n" + "?;#@ " * 40 + "a",
    ],
)  # fmt: skip
def test_a_clear_error(text: str) -> None:
    with pytest.raises(ReadError) as found:
        read_abc(text)
    assert found.value.message


def test_decode() -> None:
    assert decode("\ufeffT:é".encode()) == "T:é"
    assert decode("T:é".encode("latin-1")) == "T:é"
    with pytest.raises(ReadError, match="not text"):
        decode(b"MThd\x00\x00\x00\x06")
    with pytest.raises(TooLarge):
        decode(b"A" * (MAX_SIZE + 1))
    with pytest.raises(LinewrightError):
        read_abc("A" * (MAX_SIZE + 1))
