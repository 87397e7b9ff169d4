"""What the analysis says of one note, one outside note, one candidate frame."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from linewright.theory import ChordSymbol, Degree, Frame, Pitch

__all__ = ["NoteFact", "OutsideNote", "Reading", "TonicSource", "Verdict"]

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
