"""Levels: how fast, how far, how long and how exact a plan asks a player to be.

The numbers are ours, set from common practice (begin at about half tempo, raise it in small
steps, play it clean twice before going on). For scale: tapping to a click, people come some tens
of milliseconds early and scatter by a few percent of the beat, musicians less (B. H. Repp,
"Sensorimotor synchronization: a review of the tapping literature", Psychonomic Bulletin & Review
12(6), 969-992, 2005; its figures recalled from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from linewright.errors import OptionError

__all__ = ["LENGTHS", "LEVELS", "TIMING_SOURCE", "Level", "find_length", "find_level"]

TIMING_SOURCE: Final = (
    "Linewright's own limits, after common practice; for scale see Repp 2005,"
    " Psychonomic Bulletin & Review 12, 969-992"
)


@dataclass(frozen=True)
class Level:
    """What a plan asks of a player.

    Parameters
    ----------
    name : str
    start, top : Fraction
        Shares of the lick's tempo at the bottom and the top of a tempo ladder.
    rungs : int
        Tempos on a ladder.
    leap : int
        Largest move in semitones, where the lick's own frame and figures let it be so small.
    bars : int
        Bars of a steady stream that count as done.
    positions : int
        Positions taken up when the frame goes across the neck.
    keys : int
        New keys when the lick is moved.
    a_day : int
        Steps on one practice day at most.
    minutes : int
        Minutes of one practice day.
    mean_ms, spread_ms : float
        Mean distance from the click, early or late, and standard deviation around it, that
        still count as steady.
    chord_tones : float
        Share of chord changes that a chord tone has to meet.
    slips : float
        Share of the notes that may go wrong and still count as done.
    """

    name: str
    start: Fraction
    top: Fraction
    rungs: int
    leap: int
    bars: int
    positions: int
    keys: int
    a_day: int
    minutes: int
    mean_ms: float
    spread_ms: float
    chord_tones: float
    slips: float


LEVELS: Final[dict[str, Level]] = {
    level.name: level
    for level in (
        Level(
            "beginner", Fraction(2, 5), Fraction(7, 10), 4, 4, 4, 3, 1, 1, 20, 40.0, 50.0, 0.5, 0.05
        ),
        Level("working", Fraction(1, 2), Fraction(1), 5, 7, 8, 4, 2, 2, 30, 30.0, 35.0, 0.7, 0.03),
        Level(
            "fluent", Fraction(3, 5), Fraction(6, 5), 6, 9, 12, 7, 3, 3, 45, 20.0, 25.0, 0.8, 0.02
        ),
    )
}

#: Length name -> days.
LENGTHS: Final[dict[str, int]] = {"week": 7, "month": 28}


def find_level(name: str) -> Level:
    """The level of that name; OptionError naming those there are."""
    if name not in LEVELS:
        raise OptionError(f"no level {name!r}", accepted=f"Use one of {', '.join(LEVELS)}")
    return LEVELS[name]


def find_length(name: str) -> int:
    """Days of a plan of that length; OptionError naming those there are."""
    if name not in LENGTHS:
        raise OptionError(f"no length {name!r}", accepted=f"Use one of {', '.join(LENGTHS)}")
    return LENGTHS[name]
