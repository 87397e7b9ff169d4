"""The engraving as the page uses it: every note tied to its meaning, sound SVG, no leftovers."""

from __future__ import annotations

import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from concurrent.futures import ThreadPoolExecutor
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings

from linewright.analysis import analyze
from linewright.errors import OptionError
from linewright.page import engrave, engrave_pages
from linewright.page.finish import finish
from linewright.page.systems import share_bars
from linewright.score import Grace, Instrument, Lick, Mark, Meter, Note, Tempo, bars_for
from linewright.theory import Key, Pitch
from strategies import GUITAR, licks

F = Fraction
SVG = "{http://www.w3.org/2000/svg}"


def phrase(*rows: tuple, bars: int | None = None, **fields) -> Lick:
    notes, at = [], F(0)
    for length, pitch, string, fret, *rest in rows:
        marks = tuple(r for r in rest if isinstance(r, Mark))
        grace = tuple(r for r in rest if isinstance(r, Grace))
        notes.append(Note(at, F(length), Pitch.parse(pitch), string, fret, marks, grace))
        at += F(length)
    fields.setdefault("instrument", GUITAR)
    laid = bars_for(Meter(4, 4), F(4 * bars) if bars else at, key=Key.parse("Gm"))
    return Lick(tuple(notes), laid, **fields)


BLUE = phrase(
    ("1", "G3", 3, 0), ("1/2", "D4", 2, 3), ("1/2", "Db4", 2, 2, Mark("pull-off")),
    ("1/2", "C4", 2, 1), ("1/2", "Bb3", 3, 3), ("3", "G3", 3, 0), ("1", "F3", 4, 3),
    title='"Up & <down>"',
)  # fmt: skip


def groups(svg: str, kind: str) -> list[ET.Element]:
    found = ET.fromstring(svg).iter(SVG + "g")
    return [
        g for g in found if kind in g.attrib.get("class", "").split() and "data-note" in g.attrib
    ]


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(licks(instrument=GUITAR))
def test_every_note_is_there_on_staff_and_tablature(lick: Lick) -> None:
    svg = engrave(lick, width_px=480).svg
    heads = {int(g.attrib["data-note"]) for g in groups(svg, "note") if g.attrib.get("role")}
    frets = {int(g.attrib["data-note"]) for g in groups(svg, "note") if not g.attrib.get("role")}
    assert heads == set(range(len(lick.notes)))
    assert frets == set(range(len(lick.notes)))


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(licks())
def test_ids_are_unique_and_every_glyph_used_is_defined(lick: Lick) -> None:
    svg = engrave(lick).svg
    ids = re.findall(r' id="([^"]*)"', svg)
    assert len(ids) == len(set(ids))
    assert set(re.findall(r'href="#([^"]*)"', svg)) <= set(ids)


def test_ids_of_two_engravings_do_not_collide() -> None:
    other = engrave(BLUE.with_(title="Other")).svg
    one = engrave(BLUE).svg
    assert not set(re.findall(r' id="([^"]*)"', one)) & set(re.findall(r' id="([^"]*)"', other))


def test_outside_notes_differ_by_a_box_and_not_by_colour_alone() -> None:
    analysis = analyze(BLUE)
    expected = {note.index for note in analysis.outside_notes}
    assert expected == {2}  # the Db is the b5 of G, outside the minor pentatonic
    svg = engrave(analysis.lick, analysis=analysis).svg
    outside = {int(g.attrib["data-note"]) for g in groups(svg, "outside")}
    assert outside == expected
    labels = [g for g in groups(svg, "label") if "outside" in g.attrib["class"]]
    assert [len(list(g.iter(SVG + "rect"))) for g in labels] == [1]
    assert "".join(labels[0].itertext()).strip() == "♭5"
    inside = [g for g in groups(svg, "label") if "outside" not in g.attrib["class"]]
    assert not any(list(g.iter(SVG + "rect")) for g in inside)


