"""The neck diagram: places against the trade's own map of the fretboard."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings

from linewright.errors import OptionError
from linewright.page import neck_svg
from linewright.score import Instrument, Lick, Mark, Meter, Note, bars_for
from linewright.theory import COLLECTIONS, Frame, Pitch, PitchClass, collection
from strategies import licks

F = Fraction
SVG = "{http://www.w3.org/2000/svg}"
GUITAR = Instrument("guitar", tuple(map(Pitch.parse, ("E4", "B3", "G3", "D3", "A2", "E2"))))
MANDOLIN = Instrument("mandolin", tuple(map(Pitch.parse, ("E5", "A4", "D4", "G3"))), courses=2)
BANJO = Instrument(
    "five-string banjo", tuple(map(Pitch.parse, ("D4", "B3", "G3", "D3", "G4"))), short=((5, 5),)
)
G_MINOR = Frame(PitchClass("G"), collection("minor pentatonic"))


def phrase(*places: tuple[str, int, int], marks: dict[int, Mark] | None = None) -> Lick:
    notes = tuple(
        Note(F(i), F(1), Pitch.parse(p), s, f, (marks[i],) if marks and i in marks else ())
        for i, (p, s, f) in enumerate(places)
    )
    return Lick(notes, bars_for(Meter(4, 4), F(len(notes))), instrument=GUITAR)


def places(svg: str) -> dict[tuple[int, int], ET.Element]:
    found = {}
    for g in ET.fromstring(svg).iter(SVG + "g"):
        if "data-string" in g.attrib:
            found[int(g.attrib["data-string"]), int(g.attrib["data-fret"])] = g
    return found


def test_the_places_are_where_players_find_them() -> None:
    # Common practice: in G the b5 lies at the 2nd fret of the B string, B natural at the 4th
    # fret of the G string; open, 1st and 2nd fret of the A string are 2, b3 and 3.
    lick = phrase(("Db4", 2, 2), ("B3", 3, 4), ("A2", 5, 0), ("Bb2", 5, 1), ("B2", 5, 2))
    found = places(neck_svg(GUITAR, G_MINOR, lick=lick))
    degrees = {at: g.attrib["data-degree"] for at, g in found.items()}
    assert degrees[2, 2] == "b5"
    assert degrees[3, 4] == "3"
    assert [degrees[5, f] for f in (0, 1, 2)] == ["2", "b3", "3"]
    assert {at for at, g in found.items() if "outside" in g.attrib["class"].split()} == {
        (2, 2), (3, 4), (5, 0), (5, 2)
    }  # fmt: skip


def test_the_minor_pentatonic_box_at_the_third_fret() -> None:
    # Common practice: the box of G minor pentatonic, frets 3 to 6, two notes on each string.
    found = places(neck_svg(GUITAR, G_MINOR, fret_range=(3, 6)))
    assert set(found) == {
        (6, 3), (6, 6), (5, 3), (5, 5), (4, 3), (4, 5), (3, 3), (3, 5), (2, 3), (2, 6), (1, 3), (1, 6)
    }  # fmt: skip
    tonics = {at for at, g in found.items() if "tonic" in g.attrib["class"].split()}
    assert tonics == {(6, 3), (4, 5), (1, 3)}


@pytest.mark.parametrize("name", COLLECTIONS)
def test_every_place_sounds_a_note_of_the_frame(name: str) -> None:
    frame = Frame(PitchClass("E", -1), collection(name))
    found = places(neck_svg(MANDOLIN, frame, fret_range=(0, 12)))
    for string, pitch in enumerate(MANDOLIN.strings, start=1):
        for fret in range(13):
            assert ((string, fret) in found) == ((pitch.midi + fret) % 12 in frame.numbers)


def test_kinds_differ_by_shape_and_not_by_colour_alone() -> None:
    found = places(
        neck_svg(GUITAR, G_MINOR, lick=phrase(("G3", 3, 0), ("D4", 2, 3), ("Db4", 2, 2)))
    )
    drawn = {
        at: next(child.tag for child in g if child.tag != SVG + "title") for at, g in found.items()
    }
    assert drawn[3, 0] == SVG + "rect"
    assert drawn[2, 3] == SVG + "circle"
    assert drawn[2, 2] == SVG + "path"


def test_the_licks_places_carry_their_notes() -> None:
    lick = phrase(("G3", 3, 0), ("D4", 2, 3), ("G3", 3, 0), ("F4", 1, 1), marks={3: Mark("dead")})
    found = places(neck_svg(GUITAR, G_MINOR, lick=lick))
    assert found[3, 0].attrib["data-notes"] == "0 2"
    assert "lick" in found[2, 3].attrib["class"].split()
    assert "lick" not in found[1, 1].attrib["class"].split()  # a dead note has no degree
    assert found[1, 1].attrib["data-notes"] == "3"


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(licks(instrument=GUITAR))
def test_every_note_is_at_one_place_and_at_its_own(lick: Lick) -> None:
    for frame in (G_MINOR, None):
        found = places(neck_svg(GUITAR, frame, lick=lick))
        told = [
            (int(i), at) for at, g in found.items() for i in g.attrib.get("data-notes", "").split()
        ]
        assert sorted(told) == [(i, (note.string, note.fret)) for i, note in enumerate(lick.notes)]


def test_a_dead_note_off_the_frame_is_a_cross_without_a_degree() -> None:
    lick = phrase(("G3", 3, 0), ("Gb4", 1, 2), marks={1: Mark("dead")})
    dead = places(neck_svg(GUITAR, G_MINOR, lick=lick))[1, 2]
    assert dead.attrib["class"] == "place dead"
    assert "data-degree" not in dead.attrib
    assert dead.find(SVG + "text").text == "×"


def test_a_bend_shows_the_degree_it_reaches() -> None:
    lick = phrase(("D4", 3, 5), marks={0: Mark("bend", F(2))})
    found = places(neck_svg(GUITAR, G_MINOR, lick=lick))
    assert found[3, 5].attrib["data-degree"] == "5"
    assert "".join(found[3, 5].itertext()).endswith("5↑")


def test_an_outside_note_bent_from_a_frame_notes_place_is_marked_there() -> None:
    """C on string 2, fret 1, then bent a half step to the blue Db: both are to be seen."""
    lick = phrase(("C4", 2, 1), ("Db4", 2, 1), marks={1: Mark("bend", F(1))})
    svg = neck_svg(GUITAR, G_MINOR, lick=lick)
    place = places(svg)[2, 1]
    assert place.attrib["class"] == "place frame lick"
    (bent,) = [g for g in place.iter(SVG + "g") if g.attrib.get("class") == "bent"]
    assert "".join(bent.itertext()) == "♭5↑"
    assert bent.find(SVG + "path") is not None  # the diamond of an outside note
    assert "outside the scale" in svg


def test_the_banjos_fifth_string_begins_at_its_peg() -> None:
    major = Frame(PitchClass("G"), collection("major"))
    found = places(neck_svg(BANJO, major, fret_range=(0, 9)))
    assert sorted(fret for string, fret in found if string == 5) == [0, 7, 9]


def test_a_capo_moves_the_notes_with_the_open_strings() -> None:
    capo = Instrument("guitar", GUITAR.strings, capo=2)
    found = places(neck_svg(capo, Frame(PitchClass("A"), collection("major triad arpeggio"))))
    assert found[3, 0].attrib["data-degree"] == "1"
    assert "capo 2" in neck_svg(capo, None)


def test_the_window_follows_the_lick() -> None:
    svg = neck_svg(GUITAR, G_MINOR, lick=phrase(("D5", 1, 10), ("F5", 1, 13)))
    frets = {fret for _, fret in places(svg)}
    assert (min(frets), max(frets)) >= (9, 13)
    assert 0 not in frets


def test_the_legend_has_room_for_its_words_in_a_wide_serif() -> None:
    lick = phrase(("G4", 1, 3), ("A4", 1, 5), ("A#4", 1, 6))
    root = ET.fromstring(neck_svg(GUITAR, G_MINOR, lick=lick))
    legend = [(float(t.attrib["x"]), float(t.attrib["y"]), t.text or "")
              for g in root.iter(SVG + "g") if g.get("class") == "legend"
              for t in g.iter(SVG + "text")]  # fmt: skip
    assert len(legend) == 4
    width, height = (float(v) for v in root.attrib["viewBox"].split()[2:])
    for x, y, words in legend:
        # DejaVu Serif, among the widest text faces at hand, sets these words at 6.9 a letter.
        end = x + 6.9 * len(words)
        assert end <= width
        assert y <= height
        assert all(end <= other - 8 for other, row, _ in legend if row == y and other > x)


def test_left_handed_is_the_mirror_image() -> None:
    def centres(svg: str) -> dict[tuple[int, int], float]:
        return {
            at: float(g.find(SVG + "text").attrib["x"]) for at, g in places(svg).items()
        }  # fmt: skip

    plain, mirrored = neck_svg(GUITAR, G_MINOR, legend=False), neck_svg(
        GUITAR, G_MINOR, legend=False, left_handed=True
    )  # fmt: skip
    width = float(ET.fromstring(plain).attrib["viewBox"].split()[2])
    a, b = centres(plain), centres(mirrored)
    assert a.keys() == b.keys()
    assert all(a[at] + b[at] == pytest.approx(width) for at in a)


@pytest.mark.parametrize("frets", [(-1, 4), (5, 5), (7, 3), (0, 30)])
def test_a_fret_range_off_the_neck_is_said(frets: tuple[int, int]) -> None:
    with pytest.raises(OptionError, match="frets"):
        neck_svg(GUITAR, G_MINOR, fret_range=frets)


def test_a_lick_of_another_instrument_is_said() -> None:
    with pytest.raises(OptionError, match="mandolin"):
        neck_svg(MANDOLIN, G_MINOR, lick=phrase(("G3", 3, 0)))


def test_names_from_a_file_are_escaped() -> None:
    odd = Instrument('<b>"guitar"', GUITAR.strings)
    assert ET.fromstring(neck_svg(odd, G_MINOR)).attrib["aria-label"].startswith('Neck of the <b>"')
