"""What the analysis says of one note and of one outside note."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from linewright.theory import ChordSymbol, Degree, Pitch

__all__ = ["NoteFact", "OutsideNote", "TonicSource"]

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
