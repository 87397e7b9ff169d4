"""Scores as other programs write them: transposition, tunings, marks, voices, parts, repeats.

The fragments are written by hand after the W3C MusicXML 4.0 reference's examples and element
descriptions (w3.org/2021/06/musicxml40).
"""

from fractions import Fraction

import pytest

from linewright.errors import ChoiceNeeded, OptionError, ReadError
from linewright.formats.musicxml import read_musicxml, write_musicxml
from linewright.score import ChordSpan, Lick, Mark, Meter, bars_for
from linewright.theory import QUALITIES, ChordSymbol, PitchClass

F = Fraction
TIME = "<time><beats>4</beats><beat-type>4</beat-type></time>"
GUITAR_TUNING = "".join(
    f'<staff-tuning line="{line}"><tuning-step>{name[0]}</tuning-step>'
    f"<tuning-octave>{name[1]}</tuning-octave></staff-tuning>"
    for line, name in enumerate(["E2", "A2", "D3", "G3", "B3", "E4"], 1)
)


def note(pitch, duration=4, *, inside="", notations="", head="", voice="", staff=""):
    alter = {"#": 1, "b": -1}.get(pitch[1:2])
    return (
        f"<note>{head}<pitch><step>{pitch[0]}</step>"
        + (f"<alter>{alter}</alter>" if alter else "")
        + f"<octave>{pitch[-1]}</octave></pitch><duration>{duration}</duration>{inside}"
        + (f"<voice>{voice}</voice>" if voice else "")
        + (f"<staff>{staff}</staff>" if staff else "")
        + (f"<notations>{notations}</notations>" if notations else "")
        + "</note>"
    )


def place(string, fret, more=""):
    return f"<technical><string>{string}</string><fret>{fret}</fret>{more}</technical>"


def score(*measures, attributes="", name="Guitar", more=""):
    first = f"<attributes><divisions>4</divisions>{TIME}{attributes}</attributes>"
    bars = "".join(
        f'<measure number="{n}">{first if n == 1 else ""}{body}</measure>'
        for n, body in enumerate(measures, 1)
    )
    return (
        '<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>'
        f'{name}</part-name></score-part></part-list><part id="P1">{bars}</part>{more}'
        "</score-partwise>"
    ).encode()


def names(lick):
    return [n.pitch.name for n in lick.notes]


# -- pitch -------------------------------------------------------------------------------
def test_a_part_written_an_octave_up_comes_out_as_it_sounds():
    transpose = "<transpose><diatonic>0</diatonic><chromatic>0</chromatic><octave-change>-1</octave-change></transpose>"
    assert names(read_musicxml(score(note("E4", 16), attributes=transpose))) == ["E3"]


def test_twelve_semitones_down_without_diatonic_steps_is_an_octave_too():
    transpose = "<transpose><chromatic>-12</chromatic></transpose>"
    assert names(read_musicxml(score(note("F#4", 16), attributes=transpose))) == ["F#3"]


