"""What each element of one part says on its own, and a plain copy of the part for music21.

music21 is asked for time: where every note and chord falls, how long bars last, the order
repeats are played in. It sees a rebuilt part that holds nothing else, every note tagged with its
number, so that a stranger's file never reaches its less trodden paths, and what it does not keep
(tunings, bends, strings per chord note, many chord kinds) is read here from the elements.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from linewright.errors import MusicError, ReadError, TooLarge
from linewright.formats.musicxml.clock import DIVISIONS, Clock, number
from linewright.formats.musicxml.harmony import read_harmony
from linewright.formats.musicxml.marks import ReadMarks, bent_pitch, read_marks
from linewright.formats.musicxml.repeats import BarSigns
from linewright.score import Grace, Meter
from linewright.theory import MODES, ChordSymbol, Interval, Key, Pitch, PitchClass

__all__ = ["PartFacts", "RawBar", "RawNote", "part_facts"]

_MAX_NOTES: Final = 10_000  # rests and ornaments among them
_MAX_CHORDS: Final = 1_000
_MAX_BARS: Final = 2_000
_LETTER_STEPS: Final = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)


@dataclass
class RawNote:
    """A sounding note element: pitch already at sounding height, bend applied; ``written`` is the
    MIDI number without the bend.
    """

    pitch: Pitch
    written: int
    played: ReadMarks
    staff: str
    voice: str
    tie_in: bool
    tie_out: bool
    grace: tuple[Grace, ...]
    bar: int


@dataclass
class RawBar:
    """A measure element: the meter and key in force, whether it calls itself irregular, and its
    repeat signs.
    """

    meter: Meter
    key: Key | None
    is_implicit: bool
    signs: BarSigns


@dataclass
class PartFacts:
    """All of a part but its timing; ``tree`` is the score to hand to music21."""

    notes: list[RawNote] = field(default_factory=list)
    bars: list[RawBar] = field(default_factory=list)
    harmonies: list[ChordSymbol | None] = field(default_factory=list)
    tab_staves: set[str] = field(default_factory=set)
    details: ET.Element | None = None
    remarks: set[str] = field(default_factory=set)
    tree: ET.Element = field(default_factory=lambda: ET.Element("score-partwise"))


def part_facts(part: ET.Element) -> PartFacts:
    """Read a ``part`` element; raises ReadError naming the measure at fault."""
    return _Reader(part).read()


class _Reader:
    def __init__(self, part: ET.Element) -> None:
        self._part = part
        self._facts = PartFacts()
        self._meter = Meter(4, 4)
        self._key: Key | None = None
        self._shift = Interval(0, 0)
        self._has_meter = False
        self._clock = Clock()
        self._graces: dict[tuple[str, str], list[Grace]] = {}
        self._skip_chord = False
        self._ending: frozenset[int] = frozenset()

    def read(self) -> PartFacts:
        tree = self._facts.tree
        listed = ET.SubElement(ET.SubElement(tree, "part-list"), "score-part", {"id": "P1"})
        ET.SubElement(listed, "part-name").text = "part"
        copy = ET.SubElement(tree, "part", {"id": "P1"})
        measures = self._part.findall("measure")
        if len(measures) > _MAX_BARS:
            raise TooLarge(
                f"the part has {len(measures):,} bars", accepted=f"At most {_MAX_BARS:,} are read"
            )
        for tag, limit in (("note", _MAX_NOTES), ("harmony", _MAX_CHORDS)):
            if sum(1 for _ in self._part.iter(tag)) > limit:
                raise TooLarge(
                    f"the part has more than {limit:,} {'notes' if tag == 'note' else 'chords'}",
                    accepted="Save a few bars of it as a file of their own",
                )
        for index, measure in enumerate(measures):
            self._measure(index, measure, copy)
        if any(self._graces.values()):
            self._facts.remarks.add("grace notes with no note after them were left out")
        return self._facts

    def _measure(self, index: int, measure: ET.Element, copy: ET.Element) -> None:
        number = measure.get("number", str(index + 1))
        into = ET.SubElement(copy, "measure", {"number": str(index + 1)})
        started = False
        self._clock.start_bar()
        if not index:
            attributes = ET.SubElement(into, "attributes")
            ET.SubElement(attributes, "divisions").text = str(DIVISIONS)
        try:
            for child in measure:
                if child.tag == "attributes":
                    self._attributes(child, into, started)
                elif child.tag == "note":
                    started = True
                    self._note(child, into, index)
                elif child.tag in ("backup", "forward"):
                    self._clock.move(child, into)
                elif child.tag == "harmony":
                    self._harmony(child, into)
        except MusicError as error:
            raise ReadError(
                error.message, place=f"measure {number[:20]}", accepted=error.accepted
            ) from error
        implicit = measure.get("implicit") == "yes" or number == "0"
        self._facts.bars.append(
            RawBar(self._meter, self._sounding_key(), implicit, self._signs(measure))
        )

    # -- attributes ----------------------------------------------------------------------
    def _attributes(self, element: ET.Element, into: ET.Element, started: bool) -> None:
        copy = ET.Element("attributes")
        divisions = element.findtext("divisions")
        if divisions is not None:
            self._clock.divisions = Fraction(number(divisions, "divisions"))
        key = element.find("key")
        if key is not None:
            self._key = _read_key(key, self._facts.remarks)
        time = element.find("time")
        if time is not None:
            meter = _read_meter(time)
            if meter is None:
                self._facts.remarks.add("music without meter was read as 4/4")
            self._meter = meter or Meter(4, 4)
        if time is not None or not self._has_meter:
            self._has_meter = True
            timed = ET.SubElement(copy, "time")
            ET.SubElement(timed, "beats").text = str(self._meter.numerator)
            ET.SubElement(timed, "beat-type").text = str(self._meter.denominator)
        if started and (key is not None or time is not None):
            self._facts.remarks.add("a key or meter change inside a bar was moved to its start")
        transpose = element.find("transpose")
        if transpose is not None:
            self._shift = _read_transpose(transpose)
        for clef in element.findall("clef"):
            if (clef.findtext("sign") or "").strip() == "TAB":
                self._facts.tab_staves.add(clef.get("number", "1"))
        for details in element.findall("staff-details"):
            if details.find("staff-tuning") is not None or self._facts.details is None:
                self._facts.details = details
        if len(copy):
            into.append(copy)

    def _sounding_key(self) -> Key | None:
        if self._key is None or self._shift.semitones % 12 == 0:
            return self._key
        tonic = self._key.tonic.transpose(self._shift)
        for name in (tonic, *(PitchClass.from_fifths(tonic.fifths + n) for n in (12, -12))):
            if -7 <= name.fifths + MODES[self._key.mode] <= 7:
                return Key(name, self._key.mode)
        return None

    # -- notes ---------------------------------------------------------------------------
    def _note(self, element: ET.Element, into: ET.Element, bar: int) -> None:
        chord = element.find("chord") is not None
        where = (
            (element.findtext("staff") or "1").strip(),
            (element.findtext("voice") or "1").strip(),
        )
        pitch = element.find("pitch")
        if element.find("grace") is not None:
            if pitch is not None and element.find("cue") is None:
                self._graces.setdefault(where, []).append(self._grace(pitch, element))
            return
        silent = pitch is None or element.find("cue") is not None
        if silent:
            if element.find("unpitched") is not None:
                self._facts.remarks.add("notes without pitch (percussion) were left out")
            elif element.find("cue") is not None:
                self._facts.remarks.add("cue notes were left out")
            if chord:
                return  # takes no time of its own
            self._skip_chord = True
            copy = ET.SubElement(into, "note")
            ET.SubElement(copy, "rest")
            self._clock.note(element, copy, chord=False)
            return
        copy = ET.SubElement(into, "note", {"color": f"#{len(self._facts.notes):06X}"})
        if chord and not self._skip_chord:
            ET.SubElement(copy, "chord")
        elif chord:
            raise MusicError("a note is said to sound with a rest or cue note")
        self._skip_chord = False
        assert pitch is not None
        self._copy_pitch(pitch, copy)
        self._clock.note(element, copy, chord=chord)
        self._facts.notes.append(self._raw(element, pitch, where, bar))

    def _raw(
        self, element: ET.Element, pitch: ET.Element, where: tuple[str, str], bar: int
    ) -> RawNote:
        played = read_marks(element)
        self._facts.remarks |= played.remarks
        if (played.string is None) != (played.fret is None):
            played.string = played.fret = None
            self._facts.remarks.add("a string without a fret (or a fret without one) was left out")
        ties = {tie.get("type") for tie in element.findall("tie")}
        written = self._pitch(pitch)
        sounding = bent_pitch(written, played.bend)
        graces = tuple(self._graces.pop(where, ()))
        ties_on = ("stop" in ties, "start" in ties)
        return RawNote(sounding, written.midi, played, *where, *ties_on, graces, bar)

    def _grace(self, pitch: ET.Element, element: ET.Element) -> Grace:
        played = read_marks(element)
        if played.string is None or played.fret is None:
            return Grace(self._pitch(pitch))
        return Grace(self._pitch(pitch), played.string, played.fret)

    def _pitch(self, element: ET.Element) -> Pitch:
        step = (element.findtext("step") or "").strip().upper()
        octave = (element.findtext("octave") or "").strip()
        if not re.fullmatch(r"-?\d", octave, re.ASCII):
            raise MusicError(f"{octave!r:.40} is not an octave", accepted="Use 0 to 9")
        alter = number(element.findtext("alter") or "0", "alteration", signed=True)
        if float(alter) != int(float(alter)):
            self._facts.remarks.add("quarter tones were read as the nearest semitone")
        return Pitch(step, round(float(alter)), int(octave)).transpose(self._shift)

    def _copy_pitch(self, pitch: ET.Element, copy: ET.Element) -> None:
        plain = ET.SubElement(copy, "pitch")  # its height is read here, so any will do
        ET.SubElement(plain, "step").text = (pitch.findtext("step") or "C").strip()[:1]
        ET.SubElement(plain, "octave").text = (pitch.findtext("octave") or "4").strip()[:2]

    # -- the rest ------------------------------------------------------------------------
    def _harmony(self, element: ET.Element, into: ET.Element) -> None:
        try:
            symbol, remark = read_harmony(element)
        except MusicError as error:
            self._facts.remarks.add(f"a chord symbol was left out: {error.message}")
            return
        if remark:
            self._facts.remarks.add(remark)
        if symbol is not None and self._shift != Interval(0, 0):
            bass = symbol.bass.transpose(self._shift) if symbol.bass else None
            symbol = ChordSymbol(symbol.root.transpose(self._shift), symbol.quality, bass)
        copy = ET.SubElement(into, "harmony")
        ET.SubElement(ET.SubElement(copy, "root"), "root-step").text = "C"
        tag = str(len(self._facts.harmonies))
        ET.SubElement(copy, "kind", {"text": tag}).text = "major"
        offset = element.findtext("offset")
        if offset is not None:
            ET.SubElement(copy, "offset").text = self._clock.offset(offset)
        self._facts.harmonies.append(symbol)

    def _signs(self, measure: ET.Element) -> BarSigns:
        """A measure's repeat signs; an ending runs on until it stops."""
        found = BarSigns(passes=self._ending)
        for barline in measure.findall("barline"):
            direction = barline.find("repeat")
            if direction is not None:
                found.forward |= direction.get("direction") == "forward"
                found.backward |= direction.get("direction") == "backward"
            ending = barline.find("ending")
            if ending is None:
                continue
            if ending.get("type") == "start":
                numbers = re.findall(r"\d", ending.get("number", "1")) or ["1"]
                self._ending = found.passes = frozenset(map(int, numbers))
            else:
                self._ending = frozenset()
        return found


