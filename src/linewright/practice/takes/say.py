"""Small words that verdicts are put together from."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from linewright.analysis.prose import capital, counted
from linewright.practice.takes.model import Take

__all__ = ["count_of", "places_of"]

_MOST_PLACES: Final = 3


def count_of(count: int, noun: str) -> str:
    """``One note``, ``12 notes``, to begin a sentence."""
    return capital(counted(count, noun))


def places_of(take: Take, notes: Sequence[int]) -> str:
    """``in bar 2, beat 3`` for the first few of the notes, and how many more."""
    said = [take.lick.place(take.notes[k].onset) for k in notes[:_MOST_PLACES]]
    more = len(notes) - len(said)
    tail = f" and {more} more" if more > 0 else ""
    return f"in {'; '.join(said)}{tail}" if said else ""
