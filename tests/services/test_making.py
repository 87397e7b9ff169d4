"""Lines by wishes: read and written as addresses, held bars, shares that give way, keeping."""

from fractions import Fraction
from itertools import islice, pairwise
from urllib.parse import parse_qsl

import pytest
from hypothesis import given
from hypothesis import strategies as st

import linewright
from linewright.errors import OptionError
from linewright.lines import GRIDS, LineModel
from linewright.services.bring import bring_in
from linewright.services.line_view import elements_of, given_way, view_of
from linewright.services.making import (
    keep_line,
    line_of,
    nearer,
    stream_bars,
    stream_dict,
    teaching_of,
)
from linewright.services.wishes import (
    MOST_BARS,
    Wishes,
    parse_steps,
    parse_wishes,
    steps_text,
    trimmed,
    wishes_query,
)
from linewright.store import Query
from samples import PORCH


@pytest.fixture(scope="module")
def lick():
    return bring_in(PORCH.encode()).lick


wishes = st.builds(
    Wishes,
    over=st.sampled_from(["", "12-bar blues", "G7 | C7 D7", "1 4 5 6m"]),
    bars=st.none() | st.integers(1, MOST_BARS),
    strict=st.booleans(),
    swing=st.none() | st.booleans(),
    intensity=st.none() | st.sampled_from([(0.4, 1.6), (1.0, 0.0), (0.0, 10.0)]),
    low=st.none() | st.sampled_from(["C3", "Bb2"]),
    high=st.none() | st.sampled_from(["F#5", "G4"]),
    mix=st.none()
    | st.dictionaries(
        st.sampled_from(["f1", "b5", "#1"]), st.integers(0, 100).map(lambda p: p / 100), min_size=1
    ).map(lambda mix: tuple(sorted(mix.items()))),
    leap=st.integers(1, 24),
    grid=st.sampled_from(sorted(GRIDS)),
    seed=st.integers(0, 2**53),
    follow=st.none() | st.sampled_from(["home", "chords"]),
    start=st.none() | st.sampled_from(["1", "b3", "G4"]),
    lick_in=st.none() | st.tuples(st.integers(1, 9), st.integers(9, 20)),
    quote=st.integers(2, 1000),
)


@given(wished=wishes)
def test_wishes_come_back_from_their_address(wished):
    assert parse_wishes(parse_qsl(wishes_query(wished))) == wished


@given(first=wishes, second=wishes, hold=st.sets(st.integers(1, MOST_BARS), min_size=1))
def test_the_line_before_comes_back_from_an_address(first, second, hold):
    now = second.with_(hold=tuple(sorted(hold)))
    pairs = [*parse_qsl(wishes_query(now)), ("from", steps_text((first,)))]
    assert parse_steps(pairs) == (first, now)


def test_only_lines_that_held_bars_come_from_are_told():
    first, second = Wishes(seed=1), Wishes(seed=2, hold=(1, 2))
    third = Wishes(seed=3, hold=(2,))
    assert trimmed((first, second, third)) == (first, third)
    assert trimmed((first, second, Wishes(seed=3, hold=(5,)))) == (
        first, second, Wishes(seed=3, hold=(5,)),
    )  # fmt: skip
    assert trimmed((first, second, Wishes(seed=4))) == (Wishes(seed=4),)


def _bar(line, number):
    bar = next(b for b in line.lick.bars if b.number == number)
    return [
        (n.onset - bar.onset, n.duration, n.midi, n.string, n.fret)
        for n in line.lick.notes
        if bar.onset <= n.onset < bar.end
    ]


def test_held_bars_stay_through_changed_wishes(lick):
    first = Wishes(over="12-bar blues", seed=1)
    second = Wishes(over="12-bar blues", seed=2, mix=(("b5", 0.05),), hold=(2, 3))
    third = Wishes(over="12-bar blues", seed=3, hold=(3, 9))
    lines = [
        line_of(lick, None, steps) for steps in ((first,), (first, second), (first, second, third))
    ]
    assert [_bar(lines[0], k) for k in (2, 3)] == [_bar(lines[1], k) for k in (2, 3)]
    assert [_bar(lines[1], k) for k in (3, 9)] == [_bar(lines[2], k) for k in (3, 9)]
    assert _bar(lines[0], 5) != _bar(lines[1], 5)