def test_degrees_are_on_every_note_and_labelled_below() -> None:
    analysis = analyze(BLUE)
    svg = engrave(analysis.lick, analysis=analysis).svg
    given_degrees = {g.attrib["data-note"]: g.attrib["data-degree"] for g in groups(svg, "note")}
    assert given_degrees == {
        "0": "1", "1": "5", "2": "b5", "3": "4", "4": "b3", "5": "1", "6": "b7"
    }  # fmt: skip
    texts = ["".join(g.itertext()).strip() for g in groups(svg, "label")]
    assert texts == ["1", "5", "♭5", "4", "♭3", "1", "♭7"]


def test_a_note_says_what_it_is_to_a_screen_reader() -> None:
    analysis = analyze(BLUE)
    svg = engrave(analysis.lick, analysis=analysis).svg
    titles = [g.find(SVG + "title").text for g in groups(svg, "note") if g.attrib.get("role")]
    assert titles[2] == (
        "D♭4, bar 1, the and of 2, degree ♭5, string 2, fret 2, pull-off, outside the frame"
    )
    assert ET.fromstring(svg).attrib["aria-label"].startswith('"Up & <down>"')


def test_nothing_in_it_points_outside_and_no_music_font_is_needed() -> None:
    svg = engrave(
        BLUE.with_(tempo=Tempo(F(90), F(3, 2)), swing=F(2)), labels={0: "#4"}
    ).svg  # fmt: skip
    assert "http" not in svg.replace("http://www.w3.org/", "")
    assert not re.search("[\ue000-\uf8ff]", svg)
    assert "Leipzig" not in svg


@pytest.mark.parametrize("width", [320, 760])
def test_it_keeps_to_its_width(width: int) -> None:
    long = phrase(*[("1/4", "G3", 3, 0)] * 64)
    drawn = engrave(long, labels=dict.fromkeys(range(64), "b3"), width_px=width)
    root = ET.fromstring(drawn.svg)
    left, top, right, bottom = map(float, root.attrib["viewBox"].split())
    assert right == pytest.approx(width, abs=2)
    xs = [float(x) for x in re.findall(r'<text x="(-?[\d.]+)"', drawn.svg)]
    inner = root.find(SVG + "svg").attrib["viewBox"].split()
    assert all(0 <= x <= float(inner[2]) for x in xs)
    assert (left, top, bottom) == (0, 0, drawn.height)


def test_a_phone_gets_fewer_bars_on_a_system() -> None:
    lick = phrase(*[("1/2", "G3", 3, 0)] * 32)

    def systems(width: int) -> int:
        return engrave(lick, width_px=width).svg.count('class="system"')

    assert systems(360) > systems(760) > systems(1600)


def test_a_pickup_never_stands_alone() -> None:
    assert share_bars([6, 40, 40], 50, pickup=True) == (2,)
    assert share_bars([6, 40, 40], 50) == (1, 2)


def test_bars_are_shared_evenly_and_as_few_systems_as_hold_them() -> None:
    # Eight equal bars where five would fit: four and four, not five and three.
    assert share_bars([10] * 8, 60) == (4,)
    assert share_bars([10] * 3, 60) == ()
    assert share_bars([100, 10, 10], 60) == (1,)


def test_long_licks_spread_over_pages_of_the_height_asked() -> None:
    long = phrase(*[("1", "G3", 3, 0)] * 64)
    pages = engrave_pages(long, height_px=500)
    assert len(pages) > 1
    assert all(page.height <= 500 for page in pages)
    heads = [int(n) for page in pages for n in re.findall(r'data-note="(\d+)" role', page.svg)]
    assert heads == list(range(64))


