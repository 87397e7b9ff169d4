"""Where everything falls in time, by music21.

music21 resolves divisions, backups and forwards, and incomplete bars. It is imported here only,
when a score is read, since that takes about a second.
"""

from __future__ import annotations

import warnings
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Any

from linewright.errors import ReadError

__all__ = ["TimedBar", "Timing", "timing"]


@dataclass(frozen=True, slots=True)
class TimedBar:
    """A bar as read: which written bar it is, when it starts and how long it lasts."""

    written: int
    onset: Fraction
    duration: Fraction


@dataclass(frozen=True, slots=True)
class Timing:
    """Bars, and (onset, duration, number) of notes and (onset, number) of chord symbols.

    Numbers are those the facts gave.
    """

    bars: tuple[TimedBar, ...]
    notes: tuple[tuple[Fraction, Fraction, int], ...]
    chords: tuple[tuple[Fraction, int], ...]


def timing(tree: ET.Element, order: Sequence[int]) -> Timing:
    """Time a tree made by :func:`linewright.formats.musicxml.facts.part_facts`, its bars laid
    end to end in ``order``.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from music21.musicxml.xmlToM21 import MusicXMLImporter

        try:
            score = MusicXMLImporter().xmlRootToScore(tree)
            measures = [_Measure(m) for m in score.parts[0].getElementsByClass("Measure")]
        except Exception as error:  # the library's own checks are many and of many types
            raise ReadError(
                f"the score's timing makes no sense ({type(error).__name__}: {str(error)[:120]})",
                accepted="Open it in the program it came from, check its bars and save it again",
            ) from error
    if not measures:
        raise ReadError("the part has no bars", accepted="A part that plays a tune is expected")
    for measure, following in pairwise(measures):
        measure.length = following.onset - measure.onset
    return _laid(measures, order)


class _Measure:
    """A music21 measure as plain numbers, in quarters from its own start."""

    def __init__(self, measure: Any) -> None:
        self.written = measure.number - 1
        self.onset = _fraction(measure.offset)
        self.length = _fraction(measure.highestTime or measure.barDuration.quarterLength)
        self.notes: list[tuple[Fraction, Fraction, int]] = []
        self.chords: list[tuple[Fraction, int]] = []
        flat = measure.flatten()
        for element in flat.notes:
            onset = _fraction(flat.elementOffset(element))
            if "ChordSymbol" in element.classes:
                self.chords.append((onset, int(element.chordKindStr)))
                continue
            duration = _fraction(element.quarterLength)
            for note in element.notes if element.isChord else (element,):
                self.notes.append((onset, duration, int(note.style.color[1:], 16)))


def _laid(measures: Sequence[_Measure], order: Sequence[int]) -> Timing:
    by_number = {measure.written: measure for measure in measures if measure.length > 0}
    bars: list[TimedBar] = []
    notes: list[tuple[Fraction, Fraction, int]] = []
    chords: list[tuple[Fraction, int]] = []
    at = Fraction(0)
    for written in order:
        measure = by_number.get(written)
        if measure is None:
            continue
        bars.append(TimedBar(written, at, measure.length))
        notes.extend((at + onset, length, number) for onset, length, number in measure.notes)
        chords.extend((at + onset, number) for onset, number in measure.chords)
        at += measure.length
    if not bars:
        raise ReadError("the part has no bars", accepted="A part that plays a tune is expected")
    notes.sort(key=lambda item: (item[0], item[2]))
    return Timing(tuple(bars), tuple(notes), tuple(sorted(chords)))


def _fraction(value: Any) -> Fraction:
    return Fraction(value).limit_denominator(1 << 12)
