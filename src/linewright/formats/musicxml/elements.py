"""The elements a written score is made of: one function for each, from values to XML."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import Final

from linewright.errors import WriteError
from linewright.formats.musicxml.header import BEAT_UNITS
from linewright.score import Bar, Grace, Instrument, Lick, Measure, Meter, Note, Symbol
from linewright.theory import ChordSymbol, Key, Pitch

__all__ = [
    "beat_unit",
    "decimal",
    "divisions",
    "harmonies",
    "joins_from",
    "place_of",
    "add_text",
    "tuplet_ends",
    "write_beam",
    "write_key",
    "write_meter",
    "write_pitch",
    "write_tuning",
    "write_value",
]

_TYPES: Final = {length: name for name, length in BEAT_UNITS.items()}
#: Characters XML 1.0 cannot hold.
_FORBIDDEN_RE: Final = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def add_text(parent: ET.Element, tag: str, content: object, **attributes: str) -> ET.Element:
    """Append a child that holds text, without the characters XML cannot hold."""
    element = ET.SubElement(parent, tag, attributes)
    element.text = _FORBIDDEN_RE.sub(" ", str(content))
    return element


def decimal(value: Fraction) -> str:
    """A number as a plain decimal with up to six places."""
    return f"{float(value):.6f}".rstrip("0").rstrip(".")


def divisions(lick: Lick, measures: Sequence[Measure]) -> int:
    """Parts a quarter has to be counted in for every length and chord to be whole."""
    times = [s.duration for m in measures for s in m.symbols]
    times += [c.onset for c in lick.chords] + [c.end for c in lick.chords]
    times += [s.onset for m in measures for s in m.symbols]
    divisions = math.lcm(*(time.denominator for time in times))
    if divisions > 1 << 20:
        raise WriteError("the rhythm is too fine to be counted in one number of divisions")
    return divisions


def joins_from(lick: Lick) -> dict[int, tuple[str, ...]]:
    """Note index -> the joining marks that lead on from it."""
    starts: dict[int, tuple[str, ...]] = {}
    groups: dict[Fraction, list[int]] = {}
    for index, note in enumerate(lick.notes):
        groups.setdefault(note.onset, []).append(index)
    ordered = list(groups.values())
    for before, group in pairwise(ordered):
        for rank, index in enumerate(group):
            note = lick.notes[index]
            names = tuple(mark.name for mark in note.marks if mark.kind.joins)
            if not names:
                continue
            same = [i for i in before if lick.notes[i].string == note.string is not None]
            origin = same[0] if same else before[min(rank, len(before) - 1)]
            starts[origin] = (*starts.get(origin, ()), *names)
    return starts


def harmonies(lick: Lick, bar: Bar) -> Iterator[tuple[Fraction, ChordSymbol | None]]:
    """Chords that begin in a bar; where one ends with none after it, no chord."""
    for span, following in zip(lick.chords, [*lick.chords[1:], None], strict=False):
        if bar.onset <= span.onset < bar.end:
            yield span.onset, span.symbol
        gap = span.end < (following.onset if following else lick.length)
        if gap and span.symbol is not None and bar.onset <= span.end < bar.end:
            yield span.end, None


def place_of(note: Note | Grace) -> tuple[int, int] | None:
    """String and fret, or None."""
    return None if note.string is None or note.fret is None else (note.string, note.fret)


def write_key(attributes: ET.Element, key: Key) -> None:
    """Append a key signature with its mode."""
    element = ET.SubElement(attributes, "key")
    add_text(element, "fifths", key.fifths)
    mode = "minor" if key.mode == "natural minor" else key.mode
    add_text(element, "mode", mode)


def write_meter(attributes: ET.Element, meter: Meter) -> None:
    """Append a time signature, an additive one as its groups."""
    element = ET.SubElement(attributes, "time")
    add_text(element, "beats", "+".join(map(str, meter.groups)) or meter.numerator)
    add_text(element, "beat-type", meter.denominator)


def write_tuning(attributes: ET.Element, instrument: Instrument) -> None:
    """Append the open strings, which MusicXML counts from the bottom line, and the capo."""
    details = ET.SubElement(attributes, "staff-details")
    for line, pitch in enumerate(reversed(instrument.strings), start=1):
        tuning = ET.SubElement(details, "staff-tuning", {"line": str(line)})
        add_text(tuning, "tuning-step", pitch.step)
        if pitch.alter:
            add_text(tuning, "tuning-alter", pitch.alter)
        add_text(tuning, "tuning-octave", pitch.octave)
    if instrument.capo:
        add_text(details, "capo", instrument.capo)


def write_pitch(note: ET.Element, pitch: Pitch) -> None:
    """Append a pitch."""
    if not 0 <= pitch.octave <= 9:
        raise WriteError(f"MusicXML has no octave {pitch.octave}", accepted="Use octaves 0 to 9")
    element = ET.SubElement(note, "pitch")
    add_text(element, "step", pitch.step)
    if pitch.alter:
        add_text(element, "alter", pitch.alter)
    add_text(element, "octave", pitch.octave)


def write_value(note: ET.Element, measure: Measure, symbol: Symbol) -> None:
    """Append note type, dots and tuplet ratio."""
    add_text(note, "type", _TYPES[symbol.value])
    for _ in range(symbol.dots):
        ET.SubElement(note, "dot")
    if symbol.tuplet is not None:
        tuplet = measure.tuplets[symbol.tuplet]
        modification = ET.SubElement(note, "time-modification")
        add_text(modification, "actual-notes", tuplet.actual)
        add_text(modification, "normal-notes", tuplet.normal)


def tuplet_ends(symbols: Sequence[Symbol], index: int) -> tuple[str, ...]:
    """Whether a tuplet starts or stops at a symbol."""
    own = symbols[index].tuplet
    if own is None:
        return ()
    first = index == 0 or symbols[index - 1].tuplet != own
    last = index + 1 == len(symbols) or symbols[index + 1].tuplet != own
    return (("start",) if first else ()) + (("stop",) if last else ())


def write_beam(note: ET.Element, symbols: Sequence[Symbol], index: int) -> None:
    """Append the beams of one symbol, level by level."""
    group = symbols[index].beam
    if group is None:
        return
    flags = [_flags(s) if s.beam == group else 0 for s in symbols]
    before = flags[index - 1] if index else 0
    after = flags[index + 1] if index + 1 < len(symbols) else 0
    for level in range(1, min(flags[index], 8) + 1):
        joined_before, joined_after = before >= level, after >= level
        if joined_before and joined_after:
            word = "continue"
        elif joined_after:
            word = "begin"
        elif joined_before:
            word = "end"
        else:
            word = "backward hook" if before else "forward hook"
        add_text(note, "beam", word, number=str(level))


def _flags(symbol: Symbol) -> int:
    return max(0, (1 / symbol.value).numerator.bit_length() - 1)


def beat_unit(beat: Fraction) -> tuple[str, int] | None:
    """Note type and dots of a beat, or None when no note value prints it."""
    for dots, factor in ((0, Fraction(1)), (1, Fraction(3, 2)), (2, Fraction(7, 4))):
        name = _TYPES.get(beat / factor)
        if name is not None:
            return name, dots
    return None
