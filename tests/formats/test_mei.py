"""MEI, held against two independent readers: verovio (times and pitches) and music21 (notes)."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction

import pytest
import verovio
from hypothesis import HealthCheck, given, settings

from linewright.errors import OptionError, WriteError
from linewright.formats.mei import write_mei
from linewright.score import (
    ChordSpan,
    Grace,
    Instrument,
    Lick,
    Mark,
    Meter,
    Note,
    Tempo,
    bars_for,
    bars_from_lengths,
)
from linewright.theory import ChordSymbol, Key, Pitch, PitchClass
from strategies import GUITAR, licks

F = Fraction
NS = {"m": "http://www.music-encoding.org/ns/mei"}
M = "{http://www.music-encoding.org/ns/mei}"
ID = "{http://www.w3.org/XML/1998/namespace}id"
MANDOLIN = Instrument("mandolin", tuple(map(Pitch.parse, ("E5", "A4", "D4", "G3"))), courses=2)
TOOLKIT = verovio.toolkit()
TOOLKIT.setOptions({"breaks": "encoded", "xmlIdSeed": 1})
verovio.enableLog(verovio.LOG_OFF)


def note(onset: str, duration: str, pitch: str, *place: int, marks: tuple = (), grace: tuple = ()):
    at = place or (None, None)
    return Note(F(onset), F(duration), Pitch.parse(pitch), at[0], at[1], marks, grace)


def lick(*notes: Note, meter: str = "4/4", key: str | None = None, **fields) -> Lick:
    bars = bars_for(
        Meter.parse(meter), max((n.end for n in notes), default=F(1)),
        key=Key.parse(key) if key else None, pickup=fields.pop("pickup", F(0)),
    )  # fmt: skip
    return Lick(notes, bars, **fields)


def tree(mei: str) -> ET.Element:
    return ET.fromstring(mei.encode())


def by_id(root: ET.Element) -> dict[str, ET.Element]:
    return {e.attrib[ID]: e for e in root.iter() if ID in e.attrib}


def onsets(mei: str) -> dict[str, float]:
    assert TOOLKIT.loadData(mei)
    TOOLKIT.renderToSVG(1)
    found: dict[str, float] = {}
    for event in TOOLKIT.renderToTimemap({"includeMeasures": False}):
        for name in event.get("on", []):
            found.setdefault(name, event["qstamp"])
    return found


def sounding(name: str) -> int:
    return TOOLKIT.getMIDIValuesForElement(name)["pitch"]


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(licks())
def test_verovio_hears_every_note_where_and_as_the_lick_has_it(phrase: Lick) -> None:
    plain = phrase.with_(notes=tuple(replace(n, grace=()) for n in phrase.notes))
    heard = onsets(write_mei(plain))
    for index, n in enumerate(plain.notes):
        assert heard[f"n{index}"] == pytest.approx(float(n.onset), abs=1e-3)
        assert sounding(f"n{index}") == n.midi
    # Verovio plays grace notes within the note they adorn, which then begins later.
    adorned = onsets(write_mei(phrase))
    for index, n in enumerate(phrase.notes):
        assert adorned[f"n{index}"] >= float(n.onset) - 1e-3
        assert sounding(f"n{index}") == n.midi


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(licks(instrument=GUITAR))
def test_the_tablature_sounds_the_fretted_pitches_at_the_same_times(phrase: Lick) -> None:
    heard = onsets(write_mei(phrase))
    for index, n in enumerate(phrase.notes):
        assert heard[f"t{index}"] == pytest.approx(float(n.onset), abs=1e-3)
        assert sounding(f"t{index}") == n.midi - n.bend


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(licks(graces=False, rests=False, chords=False, marks=()))
def test_music21_reads_the_same_notes_back(phrase: Lick) -> None:
    import music21

    score = music21.converter.parse(write_mei(phrase), format="mei")
    read = sorted(
        (F(element.getOffsetInHierarchy(score)).limit_denominator(5040), pitch.midi)
        for element in score.recurse().notes
        if element.tie is None or element.tie.type == "start"
        for pitch in element.pitches
    )
    assert read == sorted((n.onset, n.midi) for n in phrase.notes)


@settings(max_examples=40, deadline=None)
@given(licks(instrument=GUITAR))
def test_every_reference_points_to_a_note_and_ids_are_unique(phrase: Lick) -> None:
    labels = dict.fromkeys(range(len(phrase.notes)), "b3")
    root = tree(write_mei(phrase, labels=labels))
    names = [e.attrib[ID] for e in root.iter() if ID in e.attrib]
    assert len(names) == len(set(names))
    known = set(names)
    for element in root.iter():
        for key in ("startid", "endid"):
            if key in element.attrib:
                assert element.attrib[key].removeprefix("#") in known
    assert {f"n{i}" for i in labels} | {f"t{i}" for i in labels} | {
        f"l{i}" for i in labels
    } <= known


def test_accidentals_are_printed_once_a_bar_and_again_after_a_tie_over_the_bar_line() -> None:
    # Common practice: the sign holds to the bar line; a tie carries the pitch over it, and the
    # next note on that line needs its sign again.
    phrase = lick(
        note("0", "1", "Bb3"), note("1", "1", "Bb3"), note("2", "1", "B3"), note("3", "2", "C#4"),
        note("5", "1", "C#4"), note("6", "2", "F#4"), key="G",
    )  # fmt: skip
    root = by_id(tree(write_mei(phrase)))
    printed = {name: e.get("accid") for name, e in root.items() if name.startswith("n")}
    assert printed == {
        "n0": "f", "n1": None, "n2": "n", "n3": "s", "n3-2": None, "n4": "s", "n5": None
    }  # fmt: skip
    assert root["n1"].get("accid.ges") == "f"
    assert root["n3"].get("tie") == "i"
    assert root["n3-2"].get("tie") == "t"
    assert root["n5"].get("accid.ges") == "s"


@pytest.mark.parametrize(
    ("strings", "clef"),
    [
        (("E4", "B3", "G3", "D3", "A2", "E2"), ("G", "2", "8")),  # guitar
        (("E5", "A4", "D4", "G3"), ("G", "2", None)),  # mandolin
        (("G2", "D2", "A1", "E1"), ("F", "4", "8")),  # bass
        (("A4", "E4", "C4", "G4"), ("G", "2", None)),  # ukulele
    ],
)
def test_clefs_are_those_players_read(strings: tuple[str, ...], clef: tuple) -> None:
    # Common practice.
    fretted = Instrument("test", tuple(map(Pitch.parse, strings)))
    phrase = lick(note("0", "4", strings[0], 1, 0), instrument=fretted)
    found = tree(write_mei(phrase)).find(".//m:staffDef[@n='1']/m:clef", NS)
    assert (found.get("shape"), found.get("line"), found.get("dis")) == clef


def test_tablature_follows_the_capo_and_leaves_tied_parts_unstruck() -> None:
    capo = Instrument("guitar", GUITAR.strings, capo=2)
    phrase = lick(note("0", "5", "A4", 1, 3), note("5", "3", "A3", 3, 0), instrument=capo)
    mei = write_mei(phrase)
    onsets(mei)
    assert sounding("t0") == 69
    assert sounding("t1") == 57
    root = tree(mei)
    assert len(root.findall(".//m:tabGrp", NS)) == 2
    assert "Capo 2" in [d.text for d in root.iter(M + "dir")]


def test_marks_are_said_in_the_terms_mei_has() -> None:
    phrase = lick(
        note("0", "1/2", "A3", 3, 2),
        note("1/2", "1/2", "B3", 3, 4, marks=(Mark("hammer-on"),)),
        note("1", "1/2", "A3", 3, 2, marks=(Mark("pull-off"),)),
        note("3/2", "1/2", "C4", 3, 5, marks=(Mark("slide"), Mark("accent"))),
        note("2", "1/2", "D4", 2, 3, marks=(Mark("dead"),)),
        note("5/2", "1/2", "D4", 2, 1, marks=(Mark("bend", F(2)), Mark("vibrato"))),
        note("3", "1/2", "C4", 2, 1, marks=(Mark("ghost"), Mark("staccato"), Mark("down"))),
        note("7/2", "1/2", "C4", 2, 1, marks=(Mark("up"),), grace=(Grace(Pitch.parse("B3"), 2, 0),)),
        instrument=GUITAR,
    )  # fmt: skip
    root = tree(write_mei(phrase))
    slurs = {(s.get("startid"), s.get("endid")) for s in root.iter(M + "slur")}
    assert slurs == {("#n0", "#n2"), ("#t0", "#t2"), ("#n7-g1", "#n7")}
    glisses = {(s.get("startid"), s.get("endid")) for s in root.iter(M + "gliss")}
    assert glisses == {("#n2", "#n3"), ("#t2", "#t3")}
    named = by_id(root)
    assert named["n4"].get("head.shape") == "x"
    assert named["n6"].get("enclose") == "paren"
    assert [a.get("artic") for a in named["n3"]] == ["acc"]
    assert [a.get("artic") for a in named["n6"]] == ["stacc", "dnbow"]
    assert named["n7-g1"].attrib["tab.fret"] == "0"
    words = ["".join(d.itertext()).strip() for d in root.iter(M + "dir")]
    assert sorted(words) == ["H", "P", "full", "~~~~"]


def test_a_join_needs_a_note_that_ends_where_it_begins_on_the_same_string() -> None:
    phrase = lick(
        note("0", "1", "A3", 3, 2), note("1", "1", "D4", 2, 3, marks=(Mark("hammer-on"),)),
        note("3", "1", "E4", 2, 5, marks=(Mark("slide"),)), instrument=GUITAR,
    )  # fmt: skip
    root = tree(write_mei(phrase))
    assert not list(root.iter(M + "slur"))
    assert not list(root.iter(M + "gliss"))


def test_key_meter_and_tempo_with_their_changes() -> None:
    seven, six = Meter.parse("3+2+2/8"), Meter.parse("6/8")
    a = Key(PitchClass("A"), "phrygian", (PitchClass("C", 1),))
    bars = bars_from_lengths(
        [(F(1), Meter(4, 4), Key.parse("Bb")), (F(4), Meter(4, 4), Key.parse("Bb")),
         (seven.length, seven, a), (six.length, six, None)], pickup=True,
    )  # fmt: skip
    phrase = Lick((note("0", "1", "Bb3"),), bars, tempo=Tempo(F(80), F(3, 2)))
    root = tree(write_mei(phrase))
    signatures = [k.get("sig") for k in root.iter(M + "keySig")]
    assert signatures == ["2f", "mixed", "0"]
    accids = [(k.get("pname"), k.get("accid")) for k in root.iter(M + "keyAccid")]
    assert accids == [("c", "s"), ("b", "f")]
    meters = [(k.get("count"), k.get("unit")) for k in root.iter(M + "meterSig")]
    assert meters == [("4", "4"), ("3+2+2", "8"), ("6", "8")]
    measures = [(m.get("n"), m.get("metcon")) for m in root.iter(M + "measure")]
    assert measures == [("0", "false"), ("1", None), ("2", None), ("3", None)]
    tempo = root.find(".//m:tempo", NS)
    assert (tempo.get("mm"), tempo.get("mm.unit"), tempo.get("mm.dots")) == ("80", "4", "1")
    assert tempo.get("midi.bpm") == "120"


def test_chords_stand_on_their_beat_and_labels_under_their_note() -> None:
    phrase = lick(
        note("0", "4", "G4"), meter="6/8",
        chords=(ChordSpan(F(0), F(3, 2), ChordSymbol.parse("Bbm7b5")), ChordSpan(F(3, 2), F(1), None)),
    )  # fmt: skip
    root = tree(write_mei(phrase, labels={0: "b5"}, mark_outside={0}))
    harms = [
        (h.get("tstamp"), h.get("startid"), h.get("place"), "".join(h.itertext()).strip())
        for h in root.iter(M + "harm")
    ]
    assert harms == [
        ("1", None, "above", "B♭m7♭5"), ("4", None, "above", "N.C."), (None, "#n0", "below", "♭5")
    ]  # fmt: skip
    assert root.find(".//m:harm/m:rend", NS).get("rend") == "box"


def test_systems_break_where_asked() -> None:
    phrase = lick(*(note(str(i), "1", "G4") for i in range(17)), pickup=F(1))
    section = tree(write_mei(phrase, systems=2)).find(".//m:section", NS)
    order = [e.get("n") or "break" for e in section]
    assert order == ["0", "1", "2", "break", "3", "4"]
    section = tree(write_mei(phrase, systems={2, 4})).find(".//m:section", NS)
    order = [e.get("n") or "break" for e in section]
    assert order == ["0", "1", "break", "2", "3", "break", "4"]


def test_text_is_escaped_and_unwritable_characters_replaced() -> None:
    phrase = lick(note("0", "1", "G4"), title="a <b>&\x00\ud800 c", source="\x0b")
    root = tree(write_mei(phrase))
    assert root.find(".//m:titleStmt/m:title", NS).text == "a <b>&\ufffd\ufffd c"


def test_what_cannot_be_written_is_said() -> None:
    phrase = lick(note("0", "1", "G4"))
    with pytest.raises(OptionError, match="no note 1"):
        write_mei(phrase, labels={1: "5"})
    with pytest.raises(OptionError, match="0 bars"):
        write_mei(phrase, systems=0)
    with pytest.raises(WriteError, match="needs an instrument"):
        write_mei(phrase, tab=True)
    assert "tabGrp" not in write_mei(lick(note("0", "1", "G3", 3, 0), instrument=GUITAR), tab=False)
