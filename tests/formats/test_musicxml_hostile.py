"""Broken, huge and malicious scores: one error of our family, soon, and nothing else."""

import contextlib
import io
import time
import zipfile
from copy import deepcopy
from fractions import Fraction
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewright.errors import LinewrightError, ReadError, TooLarge
from linewright.formats.musicxml import read_musicxml, write_musicxml, write_mxl
from linewright.score import ChordSpan, Lick, Mark, Meter, Note, bars_for
from linewright.theory import ChordSymbol, Key, Pitch, PitchClass

BOMB = b"""<?xml version="1.0"?>
<!DOCTYPE score-partwise [<!ENTITY a "aaaaaaaaaa">
<!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;">]>
<score-partwise>&c;</score-partwise>"""
OUTSIDE = b"""<?xml version="1.0"?>
<!DOCTYPE score-partwise [<!ENTITY x SYSTEM "file:///etc/passwd">]>
<score-partwise>&x;</score-partwise>"""


@cache
def sound_score() -> bytes:
    marks = (Mark("vibrato"), Mark("hammer-on"))
    notes = tuple(
        Note(Fraction(n, 2), Fraction(1, 2), Pitch.parse(p), marks=marks if n % 3 == 1 else ())
        for n, p in enumerate(["G4", "Bb4", "C5", "Db5", "C5", "Bb4", "G4", "F4"])
    )
    bars = bars_for(Meter(4, 4), Fraction(4), key=Key(PitchClass("G"), "minor"))
    chords = (ChordSpan(Fraction(0), Fraction(4), ChordSymbol.parse("G7")),)
    return write_musicxml(Lick(notes, bars, chords))


def zipped(content, name="score.musicxml", method=zipfile.ZIP_DEFLATED):
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", method) as archive:
        archive.writestr(name, content)
    return target.getvalue()


@pytest.mark.parametrize("data", [BOMB, OUTSIDE], ids=["entity bomb", "outside entity"])
def test_entities_are_refused(data):
    with pytest.raises(ReadError, match="entities"):
        read_musicxml(data)


def test_deep_xml_is_refused():
    for deep in (b"<a>" * 200_000, b"<score-partwise>" + b"<part>" * 1000):
        with pytest.raises(TooLarge, match="deep"):
            read_musicxml(deep)


def test_a_zip_bomb_is_refused_before_it_unpacks():
    bomb = zipped(b"<!-- " + b"a" * (100 << 20) + b" -->")
    assert len(bomb) < 1 << 20
    began = time.process_time()
    with pytest.raises(TooLarge, match="unpacks"):
        read_musicxml(bomb)
    assert time.process_time() - began < 1


def test_a_zip_whose_directory_lies_about_the_size_is_refused():
    data = bytearray(zipped(b"<a/>" + b" " * (30 << 20)))
    at = data.rfind(b"PK\x01\x02") + 24  # uncompressed size in the central directory
    data[at : at + 4] = (1000).to_bytes(4, "little")
    with pytest.raises(ReadError):
        read_musicxml(bytes(data))


@pytest.mark.parametrize(
    "data",
    [b"", b"PK\x03\x04", b"<", b"<score-partwise>", b"<score-partwise/>", b"\xff\xfe<\x00", b"\x00" * 99,
     zipped(b"nothing", "readme.md"), zipped(b"<html/>"), zipped(b"", "META-INF/container.xml"),
     b'<?xml version="1.0" encoding="no-such"?><score-partwise/>', b"<score-partwise>\x00"],
)  # fmt: skip
def test_what_is_no_score_is_one_clear_error(data):
    with pytest.raises(ReadError) as caught:
        read_musicxml(data)
    assert str(caught.value)


NOTE = b"<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration></note>"
REST = b"<note><rest/><duration>1</duration></note>"
CHORD = b"<harmony><root><root-step>C</root-step></root><kind>major</kind></harmony>"


def one_part(*measures):
    bars = b"".join(b'<measure number="1">' + m + b"</measure>" for m in measures)
    return b'<score-partwise><part id="P1">' + bars + b"</part></score-partwise>"


@pytest.mark.parametrize(
    "data",
    [
        one_part(NOTE * 20_000),
        one_part(NOTE + REST * 100_000),
        one_part(NOTE + CHORD * 50_000),
        one_part(*[NOTE] * 5_000),
    ],
    ids=["notes", "rests", "chords", "bars"],
)
def test_a_part_too_long_for_a_lick_is_refused_soon(data):
    began = time.process_time()
    with pytest.raises(TooLarge):
        read_musicxml(data)
    assert time.process_time() - began < 5


def test_repeat_signs_by_the_hundred_do_not_multiply():
    back = b'<barline location="right"><repeat direction="backward"/></barline>'
    began = time.process_time()
    lick = read_musicxml(one_part(*[NOTE * 4 + back] * 400), repeats="play")
    assert len(lick.notes) == 400 * 4 * 2
    with pytest.raises(TooLarge, match="play out"):
        read_musicxml(one_part(*[NOTE * 4 + back] * 1500), repeats="play")
    assert time.process_time() - began < 10


def _no_other_error(data):
    began = time.process_time()
    with contextlib.suppress(LinewrightError):
        read_musicxml(data)
    assert time.process_time() - began < 5


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=300))
def test_random_bytes(data):
    _no_other_error(data)
    _no_other_error(b"PK\x03\x04" + data)
    _no_other_error(b"<score-partwise>" + data)


@settings(max_examples=80, deadline=None)
@given(st.data())
def test_damaged_scores(data):
    whole = data.draw(st.sampled_from([sound_score(), write_mxl_of_sound()]))
    broken = bytearray(whole)
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(broken) - 1))
        broken[at] = data.draw(st.integers(0, 255))
    _no_other_error(bytes(broken[: data.draw(st.integers(1, len(broken)))]))
    _no_other_error(bytes(broken))


@cache
def write_mxl_of_sound():
    from linewright.formats.musicxml.container import pack

    return pack(sound_score())


VALUES = st.sampled_from(
    [
        "",
        "0",
        "-1",
        "1e9",
        "999999999999",
        "x",
        "C",
        "4",
        "1/2",
        "½",
        "stop",
        "start",
        "TAB",
        "none",
        "\u0663",
    ]
)


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_scores_with_absurd_values(data):
    from xml.etree import ElementTree as ET

    root = ET.fromstring(sound_score())
    elements = list(root.iter())
    for _ in range(data.draw(st.integers(1, 3))):
        element = data.draw(st.sampled_from(elements))
        action = data.draw(st.integers(0, 3))
        if action == 0:
            element.text = data.draw(VALUES)
        elif action == 1:
            element.attrib = dict.fromkeys(element.attrib, data.draw(VALUES))
        elif action == 2:
            element.clear()
        else:
            element.append(
                deepcopy(data.draw(st.sampled_from(elements[-40:])))
                if not len(element)
                else ET.Element("note")
            )
    _no_other_error(ET.tostring(root))


def test_a_lick_title_with_characters_xml_cannot_hold_is_still_written():
    lick = Lick((), bars_for(Meter(4, 4), Fraction(4)), title="a\x00b\x0c<&>")
    assert b"a b &lt;&amp;&gt;" in write_musicxml(lick)
    assert write_mxl(lick).startswith(b"PK")