def test_a_line_depends_on_nothing_but_lick_and_wishes(lick):
    wished = (Wishes(over="1 4 5 1", seed=5),)
    there = line_of(lick, None, wished)
    teaching_of.cache_clear()
    assert linewright.line_model(linewright.analyze(lick)).sample(there.request) == there


def test_the_lick_itself_stands_where_it_is_wished(lick):
    line = line_of(lick, None, (Wishes(bars=6, lick_in=(3, 4)),))
    own = [n.midi for n in lick.notes]
    found = [n.midi for n, why in zip(line.lick.notes, line.notes, strict=True) if why.pinned]
    assert found == own
    with pytest.raises(OptionError, match="cannot stand in bars 7 to 8"):
        line_of(lick, None, (Wishes(bars=6, lick_in=(7, 8)),))


@pytest.mark.parametrize(
    ("wished", "words"),
    [
        (Wishes(hold=(1,)), "no line before"),
        (Wishes(grid="waves"), "no grid"),
        (Wishes(over="nothing here"), "no chord"),
        (Wishes(mix=(("q7", 0.1),)), "does not teach"),
        (Wishes(mix=(("b5", 1.0),)), "at most"),
        (Wishes(start="zz"), "neither a degree nor a pitch"),
    ],
)
def test_what_cannot_be_is_said(lick, wished, words):
    with pytest.raises(OptionError, match=words):
        line_of(lick, None, (wished,))


def test_holding_a_bar_that_one_of_the_lines_lacks_is_refused(lick):
    with pytest.raises(OptionError, match="no bar 7 to hold"):
        line_of(lick, None, (Wishes(bars=4), Wishes(bars=8, hold=(7,))))


def test_elements_have_words_and_shares(lick):
    line = line_of(lick, None, (Wishes(),))
    found = {e.name: e for e in elements_of(lick, None, Wishes(), line)}
    assert set(found) == {"f1", "b5"}
    assert found["b5"].kind == "outside"
    assert "blue note" in found["b5"].words
    assert 0 < found["b5"].own <= found["b5"].most < 100
    assert found["f1"].got == pytest.approx(100 * line.got["f1"])


def test_untouched_shares_give_way_and_touched_ones_stay(lick):
    own = {e.name: e.own for e in elements_of(lick, None, Wishes())}
    same = tuple((name, share / 100) for name, share in sorted(own.items()))
    assert given_way(lick, None, (Wishes(mix=same),))[-1].mix is None
    mix = dict(given_way(lick, None, (Wishes(mix=(("b5", 0.4), ("f1", own["f1"] / 100))),))[-1].mix)
    assert mix["b5"] == 0.4
    assert mix["f1"] < own["f1"] / 100
    with pytest.raises(OptionError, match="at most"):
        given_way(lick, None, (Wishes(mix=(("b5", 0.99), ("f1", own["f1"] / 100))),))


def test_simpler_leaps_less_and_harder_more(lick):
    steps = (Wishes(bars=4),)
    easy, hard = (nearer(lick, None, steps, way)[-1] for way in ("simpler", "harder"))
    assert easy.leap < steps[-1].leap < hard.leap
    assert easy.with_(leap=7) == hard.with_(leap=7) == steps[-1]
    for wished in (easy, hard):
        line_of(lick, None, (wished,))


def test_more_like_this_takes_what_the_line_is_for_its_wishes(lick):
    steps = (Wishes(bars=8, seed=3),)
    line, (like,) = line_of(lick, None, steps), nearer(lick, None, steps, "like")
    assert dict(like.mix) == {name: round(share, 2) for name, share in line.got.items()}
    heights = [n.midi for n in line.lick.notes]
    other = [n.midi for n in line_of(lick, None, (like,)).lick.notes]
    assert heights != other
    assert min(heights) <= min(other) <= max(other) <= max(heights)


