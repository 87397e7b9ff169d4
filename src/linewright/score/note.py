"""Note, Grace and ChordSpan: what a lick is made of."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from linewright.errors import MusicError
from linewright.score.marks import Mark
from linewright.theory import ChordSymbol, Pitch

__all__ = ["BREATH", "ChordSpan", "Grace", "Note", "bent"]

#: Quarters of silence that part two notes: over such a breath neither leads to the other.
BREATH: Final = 1


def bent(fretted: int, bend: Fraction) -> int:
    """The MIDI number a bend of so many semitones counts as: its whole semitones.

    A blues curl of a quarter tone (1/2) stays the pitch it is fretted as.
    """
    return fretted + bend.numerator // bend.denominator


@dataclass(frozen=True, slots=True)
class Grace:
    """An ornamental note that takes its time from the note it precedes."""

    pitch: Pitch
    string: int | None = None
    fret: int | None = None


@dataclass(frozen=True, slots=True)
class Note:
    """One sounding note.

    Parameters
    ----------
    onset, duration : Fraction
        In quarter notes; duration is above zero.
    pitch : Pitch
        The pitch heard; for a bend the pitch reached, for a dead note the muted place's pitch.
    string : int, optional
        1 is the string nearest the floor as the instrument is held (the highest-sounding
        guitar string), as players and MusicXML count.
    fret : int, optional
        Counted from the capo; 0 is open.
    marks : tuple of Mark
    grace : tuple of Grace
        Ornamental notes before this one.
    """

    onset: Fraction
    duration: Fraction
    pitch: Pitch
    string: int | None = None
    fret: int | None = None
    marks: tuple[Mark, ...] = ()
    grace: tuple[Grace, ...] = ()

    def __post_init__(self) -> None:
        if self.onset.numerator < 0 or self.duration.numerator <= 0:  # the sign, cheaply
            raise MusicError(
                f"a note at {self.onset} lasting {self.duration} quarters is impossible"
            )
        if (self.string is None) != (self.fret is None):
            raise MusicError("a note has a string without a fret or a fret without a string")

    @property
    def end(self) -> Fraction:
        """Where the note stops."""
        return self.onset + self.duration

    @property
    def midi(self) -> int:
        """MIDI number of the pitch heard."""
        return self.pitch.midi

    @property
    def bend(self) -> Fraction:
        """Semitones pushed above the fretted pitch, 0 when not bent."""
        return next((m.semitones for m in self.marks if m.name == "bend"), Fraction(0))

    @property
    def is_joined(self) -> bool:
        """Whether the note is reached without a new pluck (hammer-on, pull-off, slide, release)."""
        return any(m.kind.joins for m in self.marks)

    def has(self, name: str) -> bool:
        """Whether the note carries the mark ``name``."""
        return any(m.name == name for m in self.marks)


@dataclass(frozen=True, slots=True)
class ChordSpan:
    """A chord and the time it holds; ``symbol`` None is N.C. (no chord)."""

    onset: Fraction
    duration: Fraction
    symbol: ChordSymbol | None

    @property
    def end(self) -> Fraction:
        """Where the chord stops."""
        return self.onset + self.duration
