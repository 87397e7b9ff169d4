"""The lesson a lick makes: everything its page shows, as plain values.

The page, the preview and the JSON API all draw from here; nothing is worked out in a template.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import Final

from linewright.analysis import Analysis, Reading
from linewright.analysis.outside import FUNCTIONS
from linewright.errors import OptionError, WriteError
from linewright.page.engraving import Labels, engrave_widths
from linewright.page.neck import neck_svg
from linewright.page.strip import rhythm_strip_widths
from linewright.score import MARKS, Instrument, Lick
from linewright.services.bring import made_of
from linewright.services.drawing import drawn
from linewright.services.sections import (
    FigureView,
    OutsideGroup,
    Section,
    figure_views,
    outside_groups,
    tell,
)
from linewright.theory import Frame, PitchClass

__all__ = [
    "LABELS",
    "DegreeView",
    "Lesson",
    "OutsideView",
    "ReadingView",
    "Score",
    "facts_line",
    "make_lesson",
    "make_score",
]

WIDE, NARROW = 760, 340
#: What may stand under the notes of a lesson's score.
LABELS: Final[tuple[Labels, ...]] = ("degrees", "chords")


@dataclass(frozen=True)
class DegreeView:
    """A degree as the lick uses it: its name, its note, how often, and which notes."""

    name: str
    note: str
    notes: tuple[int, ...]
    is_outside: bool


@dataclass(frozen=True)
class ReadingView:
    """A reading as a page shows it; ``inside`` and ``outside`` are indexes of notes."""

    name: str
    verdict: str
    reason: str
    inside: tuple[int, ...]
    outside: tuple[int, ...]
    reading: Reading

    @cached_property
    def frame(self) -> tuple[tuple[str, str, bool], ...]:
        """Degree, note, and whether it is heard, for each note of the frame."""
        found = self.reading.frame
        heard = {degree.name for degree in self.reading.heard}
        return tuple(
            (degree.name, note, degree.name in heard)
            for degree, note in zip(found.collection.degrees, found.names, strict=True)
        )

    @property
    def heard(self) -> int:
        """How many degrees of the frame are heard."""
        return sum(1 for _, _, heard in self.frame if heard)


@dataclass(frozen=True)
class OutsideView:
    """An outside note in words: where it stands, what it is, what it does there and why."""

    index: int
    place: str
    pitch: str
    degree: str
    chord: str | None
    chord_degree: str | None
    function: str
    meaning: str
    reason: str
    neck: str | None


@dataclass(frozen=True)
class Score:
    """The engraved lick, laid out for a page's column and for a phone, and its neck diagram.

    ``labels`` says what stands under the notes.
    """

    wide: str
    narrow: str
    neck: str | None
    problem: str | None = None
    labels: Labels = "degrees"


@dataclass(frozen=True)
class Strip:
    """The rhythm strip, laid out for a page's column and for a phone."""

    wide: str
    narrow: str


@dataclass(frozen=True, eq=False)
class Lesson:
    """What a lick's page shows, from top to bottom; each lesson is equal to itself alone."""

    lick: Lick
    analysis: Analysis
    score: Score
    facts: tuple[tuple[str, str], ...]
    degrees: tuple[DegreeView, ...]
    chosen: ReadingView | None
    rivals: tuple[ReadingView, ...]
    others: tuple[ReadingView, ...]
    outside: tuple[OutsideView, ...]
    marks: tuple[tuple[str, str], ...]
    sections: Mapping[str, Section]
    figures: tuple[FigureView, ...]
    groups: tuple[OutsideGroup, ...]
    strip: Strip

    @property
    def makes_lines(self) -> bool:
        """Whether lines can be made from the lick."""
        from linewright.lines.heard import makes_lines  # the line maker loads numpy

        return makes_lines(self.analysis)


def make_lesson(
    lick: Lick,
    tonic: str | None = None,
    *,
    analysis: Analysis | None = None,
    labels: str = "degrees",
) -> Lesson:
    """Make the lesson of a lick, read against ``tonic`` where one is given.

    ``labels`` says what stands under the notes: ``degrees`` against the tonic or ``chords`` for
    what each is to its chord. The last lessons are kept at hand.
    """
    if labels not in LABELS:
        raise OptionError(
            f"no labels are called {labels!r:.40}", accepted=f"Use {' or '.join(LABELS)}"
        )
    found = analysis or made_of(lick, tonic)
    return _lesson(_Subject.of(found, "chords" if labels == "chords" else "degrees"))


@lru_cache(maxsize=64)
def _lesson(subject: _Subject) -> Lesson:
    found, lick = subject.analysis, subject.lick
    sections = tell(found)
    rivals = found.rivals
    others = tuple(r for r in found.readings if r is not found.chosen and r not in rivals)
    return Lesson(
        lick=lick,
        analysis=found,
        score=_score(subject),
        facts=facts_line(lick),
        degrees=_degrees(found),
        chosen=_reading(found, found.chosen) if found.chosen else None,
        rivals=tuple(_reading(found, r) for r in rivals),
        others=tuple(_reading(found, r) for r in others),
        outside=_outside(found),
        marks=_marks(lick),
        sections=sections,
        figures=figure_views(found, sections),
        groups=outside_groups(found, sections),
        strip=Strip(*rhythm_strip_widths(lick, found, (WIDE, NARROW))),
    )


