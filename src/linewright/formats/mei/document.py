"""The MEI document: header, score definition, measures.

MEI 5.0 (music-encoding.org, guidelines ch. 4 for common notation and ch. 14 for tablature):
one staff, and under it a ``tab.guitar`` staff where the lick has strings and frets. Pitches
are written as they sound; a guitar's clef carries the octave. xml:ids are stable: staff note
``n{index}`` (``n{index}-2`` and on for the parts after a tie), its tablature ``t{index}``,
its label ``l{index}``, its grace notes ``n{index}-g1`` and on; ``index`` counts
``lick.notes`` from 0.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from html import escape
from xml.etree.ElementTree import Element, SubElement

from linewright.errors import OptionError, WriteError
from linewright.formats.mei.controls import control_events
from linewright.formats.mei.layers import ID, Ids, staff_layer, tab_layer
from linewright.formats.mei.spelling import WRITTEN, Spelling
from linewright.score import Bar, Instrument, Lick, Measure, Meter, notate
from linewright.theory import STEPS, Key, spell_midi

__all__ = ["MeiSheet", "mei_sheet", "write_mei"]

NAMESPACE = "http://www.music-encoding.org/ns/mei"
#: Characters XML 1.0 has no way to write.
_UNWRITABLE = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
#: Elements that hold text, written on one line with what is inside them.
_INLINE = frozenset({"dir", "harm", "name", "rend", "tempo", "title"})
#: Before each bar of the section, and a system break there.
_INDENT = " " * 6
_BREAK = f"{_INDENT}<sb/>\n"
_MODES = {"natural minor": "minor", "ionian": "major"}


def write_mei(
    lick: Lick,
    *,
    labels: Mapping[int, str] | None = None,
    mark_outside: Collection[int] = (),
    tab: bool | None = None,
    tab_rhythm: bool = False,
    heading: bool = True,
    systems: int | Collection[int] | None = None,
    measures: tuple[Measure, ...] | None = None,
) -> str:
    """Write a lick as an MEI 5 document.

    Parameters
    ----------
    lick : Lick
    labels : mapping of int to str, optional
        Text under the staff by note index, as degree names (``b3``).
    mark_outside : collection of int
        Indexes of notes outside the frame: their labels are boxed and the notes typed
        ``outside``; one without a label gets a diamond.
    tab : bool, optional
        Whether a tablature staff stands under the staff; by default when any note has a string
        and the instrument is known.
    tab_rhythm : bool
        Whether the tablature repeats the rhythm with stems of its own.
    heading : bool
        Whether tempo and capo are written; the engraver, who draws them, leaves them out.
    systems : int or collection of int, optional
        Begin a new system after every so many full bars, or at the bars with these numbers;
        by default no break is written.
    measures : tuple of Measure, optional
        The lick's printed rhythm where the caller has it already from
        :func:`linewright.score.notate`.

    Returns
    -------
    str
        A whole document with its XML declaration.

    Raises
    ------
    WriteError
        When a duration fits no note value or tuplet, or tablature is asked for and the lick
        has no instrument.
    OptionError
        When an index is not that of a note.
    """
    if isinstance(systems, int):
        if systems < 1:
            raise OptionError(f"{systems} bars in a system", accepted="Use 1 or more")
        systems = [b.number for b in lick.bars if b.number > 1 and (b.number - 1) % systems == 0]
    sheet = mei_sheet(
        lick, labels=labels, mark_outside=mark_outside, tab=tab, tab_rhythm=tab_rhythm,
        heading=heading, measures=measures,
    )  # fmt: skip
    return sheet.text(systems or ())


def mei_sheet(
    lick: Lick,
    *,
    labels: Mapping[int, str] | None = None,
    mark_outside: Collection[int] = (),
    tab: bool | None = None,
    tab_rhythm: bool = False,
    heading: bool = True,
    measures: tuple[Measure, ...] | None = None,
) -> MeiSheet:
    """A lick written as MEI once, its system breaks left open; as :func:`write_mei` otherwise."""
    texts = dict(labels or {})
    outside = frozenset(mark_outside)
    for index in set(texts) | outside:
        if not 0 <= index < len(lick.notes):
            raise OptionError(
                f"there is no note {index} to label",
                accepted=f"This lick's notes count from 0 to {len(lick.notes) - 1}",
            )
    placed = any(note.string is not None for note in lick.notes)
    with_tab = placed and lick.instrument is not None if tab is None else tab
    if with_tab and lick.instrument is None:
        raise WriteError(
            "tablature needs an instrument and the lick has none",
            accepted="Give the lick an instrument or write the staff alone",
        )
    return _write(lick, measures or notate(lick), texts, outside, with_tab, tab_rhythm, heading)


@dataclass(frozen=True, slots=True)
class MeiSheet:
    """A document whose system breaks are still open.

    Parameters
    ----------
    head, foot : str
        What stands before the first bar and after the last.
    bars : tuple of (int, str, str)
        Each bar's number, the changes of key and meter before it, and its measure.
    """

    head: str
    bars: tuple[tuple[int, str, str], ...]
    foot: str

    def text(self, systems: Collection[int] = ()) -> str:
        """The document, a new system at each bar (but the first) that has one of these numbers."""
        starts = frozenset(systems)
        parts = [self.head]
        for place, (number, changes, measure) in enumerate(self.bars):
            breaks = _BREAK if place and number in starts else ""
            parts += (changes, breaks, measure)
        parts.append(self.foot)
        return "".join(parts)


def _write(
    lick: Lick,
    printed_bars: tuple[Measure, ...],
    labels: Mapping[int, str],
    outside: frozenset[int],
    tab: bool,
    tab_rhythm: bool,
    heading: bool,
) -> MeiSheet:
    root = Element("mei", xmlns=NAMESPACE, meiversion="5.0")
    _head(SubElement(root, "meiHead"), lick)
    score = SubElement(SubElement(SubElement(SubElement(root, "music"), "body"), "mdiv"), "score")
    first = lick.bars[0]
    group = SubElement(SubElement(score, "scoreDef"), "staffGrp", {"bar.thru": "true"})
    if tab:
        group.set("symbol", "bracketsq")
    staff = SubElement(group, "staffDef", n="1", lines="5")
    SubElement(staff, "clef", _clef(lick))
    _signature(staff, first.key)
    _meter(staff, first.meter)
    if tab and lick.instrument is not None:
        _tab_definition(group, lick.instrument, first.meter)

    section = SubElement(score, "section")
    section.append(Element("measure"))
    lines: list[str] = ['<?xml version="1.0" encoding="UTF-8"?>']
    _lines(root, "", lines)
    here = lines.index(f"{_INDENT}<measure/>")
    ids, spelling = Ids(), Spelling()
    measures: list[Element] = []
    changes: list[Element] = []
    for bar_before, printed in zip((None, *lick.bars), printed_bars, strict=False):
        bar = printed.bar
        changes.append(Element("section"))
        if bar_before is not None:
            _changes(changes[-1], bar_before, bar, tab=tab)
        measure = Element("measure", {"n": str(bar.number), ID: f"m{bar.number}"})
        if not bar.is_full:
            measure.set("metcon", "false")
        if bar is lick.bars[-1]:
            measure.set("right", "end")
        SubElement(measure, "staff", n="1").append(
            staff_layer(printed, lick, spelling, ids, outside)
        )
        if tab:
            SubElement(measure, "staff", n="2").append(
                tab_layer(printed, lick, outside, rhythm=tab_rhythm)
            )
        measures.append(measure)
    events = control_events(lick, ids, labels=labels, outside=outside, tab=tab, heading=heading)
    for place, found in events.items():
        measures[place].extend(found)
    bars = zip(lick.bars, changes, measures, strict=True)
    return MeiSheet(
        _text(lines[:here]),
        tuple((bar.number, _text_of(change), _text_of([measure])) for bar, change, measure in bars),
        _text(lines[here + 1 :]),
    )


def _text(lines: Iterable[str]) -> str:
    return "".join([line + "\n" for line in lines])


def _text_of(elements: Iterable[Element]) -> str:
    """Elements that stand in the section, as text."""
    lines: list[str] = []
    for element in elements:
        _lines(element, _INDENT, lines)
    return _text(lines)


def _lines(element: Element, indent: str, out: list[str]) -> None:
    """An element as text, one line for each element that holds no text of its own.

    Written out here since the standard library's writer takes three times as long.
    """
    name = element.tag
    start = f"<{name}"
    for key, value in element.attrib.items():  # values are this package's own words: no escapes
        start += f' {"xml:id" if key == ID else key}="{value}"'
    if not len(element) and not element.text:
        out.append(f"{indent}{start}/>")
    elif name in _INLINE:
        inner: list[str] = [f"{indent}{start}>", escape(element.text or "", quote=False)]
        for child in element:
            nested: list[str] = []
            _lines(child, "", nested)
            inner += [*nested, escape(child.tail or "", quote=False)]
        out.append("".join(inner) + f"</{name}>")
    else:
        out.append(f"{indent}{start}>")
        for child in element:
            _lines(child, indent + " ", out)
        out.append(f"{indent}</{name}>")


def _clean(text: str) -> str:
    return _UNWRITABLE.sub("\N{REPLACEMENT CHARACTER}", text)


def _head(head: Element, lick: Lick) -> None:
    file = SubElement(head, "fileDesc")
    SubElement(SubElement(file, "titleStmt"), "title").text = _clean(lick.title)
    SubElement(SubElement(file, "pubStmt"), "unpub")
    if lick.source:
        source = SubElement(SubElement(file, "sourceDesc"), "source")
        SubElement(SubElement(source, "bibl"), "title").text = _clean(lick.source)
    application = SubElement(SubElement(SubElement(head, "encodingDesc"), "appInfo"), "application")
    SubElement(application, "name").text = "Linewright"


def _clef(lick: Lick) -> dict[str, str]:
    """The clef players of the instrument read (common practice): guitar and banjo an octave
    below the G clef, bass guitar an octave below the F clef, mandolin and ukulele as they sound.
    """
    if lick.instrument is not None:
        short = dict(lick.instrument.short)
        lowest = min(
            pitch.midi
            for string, pitch in enumerate(lick.instrument.strings, start=1)
            if string not in short or len(lick.instrument.strings) == 1
        )
    else:
        lowest = min((note.midi for note in lick.notes), default=60)
    if lowest < 33:
        return {"shape": "F", "line": "4", "dis": "8", "dis.place": "below"}
    if lowest < 55:
        return {"shape": "G", "line": "2", "dis": "8", "dis.place": "below"}
    return {"shape": "G", "line": "2"}


def _signature(parent: Element, key: Key | None, *, cancel: bool = False) -> None:
    if key is None and not cancel:
        return
    element = SubElement(parent, "keySig")
    if key is None:
        element.set("sig", "0")
        return
    if key.added:
        element.set("sig", "mixed")
        for step in STEPS:
            if key.alter(step):
                accid = WRITTEN[key.alter(step)]
                SubElement(element, "keyAccid", pname=step.lower(), accid=accid)
    else:
        letter = "s" if key.fifths > 0 else "f"
        element.set("sig", f"{abs(key.fifths)}{letter}" if key.fifths else "0")
    element.set("mode", _MODES.get(key.mode, key.mode))
    element.set("pname", key.tonic.step.lower())
    if key.tonic.alter:
        element.set("accid", WRITTEN[key.tonic.alter])


def _meter(parent: Element, meter: Meter, *, visible: bool = True) -> None:
    count = "+".join(map(str, meter.groups)) if meter.groups else str(meter.numerator)
    element = SubElement(parent, "meterSig", count=count, unit=str(meter.denominator))
    if not visible:  # tablature is read by the staff's meter, but must know it
        element.set("visible", "false")


def _changes(section: Element, before: Bar, bar: Bar, *, tab: bool) -> None:
    if bar.key == before.key and bar.meter == before.meter:
        return
    group = SubElement(SubElement(section, "scoreDef"), "staffGrp")
    staff = SubElement(group, "staffDef", n="1")
    if bar.key != before.key:
        _signature(staff, bar.key, cancel=True)
    if bar.meter != before.meter:
        _meter(staff, bar.meter)
        if tab:
            _meter(SubElement(group, "staffDef", n="2"), bar.meter, visible=False)


def _tab_definition(group: Element, instrument: Instrument, meter: Meter) -> None:
    lines = str(len(instrument.strings))
    staff = SubElement(group, "staffDef", {"n": "2", "lines": lines, "notationtype": "tab.guitar"})
    SubElement(staff, "clef", shape="TAB")
    _meter(staff, meter, visible=False)
    tuning = SubElement(staff, "tuning")
    for number, string in enumerate(instrument.strings, start=1):
        raised = instrument.open_midi(number) - string.midi  # what a capo adds
        pitch = string if not raised else spell_midi(string.midi + raised)
        course = {"n": str(number), "pname": pitch.step.lower(), "oct": str(pitch.octave)}
        SubElement(tuning, "course", course | {"accid": WRITTEN[pitch.alter]})