def test_a_transposing_part_moves_notes_key_and_chords_together():
    transpose = (
        "<key><fifths>2</fifths><mode>major</mode></key>"
        "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    )
    chord = "<harmony><root><root-step>D</root-step></root><kind>dominant</kind></harmony>"
    lick = read_musicxml(score(chord + note("F#4", 16), attributes=transpose))
    assert names(lick) == ["E4"]
    assert lick.key.name == "C major"
    assert lick.chords[0].symbol.text == "C7"


def test_an_octave_clef_does_not_move_pitches():
    clef = "<clef><sign>G</sign><line>2</line><clef-octave-change>-1</clef-octave-change></clef>"
    assert names(read_musicxml(score(note("E3", 16), attributes=clef))) == ["E3"]


def test_places_are_believed_over_pitches_an_octave_off():
    details = f"<staff-details>{GUITAR_TUNING}</staff-details>"
    body = note("G4", 8, notations=place(3, 0)) + note("A4", 8, notations=place(3, 2))
    lick = read_musicxml(score(body, attributes=details))
    assert names(lick) == ["G3", "A3"]
    assert any("octave" in remark for remark in lick.remarks)


def test_a_wrong_place_is_left_out_and_said():
    details = f"<staff-details>{GUITAR_TUNING}</staff-details>"
    body = note("G3", 8, notations=place(3, 0)) + note("A3", 8, notations=place(3, 5))
    lick = read_musicxml(score(body, attributes=details))
    assert [(n.string, n.fret) for n in lick.notes] == [(3, 0), (None, None)]
    assert any("do not give the written pitch" in remark for remark in lick.remarks)


# -- instrument --------------------------------------------------------------------------
def test_tuning_lines_name_the_instrument_and_the_capo():
    lines = zip(["D2", "A2", "D3", "G3", "B3", "E4"], range(1, 7), strict=True)
    tuning = "".join(
        f'<staff-tuning line="{line}"><tuning-step>{name[0]}</tuning-step>'
        f"<tuning-octave>{name[1]}</tuning-octave></staff-tuning>"
        for name, line in lines
    )
    details = f"<staff-details>{tuning}<capo>2</capo></staff-details>"
    lick = read_musicxml(
        score(note("E2", 16, notations=place(6, 0)), attributes=details, name="Lead")
    )
    assert (lick.instrument.name, lick.instrument.tuning, lick.instrument.capo) == (
        "guitar",
        "drop D",
        2,
    )


# -- marks -------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("first", "second", "mark"),
    [
        ('<technical><hammer-on type="start">H</hammer-on></technical>', '<technical><hammer-on type="stop"/></technical>', "hammer-on"),
        ('<technical><pull-off type="start">P</pull-off></technical>', "", "pull-off"),
        ('<slide type="start"/>', '<slide type="stop"/>', "slide"),
        ('<glissando type="start"/>', '<glissando type="stop"/>', "slide"),
        ("", "<technical><bend><bend-alter>-2</bend-alter><release/></bend></technical>", "release"),
        ("", '<ornaments><wavy-line type="start"/><wavy-line type="stop"/></ornaments>', "vibrato"),
        ("", "<technical><harmonic><natural/></harmonic></technical>", "harmonic"),
        ("", "<technical><down-bow/></technical>", "down"),
        ("", '<tied type="let-ring"/>', "let ring"),
        ("", "<articulations><strong-accent/></articulations>", "accent"),
    ],
)  # fmt: skip
def test_each_playing_mark_is_on_the_note_it_reaches(first, second, mark):
    lick = read_musicxml(score(note("G3", 8, notations=first) + note("A3", 8, notations=second)))
    assert [m.name for m in lick.notes[0].marks] == []
    assert [m.name for m in lick.notes[1].marks] == [mark]


def test_a_bend_sounds_the_pitch_it_reaches():
    details = f"<staff-details>{GUITAR_TUNING}</staff-details>"
    bend = "<bend><bend-alter>2</bend-alter></bend>"
    lick = read_musicxml(score(note("D4", 16, notations=place(3, 7, bend)), attributes=details))
    assert names(lick) == ["E4"]
    assert (lick.notes[0].string, lick.notes[0].fret, lick.notes[0].bend) == (3, 7, 2)


def test_a_crossed_head_is_a_dead_note_and_a_scoop_a_slide_from_below():
    x = "<type>half</type><notehead>x</notehead>"
    body = note("G3", 8, inside=x) + note(
        "A3", 8, notations="<articulations><scoop/></articulations>"
    )
    lick = read_musicxml(score(body))
    assert lick.notes[0].marks == (Mark("dead"),)
    assert lick.notes[1].marks == (Mark("slide in", F(-1)),)