@dataclass(frozen=True)
class _Subject:
    """Everything that a lesson and its drawings depend on, told apart without the analysis's
    hundred readings.
    """

    lick: Lick
    tonic: PitchClass
    frame: Frame | None
    verdict: str
    tonic_reason: str
    degrees: tuple[str, ...]
    outside: tuple[int, ...]
    labels: Labels
    scale: float
    analysis: Analysis = field(compare=False)

    @classmethod
    def of(cls, found: Analysis, labels: Labels, scale: float = 0.42) -> _Subject:
        return cls(
            lick=found.lick,
            tonic=found.tonic,
            frame=found.frame,
            verdict=found.verdict,
            tonic_reason=found.tonic_reason,
            degrees=tuple(fact.degree.name for fact in found.notes),
            outside=tuple(fact.index for fact in found.notes if fact.is_outside),
            labels=labels,
            scale=scale,
            analysis=found,
        )


def make_score(analysis: Analysis, *, scale: float = 0.42) -> Score:
    """Engrave a lick and draw its neck; a rhythm that cannot be printed is said, not raised.

    ``scale`` is the size of the music, as in :func:`linewright.page.engraving.engrave`.

    The last drawings are kept at hand, so that going back and forth draws nothing twice.
    """
    return _score(_Subject.of(analysis, "degrees", scale))


@lru_cache(maxsize=128)
def _score(subject: _Subject) -> Score:
    lick, found, labels = subject.lick, subject.analysis, subject.labels

    def draw() -> Score:
        neck = None
        if lick.instrument is not None and any(note.string is not None for note in lick.notes):
            neck = neck_svg(
                lick.instrument,
                found.frame,
                lick=lick,
                outside=subject.outside,
                tonic=found.tonic,
            )
        try:
            wide, narrow = engrave_widths(
                lick, (WIDE, NARROW), analysis=found, labels=labels, scale=subject.scale
            )
        except WriteError as error:
            return Score("", "", neck, str(error), labels)
        return Score(wide.svg, narrow.svg, neck, None, labels)

    return drawn(draw)


def facts_line(lick: Lick) -> tuple[tuple[str, str], ...]:
    """What is known about a lick, as name and value, in the order a page shows it."""
    tempo = lick.tempo
    rows = (
        ("Style", lick.style),
        ("Key", lick.key.name if lick.key else None),
        ("Meter", lick.meter.text),
        ("Tempo", f"{float(tempo.quarter_bpm / tempo.beat):g} beats a minute" if tempo else None),
        ("Feel", "swing" if lick.swing else None),
        ("Instrument", _instrument(lick.instrument) if lick.instrument else None),
        ("Source", lick.source),
    )
    return tuple((name, value) for name, value in rows if value)


def _instrument(instrument: Instrument) -> str:
    text = instrument.name
    if instrument.tuning != "standard":
        low_to_high = " ".join(pitch.pitch_class.name for pitch in reversed(instrument.strings))
        named = instrument.tuning if instrument.tuning != "custom" else low_to_high
        text += f", {named} tuning"
    if instrument.capo:
        text += f", capo at fret {instrument.capo}"
    return text


def _degrees(analysis: Analysis) -> tuple[DegreeView, ...]:
    groups: dict[tuple[int, str, str, bool], list[int]] = {}
    for fact in analysis.notes:
        semitones = fact.degree.semitones
        key = (semitones, str(fact.degree), fact.pitch.pitch_class.name, fact.is_outside)
        groups.setdefault(key, []).append(fact.index)
    return tuple(
        DegreeView(degree, note, tuple(notes), is_outside)
        for (_, degree, note, is_outside), notes in sorted(groups.items())
    )


def _reading(analysis: Analysis, reading: Reading) -> ReadingView:
    outside = reading.outside
    left = frozenset(outside)
    inside = tuple([index for index in range(len(analysis.notes)) if index not in left])
    return ReadingView(
        reading.frame.name, reading.verdict, reading.reason, inside, outside, reading
    )


def _outside(analysis: Analysis) -> tuple[OutsideView, ...]:
    lick = analysis.lick
    views = []
    for note in analysis.outside_notes:
        fact = analysis.notes[note.index]
        written = lick.notes[note.index]
        neck = None
        if written.string is not None:
            fret = "open" if written.fret == 0 else f"fret {written.fret}"
            neck = f"string {written.string}, {fret}"
        views.append(
            OutsideView(
                index=note.index,
                place=lick.place(written.onset),
                pitch=fact.pitch.pitch_class.name,
                degree=str(note.degree),
                chord=str(fact.chord) if fact.chord else None,
                chord_degree=str(note.chord_degree) if note.chord_degree else None,
                function=note.function,
                meaning=FUNCTIONS[note.function],
                reason=note.reason,
                neck=neck,
            )
        )
    return tuple(views)


def _marks(lick: Lick) -> tuple[tuple[str, str], ...]:
    names = {mark.name for note in lick.notes for mark in note.marks}
    return tuple((kind.name, kind.legend) for kind in MARKS.values() if kind.name in names)
