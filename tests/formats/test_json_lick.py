"""JSON is the lossless form: whatever a lick holds comes back equal, and errors name the field."""

import contextlib
import json
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewright.errors import LinewrightError, ReadError, TooLarge
from linewright.formats.lickjson import lick_from_dict, lick_to_dict, read_json, write_json
from linewright.score import Bar, ChordSpan, Instrument, Lick, Meter, Note, bars_for
from linewright.theory import ChordSymbol, Key, Pitch, PitchClass
from strategies import GUITAR, licks

F = Fraction
BANJO = Instrument(
    "five-string banjo",
    tuple(Pitch.parse(p) for p in ("D4", "B3", "G3", "D3", "G4")),
    "open G",
    22,
    0,
    ((5, 5),),
)


@given(licks(swing=True) | licks(instrument=GUITAR))
def test_write_then_read_gives_the_same_lick(lick):
    assert read_json(write_json(lick)) == lick


@given(licks(max_bars=1))
def test_the_dict_form_is_plain_json(lick):
    assert lick_from_dict(json.loads(json.dumps(lick_to_dict(lick)))) == lick


def test_values_whose_plain_text_would_not_read_back_keep_their_object_form():
    odd_meter = Meter(4, 4, (4,))
    odd_key = Key(PitchClass("G"), "ionian", (PitchClass("C", 1),))
    odd_chord = ChordSymbol(PitchClass("B", -2), "7")
    lick = Lick((), (Bar(1, F(0), F(4), odd_meter, odd_key),), (ChordSpan(F(0), F(4), odd_chord),))
    assert read_json(write_json(lick)) == lick


def test_an_instrument_keeps_its_short_string_and_courses():
    note = Note(F(0), F(1), Pitch.parse("G4"), 5, 0)
    lick = Lick((note,), bars_for(Meter(2, 4), F(2)), instrument=replace(BANJO, courses=2))
    assert read_json(write_json(lick)) == lick


def test_remarks_and_tags_are_kept():
    lick = Lick(
        (),
        bars_for(Meter(4, 4), F(4)),
        tags=("warm-up",),
        remarks=("rhythm inferred",),
        spelled=False,
    )
    back = read_json(write_json(lick))
    assert back.tags == ("warm-up",)
    assert not back.spelled
    assert back.remarks == ("rhythm inferred",)


def _small(**changes):
    value = lick_to_dict(
        Lick((Note(F(0), F(1), Pitch.parse("G3"), 3, 0),), bars_for(Meter(4, 4), F(4)))
    )
    return value | changes


@pytest.mark.parametrize(
    ("value", "place"),
    [
        (_small(notes=[{"onset": "0", "duration": "1"}]), "notes[0].pitch"),
        (_small(notes=[{"onset": "0", "duration": "1", "pitch": "H3"}]), "notes[0].pitch"),
        (_small(notes=[{"onset": "0", "duration": "0", "pitch": "G3"}]), "notes[0]"),
        (_small(notes=[{"onset": 0.5, "duration": "1", "pitch": "G3"}]), "notes[0].onset"),
        (_small(notes=[{"onset": "1e99", "duration": "1", "pitch": "G3"}]), "notes[0].onset"),
        (_small(notes=[{"onset": "1/0", "duration": "1", "pitch": "G3"}]), "notes[0].onset"),
        (_small(notes=[7]), "notes[0]"),
        (_small(notes={}), "notes"),
        (_small(bars=[{"number": 1, "meter": "4/5"}]), "bars[0].meter"),
        (_small(bars=[{"number": True, "meter": "4/4"}]), "bars[0].number"),
        (_small(bars=[{"number": 1, "meter": "4/4", "duration": "-1"}]), "bars[0].duration"),
        (_small(bars=[{"number": 1, "meter": "4/4", "key": {"tonic": "Q"}}]), "bars[0].key"),
        (_small(chords=[{"onset": "0", "duration": "1", "symbol": "zz"}]), "chords[0].symbol"),
        (_small(tempo={"bpm": "5"}), "tempo"),
        (_small(instrument={"name": "guitar", "strings": []}), "instrument"),
        (_small(instrument={"name": "guitar"}), "instrument.strings"),
        (_small(title=3), "title"),
        (_small(spelled="no"), "spelled"),
        (_small(style="\ud800"), "style"),
        (_small(colour="red"), "the lick"),
        (_small(linewright=2), "linewright"),
    ],
)
def test_an_error_names_the_field_at_fault(value, place):
    with pytest.raises(ReadError) as caught:
        lick_from_dict(value)
    assert caught.value.place == place


@pytest.mark.parametrize(
    "text",
    ["", "[]", "{}", "null", "{", "[" * 100_000, '{"linewright": NaN}', '{"linewright": 1e999}',
     '{"linewright": ' + "9" * 5000 + "}", b"\xff\xfe{", b"\x80{}"],
)  # fmt: skip
def test_what_is_not_a_lick_is_refused(text):
    with pytest.raises(ReadError):
        read_json(text)


def test_a_file_past_the_limit_is_refused_before_it_is_parsed():
    with pytest.raises(TooLarge, match="bytes"):
        read_json(b" " * (8 * 1024 * 1024 + 1))


def test_a_contradiction_names_the_note():
    value = _small(
        notes=[
            {"onset": "0", "duration": "2", "pitch": "G3"},
            {"onset": "1", "duration": "1", "pitch": "A3"},
        ]
    )
    with pytest.raises(ReadError, match="still sounds") as caught:
        lick_from_dict(value)
    assert caught.value.place == "note 2"


_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=8,
)


@given(licks(max_bars=1, instrument=GUITAR), st.data())
def test_a_lick_with_any_field_replaced_reads_or_fails_cleanly(lick, data):
    value = lick_to_dict(lick)
    target = value
    while True:
        name = data.draw(
            st.sampled_from(sorted(target) if isinstance(target, dict) else range(len(target)))
        )
        inner = target[name]
        if not inner or not isinstance(inner, dict | list) or data.draw(st.booleans()):
            target[name] = data.draw(_JSON)
            break
        target = inner
    with contextlib.suppress(LinewrightError):
        lick_from_dict(value)
