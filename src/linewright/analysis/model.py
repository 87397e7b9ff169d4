"""The Analysis value: everything Linewright says about a lick, in one place.

Text, JSON, page and handout are all written from it, so they say the same. Note indexes
refer to ``Analysis.lick.notes``.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

from linewright.analysis.facts import NoteFact, OutsideNote, TonicSource
from linewright.analysis.figures import Figure, Motion, find_figures, motion
from linewright.analysis.hand import Hand, read_hand
from linewright.analysis.harmony import Harmony, relate_to_chords
from linewright.analysis.readings import Case, Reading, list_readings, say_verdict
from linewright.analysis.rhythm import Rhythm, read_rhythm
from linewright.analysis.spans import Span, find_spans, say_spans
from linewright.analysis.usage import Usage, read_usage
from linewright.analysis.weights import neighbours
from linewright.score import Lick
from linewright.theory import Colour, Frame, PitchClass

__all__ = ["Analysis", "NoteFact", "OutsideNote", "Reading"]


@dataclass(frozen=True)
class Analysis:
    """What a lick is made of.

    Parameters
    ----------
    lick : Lick
        The lick with its pitches respelled as the analysis reads them.
    tonic : PitchClass
    tonic_source : str
        ``given`` (by the caller), ``key`` (the lick's own header), ``chords`` or ``inferred``.
    tonic_reason : str
        One sentence on where the tonic comes from.
    frame : Frame or None
        None when nothing fits.
    colour : Colour or None
        The named scale when it is the frame plus one colour note (blues, bebop dominant).
    outside_notes : tuple of OutsideNote
    notes : tuple of NoteFact
        One for each note of ``lick``.
    case : Case
        What the readings are argued from.
    """

    lick: Lick
    tonic: PitchClass
    tonic_source: TonicSource
    tonic_reason: str
    frame: Frame | None
    colour: Colour | None
    outside_notes: tuple[OutsideNote, ...]
    notes: tuple[NoteFact, ...]
    case: Case = field(repr=False, compare=False)

    @property
    def frame_name(self) -> str:
        """The frame in a player's words, colour included: ``G minor pentatonic + b5 (blues)``."""
        if self.frame is None:
            return "no plain scale or arpeggio"
        if self.colour is None:
            return self.frame.name
        return f"{self.frame.name} + {self.colour.added} ({self.colour.name})"

    @cached_property
    def verdict(self) -> str:
        """One sentence: the frame and why, the frames of its parts, or that nothing fits and why."""
        if self.frame is None:
            parts = say_spans(self.lick, self.spans)
            if parts is not None:
                return parts
        return say_verdict(self.case)

    @cached_property
    def readings(self) -> tuple[Reading, ...]:
        """The candidate frames with their evidence, best first."""
        return list_readings(self.case)

    @cached_property
    def chosen(self) -> Reading | None:
        """The chosen reading."""
        return next((r for r in self.readings if r.verdict == "chosen"), None)

    @cached_property
    def rivals(self) -> tuple[Reading, ...]:
        """The near rivals worth arguing with, on the same tonic: usual scales first, then chords'
        notes, then rarer scales, each best first.
        """
        others = [r for r in self.readings if r.verdict != "chosen" and r.frame.tonic == self.tonic]
        others.sort(key=lambda r: (r.verdict != "possible", _rarity(r), r.score))
        return tuple(others[:4])

    # -- worked out when asked for, and kept ---------------------------------------------
    @cached_property
    def figures(self) -> tuple[Figure, ...]:
        """What recurs: the cheapest parse of the lick into figures, in order."""
        return find_figures(self.lick, self.frame)

    def with_frame(self, frame: Frame) -> Analysis:
        """The same on another frame, with the figures as they were found: ``f1`` stays ``f1``."""
        found = replace(self, frame=frame)
        found.__dict__["figures"] = self.figures  # where a cached property keeps its value
        return found

    @cached_property
    def motion(self) -> Motion:
        """How it moves: steps, skips, leaps, range, ends."""
        return motion(self.lick, self.frame)

    @cached_property
    def spans(self) -> tuple[Span, ...]:
        """Stretches of one frame each; one span where the frame never changes."""
        return find_spans(self.lick, self.tonic, self.frame)

    @cached_property
    def usage(self) -> tuple[Usage, ...]:
        """How each outside degree is used across the lick."""
        return read_usage(self.lick, self.notes, neighbours(self.lick))

    @cached_property
    def rhythm(self) -> Rhythm:
        """When the notes come."""
        return read_rhythm(self.lick)

    @cached_property
    def harmony(self) -> Harmony:
        """Every note against its chord, and each chord change."""
        return relate_to_chords(self.lick)

    @cached_property
    def hand(self) -> Hand | None:
        """The lick under the hand, or None without strings and frets."""
        return read_hand(self.lick)


_USUAL = frozenset(
    (
        "major pentatonic", "minor pentatonic", "major", "natural minor", "dorian", "mixolydian",
        "lydian", "phrygian", "harmonic minor", "melodic minor",
    )
)  # fmt: skip


def _rarity(reading: Reading) -> int:
    item = reading.frame.collection
    return 0 if item.name in _USUAL else 1 if item.is_arpeggio else 2
