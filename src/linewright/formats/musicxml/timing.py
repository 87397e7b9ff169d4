"""Where everything falls in time, by music21.

music21 resolves divisions, backups and forwards, incomplete bars and the order repeats are
played in. It is imported here only, when a score is read, since that takes about a second.
"""

from __future__ import annotations

import warnings
import xml.etree.ElementTree as ET
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Any, Final, Literal, get_args

from linewright.errors import OptionError, ReadError, TooLarge

__all__ = ["Repeats", "TimedBar", "Timing", "timing"]

#: Whether repeated bars are read once or written out as played.
Repeats = Literal["once", "play"]
_MAX_WRITTEN_BARS: Final = 400  # to play out: music21 takes a second for them
_MAX_PLAYED_BARS: Final = 2_000


@dataclass(frozen=True, slots=True)
class TimedBar:
    """A bar as played: which written bar it is, when it starts and how long it lasts."""

    written: int
    onset: Fraction
    duration: Fraction


@dataclass(frozen=True, slots=True)
class Timing:
    """Bars, and (onset, duration, number) of notes and (onset, number) of chord symbols.

    Numbers are those the facts gave; ``skipped`` counts bars of earlier endings left out.
    """

    bars: tuple[TimedBar, ...]
    notes: tuple[tuple[Fraction, Fraction, int], ...]
    chords: tuple[tuple[Fraction, int], ...]
    skipped: int = 0


def timing(tree: ET.Element, repeats: Repeats, *, has_repeats: bool) -> Timing:
    """Time a tree made by :func:`linewright.formats.musicxml.facts.part_facts`."""
    if repeats not in get_args(Repeats):
        raise OptionError(f"repeats cannot be {repeats!r:.40}", accepted="Use once or play")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from music21.musicxml.xmlToM21 import MusicXMLImporter

        try:
            score = MusicXMLImporter().xmlRootToScore(tree)
            part = score.parts[0]
            if repeats == "play" and has_repeats:
                _check_playable(part)
            if has_repeats and repeats == "play":
                part = _played(part)
            measures = list(part.getElementsByClass("Measure"))
            return _timed(measures, part, once=has_repeats and repeats == "once")
        except (ReadError, OptionError):
            raise
        except Exception as error:  # the library's own checks are many and of many types
            raise ReadError(
                f"the score's timing makes no sense ({type(error).__name__}: {str(error)[:120]})",
                accepted="Open it in the program it came from, check its bars and save it again",
            ) from error


def _check_playable(part: Any) -> None:
    count = len(part.getElementsByClass("Measure"))
    if count > _MAX_WRITTEN_BARS:
        raise TooLarge(
            f"a part of {count:,} bars is too long to play its repeats out",
            accepted=f"At most {_MAX_WRITTEN_BARS} bars are played out; read the repeats once",
        )


def _played(part: Any) -> Any:
    from music21.repeat import Expander, ExpanderException

    try:
        expander = Expander(part)
        if not expander.isExpandable():
            raise ReadError(
                "the repeat signs do not pair up, so they cannot be played",
                accepted="Read the repeats once",
            )
        return expander.process()
    except ExpanderException as error:
        raise ReadError(
            f"the repeats cannot be played ({str(error)[:120]})", accepted="Read the repeats once"
        ) from error


def _timed(measures: list[Any], part: Any, *, once: bool) -> Timing:
    if not measures:
        raise ReadError("the part has no bars")
    if len(measures) > _MAX_PLAYED_BARS:
        raise TooLarge(f"the repeats play out to {len(measures):,} bars")
    skip = _earlier_endings(part) if once else set()
    bars: list[TimedBar] = []
    notes: list[tuple[Fraction, Fraction, int]] = []
    chords: list[tuple[Fraction, int]] = []
    at = Fraction(0)
    for index, measure in enumerate(measures):
        if id(measure) in skip:
            continue
        length = _length(measures, index)
        if length <= 0:
            continue
        bars.append(TimedBar(measure.number - 1, at, length))
        flat = measure.flatten()
        for element in flat.notes:
            onset = at + _fraction(flat.elementOffset(element))
            if "ChordSymbol" in element.classes:
                chords.append((onset, int(element.chordKindStr)))
                continue
            duration = _fraction(element.quarterLength)
            for note in element.notes if element.isChord else (element,):
                notes.append((onset, duration, int(note.style.color[1:], 16)))
        at += length
    notes.sort(key=lambda item: (item[0], item[2]))
    return Timing(tuple(bars), tuple(notes), tuple(sorted(chords)), len(skip))


def _length(measures: list[Any], index: int) -> Fraction:
    measure = measures[index]
    if index + 1 < len(measures):
        return _fraction(measures[index + 1].offset) - _fraction(measure.offset)
    return _fraction(measure.highestTime) or _fraction(measure.barDuration.quarterLength)


def _earlier_endings(part: Any) -> set[int]:
    """Identities of the measures under endings that a later ending follows."""
    brackets = sorted(
        (
            (bracket.getFirst().number, bracket.getLast().number, bracket)
            for bracket in part.spannerBundle.getByClass("RepeatBracket")
        ),
        key=lambda item: item[:2],
    )
    skipped: set[int] = set()
    for (first, last, bracket), following in pairwise(brackets):
        if following[0] == last + 1 and first <= last:
            skipped.update(id(m) for m in bracket.getSpannedElements())
    return skipped


def _fraction(value: Any) -> Fraction:
    return Fraction(value).limit_denominator(1 << 12)