def plain(bar):
    return (bar.lick.bars[0].number, bar.lick.notes, bar.lick.chords, bar.notes)


def test_a_stream_is_the_same_in_any_portions(lick):
    wished = Wishes(over="12-bar blues", seed=5)
    whole = [plain(bar) for bar in islice(stream_bars(lick, None, wished), 40)]
    assert [bar[0] for bar in whole] == list(range(1, 41))
    for seed in range(10):  # other streams, so that this one is not kept open
        next(stream_bars(lick, None, wished.with_(seed=100 + seed)))
    for first, size in ((7, 3), (10, 1), (1, 4), (30, 11), (11, 19)):
        got = [plain(bar) for bar in islice(stream_bars(lick, None, wished, first), size)]
        assert got == whole[first - 1 : first - 1 + size]
    other = [plain(bar) for bar in islice(stream_bars(lick, None, wished.with_(seed=6)), 8)]
    assert [bar[1] for bar in other] != [bar[1] for bar in whole[:8]]


def test_a_stream_joins_within_the_leap_and_its_frame(lick):
    bars = list(islice(stream_bars(lick, None, Wishes(over="12-bar blues", leap=5)), 60))
    notes = [note.midi for bar in bars for note in bar.lick.notes]
    assert max(abs(a - b) for a, b in pairwise(notes)) <= 5
    assert all(bar.lick.length == bar.lick.meter.length for bar in bars)
    assert {str(c.symbol) for bar in bars[12:24] for c in bar.lick.chords} == {"G7", "C7", "D7"}
    joined = stream_dict(bars[12:14])
    assert (joined["from_bar"], joined["next_bar"], joined["bars"]) == (13, 15, 2)
    assert [n["index"] for n in joined["notes"]] == list(range(len(joined["notes"])))
    onsets = [Fraction(n["onset"]) for n in joined["notes"]]
    assert onsets == sorted(set(onsets))
    assert {n["bar"] for n in joined["notes"]} == {13, 14}


@pytest.mark.parametrize("bar", [0, -3, 10_001])
def test_a_stream_has_no_such_bar(lick, bar):
    with pytest.raises(OptionError, match="a stream from bar"):
        next(stream_bars(lick, None, Wishes(), bar))


def test_the_engraved_line_says_why_each_note_is_there(lick):
    line = line_of(lick, None, (Wishes(bars=2),))
    view = view_of(line)
    assert sum(len(notes) for _, notes in view.reasons) == len(line.notes)
    for _, notes in view.reasons:
        for note in notes:
            assert f"{note.why}</title>" in view.wide
    assert view_of(line, ("narrow",)).wide == ""


def test_a_line_is_kept_as_a_lick_on_its_home(lick, library):
    kept = keep_line(library, lick, None, (Wishes(over="12-bar blues", seed=4),), "Gate")
    assert kept.lick.title == "Gate"
    assert kept.entry.facts.tonic == "G"
    assert library.search(Query(tag="line")).total == 1
    moved = keep_line(library, lick, None, (Wishes(over="ii-V-I in D"),))
    assert moved.lick.title == "Line on Porch step, seed 0"
    assert moved.entry.facts.tonic == "D"


def test_a_lick_without_a_frame_is_refused_in_words():
    text = b"X:1\nT:Steps\nM:4/4\nL:1/8\nK:C\n" + b"C^CD^DE F^FG|^GA^ABc2z2|"
    brought = bring_in(text)
    assert brought.analysis.frame is None
    with pytest.raises(OptionError, match="no plain scale"):
        line_of(brought.lick, None, (Wishes(),))


def test_the_front_door_makes_models(lick):
    model = linewright.line_model(linewright.analyze(lick))
    assert isinstance(model, LineModel)
    assert len(model.sample().lick.bars) == 4
