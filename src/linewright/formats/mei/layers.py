"""The two layers of a measure: notes on the staff, frets on the tablature."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from xml.etree.ElementTree import Element, SubElement

from linewright.errors import WriteError
from linewright.formats.mei.spelling import Spelling
from linewright.score import Lick, Measure, Note, Symbol

__all__ = ["ID", "Ids", "note_types", "staff_layer", "tab_layer"]

ID = "{http://www.w3.org/XML/1998/namespace}id"
#: Printed value in quarters -> MEI ``dur``.
DURATIONS = {Fraction(8): "breve"} | {Fraction(4, 2**k): str(2**k) for k in range(9)}
#: Mark -> MEI articulation (bow signs are the usual pick-stroke signs).
ARTICULATIONS = {"accent": "acc", "staccato": "stacc", "down": "dnbow", "up": "upbow"}
HEADS = {"dead": "x", "harmonic": "diamond"}


@dataclass
class Ids:
    """xml:ids given out so far: how many printed parts each note has had."""

    parts: dict[int, int] = field(default_factory=dict)

    def next(self, index: int) -> str:
        """The id of the next printed part of a note: ``n4``, then ``n4-2`` after a tie."""
        self.parts[index] = self.parts.get(index, 0) + 1
        return self.part(index, self.parts[index])

    @staticmethod
    def part(index: int, number: int) -> str:
        """The id of one printed part, counted from 1."""
        return f"n{index}" if number == 1 else f"n{index}-{number}"

    def last(self, index: int) -> str:
        """The id of a note's last printed part."""
        return self.part(index, self.parts[index])


def note_types(note: Note) -> str:
    """A note's marks as MEI ``type`` tokens: ``hammer-on slide-in-below``."""
    names = []
    for mark in note.marks:
        name = mark.name.replace(" ", "-")
        if mark.name in ("slide in", "slide out"):
            name += "-above" if mark.semitones > 0 else "-below"
        names.append(name)
    return " ".join(names)


def staff_layer(
    measure: Measure, lick: Lick, spelling: Spelling, ids: Ids, outside: Iterable[int]
) -> Element:
    """The staff notation of one measure."""
    spelling.begin_bar(measure.bar.key)
    if measure.bar.is_full and all(symbol.is_rest for symbol in measure.symbols):
        layer = Element("layer", n="1")
        SubElement(layer, "mRest")
        return layer
    marked = frozenset(outside)

    def one(symbol: Symbol) -> tuple[list[Element], Element]:
        timing = _timing(symbol)
        if symbol.is_rest:
            return [], Element("rest", timing)
        graces: list[Element] = []
        if not symbol.tie_in:
            for index in symbol.notes:
                graces += _graces(lick.notes[index], index, spelling)
        heads = [_head(lick.notes[i], i, symbol, spelling, ids, i in marked) for i in symbol.notes]
        if len(heads) == 1:
            whole = heads[0]
            whole.attrib.update(timing)
        else:
            whole = Element("chord", timing)
            whole.extend(heads)
        if not symbol.tie_in:
            _articulate(whole, [lick.notes[i] for i in symbol.notes])
        return graces, whole

    return _grouped(measure, one, {}, beams=True)


def tab_layer(measure: Measure, lick: Lick, outside: Iterable[int], *, rhythm: bool) -> Element:
    """The tablature of one measure; a tied note is not struck again, so it shows no fret."""
    marked = frozenset(outside)

    def one(symbol: Symbol) -> tuple[list[Element], Element]:
        timing = _timing(symbol)
        placed = [i for i in symbol.notes if lick.notes[i].string is not None]
        if symbol.tie_in or not placed:
            return [], Element("space", timing)
        group = Element("tabGrp", timing)
        if rhythm:
            SubElement(group, "tabDurSym")
        for index in placed:
            note = lick.notes[index]
            attributes = {
                ID: f"t{index}", "tab.course": str(note.string), "tab.fret": str(note.fret)
            }  # fmt: skip
            SubElement(group, "note", attributes | _type(note, index in marked))
        return [], group

    hidden = {"bracket.visible": "false", "num.visible": "false"}
    return _grouped(measure, one, hidden, beams=False)


def _type(note: Note, is_outside: bool) -> dict[str, str]:
    if not note.marks and not is_outside:
        return {}
    words = " ".join(w for w in (note_types(note), "outside" if is_outside else "") if w)
    return {"type": words}


def _timing(symbol: Symbol) -> dict[str, str]:
    value = DURATIONS.get(symbol.value)
    if value is None:
        raise WriteError(f"a note value of {symbol.value} quarters has no sign in MEI")
    return {"dur": value, "dots": str(symbol.dots)} if symbol.dots else {"dur": value}


def _head(
    note: Note, index: int, symbol: Symbol, spelling: Spelling, ids: Ids, is_outside: bool
) -> Element:
    attributes = {ID: ids.next(index)}
    attributes |= spelling.attributes(note.pitch, tied_in=symbol.tie_in)
    tie = {(True, False): "t", (True, True): "m", (False, True): "i"}.get(
        (symbol.tie_in, symbol.tie_out)
    )
    if tie:
        attributes["tie"] = tie
    attributes |= _type(note, is_outside)
    for mark in note.marks:
        if mark.name in HEADS:
            attributes["head.shape"] = HEADS[mark.name]
        elif mark.name == "ghost":
            attributes["enclose"] = "paren"
    return Element("note", attributes)


def _graces(note: Note, index: int, spelling: Spelling) -> list[Element]:
    kind, value = ("unacc", "8") if len(note.grace) == 1 else ("acc", "16")
    made = []
    for number, grace in enumerate(note.grace, start=1):
        attributes = {ID: f"n{index}-g{number}", "grace": kind, "dur": value}
        attributes |= spelling.attributes(grace.pitch)
        if grace.string is not None:
            attributes |= {"tab.course": str(grace.string), "tab.fret": str(grace.fret)}
        made.append(Element("note", attributes))
    return made


def _articulate(whole: Element, notes: list[Note]) -> None:
    names = {mark.name for note in notes for mark in note.marks}
    for name, sign in ARTICULATIONS.items() if names else ():
        if name in names:
            place = {} if name == "staccato" else {"place": "above"}
            SubElement(whole, "artic", {"artic": sign} | place)


def _grouped(measure: Measure, one: object, tuplet: Mapping[str, str], *, beams: bool) -> Element:
    """Lay the symbols out in a layer, inside their tuplets and beams."""
    layer = Element("layer", n="1")
    inner = beam = layer
    open_tuplet: int | None = None
    open_beam: int | None = None
    for symbol in measure.symbols:
        if symbol.tuplet != open_tuplet:
            open_tuplet, open_beam, inner = symbol.tuplet, None, layer
            if open_tuplet is not None:
                t = measure.tuplets[open_tuplet]
                ratio = {"num": str(t.actual), "numbase": str(t.normal)}
                inner = SubElement(layer, "tuplet", ratio | dict(tuplet))
        graces, whole = one(symbol)  # type: ignore[operator]
        number = symbol.beam if beams else None
        if number is None or number != open_beam:
            if len(graces) > 1:  # several graces share a beam of their own
                SubElement(inner, "beam").extend(graces)
            else:
                inner.extend(graces)
            beam = SubElement(inner, "beam") if number is not None else inner
            open_beam = number
        else:
            beam.extend(graces)
        beam.append(whole)
    return layer
