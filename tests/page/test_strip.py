"""The rhythm strip: every note in its time, the signs for what the rhythm is."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, given, settings

from linewright.analysis import analyze
from linewright.errors import OptionError
from linewright.page import rhythm_strip_svg
from linewright.page.strip import beats_words, rhythm_strip_rows
from linewright.score import Lick, Mark, Meter, Note, bars_for
from linewright.theory import Pitch
from strategies import licks

F = Fraction
SVG = "{http://www.w3.org/2000/svg}"


def phrase(*lengths: str, meter: Meter = Meter(4, 4), marks: dict[int, Mark] | None = None, **f):
    """A phrase on G and A by turns; a length in brackets is a rest."""
    notes, at = [], F(0)
    for length in lengths:
        if length.startswith("("):
            at += F(length.strip("()"))
            continue
        index = len(notes)
        mark = (marks[index],) if marks and index in marks else ()
        pitch = Pitch.parse("G4" if index % 2 else "A4")
        notes.append(Note(at, F(length), pitch, marks=mark))
        at += F(length)
    return Lick(tuple(notes), bars_for(meter, at, **f), title="<Strip> & co")


def strip(lick: Lick, width: int = 760) -> ET.Element:
    return ET.fromstring(rhythm_strip_svg(lick, analyze(lick), width))


def blocks(svg: ET.Element) -> dict[int, tuple[float, float, float]]:
    """Note index -> left edge, width and top of its block."""
    found = {}
    for g in svg.iter(SVG + "g"):
        if "data-note" in g.attrib and "role" in g.attrib:
            box = g.find(SVG + "rect").attrib
            assert int(g.attrib["data-note"]) not in found
            found[int(g.attrib["data-note"])] = tuple(float(box[k]) for k in ("x", "width", "y"))
    return found


def texts(svg: ET.Element, kind: str) -> list[str]:
    (*groups,) = (g for g in svg.iter(SVG + "g") if g.attrib.get("class") == kind)
    return [t.text for g in groups for t in g.iter(SVG + "text")]


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(licks())
def test_every_note_is_one_block_as_long_as_it_lasts(lick: Lick) -> None:
    svg = strip(lick, 360)
    found = blocks(svg)
    assert set(found) == set(range(len(lick.notes)))
    _, _, width, height = map(float, svg.attrib["viewBox"].split())
    assert all(x >= 0 and x + w <= width and y < height for x, w, y in found.values())
    whole = [i for i, n in enumerate(lick.notes) if n.end <= lick.bar_at(n.onset).end]
    if whole:
        scales = [(found[i][1] + 2.5) / float(lick.notes[i].duration) for i in whole]
        tiny = min(float(lick.notes[i].duration) for i in whole) < 0.2
        assert tiny or max(scales) == pytest.approx(min(scales), rel=0.05)


def test_notes_stand_at_their_beats() -> None:
    svg = strip(phrase("1", "1/2", "1/2", "(1)", "1"))
    found = blocks(svg)
    quarter = found[1][0] - found[0][0]
    assert [(found[i][0] - found[0][0]) / quarter for i in range(4)] == pytest.approx(
        [0, 1, 1.5, 3], abs=0.02
    )
    assert texts(svg, "beats") == ["1", "2", "3", "4"]


def test_a_compound_meter_counts_its_beats() -> None:
    # Common practice: 6/8 is counted in two.
    assert texts(strip(phrase("3/2", "3/2", meter=Meter(6, 8))), "beats") == ["1", "2"]


def test_a_pickup_keeps_the_numbers_of_its_beats() -> None:
    lick = phrase("1", "1", "1", "1", "1", pickup=F(1))
    assert texts(strip(lick), "beats") == ["4", "1", "2", "3", "4"]


def test_a_syncopated_note_has_its_triangle_and_says_so() -> None:
    # Longuet-Higgins and Lee (1984): an eighth-quarter-eighth bar is syncopated on its quarter.
    svg = strip(phrase("1/2", "1", "1/2", "2"))
    marked = [
        g for g in svg.iter(SVG + "g")
        if any(p.attrib.get("class") == "syncopated" for p in g.findall(SVG + "path"))
    ]  # fmt: skip
    assert [g.attrib["data-note"] for g in marked] == ["1"]
    assert marked[0].find(SVG + "title").text == "bar 1, the and of 1, lasts 1 beat, syncopated"
    assert "syncopated: next stronger beat not struck" in "".join(svg.itertext())


def test_bars_with_the_same_rhythm_have_the_same_letter() -> None:
    lick = phrase("1", "2", "1", "2", "2", "1", "2", "1", "2", "2", "1", "1", "1", "1")
    lick = lick.with_(title="Letters")
    svg = strip(lick)
    found = [t.text for t in svg.iter(SVG + "text") if t.attrib.get("class") == "same"]
    assert found == ["A", "B", "A", "B"]


def test_a_note_held_into_the_next_row_goes_on_there() -> None:
    lick = phrase(*["1/2"] * 15, "3/2", *["1/2"] * 14)
    svg = strip(lick, 340)
    rows = [g for g in svg.iter(SVG + "g") if g.attrib.get("class") == "ruler"]
    assert len(rows) == 2
    (held,) = (g for g in svg.iter(SVG + "g") if g.attrib.get("class") == "held")
    assert held.attrib["data-note"] == "15"
    first, rest = blocks(svg)[15], held.find(SVG + "rect").attrib
    # An eighth of it in the first row, a quarter in the second.
    assert float(rest["width"]) + 2.5 == pytest.approx(2 * (first[1] + 2.5), rel=0.05)


def test_the_strip_comes_row_by_row_for_pages() -> None:
    lick = phrase(*["1/2"] * 64)
    rows = [ET.fromstring(row) for row in rhythm_strip_rows(lick, analyze(lick), 340)]
    assert len(rows) > 2
    assert sorted(i for row in rows for i in blocks(row)) == list(range(64))
    one = rhythm_strip_svg(lick, analyze(lick), 340)
    assert one.count('class="ruler"') == len(rows)


def test_a_slurred_note_is_hollow() -> None:
    svg = strip(phrase("1", "1", "2", marks={1: Mark("pull-off")}))
    fills = [
        g.find(SVG + "rect").attrib["fill"] for g in svg.iter(SVG + "g") if "data-note" in g.attrib
    ]
    assert fills[0] == fills[2] != fills[1] == "#ffffff"
    assert "slurred, not picked" in "".join(svg.itertext())


def test_a_phone_gets_more_rows_and_no_smaller_letters() -> None:
    lick = phrase(*["1/2"] * 32)
    wide, narrow = (
        rhythm_strip_svg(lick, analyze(lick), 760),
        rhythm_strip_svg(lick, analyze(lick), 340),
    )
    assert wide.count('class="ruler"') < narrow.count('class="ruler"')
    assert set(re.findall(r'font-size="(\d+)"', narrow)) == {"13"}


def test_it_has_a_title_for_readers_that_cannot_see_it() -> None:
    svg = strip(phrase("1", "1", "2"))
    assert svg.attrib["role"] == "group"
    assert svg[0].tag == SVG + "title"
    assert svg[0].text == "Rhythm of <Strip> & co"


@pytest.mark.parametrize(
    ("count", "words"),
    [
        ("1/2", "½ beat"),
        ("1", "1 beat"),
        ("9/4", "2¼ beats"),
        ("4", "4 beats"),
        ("2/7", "2/7 beat"),
    ],
)
def test_beats_in_words(count: str, words: str) -> None:
    assert beats_words(F(count)) == words


@pytest.mark.parametrize("width", [10, 9000])
def test_a_width_out_of_range_is_said(width: int) -> None:
    lick = phrase("4")
    with pytest.raises(OptionError, match="pixels wide"):
        rhythm_strip_svg(lick, analyze(lick), width)


@pytest.mark.parametrize("width", [340, 400, 760])
def test_the_legend_has_room_for_its_words_in_a_wide_serif(width: int) -> None:
    marks = {1: Mark("hammer-on")}
    root = strip(phrase(*("1", "1/2", "1/2", "2") * 2, marks=marks), width)
    said: list[str] = []
    for row in (g for g in root.iter(SVG + "g") if g.get("class") == "row"):
        spans = []
        for entry in row.findall(SVG + "g"):
            words = entry.findall(SVG + "text")[-1]
            at = float(re.findall(r"[\d.]+", entry.attrib["transform"])[0])
            begin = at + float(words.attrib["x"])
            said.append(words.text or "")
            # DejaVu Serif, among the widest text faces at hand, sets these words at 6.9 a letter.
            spans.append((at, begin + 6.9 * len(said[-1])))
        assert all(end <= width for _, end in spans)
        assert all(end <= other - 8 for (_, end), (other, _) in pairwise(spans))
    assert said == ["slurred, not picked", "same letter, same rhythm"]
