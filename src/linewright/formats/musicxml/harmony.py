"""Chord symbols in MusicXML: a ``kind`` and altered or added ``degree``s, both ways by one table.

Source: MusicXML 4.0, kind-value and degree-type-value. An added degree is counted against a
dominant chord (so adding 7 with no alteration adds a minor seventh), an altered one against the
chord the kind names.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from typing import Final

from linewright.errors import MusicError
from linewright.theory import QUALITIES, ChordSymbol, Degree, PitchClass

__all__ = ["harmony_element", "read_harmony"]

#: Quality -> kind, then degrees as type:value:alter.
_KINDS: Final[dict[str, str]] = {
    "": "major", "m": "minor", "dim": "diminished", "aug": "augmented", "5": "power",
    "sus2": "suspended-second", "sus4": "suspended-fourth", "6": "major-sixth",
    "m6": "minor-sixth", "6/9": "major-sixth add:9:0", "m6/9": "minor-sixth add:9:0",
    "7": "dominant", "maj7": "major-seventh", "m7": "minor-seventh", "mMaj7": "major-minor",
    "m7b5": "half-diminished", "dim7": "diminished-seventh", "aug7": "augmented-seventh",
    "7sus4": "suspended-fourth add:7:0", "augMaj7": "major-seventh alter:5:1",
    "7b5": "dominant alter:5:-1", "maj7b5": "major-seventh alter:5:-1",
    "9": "dominant-ninth", "maj9": "major-ninth", "m9": "minor-ninth",
    "mMaj9": "major-minor add:9:0", "9sus4": "suspended-fourth add:7:0 add:9:0",
    "add9": "major add:9:0", "madd9": "minor add:9:0", "11": "dominant-11th",
    "m11": "minor-11th", "13": "dominant-13th subtract:11:0", "maj13": "major-13th subtract:11:0",
    "m13": "minor-13th subtract:11:0", "7b9": "dominant add:9:-1", "7#9": "dominant add:9:1",
    "7#11": "dominant add:11:1", "maj7#11": "major-seventh add:11:1",
    "7b13": "dominant add:13:-1", "9#11": "dominant-ninth add:11:1",
    "13b9": "dominant-13th alter:9:-1 subtract:11:0", "7b5b9": "dominant alter:5:-1 add:9:-1",
    "7#5#9": "augmented-seventh add:9:1", "7#5b9": "augmented-seventh add:9:-1",
    "7b5#9": "dominant alter:5:-1 add:9:1",
    "7alt": "dominant subtract:5:0 add:9:-1 add:9:1 add:13:-1",
}  # fmt: skip

#: Kind -> degrees above the root (MusicXML 4.0, kind-value).
_DEGREES: Final[dict[str, str]] = {
    "major": "1 3 5", "minor": "1 b3 5", "diminished": "1 b3 b5", "augmented": "1 3 #5",
    "power": "1 5", "suspended-second": "1 2 5", "suspended-fourth": "1 4 5",
    "major-sixth": "1 3 5 6", "minor-sixth": "1 b3 5 6", "dominant": "1 3 5 b7",
    "major-seventh": "1 3 5 7", "minor-seventh": "1 b3 5 b7", "major-minor": "1 b3 5 7",
    "half-diminished": "1 b3 b5 b7", "diminished-seventh": "1 b3 b5 bb7",
    "augmented-seventh": "1 3 #5 b7", "dominant-ninth": "1 3 5 b7 9",
    "major-ninth": "1 3 5 7 9", "minor-ninth": "1 b3 5 b7 9", "dominant-11th": "1 3 5 b7 9 11",
    "major-11th": "1 3 5 7 9 11", "minor-11th": "1 b3 5 b7 9 11",
    "dominant-13th": "1 3 5 b7 9 11 13", "major-13th": "1 3 5 7 9 11 13",
    "minor-13th": "1 b3 5 b7 9 11 13",
}  # fmt: skip

_QUALITY_BY_DEGREES: Final = {frozenset(text.split()): name for name, text in QUALITIES.items()}
#: Some programs write the plain 13th kinds without taking the 11th out.
_QUALITY_BY_KIND: Final = {"dominant-13th": "13", "major-13th": "maj13", "minor-13th": "m13"}
_TENSION_BASE: Final = {7: -1}  # an added 7th is minor


# -- out ---------------------------------------------------------------------------------
def harmony_element(symbol: ChordSymbol | None, offset: int) -> ET.Element:
    """A ``harmony`` element; ``offset`` in divisions from where it stands. None writes N.C."""
    element = ET.Element("harmony")
    root = ET.SubElement(element, "root")
    if symbol is None:
        ET.SubElement(root, "root-step", {"text": ""}).text = "C"
        ET.SubElement(element, "kind", {"text": "N.C."}).text = "none"
    else:
        _note(root, "root", symbol.root)
        kind, *degrees = _KINDS[symbol.quality].split()
        ET.SubElement(element, "kind", {"text": symbol.quality}).text = kind
        if symbol.bass is not None:
            _note(ET.SubElement(element, "bass"), "bass", symbol.bass)
        for degree in degrees:
            action, value, alter = degree.split(":")
            parent = ET.SubElement(element, "degree", {"print-object": "no"})
            ET.SubElement(parent, "degree-value").text = value
            ET.SubElement(parent, "degree-alter").text = alter
            ET.SubElement(parent, "degree-type").text = action
    if offset:
        ET.SubElement(element, "offset").text = str(offset)
    return element


def _note(parent: ET.Element, prefix: str, note: PitchClass) -> None:
    ET.SubElement(parent, f"{prefix}-step").text = note.step
    if note.alter:
        ET.SubElement(parent, f"{prefix}-alter").text = str(note.alter)


# -- in ----------------------------------------------------------------------------------
def read_harmony(element: ET.Element) -> tuple[ChordSymbol | None, str | None]:
    """The symbol of a ``harmony`` element (None for N.C.) and a remark when it was simplified.

    Raises MusicError for a chord without a root or of no known kind.
    """
    kind_element = element.find("kind")
    kind = (kind_element.text or "").strip() if kind_element is not None else ""
    text = kind_element.get("text", "") if kind_element is not None else ""
    if kind == "none":
        return None, None
    root = _read_note(element.find("root"), "root")
    if root is None:
        raise MusicError("a chord symbol has no root")
    bass = _read_note(element.find("bass"), "bass")
    degrees = list(element.findall("degree"))
    quality = _quality(kind, degrees)
    if quality is not None:
        return ChordSymbol(root, quality, bass), None
    try:
        return ChordSymbol(root, ChordSymbol.parse(f"C{text}").quality, bass), None
    except MusicError:
        plain = _quality(kind, []) or _nearest(kind)
    if plain is None:
        raise MusicError(f"there is no chord of the kind {kind!r:.60}")
    symbol = ChordSymbol(root, plain, bass)
    return symbol, f"the chord {root}{text or kind} was read as {symbol}"


def _read_note(element: ET.Element | None, prefix: str) -> PitchClass | None:
    if element is None:
        return None
    step = (element.findtext(f"{prefix}-step") or "").strip().upper()
    return PitchClass(step, _alter(element.findtext(f"{prefix}-alter")))


def _alter(text: str | None) -> int:
    try:
        return round(float(text)) if text else 0
    except (ValueError, OverflowError) as error:
        raise MusicError(f"{text!r:.40} is not an alteration") from error


def _quality(kind: str, degrees: list[ET.Element]) -> str | None:
    if kind not in _DEGREES:
        return None
    if not degrees and kind in _QUALITY_BY_KIND:
        return _QUALITY_BY_KIND[kind]
    found = {Degree.parse(text) for text in _DEGREES[kind].split()}
    for element in degrees:
        value = (element.findtext("degree-value") or "").strip()
        if not value.isascii() or not value.isdigit() or not 1 <= int(value) <= 13:
            return None
        number, alter = int(value), _alter(element.findtext("degree-alter"))
        action = (element.findtext("degree-type") or "").strip()
        if not -2 <= alter <= 2:
            return None
        present = next((d for d in found if d.number == number), None)
        if action == "add":
            found.add(Degree(number, alter + _TENSION_BASE.get(number, 0)))
        elif present is None:
            return None
        else:
            found.remove(present)
            if action == "alter":
                found.add(Degree(number, max(-3, min(3, present.alter + alter))))
    return _QUALITY_BY_DEGREES.get(frozenset(degree.name for degree in found))


def _nearest(kind: str) -> str | None:
    """The quality of a kind without its highest degrees, for the few kinds we have no name for."""
    degrees = _DEGREES.get(kind, "").split()
    while degrees:
        degrees.pop()
        if frozenset(degrees) in _QUALITY_BY_DEGREES:
            return _QUALITY_BY_DEGREES[frozenset(degrees)]
    return None