# -- time --------------------------------------------------------------------------------
def test_ties_merge_across_the_bar_line():
    start, stop = '<tie type="start"/>', '<tie type="stop"/>'
    lick = read_musicxml(
        score(note("G3", 16, inside=start), note("G3", 8, inside=stop) + note("A3", 8))
    )
    assert [(n.onset, n.duration) for n in lick.notes] == [(0, 6), (6, 2)]


def test_grace_notes_take_no_time():
    grace = (
        "<note><grace/><pitch><step>F</step><octave>3</octave></pitch><type>eighth</type></note>"
    )
    lick = read_musicxml(score(grace + note("G3", 16)))
    assert [n.duration for n in lick.notes] == [4]
    assert [g.pitch.name for g in lick.notes[0].grace] == ["F3"]


def test_a_short_implicit_first_bar_is_a_pickup():
    data = score(note("D3", 4), note("G3", 16)).replace(
        b'<measure number="1">', b'<measure number="0" implicit="yes">'
    )
    lick = read_musicxml(data)
    assert [b.number for b in lick.bars] == [0, 1]
    assert lick.pickup == 1


def test_triplets_counted_in_1024_parts_are_thirds_all_the_same():
    ratio = (
        "<type>eighth</type><time-modification><actual-notes>3</actual-notes>"
        "<normal-notes>2</normal-notes></time-modification>"
    )
    body = "".join(note(p, d, inside=ratio) for p, d in (("C4", 341), ("D4", 342), ("E4", 341)))
    data = score(body + note("C4", 3072)).replace(b"<divisions>4<", b"<divisions>1024<")
    assert [n.onset for n in read_musicxml(data).notes] == [0, F(1, 3), F(2, 3), 1]


def test_tempo_and_swing_are_read_from_the_first_direction():
    direction = (
        "<direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit-dot/>"
        "<per-minute>ca. 60</per-minute></metronome></direction-type><sound><swing><first>2</first>"
        "<second>1</second><swing-type>eighth</swing-type></swing></sound></direction>"
    )
    lick = read_musicxml(score(direction + note("C4", 16)))
    assert (lick.tempo.bpm, lick.tempo.beat, lick.swing) == (60, F(3, 2), 2)


def test_repeats_once_take_the_last_ending_and_play_takes_both():
    forward = '<barline location="left"><repeat direction="forward"/></barline>'
    first = '<barline location="left"><ending number="1" type="start"/></barline>'
    back = '<barline location="right"><ending number="1" type="stop"/><repeat direction="backward"/></barline>'
    second = '<barline location="left"><ending number="2" type="start"/></barline>'
    stop = '<barline location="right"><ending number="2" type="stop"/></barline>'
    data = score(
        forward + note("C4", 16), first + note("D4", 16) + back, second + note("E4", 16) + stop
    )
    once = read_musicxml(data)
    assert names(once) == ["C4", "E4"]
    assert any("last ending" in remark for remark in once.remarks)
    assert names(read_musicxml(data, repeats="play")) == ["C4", "D4", "C4", "E4"]
    with pytest.raises(OptionError, match="once or play"):
        read_musicxml(data, repeats="twice")


# -- voices and parts --------------------------------------------------------------------
BACK = "<backup><duration>16</duration></backup>"


def test_voices_that_sound_together_ask_for_one():
    body = note("E4", 16, voice="1") + BACK + note("C3", 8, voice="2") + note("D3", 8, voice="2")
    with pytest.raises(ChoiceNeeded) as caught:
        read_musicxml(score(body))
    assert caught.value.options == ("1", "2")
    assert names(read_musicxml(score(body), voice="2")) == ["C3", "D3"]
    with pytest.raises(OptionError, match="1, 2"):
        read_musicxml(score(body), voice="3")


