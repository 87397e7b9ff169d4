"""Figures and tempo over the staff: bracketed where they are, clear of everything drawn."""

from __future__ import annotations

import itertools
import re
import xml.etree.ElementTree as ET
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings

from linewright.analysis import Analysis, analyze
from linewright.errors import OptionError
from linewright.formats.mei import write_mei
from linewright.page import engrave, engrave_pages
from linewright.score import ChordSpan, Instrument, Lick, Mark, Meter, Note, Tempo, bars_for
from linewright.theory import ChordSymbol, Key, Pitch
from strategies import GUITAR, licks

F = Fraction
SVG = "{http://www.w3.org/2000/svg}"
#: Four notes down the scale, each time from one note lower.
FALLING = "C5 B4 A4 G4 B4 A4 G4 F4 A4 G4 F4 E4 G4 F4 E4 D4"


def phrase(pitches: str, length: str = "1/2", **fields) -> Lick:
    step = F(length)
    notes = tuple(Note(step * i, step, Pitch.parse(p)) for i, p in enumerate(pitches.split()))
    end = step * len(notes)
    fields = {"tempo": Tempo(F(120)), "title": "Falling"} | fields
    return Lick(notes, bars_for(Meter(4, 4), end, key=Key.parse("C")), **fields)


@pytest.fixture(scope="module")
def falling() -> Analysis:
    lick = phrase(FALLING, chords=(ChordSpan(F(0), F(8), ChordSymbol.parse("Cmaj7")),))
    analysis = analyze(lick)
    assert [(f.kind, f.occurrences) for f in analysis.figures] == [
        ("sequence", ((0, 3), (4, 7), (8, 11), (12, 15)))
    ]
    return analysis


def brackets(svg: str) -> list[ET.Element]:
    return [
        g for g in ET.fromstring(svg).iter(SVG + "g")
        if g.attrib.get("class", "").startswith("figure ")
    ]  # fmt: skip


def system_of(svg: str) -> list[tuple[float, float, str]]:
    """Top and foot of the staff of each system in drawing units, and its own text."""
    found = []
    for part in svg.split('<g class="system"')[1:]:
        moved = re.match(r' transform="translate\(0, (-?\d+)\)"', part)
        down = int(moved[1]) if moved else 0
        lines = re.search(
            r'class="staff">((?:<path d="M-?\d+ -?\d+ L-?\d+ -?\d+"[^>]*/>){5})', part
        )
        ys = [int(y) + down for y in re.findall(r'd="M-?\d+ (-?\d+)', lines[1])]
        found.append((ys[0], ys[-1], part))
    return found


def test_every_occurrence_has_its_bracket_and_each_note_its_figure(falling: Analysis) -> None:
    svg = engrave(falling.lick, analysis=falling).svg
    found = brackets(svg)
    assert [g.attrib["data-notes"] for g in found] == [
        "0 1 2 3", "4 5 6 7", "8 9 10 11", "12 13 14 15"
    ]  # fmt: skip
    assert {g.attrib["data-figure"] for g in found} == {"1"}
    assert ["".join(g.find(SVG + "text").itertext()) for g in found] == ["f1 sequence", *["f1"] * 3]
    assert found[1].find(SVG + "title").text.startswith("Figure 1, sequence, 2 of 4: ")
    noted = set(re.findall(r'data-note="(\d+)"[^>]* data-figure="1"', svg))
    assert noted == set(map(str, range(16)))


def test_a_bracket_spans_its_own_notes(falling: Analysis) -> None:
    svg = engrave(falling.lick, analysis=falling, width_px=1600).svg
    heads = {
        int(i): int(x)
        for i, x in re.findall(
            r'data-note="(\d+)"[^>]*><title>[^<]*</title><g class="notehead"><use [^>]*'
            r"translate\((-?\d+),", svg
        )
    }  # fmt: skip
    assert len(heads) == 16
    assert brackets(svg)
    for g in brackets(svg):
        ends = [int(x) for x in re.findall(r"M(-?\d+)", g.find(SVG + "path").attrib["d"])]
        first, *_, last = map(int, g.attrib["data-notes"].split())
        inside = [i for i, x in heads.items() if min(ends) <= x <= max(ends)]
        assert inside == list(range(first, last + 1))


def test_kinds_differ_by_line_and_by_words() -> None:
    sequence = phrase(FALLING)
    again = phrase("C5 E4 G4 B4 C5 E4 G4 B4 C5 E4 G4 B4 C5 E4 G4 B4")
    run = phrase("E4 C4 D4 E4 F4 G4 A4 B4 C5 D5 E5 F5 G5 C5 E4 C4")
    drawn = {}
    for lick in (sequence, again, run):
        analysis = analyze(lick)
        first = brackets(engrave(analysis.lick, analysis=analysis).svg)[0]
        kind = analysis.figures[0].kind
        assert first.attrib["class"] == f"figure {kind.replace(' ', '-')}"
        line = first.findall(SVG + "path")[1].attrib
        drawn[kind] = (line.get("stroke-dasharray"), line["stroke-width"])
    assert set(drawn) == {"sequence", "repetition", "scale run"}
    assert len(set(drawn.values())) == 3


