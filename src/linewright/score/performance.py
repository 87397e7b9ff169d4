"""Performance: what is struck and when, and what was heard; both as plain values.

A :class:`Part` is played from a lick or made for a band; the sound renderer and the MIDI
writer take the same parts. A :class:`PlayedNote` is what a listener (or a MIDI file) reports,
in seconds; whoever judges it does not need to know which.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from linewright.errors import MusicError

__all__ = ["ATTACKS", "VOICES", "Part", "Performance", "PlayedNote", "Stroke"]

#: How a note begins: with a new pluck, or by the fretting hand on a string that still sounds.
ATTACKS: Final = (
    "pluck",
    "hammer-on",
    "pull-off",
    "slide",
    "release",
    "dead",
    "click",
    "accent click",
)
#: What may play a part.
VOICES: Final = ("steel", "nylon", "mandolin", "banjo", "bass", "click")


@dataclass(frozen=True, slots=True)
class Stroke:
    """One note as it is to sound.

    Parameters
    ----------
    onset, duration : Fraction
        Quarter notes from the start of the performance, swing already applied.
    midi : int
        The pitch the fret gives (before a bend); for a slide the pitch slid to.
    string, fret : int or None
        As in :class:`~linewright.score.Note`; None for a click.
    strength : float
        0 to 1, how hard it is struck.
    attack : str
        One of :data:`ATTACKS`.
    bend : Fraction
        Semitones pushed above ``midi`` in the course of the note.
    lead_in : int
        Semitones from which the note is slid into without a note before it (0: not; -2 from a
        whole tone below).
    lead_out : int
        Semitones through which it is slid away at its end (0: not; -3 downwards).
    ring : bool
        Rings past its duration until its string is struck again or damped.
    muted : bool
        Palm on the strings.
    vibrato : bool
    harmonic : bool
        The string is only touched at ``fret``; ``midi`` is the pitch heard.
    """

    onset: Fraction
    duration: Fraction
    midi: int
    string: int | None = None
    fret: int | None = None
    strength: float = 0.7
    attack: str = "pluck"
    bend: Fraction = Fraction(0)
    lead_in: int = 0
    lead_out: int = 0
    ring: bool = False
    muted: bool = False
    vibrato: bool = False
    harmonic: bool = False

    @property
    def end(self) -> Fraction:
        """Where the note is let go."""
        return self.onset + self.duration


@dataclass(frozen=True)
class Part:
    """What one player plays: ``strokes`` in order of onset on the instrument ``voice``."""

    name: str
    voice: str
    strokes: tuple[Stroke, ...]

    def __post_init__(self) -> None:
        if self.voice not in VOICES:
            raise MusicError(f"no voice {self.voice!r}", accepted=f"Use one of {', '.join(VOICES)}")
        if any(a.onset > b.onset for a, b in zip(self.strokes, self.strokes[1:], strict=False)):
            raise MusicError(f"the strokes of part {self.name!r} are out of order")


@dataclass(frozen=True)
class Performance:
    """Parts played together.

    Parameters
    ----------
    parts : tuple of Part
    length : Fraction
        Quarter notes; sounds may ring past it.
    quarter_bpm : Fraction
        Quarter notes a minute, constant.
    count_in : Fraction
        Quarter notes of count-in that the parts hold before the music starts, 0 without.
    """

    parts: tuple[Part, ...]
    length: Fraction
    quarter_bpm: Fraction
    count_in: Fraction = Fraction(0)

    def __post_init__(self) -> None:
        if self.quarter_bpm <= 0 or self.length <= 0:
            raise MusicError("a performance needs a length and a tempo above zero")

    def seconds(self, quarters: Fraction) -> float:
        """A moment in seconds from the start of the performance, count-in included."""
        return float(quarters * 60 / self.quarter_bpm)


@dataclass(frozen=True, slots=True)
class PlayedNote:
    """One note as it was heard.

    Parameters
    ----------
    onset_s, offset_s : float
        Seconds from the start of the recording.
    midi : int
        The nearest semitone, with the recording's own tuning allowed for.
    cents : float
        Deviation from it, -50 to 50, after the tuning.
    strength : float
        0 to 1, relative to the loudest note of the take.
    attack : str
        ``struck``, ``slurred`` (hammer-on, pull-off) or ``slid``.
    confidence : float
        0 to 1: how sure the listener is that this note, of this pitch, began here.
    """

    onset_s: float
    offset_s: float
    midi: int
    cents: float = 0.0
    strength: float = 1.0
    attack: str = "struck"
    confidence: float = 1.0