def test_voices_that_never_overlap_are_one_line():
    rest = "<note><rest/><duration>8</duration><voice>2</voice></note>"
    body = note("E4", 8, voice="1") + "<forward><duration>8</duration></forward>" + BACK
    lick = read_musicxml(score(body + rest + note("D4", 8, voice="2")))
    assert names(lick) == ["E4", "D4"]
    assert any("one line" in remark for remark in lick.remarks)


def test_a_tablature_staff_gives_its_places_to_the_staff_it_repeats():
    attributes = (
        '<staves>2</staves><clef number="1"><sign>G</sign><line>2</line></clef>'
        '<clef number="2"><sign>TAB</sign><line>5</line></clef>'
        f'<staff-details number="2">{GUITAR_TUNING}</staff-details>'
    )
    body = note("G3", 16, voice="1", staff="1") + BACK
    body += note("G3", 16, voice="5", staff="2", notations=place(3, 0))
    lick = read_musicxml(score(body, attributes=attributes))
    assert [(n.pitch.name, n.string, n.fret) for n in lick.notes] == [("G3", 3, 0)]


def test_a_chord_in_one_voice_is_a_double_stop():
    lick = read_musicxml(score(note("G3", 16) + note("B3", 16, head="<chord/>")))
    assert [(n.pitch.name, n.onset) for n in lick.notes] == [("B3", 0), ("G3", 0)]


def test_parts_are_picked_by_name_identity_or_number():
    data = score(note("C4", 16)).replace(
        b"</part-list>",
        b'<score-part id="P2"><part-name>Bass</part-name></score-part></part-list>',
    ).replace(
        b"</score-partwise>",
        b'<part id="P2"><measure number="1"><attributes><divisions>4</divisions></attributes>'
        + note("C2", 16).encode() + b"</measure></part></score-partwise>",
    )  # fmt: skip
    with pytest.raises(ChoiceNeeded) as caught:
        read_musicxml(data)
    assert caught.value.options == ("Guitar", "Bass")
    for wanted in ("bass", "P2", "2"):
        assert names(read_musicxml(data, part=wanted)) == ["C2"]
    with pytest.raises(OptionError, match="Guitar, Bass"):
        read_musicxml(data, part="Drums")


def test_a_timewise_score_reads_like_a_partwise_one():
    data = (
        '<score-timewise><part-list><score-part id="P1"><part-name>x</part-name></score-part>'
        '</part-list><measure number="1"><part id="P1"><attributes><divisions>4</divisions>'
        f'</attributes>{note("C4", 16)}</part></measure><measure number="2"><part id="P1">'
        f"{note('D4', 16)}</part></measure></score-timewise>"
    ).encode()
    assert [(n.pitch.name, n.onset) for n in read_musicxml(data).notes] == [("C4", 0), ("D4", 4)]


def test_an_error_names_the_measure():
    with pytest.raises(ReadError, match="measure 2") as caught:
        read_musicxml(score(note("C4", 16), note("H4", 16)))
    assert "letter" in str(caught.value)


# -- chords ------------------------------------------------------------------------------
#: MusicXML 4.0, degree-alter: an added degree "is relative to a dominant chord", so 7 with alter 0
#: is a minor seventh; music21 10.5 adds a major one, hence these two are left out.
SUSPENDED_SEVENTHS = {"7sus4", "9sus4"}


@pytest.mark.parametrize("quality", sorted(set(QUALITIES) - SUSPENDED_SEVENTHS))
def test_the_chord_kinds_mean_to_music21_what_they_mean_to_us(quality):
    from xml.etree import ElementTree as ET

    from music21.musicxml.xmlToM21 import MeasureParser

    symbol = ChordSymbol(PitchClass("D"), quality)
    lick = Lick((), bars_for(Meter(4, 4), F(4)), (ChordSpan(F(0), F(4), symbol),))
    element = ET.fromstring(write_musicxml(lick)).find(".//harmony")
    theirs = MeasureParser().xmlToChordSymbol(element)
    assert {p.pitchClass for p in theirs.pitches} == set(symbol.numbers)