def test_a_figure_cut_by_a_system_is_open_there(falling: Analysis) -> None:
    lick = phrase("E4 " + " ".join(FALLING.split()))
    analysis = analyze(lick)
    (figure,) = analysis.figures
    svg = engrave(analysis.lick, analysis=analysis, width_px=300).svg
    cut = [g for g in brackets(svg) if len(re.findall("M", g.find(SVG + "path").attrib["d"])) == 1]
    crossing = [
        (a, b) for a, b in figure.occurrences
        if lick.bar_at(lick.notes[a].onset) != lick.bar_at(lick.notes[b].onset)
    ]  # fmt: skip
    assert crossing
    assert [g.attrib["data-notes"].split()[0] for g in cut] == [
        str(a) for a, _ in crossing for _ in range(2)
    ]


def test_brackets_can_be_left_out(falling: Analysis) -> None:
    assert brackets(engrave(falling.lick, analysis=falling, figures=False).svg) == []
    assert brackets(engrave(falling.lick).svg) == []


def boxes(part: str, down: int) -> list[tuple[float, float, float, str]]:
    """Left, right and foot of everything a system's drawing puts over the brackets' lane."""
    found = []
    text = r'class="harm chord"><text x="(-?\d+)" y="(-?\d+)"[^>]*>(.*?)</text>'
    for x, y, inside in re.findall(text, part):
        wide = 200 * len(re.sub("<[^>]+>", "", inside))
        found.append((int(x), int(x) + wide, int(y) + down - 280, "chord"))
    for x, y in re.findall(r'href="#E0A4-\w+" transform="translate\((-?\d+), (-?\d+)\)', part):
        found.append((int(x), int(x) + 217, int(y) + down - 90, "head"))
    for x, y1, y2 in re.findall(r'class="stem"><path d="M(-?\d+) (-?\d+) L-?\d+ (-?\d+)"', part):
        found.append((int(x), int(x), min(int(y1), int(y2)) + down, "stem"))
    return found


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(licks(instrument=GUITAR))
def test_tempo_and_brackets_meet_nothing(lick: Lick) -> None:
    lick = lick.with_(tempo=Tempo(F(132)), swing=F(2))
    analysis = analyze(lick)
    svg = engrave(analysis.lick, analysis=analysis, width_px=420).svg
    for number, (_, _, part) in enumerate(system_of(svg)):
        things = boxes(part, 0)
        for g in re.findall(r'<g class="figure .*?</g>', part):
            hooks = [tuple(map(int, m)) for m in re.findall(r"M(-?\d+) (-?\d+)V", g)] or [
                tuple(map(int, m)) for m in re.findall(r"M(-?\d+) (-?\d+)H", g)
            ]
            foot = max(y for _, y in hooks)
            left = min(map(int, re.findall(r"M(-?\d+) ", g)))
            right = max(map(int, re.findall(r"[MH](-?\d+)", g)))
            assert all(foot < top for a, b, top, _ in things if a < right and b > left)
        tempo = re.search(r'<g class="tempo">.*?<text x="(\d+)" y="(-?\d+)"[^>]*>(.*?)<', part)
        assert (tempo is not None) == (number == 0)
        if tempo:
            right, foot = int(tempo[1]) + 190 * len(tempo[3]), int(tempo[2])
            assert all(foot < top for a, _, top, _ in things if a < right)


def test_systems_moved_down_stay_apart(falling: Analysis) -> None:
    plain = engrave(falling.lick, analysis=falling, figures=False, width_px=320)
    drawn = engrave(falling.lick, analysis=falling, width_px=320)
    before, after = (system_of(e.svg) for e in (plain, drawn))
    assert len(before) == len(after) > 1
    gaps = [
        [b[0] - a[1] for a, b in itertools.pairwise(s)] for s in (before, after)
    ]  # fmt: skip
    assert all(new > old for old, new in zip(*gaps, strict=True))
    assert drawn.height > plain.height
    assert f'viewBox="0 0 {drawn.width} {drawn.height}"' in drawn.svg


def test_pages_keep_to_their_height_with_brackets_on_them() -> None:
    lick = phrase(" ".join([FALLING] * 12))
    analysis = analyze(lick)
    pages = engrave_pages(analysis.lick, analysis=analysis, height_px=600)
    assert len(pages) > 1
    assert all(page.height <= 600 for page in pages)
    assert any(brackets(page.svg) for page in pages)


