"""Playing marks as MusicXML notations, both ways.

Each mark uses the element MusicXML 4.0 has for it: ``technical`` for places, hammer-ons, bends
and strokes, ``articulations`` for indeterminate slides (scoop, plop, falloff, doit), ``slide``
between two notes, ``notehead`` for dead and ghost notes, ``play`` for the palm. A joining mark
starts on the note before and stops on the note it reaches, where Linewright keeps it.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from linewright.errors import MusicError
from linewright.score import Mark, Note, bent
from linewright.theory import Interval, Pitch

__all__ = ["ReadMarks", "add_notations", "bent_pitch", "read_marks", "unbent_pitch"]

#: Mark -> element inside ``articulations``.
_ARTICULATIONS: Final = {
    Mark("accent"): "accent",
    Mark("staccato"): "staccato",
    Mark("slide in", Fraction(-1)): "scoop",
    Mark("slide in", Fraction(1)): "plop",
    Mark("slide out", Fraction(-1)): "falloff",
    Mark("slide out", Fraction(1)): "doit",
}
#: Mark -> element inside ``technical`` (a bow's signs are also a pick's).
_TECHNICAL: Final = {Mark("up"): "up-bow", Mark("down"): "down-bow"}
_BY_ELEMENT: Final = {name: mark for mark, name in (_ARTICULATIONS | _TECHNICAL).items()} | {
    "strong-accent": Mark("accent"),
    "staccatissimo": Mark("staccato"),
}
_JOINING: Final = {"hammer-on": "H", "pull-off": "P"}


# -- bends -------------------------------------------------------------------------------
def unbent_pitch(note: Note, fretted: int | None = None) -> Pitch:
    """The pitch held before a bend: what MusicXML writes. ``fretted`` is its MIDI number if known."""
    if not note.bend:
        return note.pitch
    if fretted is None:
        fretted = note.midi - bent(0, note.bend)
    return note.pitch.transpose(-_bend_interval(note.midi - fretted))


def bent_pitch(written: Pitch, bend: Fraction) -> Pitch:
    """The pitch a bend reaches from the pitch written."""
    return written.transpose(_bend_interval(bent(0, bend)))


def _bend_interval(semitones: int) -> Interval:
    """A bend's interval, by the letter steps of the usual seconds, thirds and fourths."""
    octaves, rest = divmod(abs(semitones), 12)
    steps = 7 * octaves + (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)[rest]
    return Interval(steps, abs(semitones)) if semitones >= 0 else Interval(-steps, semitones)


# -- out ---------------------------------------------------------------------------------
@dataclass
class _Groups:
    """The children of one ``notations`` element, by where they go."""

    plain: list[ET.Element] = field(default_factory=list)
    ornaments: list[ET.Element] = field(default_factory=list)
    technical: list[ET.Element] = field(default_factory=list)
    articulations: list[ET.Element] = field(default_factory=list)


def add_notations(
    element: ET.Element,
    *,
    marks: tuple[Mark, ...],
    starts: tuple[str, ...],
    place: tuple[int, int] | None,
    number: int,
    tied: tuple[str, ...],
    tuplet: tuple[str, ...],
) -> None:
    """Append a note's ``notations``.

    Parameters
    ----------
    element : Element
        The ``note``.
    marks : tuple of Mark
    starts : tuple of str
        Joining marks that lead from this note to the next.
    place : (string, fret) or None
    number : int
        Which of the notes struck together this is, to keep their slides apart.
    tied, tuplet : tuple of str
        ``start`` and ``stop`` where a tie or tuplet does.
    """
    groups = _Groups()
    for kind in tied:
        groups.plain.append(ET.Element("tied", {"type": kind}))
    for kind in tuplet:
        bracket = {"bracket": "yes"} if kind == "start" else {}
        groups.plain.append(ET.Element("tuplet", {"type": kind, **bracket}))
    if place is not None:
        for tag, value in zip(("string", "fret"), place, strict=True):
            technical = ET.Element(tag)
            technical.text = str(value)
            groups.technical.append(technical)
    for name in (m.name for m in marks if m.kind.joins):
        _join(groups, name, "stop", number)
    for name in starts:
        _join(groups, name, "start", number)
    for mark in marks:
        _single(groups, mark)
    notations = ET.Element("notations")
    notations.extend(groups.plain)
    for tag, children in (
        ("ornaments", groups.ornaments),
        ("technical", groups.technical),
        ("articulations", groups.articulations),
    ):
        if children:
            ET.SubElement(notations, tag).extend(children)
    if len(notations):
        element.append(notations)


