"""What rules share: how much may go wrong, how far past a limit, and in which bar."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from linewright.practice.takes.model import Take, Terms

__all__ = ["bar_of", "bars_of", "past", "slips"]


def slips(terms: Terms, count: int) -> int:
    """How many of so many notes may go wrong."""
    return int(terms.done.slips * count)


def past(value: float, limit: float) -> float:
    """How far past its limit a value lies; 0 inside it."""
    return 0.0 if value <= limit else 1 + (value - limit) / max(1.0, limit)


def bar_of(take: Take, onset: Fraction) -> int:
    """The number of the bar that holds a moment."""
    return take.lick.bar_at(onset).number


def bars_of(take: Take, notes: Sequence[int]) -> tuple[int, ...]:
    """The bars of notes, each once, in order."""
    return tuple(dict.fromkeys(bar_of(take, take.notes[k].onset) for k in notes))
