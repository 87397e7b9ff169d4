"""What a line is asked to be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any, Final

from linewright.errors import OptionError
from linewright.lines.progression import MOST_BARS, Progression
from linewright.score import Lick
from linewright.theory import Pitch

__all__ = ["FOLLOW", "GRIDS", "LineRequest", "is_pitch"]

#: Grid name -> what it does.
GRIDS: Final[dict[str, str]] = {
    "own": "steady, in the lick's commonest note",
    "eighths": "steady eighth notes",
    "quarters": "steady quarter notes",
    "triplets": "steady triplet eighths",
    "sixteenths": "steady sixteenth notes",
    "cells": "the rhythms of the lick's own bars",
}
FOLLOW: Final = ("home", "chords")


@dataclass(frozen=True)
class LineRequest:
    """The wishes for one line; every field has a usable default.

    Parameters
    ----------
    bars : int
    progression : Progression, str or None
        A string is read by :func:`parse_progression` in the lick's key; None takes the lick's
        own chords, round and round.
    seed : int
        The same request gives the same line on every machine.
    mix : mapping of str to float, or None
        Share (0 to 1) of the notes for each element: figures by tag (``f1``), outside notes by
        degree (``b5``), or a kind of figure (``sequence``) or outside function (``blue note``)
        together. What is not named is not used. None is the lick's own mix.
    strict : bool
        Hit the shares in every line, not only on average.
    leap : int
        Largest move between two notes, in semitones.
    quote : int
        Longest run of the source, in notes and in any key, that may be quoted.
    range : (Pitch, Pitch) or None
        Lowest and highest note; None is the lick's own range and a little more.
    start, landing : str or None
        First and last note, as a degree (``1``, ``b3``) or a pitch (``G4``).
    pins : mapping of int to Lick
        Bars kept to the note: the lick's full bars stand from the bar named (from 1).
    grid : str
        A name in :data:`GRIDS`.
    swing : bool or None
        Whether eighths are swung; None as the lick is.
    follow : str or None
        ``home`` keeps the frame on the tonic, ``chords`` moves it with each chord; None does
        what the lick does.
    intensity : (float, float) or None
        How much of the mix stands at the start and at the end, as in (0.4, 1.6); the whole
        keeps its share.
    tempo : Fraction, float, int or None
        Quarter notes a minute, for what the hand can reach; None the lick's, or 100.
    phrase : int
        Bars in a phrase; its last beat is one held note. 0 for a stream without breaths; None ends
        phrases in the bars that the lick ends on a held note.
    held : bool
        Whether the last bar ends on a long note.
    """

    bars: int = 4
    progression: Progression | str | None = None
    seed: int = 0
    mix: Mapping[str, float] | None = None
    strict: bool = False
    leap: int = 7
    quote: int = 5
    range: tuple[Pitch, Pitch] | None = None
    start: str | None = None
    landing: str | None = None
    pins: Mapping[int, Lick] = field(default_factory=dict)
    grid: str = "own"
    swing: bool | None = None
    follow: str | None = None
    intensity: tuple[float, float] | None = None
    tempo: Fraction | float | int | None = None
    phrase: int | None = None
    held: bool = True

    def __post_init__(self) -> None:
        _whole("bars", self.bars, 1, MOST_BARS)
        _whole("leap", self.leap, 1, 24)
        _whole("quote", self.quote, 2, 1000)
        if self.phrase is not None:
            _whole("phrase", self.phrase, 0, MOST_BARS)
        _whole("seed", self.seed, -(2**63), 2**63 - 1)
        if self.grid not in GRIDS:
            raise OptionError(f"no grid {self.grid!r}", accepted=f"Use one of {', '.join(GRIDS)}")
        if self.follow is not None and self.follow not in FOLLOW:
            raise OptionError(
                f"the frame cannot follow {self.follow!r}", accepted="Use home or chords"
            )
        for name, share in (self.mix or {}).items():
            if not (isinstance(share, (int, float)) and 0 <= share <= 1):
                raise OptionError(
                    f"a share of {share} for {name}",
                    accepted="Use 0 to 1, as in 0.25 for a quarter",
                )
        if self.intensity is not None:
            first, last = self.intensity
            if not (0 <= first <= 10 and 0 <= last <= 10 and first + last > 0):
                raise OptionError(
                    f"an intensity from {first} to {last}", accepted="Use 0 to 10, as in 0.5 to 1.5"
                )
        if self.tempo is not None and not 10 <= self.tempo <= 1000:
            raise OptionError(
                f"a tempo of {self.tempo}", accepted="Use 10 to 1000 quarters a minute"
            )
        if self.range is not None and self.range[0].midi > self.range[1].midi:
            raise OptionError(
                f"a range from {self.range[0]} to {self.range[1]}", accepted="Name the lower first"
            )
        for bar in self.pins:
            _whole("a bar to keep as it is", bar, 1, self.bars)

    def with_(self, **changes: Any) -> LineRequest:
        """A copy with fields replaced."""
        return replace(self, **changes)

    def to_dict(self) -> dict[str, Any]:
        """The wishes as JSON values (pins as the bars they start at)."""
        over = self.progression
        return {
            "bars": self.bars,
            "progression": over.text if isinstance(over, Progression) else over,
            "seed": self.seed,
            "mix": dict(self.mix) if self.mix is not None else None,
            "strict": self.strict,
            "leap": self.leap,
            "quote": self.quote,
            "range": [str(p) for p in self.range] if self.range else None,
            "start": self.start,
            "landing": self.landing,
            "pins": sorted(self.pins),
            "grid": self.grid,
            "swing": self.swing,
            "follow": self.follow,
            "intensity": list(self.intensity) if self.intensity else None,
            "tempo": float(self.tempo) if self.tempo is not None else None,
            "phrase": self.phrase,
            "held": self.held,
        }


def _whole(name: str, value: int, low: int, high: int) -> None:
    if not isinstance(value, int) or not low <= value <= high:
        raise OptionError(
            f"{value!r} for {name}", accepted=f"Use a whole number from {low} to {high}"
        )


def is_pitch(text: str | None) -> bool:
    """Whether the wish for a first or last note names a pitch, such as C5, not a degree."""
    word = (text or "").strip()
    return word[:1].upper() in tuple("ABCDEFG") and word[-1:].isdigit()