def _join(groups: _Groups, name: str, kind: str, number: int) -> None:
    attributes = {"type": kind, "number": str(min(number, 16))}
    if name in _JOINING:
        element = ET.Element(name, attributes)
        element.text = _JOINING[name] if kind == "start" else None
        groups.technical.append(element)
    elif name == "slide":
        groups.plain.append(ET.Element("slide", attributes | {"line-type": "solid"}))
    elif kind == "stop":  # release
        element = ET.Element("bend")
        ET.SubElement(element, "bend-alter").text = "0"
        ET.SubElement(element, "release")
        groups.technical.append(element)


def _single(groups: _Groups, mark: Mark) -> None:
    if mark in _ARTICULATIONS:
        groups.articulations.append(ET.Element(_ARTICULATIONS[mark]))
    elif mark in _TECHNICAL:
        groups.technical.append(ET.Element(_TECHNICAL[mark]))
    elif mark.name == "bend":
        element = ET.Element("bend")
        ET.SubElement(element, "bend-alter").text = f"{float(mark.semitones):g}"
        groups.technical.append(element)
    elif mark.name == "harmonic":
        harmonic = ET.Element("harmonic")
        ET.SubElement(harmonic, "natural")
        groups.technical.append(harmonic)
    elif mark.name == "vibrato":
        groups.ornaments.append(ET.Element("wavy-line", {"type": "start"}))
        groups.ornaments.append(ET.Element("wavy-line", {"type": "stop"}))
    elif mark.name == "let ring":
        groups.plain.append(ET.Element("tied", {"type": "let-ring"}))


# -- in ----------------------------------------------------------------------------------
@dataclass
class ReadMarks:
    """What a ``note`` element says about how it is played.

    ``starts`` are joining marks leading to the next note; ``bends`` the alterations in order,
    a release as None.
    """

    marks: set[Mark] = field(default_factory=set)
    starts: set[str] = field(default_factory=set)
    string: int | None = None
    fret: int | None = None
    bends: list[Fraction | None] = field(default_factory=list)
    remarks: set[str] = field(default_factory=set)

    @property
    def bend(self) -> Fraction:
        """Semitones the note is bent by."""
        return next((bend for bend in self.bends if bend), Fraction(0))


def read_marks(note: ET.Element) -> ReadMarks:
    """The marks, string and fret of a ``note`` element; raises MusicError for a broken number."""
    found = ReadMarks()
    for notations in note.findall("notations"):
        for child in notations:
            if child.tag in ("technical", "articulations", "ornaments"):
                for item in child:
                    _read_item(found, item)
            else:
                _read_item(found, child)
    head = note.find("notehead")
    if head is not None:
        if (head.text or "").strip() in ("x", "cross", "circle-x"):
            found.marks.add(Mark("dead"))
        if head.get("parentheses") == "yes":
            found.marks.add(Mark("ghost"))
    if any((mute.text or "").strip() == "palm" for mute in note.iterfind("play/mute")):
        found.marks.add(Mark("palm mute"))
    _settle_bends(found)
    return found


def _read_item(found: ReadMarks, item: ET.Element) -> None:
    tag, kind = item.tag, item.get("type", "")
    if tag in _BY_ELEMENT:
        found.marks.add(_BY_ELEMENT[tag])
    elif tag == "string":
        found.string = _whole(item)
    elif tag == "fret":
        found.fret = _whole(item)
    elif tag in ("hammer-on", "pull-off", "slide", "glissando"):
        name = "slide" if tag == "glissando" else tag
        if kind == "stop":
            found.marks.add(Mark(name))
        else:
            found.starts.add(name)
    elif tag == "bend":
        found.bends.append(None if item.find("release") is not None else _semitones(item))
    elif tag == "harmonic":
        found.marks.add(Mark("harmonic"))
    elif tag == "wavy-line" and kind == "start":
        found.marks.add(Mark("vibrato"))
    elif tag == "tied" and kind == "let-ring":
        found.marks.add(Mark("let ring"))
    elif tag == "other-technical" and "palm" in (item.text or "").lower():
        found.marks.add(Mark("palm mute"))


def _settle_bends(found: ReadMarks) -> None:
    if found.bend:
        found.marks.add(Mark("bend", found.bend))
    if not found.bends or None not in found.bends:
        return
    if found.bends[0] is None:
        found.marks.add(Mark("release"))
    else:
        found.remarks.add("a bend let down again within its note was read as the bend alone")


def _whole(element: ET.Element) -> int:
    text = (element.text or "").strip()
    if not text.isascii() or not text.isdigit() or len(text) > 2:
        raise MusicError(f"{text!r:.40} is not a {element.tag}", accepted="Use a whole number")
    return int(text)


def _semitones(element: ET.Element) -> Fraction:
    text = (element.findtext("bend-alter") or "").strip()
    try:
        value = float(text)
    except ValueError as error:
        raise MusicError(f"{text!r:.40} is not a bend in semitones") from error
    if not -12 <= value <= 12:
        raise MusicError(
            f"a bend of {text[:40]} semitones is out of range", accepted="Use -12 to 12"
        )
    return Fraction(value).limit_denominator(8)