def _read_meter(element: ET.Element) -> Meter | None:
    if element.find("senza-misura") is not None:
        return None
    beats = [(b.text or "").strip() for b in element.findall("beats")]
    kinds = [(b.text or "").strip() for b in element.findall("beat-type")]
    if len(beats) != len(kinds) or not beats:
        raise MusicError("a time signature is incomplete")
    if len(set(kinds)) == 1:
        return Meter.parse(f"{'+'.join(beats)}/{kinds[0]}")
    unit = max(Meter.parse(f"{b}/{k}").denominator for b, k in zip(beats, kinds, strict=True))
    meters = [Meter.parse(f"{b}/{k}") for b, k in zip(beats, kinds, strict=True)]
    groups = tuple(m.numerator * unit // m.denominator for m in meters)
    return Meter(sum(groups), unit, groups)


def _read_key(element: ET.Element, remarks: set[str]) -> Key | None:
    fifths = (element.findtext("fifths") or "").strip()
    if not fifths:
        remarks.add("a key signature that is not in fifths was left out")
        return None
    if not re.fullmatch(r"[-+]?\d", fifths, re.ASCII) or abs(int(fifths)) > 7:
        raise MusicError(f"{fifths!r:.40} is not a key signature", accepted="Use -7 to 7 fifths")
    mode = (element.findtext("mode") or "major").strip().lower()
    if mode not in MODES:
        mode = "major"
    mode = {"ionian": "major", "aeolian": "minor", "natural minor": "minor"}.get(mode, mode)
    return Key(PitchClass.from_fifths(int(fifths) - MODES[mode]), mode)


def _read_transpose(element: ET.Element) -> Interval:
    def whole(tag: str) -> int | None:
        text = element.findtext(tag)
        return None if text is None else round(float(number(text, tag, signed=True)))

    octaves, chromatic, diatonic = (
        whole("octave-change") or 0,
        whole("chromatic") or 0,
        whole("diatonic"),
    )
    if abs(octaves) > 5 or abs(chromatic) > 60 or abs(diatonic or 0) > 35:
        raise MusicError("a part is transposed by more than five octaves")
    if diatonic is None:
        whole_octaves, rest = divmod(abs(chromatic), 12)
        diatonic = (7 * whole_octaves + _LETTER_STEPS[rest]) * (-1 if chromatic < 0 else 1)
    return Interval(diatonic + 7 * octaves, chromatic + 12 * octaves)
