"""Durations as written rather than as counted.

A file counts time in divisions of a quarter, and some programs pick a number that thirds do not
fit (1024), so that a triplet is a little off. Where a note's type, dots and tuplet ratio say what
is meant and the count agrees within one division, the written value is taken; everything is then
counted in one fine number of divisions that halves down to 128th notes and tuplets of up to
thirteen all fit.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from fractions import Fraction
from typing import Final

from linewright.errors import MusicError
from linewright.formats.musicxml.header import BEAT_UNITS

__all__ = ["DIVISIONS", "Clock", "number"]

#: Divisions of a quarter in the copy made for music21.
DIVISIONS: Final = 32 * 9 * 5 * 7 * 11 * 13
_NUMBER_RE: Final = re.compile(r"\d{1,7}(?:\.\d{1,6})?", re.ASCII)


def number(text: str, what: str, *, signed: bool = False) -> str:
    """A number as the format allows, checked before anyone computes with it."""
    cleaned = text.strip()
    body = cleaned.lstrip("+-") if signed else cleaned.lstrip("+")
    if not _NUMBER_RE.fullmatch(body) or len(cleaned) - len(body) > 1:
        raise MusicError(
            f"{cleaned!r:.40} is not a number of {what}",
            accepted="Use up to seven digits, as in 24",
        )
    if what == "divisions" and float(body) <= 0:
        raise MusicError("a quarter cannot have 0 divisions", accepted="Use 1 or more")
    return cleaned


class Clock:
    """Where in a bar the elements stand, as counted by the file and as meant."""

    def __init__(self) -> None:
        self.divisions = Fraction(1)
        self._counted = self._meant = Fraction(0)
        self._known: dict[Fraction, Fraction] = {}

    def start_bar(self) -> None:
        """Begin a bar."""
        self._counted = self._meant = Fraction(0)
        self._known = {Fraction(0): Fraction(0)}

    def note(self, element: ET.Element, copy: ET.Element, *, chord: bool) -> None:
        """Give the copy of a note its duration and, unless it joins a chord, move past it."""
        counted = self._duration(element)
        meant = _written(element)
        if meant is None or abs(meant - counted) > 1 / self.divisions:
            meant = counted
        ET.SubElement(copy, "duration").text = _units(meant)
        if not chord:
            self._to(self._counted + counted, self._meant + meant)

    def move(self, element: ET.Element, into: ET.Element) -> None:
        """Copy a ``backup`` or ``forward``, to the very place another element stood at."""
        counted = self._duration(element) * (-1 if element.tag == "backup" else 1)
        target = max(Fraction(0), self._counted + counted)
        meant = self._known.get(target, max(Fraction(0), self._meant + counted))
        if meant != self._meant:
            tag = "backup" if meant < self._meant else "forward"
            moved = ET.SubElement(into, tag)
            ET.SubElement(moved, "duration").text = _units(abs(meant - self._meant))
        self._to(target, meant)

    def offset(self, text: str) -> str:
        """An ``offset`` from the present place, which it may not leave the bar backwards from."""
        offset = Fraction(number(text, "offset", signed=True)) / self.divisions
        target = max(Fraction(0), self._counted + offset)
        return _units(self._known.get(target, self._meant + target - self._counted) - self._meant)

    def _duration(self, element: ET.Element) -> Fraction:
        text = element.findtext("duration")
        if text is None:
            raise MusicError(
                f"a {element.tag} has no duration", accepted="Only grace notes stand without one"
            )
        return Fraction(number(text, "duration")) / self.divisions

    def _to(self, counted: Fraction, meant: Fraction) -> None:
        self._counted, self._meant = counted, meant
        self._known.setdefault(counted, meant)


def _written(element: ET.Element) -> Fraction | None:
    """What type, dots and tuplet ratio say, in quarters."""
    value = BEAT_UNITS.get((element.findtext("type") or "").strip())
    if value is None:
        return None
    dots = min(len(element.findall("dot")), 4)
    value *= 2 - Fraction(1, 2**dots)
    modification = element.find("time-modification")
    if modification is not None:
        actual, normal = (
            modification.findtext("actual-notes"),
            modification.findtext("normal-notes"),
        )
        try:
            value *= Fraction(number(normal or "", "notes")) / Fraction(
                number(actual or "", "notes")
            )
        except (MusicError, ZeroDivisionError):
            return None
    return value


def _units(length: Fraction) -> str:
    return str(round(length * DIVISIONS))
