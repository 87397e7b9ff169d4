"""MusicXML out: one part on a five-line staff, every note with its string and fret.

The rhythm is printed as :func:`linewright.score.notate` says. Pitches are written as they sound;
the clef of a low instrument is a treble clef an octave down, which in MusicXML moves the notes
on paper, not the pitches. What the format has no element for goes into its ``miscellaneous``
fields (style, tags, an instrument's frets). Explicit accidentals added to a key are left to the
notes, which carry their own.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from fractions import Fraction
from typing import Final

from linewright.errors import MusicError, WriteError
from linewright.formats.musicxml.container import pack
from linewright.formats.musicxml.elements import (
    add_text,
    beat_unit,
    decimal,
    divisions,
    harmonies,
    joins_from,
    place_of,
    tuplet_ends,
    write_beam,
    write_key,
    write_meter,
    write_pitch,
    write_tuning,
    write_value,
)
from linewright.formats.musicxml.harmony import harmony_element
from linewright.formats.musicxml.header import instrument_note
from linewright.formats.musicxml.marks import add_notations, unbent_pitch
from linewright.score import (
    Bar,
    Lick,
    Measure,
    Note,
    Symbol,
    notate,
)

__all__ = ["write_musicxml", "write_mxl"]

_DECLARATION: Final = (
    '<?xml version="1.0" encoding="UTF-8" standalone="no"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN"'
    ' "http://www.musicxml.org/dtds/partwise.dtd">\n'
)


def write_musicxml(lick: Lick) -> bytes:
    """A lick as a MusicXML 4.0 score; raises WriteError for a rhythm no note value can print."""
    root = ET.Element("score-partwise", {"version": "4.0"})
    _write_head(root, lick)
    part = ET.SubElement(root, "part", {"id": "P1"})
    _PartWriter(lick, part).write()
    ET.indent(root, " ")
    return (_DECLARATION + ET.tostring(root, encoding="unicode") + "\n").encode()


def write_mxl(lick: Lick) -> bytes:
    """A lick as a compressed MusicXML 4.0 score (.mxl)."""
    return pack(write_musicxml(lick))


# -- head --------------------------------------------------------------------------------
def _write_head(root: ET.Element, lick: Lick) -> None:
    add_text(ET.SubElement(root, "work"), "work-title", lick.title)
    identification = ET.SubElement(root, "identification")
    add_text(ET.SubElement(identification, "encoding"), "software", "Linewright")
    if lick.source is not None:
        add_text(identification, "source", lick.source)
    fields = {
        "style": lick.style,
        "tags": ",".join(lick.tags) or None,
        "spelled": None if lick.spelled else "no",
        "instrument": instrument_note(lick.instrument) if lick.instrument else None,
    }
    if any(fields.values()):
        other = ET.SubElement(identification, "miscellaneous")
        for name, value in fields.items():
            if value:
                add_text(other, "miscellaneous-field", value, name=name)
    listed = ET.SubElement(ET.SubElement(root, "part-list"), "score-part", {"id": "P1"})
    add_text(listed, "part-name", lick.instrument.name if lick.instrument else "Melody")


# -- part --------------------------------------------------------------------------------
class _PartWriter:
    def __init__(self, lick: Lick, part: ET.Element) -> None:
        self._lick = lick
        self._part = part
        self._measures = notate(lick)
        self._divisions = divisions(lick, self._measures)
        self._starts = joins_from(lick)

    def write(self) -> None:
        before: Bar | None = None
        for measure in self._measures:
            bar = measure.bar
            attributes = {"number": str(bar.number)}
            if bar.number == 0:
                attributes["implicit"] = "yes"
            element = ET.SubElement(self._part, "measure", attributes)
            self._attributes(element, bar, before)
            if before is None:
                self._tempo(element)
            self._contents(element, measure)
            before = bar
        style = ET.SubElement(element, "barline", {"location": "right"})
        add_text(style, "bar-style", "light-heavy")

    def _units(self, length: Fraction) -> str:
        units = length * self._divisions
        if units.denominator != 1:  # cannot be: divisions are the common multiple
            raise WriteError(f"a length of {length} quarters cannot be counted")
        return str(units.numerator)

    # -- attributes ----------------------------------------------------------------------
    def _attributes(self, element: ET.Element, bar: Bar, before: Bar | None) -> None:
        attributes = ET.Element("attributes")
        if before is None:
            add_text(attributes, "divisions", self._divisions)
        if bar.key is not None and (before is None or bar.key != before.key):
            write_key(attributes, bar.key)
        if before is None or bar.meter != before.meter:
            write_meter(attributes, bar.meter)
        if before is None:
            self._clef(attributes)
            if self._lick.instrument is not None:
                write_tuning(attributes, self._lick.instrument)
        if len(attributes):
            element.append(attributes)

    def _clef(self, attributes: ET.Element) -> None:
        lick = self._lick
        if lick.instrument is not None:
            heights = [pitch.midi for pitch in lick.instrument.strings]
        else:
            heights = [note.midi for note in lick.notes] or [67]
        middle = sum(heights) / len(heights)
        clef = ET.SubElement(attributes, "clef")
        sign, line, octave = ("G", 2, 0) if middle >= 60 else ("G", 2, -1)
        if middle < 45:
            sign, line, octave = "F", 4, -1
        add_text(clef, "sign", sign)
        add_text(clef, "line", line)
        if octave:
            add_text(clef, "clef-octave-change", octave)

    def _tempo(self, element: ET.Element) -> None:
        tempo, swing = self._lick.tempo, self._lick.swing
        if tempo is None and swing is None:
            return
        direction = ET.SubElement(element, "direction", {"placement": "above"})
        printed = None if tempo is None else beat_unit(tempo.beat)
        if tempo is not None and printed is not None:
            metronome = ET.SubElement(ET.SubElement(direction, "direction-type"), "metronome")
            add_text(metronome, "beat-unit", printed[0])
            for _ in range(printed[1]):
                ET.SubElement(metronome, "beat-unit-dot")
            add_text(metronome, "per-minute", decimal(tempo.bpm))
        if swing is not None or printed is None:
            words = "Swing" if swing is not None else ""
            add_text(ET.SubElement(direction, "direction-type"), "words", words)
        sound = ET.SubElement(direction, "sound")
        if tempo is not None:
            sound.set("tempo", decimal(tempo.quarter_bpm))
        if swing is not None:
            swung = ET.SubElement(sound, "swing")
            add_text(swung, "first", swing.numerator)
            add_text(swung, "second", swing.denominator)
            add_text(swung, "swing-type", "eighth")

    # -- symbols -------------------------------------------------------------------------
    def _contents(self, element: ET.Element, measure: Measure) -> None:
        chords = list(harmonies(self._lick, measure.bar))
        for index, symbol in enumerate(measure.symbols):
            while chords and chords[0][0] < symbol.onset + symbol.duration:
                onset, chord = chords.pop(0)
                offset = int(self._units(onset - symbol.onset))
                element.append(harmony_element(chord, offset))
            tuplet = tuplet_ends(measure.symbols, index)
            if symbol.is_rest:
                self._rest(element, measure, symbol, tuplet)
                continue
            if not symbol.tie_in:
                self._graces(element, symbol)
            for number in range(len(symbol.notes)):
                self._note(element, measure, index, number, tuplet)

    def _rest(
        self, element: ET.Element, measure: Measure, symbol: Symbol, tuplet: tuple[str, ...]
    ) -> None:
        note = ET.SubElement(element, "note")
        rest = ET.SubElement(note, "rest")
        if len(measure.symbols) == 1 and measure.bar.is_full:
            rest.set("measure", "yes")
        add_text(note, "duration", self._units(symbol.duration))
        add_text(note, "voice", 1)
        write_value(note, measure, symbol)
        add_notations(note, marks=(), starts=(), place=None, number=1, tied=(), tuplet=tuplet)

    def _graces(self, element: ET.Element, symbol: Symbol) -> None:
        graces = [g for index in symbol.notes for g in self._lick.notes[index].grace]
        for grace in graces:
            note = ET.SubElement(element, "note")
            ET.SubElement(note, "grace", {"slash": "yes" if len(graces) == 1 else "no"})
            write_pitch(note, grace.pitch)
            add_text(note, "voice", 1)
            add_text(note, "type", "eighth" if len(graces) == 1 else "16th")
            place = place_of(grace)
            add_notations(note, marks=(), starts=(), place=place, number=1, tied=(), tuplet=())

    def _note(
        self,
        element: ET.Element,
        measure: Measure,
        index: int,
        number: int,
        tuplet: tuple[str, ...],
    ) -> None:
        symbol = measure.symbols[index]
        lick_note = self._lick.notes[symbol.notes[number]]
        note = ET.SubElement(element, "note")
        if number:
            ET.SubElement(note, "chord")
        write_pitch(note, unbent_pitch(lick_note, self._fretted(lick_note)))
        add_text(note, "duration", self._units(symbol.duration))
        ties = (("stop",) if symbol.tie_in else ()) + (("start",) if symbol.tie_out else ())
        for kind in ties:
            ET.SubElement(note, "tie", {"type": kind})
        add_text(note, "voice", 1)
        write_value(note, measure, symbol)
        marks = () if symbol.tie_in else lick_note.marks
        names = {mark.name for mark in marks}
        if names & {"dead", "ghost"}:
            attributes = {"parentheses": "yes"} if "ghost" in names else {}
            add_text(note, "notehead", "x" if "dead" in names else "normal", **attributes)
        if number == 0:
            write_beam(note, measure.symbols, index)
        add_notations(
            note,
            marks=marks,
            starts=() if symbol.tie_out else self._starts.get(symbol.notes[number], ()),
            place=place_of(lick_note),
            number=number + 1,
            tied=ties,
            tuplet=tuplet if number == 0 else (),
        )
        if "palm mute" in names:
            add_text(ET.SubElement(note, "play"), "mute", "palm")

    def _fretted(self, note: Note) -> int | None:
        instrument = self._lick.instrument
        if instrument is None or note.string is None or note.fret is None:
            return None
        try:
            return instrument.midi_at(note.string, note.fret)
        except MusicError:
            return None
