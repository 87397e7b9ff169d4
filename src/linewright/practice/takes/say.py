"""Small words that verdicts are put together from."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from linewright.practice.takes.model import Take

__all__ = ["count_of", "listed", "places_of", "semitones_of", "times_of"]

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_INTERVALS = {
    1: "a half step", 2: "a whole step", 3: "a minor third", 4: "a major third", 5: "a fourth",
    6: "a tritone", 7: "a fifth", 8: "a minor sixth", 9: "a major sixth", 10: "a minor seventh",
    11: "a major seventh", 12: "an octave",
}  # fmt: skip
_MOST_PLACES = 3


def listed(names: Iterable[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    found = list(names)
    if len(found) < 2:
        return "".join(found)
    return f"{', '.join(found[:-1])} and {found[-1]}"


def count_of(count: int, noun: str) -> str:
    """``One note``, ``12 notes``, to begin a sentence."""
    name = _NUMBERS[count] if count < len(_NUMBERS) else str(count)
    return f"{name[:1].upper()}{name[1:]} {noun}{'' if count == 1 else 's'}"


def semitones_of(size: int) -> str:
    """An interval by its usual name."""
    return _INTERVALS.get(size, f"{size} half steps")


def places_of(take: Take, notes: Sequence[int]) -> str:
    """``in bar 2, beat 3`` for the first few of the notes, and how many more."""
    said = [take.lick.place(take.notes[k].onset) for k in notes[:_MOST_PLACES]]
    more = len(notes) - len(said)
    tail = f" and {more} more" if more > 0 else ""
    return f"in {'; '.join(said)}{tail}" if said else ""


def times_of(count: int) -> str:
    """``never``, ``once``, ``twice``, ``3 times``."""
    return {0: "never", 1: "once", 2: "twice"}.get(count, f"{count} times")