def test_the_tempo_stands_over_the_clef_with_its_note_drawn() -> None:
    swung = phrase(FALLING, tempo=Tempo(F(132)), swing=F(2))
    (tempo,) = re.findall(r'<g class="tempo">.*?</g>', engrave(swung).svg)
    assert "= 132, swing" in tempo
    assert "<ellipse" in tempo
    dotted = engrave(phrase(FALLING, tempo=Tempo(F(54), F(3, 2)))).svg
    assert re.search(r'<g class="tempo">.*?</g>', dotted)[0].count("<ellipse") == 2
    assert 'class="tempo"' not in engrave(phrase(FALLING, tempo=None)).svg
    assert ">Swing<" in engrave(phrase(FALLING, tempo=None, swing=F(2))).svg


def test_the_capo_is_said_once_beside_the_tempo() -> None:
    capo = Instrument("guitar", GUITAR.strings, capo=2)
    note = Note(F(0), F(4), Pitch.parse("B3"), 3, 2)
    lick = Lick((note,), bars_for(Meter(4, 4), F(4)), instrument=capo, tempo=Tempo(F(100)))
    for drawn, said in ((lick, "= 100, capo 2"), (lick.with_(tempo=None), "Capo 2")):
        svg = engrave(drawn).svg
        assert [t.lower() for t in re.findall(r">([^<]*capo[^<]*)<", svg, re.I)] == [said.lower()]
    assert "Capo 2" in write_mei(lick)  # the exported document keeps both
    assert "<tempo" in write_mei(lick)


def test_slurs_over_frets_stay_low() -> None:
    notes = tuple(
        Note(F(2 * i), F(2), Pitch.parse(p), 1, f, (Mark("hammer-on"),) if i else ())
        for i, (p, f) in enumerate((("E4", 0), ("F4", 1), ("G4", 3), ("A4", 5)))
    )
    lick = Lick(notes, bars_for(Meter(4, 4), F(8)), instrument=GUITAR)
    svg = engrave(lick, width_px=1200).svg
    arcs = re.findall(r'class="slur joined"[^>]*><path d="([^"]+)"[^>]*stroke-width="15"', svg)
    assert arcs
    for arc in arcs:
        ys = [int(y) for y in re.findall(r",(-?\d+)", arc)]
        assert ys[0] - min(ys) <= 200


def label_texts(svg: str) -> list[str]:
    groups = ET.fromstring(svg).iter(SVG + "g")
    return [
        "".join(g.itertext()).strip() for g in groups
        if g.attrib.get("class", "").startswith("harm label")
    ]  # fmt: skip


def test_labels_by_degree_by_chord_or_not_at_all() -> None:
    # Common practice: over F7, A is the 3, Eb the b7, G the 9, B the #11; in C they are 6 b3 5 7.
    lick = phrase(
        "A4 Eb5 G4 B4", "1", chords=(ChordSpan(F(0), F(4), ChordSymbol.parse("F7")),)
    )  # fmt: skip
    analysis = analyze(lick, tonic="C")
    drawn = {
        k: engrave(analysis.lick, analysis=analysis, labels=k).svg
        for k in ("degrees", "chords", "none")
    }
    assert label_texts(drawn["degrees"]) == ["6", "♭3", "5", "7"]
    assert label_texts(drawn["chords"]) == ["3", "♭7", "9", "♯11"]
    outside = [fact.index for fact in analysis.notes if fact.is_outside]
    assert label_texts(drawn["none"]) == ["◆"] * len(outside)
    for svg in drawn.values():
        assert re.findall(r'data-note="\d+" data-degree="([^"]*)"[^>]*role', svg) == [
            "6", "b3", "5", "7"
        ]  # fmt: skip
    with pytest.raises(OptionError, match="numerals"):
        engrave(analysis.lick, analysis=analysis, labels="numerals")


def test_a_high_pickup_and_a_mandolin_leave_the_tempo_clear() -> None:
    mandolin = Instrument("mandolin", tuple(map(Pitch.parse, ("E5", "A4", "D4", "G3"))), courses=2)
    notes = tuple(
        Note(F(i, 2), F(1, 2), Pitch.parse(p), 1, f, (Mark("accent"),))
        for i, (p, f) in enumerate((("C#6", 9), ("B5", 7), ("A5", 5), ("G#5", 4)))
    )
    lick = Lick(
        notes, bars_for(Meter(4, 4), F(2), pickup=F(1), key=Key.parse("A")),
        instrument=mandolin, tempo=Tempo(F(132)), swing=F(2),
    )  # fmt: skip
    (first,) = system_of(engrave(lick).svg)
    tempo = int(re.search(r'class="tempo">.*?<text x="\d+" y="(-?\d+)"', first[2])[1])
    assert all(tempo < top for _, _, top, _ in boxes(first[2], 0))