@pytest.mark.parametrize(
    ("mark", "expected"),
    [
        (Mark("dead"), "×"),
        (Mark("ghost"), "(5)"),
        (Mark("harmonic"), "‹5›"),
    ],
)
def test_marks_on_fret_numbers(mark: Mark, expected: str) -> None:
    svg = engrave(phrase(("4", "C4", 3, 5, mark))).svg
    (fret,) = [g for g in groups(svg, "note") if not g.attrib.get("role")]
    assert "".join(fret.itertext()) == expected


def test_bends_slides_and_vibrato_are_drawn() -> None:
    lick = phrase(
        ("1", "A3", 3, 2), ("1", "C4", 3, 5, Mark("slide")),
        ("1", "E4", 2, 3, Mark("bend", F(2)), Mark("vibrato")),
        ("1", "D4", 2, 3, Grace(Pitch.parse("C4"), 2, 1)),
    )  # fmt: skip
    root = ET.fromstring(engrave(lick).svg)
    kinds = [g.attrib.get("class") for g in root.iter(SVG + "g")]
    assert kinds.count("slide") == 2  # on the staff and between the frets
    assert kinds.count("vibrato") == 1
    (bend,) = [g for g in root.iter(SVG + "g") if g.attrib.get("class") == "bend"]
    assert "".join(bend.itertext()) == "full"
    assert "~" not in "".join(root.itertext())
    *_, fret = [g for g in groups(engrave(lick).svg, "note") if not g.get("role")]
    assert "1" in "".join(fret.itertext())  # the grace note's fret stands before its own


def test_an_engravers_own_id_is_not_taken_for_a_note() -> None:
    # Verovio names what has no id by a random letter and signs, which may all be digits.
    drawn = engrave(BLUE, labels=dict.fromkeys(range(7), "b3"))
    raw = (
        '<svg viewBox="0 0 9 9" id="a"><defs></defs><svg class="definition-scale"'
        ' viewBox="0 0 9 9"><g id="n1234567" class="stem"></g><g id="t99" class="tuplet"></g>'
        '<g id="l7" class="harm chord"></g><g id="n3" class="note"></g></svg></svg>'
    )
    body = finish(raw, drawn.mei, BLUE, degrees={}).svg
    assert re.findall(r'data-note="(\d+)"', body) == ["3"]
    assert '<g class="stem"></g><g class="tuplet"></g><g class="harm chord"></g>' in body


def test_a_lick_without_strings_has_the_staff_alone() -> None:
    lick = Lick((Note(F(0), F(4), Pitch.parse("G4")),), bars_for(Meter(4, 4), F(4)))
    assert "tabGrp" not in engrave(lick).svg


def test_an_empty_lick_is_a_bar_of_rest() -> None:
    empty = Lick((), bars_for(Meter(3, 4), F(3)), instrument=GUITAR)
    assert 'class="mRest"' in engrave(empty).svg


def test_threads_draw_the_same() -> None:
    licks_ = [phrase(("1", "G3", 3, 0), ("3", "A3", 3, 2), title=str(n)) for n in range(8)]
    alone = [engrave(lick).svg for lick in licks_]
    with ThreadPoolExecutor(4) as pool:
        assert list(pool.map(lambda lick: engrave(lick).svg, licks_)) == alone


@pytest.mark.parametrize("options", [{"width_px": 10}, {"width_px": 9000}, {"scale": 0.01}])
def test_sizes_out_of_range_are_said(options: dict) -> None:
    with pytest.raises(OptionError, match="engraving"):
        engrave(BLUE, **options)


def test_mandolin_and_banjo_have_their_own_lines() -> None:
    mandolin = Instrument("mandolin", tuple(map(Pitch.parse, ("E5", "A4", "D4", "G3"))), courses=2)
    drawn = engrave(phrase(("4", "A4", 2, 0), instrument=mandolin))
    assert '<staffDef n="2" lines="4"' in drawn.mei


def test_importing_the_page_does_not_load_the_engraver() -> None:
    code = "import sys, linewright.page; print([m for m in ('verovio', 'typst', 'music21') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
