"""The Analysis value: everything Linewright says about a lick, in one place.

Text, JSON, page and handout are all written from it, so they say the same. Note indexes
refer to ``Analysis.lick.notes``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from linewright.score import Lick
from linewright.theory import ChordSymbol, Colour, Degree, Frame, Pitch, PitchClass

__all__ = ["Analysis", "NoteFact", "OutsideNote", "Reading", "TonicSource", "Verdict"]

Verdict = Literal["chosen", "possible", "ruled out"]
TonicSource = Literal["given", "key", "chords", "inferred"]


@dataclass(frozen=True, slots=True)
class NoteFact:
    """What one note is, seen from the tonic and from the chord of the moment.

    Parameters
    ----------
    index : int
    pitch : Pitch
        Respelled to say what the note means (Db or C# in G).
    degree : Degree
        Against the tonic of the analysis.
    chord : ChordSymbol or None
        The chord sounding at the note's onset.
    chord_degree : Degree or None
        Against that chord's root.
    is_outside : bool
        Not in the chosen frame (False when there is no frame).
    weight : float
        Share of the lick's total weight, 0 to 1: length, place in the bar, phrase ends.
    """

    index: int
    pitch: Pitch
    degree: Degree
    chord: ChordSymbol | None
    chord_degree: Degree | None
    is_outside: bool
    weight: float


@dataclass(frozen=True, slots=True)
class Reading:
    """One candidate frame with its evidence.

    Parameters
    ----------
    frame : Frame
    verdict : str
        ``chosen``, ``possible`` or ``ruled out``.
    reason : str
        One sentence a teacher would accept, without a full stop.
    heard, unheard : tuple of Degree
        Degrees of the frame that sound in the lick and that do not.
    outside : tuple of int
        Indexes of the notes this frame leaves outside.
    score : float
        Description length in bits of the lick under this frame; lower is better.
    """

    frame: Frame
    verdict: Verdict
    reason: str
    heard: tuple[Degree, ...]
    unheard: tuple[Degree, ...]
    outside: tuple[int, ...]
    score: float


@dataclass(frozen=True, slots=True)
class OutsideNote:
    """A note outside the frame and what it does there.

    ``function`` is one of the names in :data:`linewright.analysis.outside.FUNCTIONS`;
    ``reason`` is a sentence saying how it is approached and left.
    """

    index: int
    degree: Degree
    chord_degree: Degree | None
    function: str
    reason: str
    weight: float


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
    verdict : str
        One sentence: the frame and why, or that nothing fits and why.
    readings : tuple of Reading
        Best first.
    outside_notes : tuple of OutsideNote
    notes : tuple of NoteFact
        One for each note of ``lick``.
    """

    lick: Lick
    tonic: PitchClass
    tonic_source: TonicSource
    tonic_reason: str
    frame: Frame | None
    colour: Colour | None
    verdict: str
    readings: tuple[Reading, ...]
    outside_notes: tuple[OutsideNote, ...]
    notes: tuple[NoteFact, ...]

    @property
    def frame_name(self) -> str:
        """The frame in a player's words, colour included: ``G minor pentatonic + b5 (blues)``."""
        if self.frame is None:
            return "no plain scale or arpeggio"
        if self.colour is None:
            return self.frame.name
        return f"{self.frame.name} + {self.colour.added} ({self.colour.name})"

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


_USUAL = frozenset(
    (
        "major pentatonic", "minor pentatonic", "major", "natural minor", "dorian", "mixolydian",
        "lydian", "phrygian", "harmonic minor", "melodic minor",
    )
)  # fmt: skip


def _rarity(reading: Reading) -> int:
    item = reading.frame.collection
    return 0 if item.name in _USUAL else 1 if item.is_arpeggio else 2
