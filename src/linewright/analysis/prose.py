"""The small change of prose: counts, times, lists, articles, distances; one wording everywhere."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from linewright.theory import Frame

__all__ = [
    "article", "capital", "count", "counted", "frame_words", "interval", "join_words", "times",
    "whole",
]  # fmt: skip


def whole(text: str) -> str:
    """With a capital and a full stop."""
    return f"{capital(text.strip().rstrip('.'))}."


def capital(text: str) -> str:
    """With a capital, unless it begins with an accidental (``b5``)."""
    return text if text[:1] in "b#" and text[1:2].isdigit() else text[:1].upper() + text[1:]


_NUMBERS: Final = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve",
)  # fmt: skip


def count(number: int) -> str:
    """A small number in letters, as prose has it."""
    return _NUMBERS[number] if 0 <= number < len(_NUMBERS) else str(number)


def counted(number: int, noun: str, plural: str = "") -> str:
    """``one rest``, ``two rests``; the noun may be more than one word.

    >>> counted(1, "shift of position", "shifts of position")
    'one shift of position'
    """
    return f"{count(number)} {noun if number == 1 else plural or noun + 's'}"


def times(number: int) -> str:
    """How often: ``never``, ``once``, ``twice``, ``three times``, ``13 times``."""
    return {0: "never", 1: "once", 2: "twice"}.get(number, f"{count(number)} times")


def join_words(parts: Iterable[str], last: str = "and") -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    words = list(parts)
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def article(word: str) -> str:
    """``an`` before a vowel sound: an arpeggio, an eighth, an 8th; a sixth, a unison.

    >>> [article(word) for word in ("eighth", "sixth", "8th", "11", "unison", "octave")]
    ['an', 'a', 'an', 'an', 'a', 'an']
    """
    number = word[: len(word) - len(word.lstrip("0123456789"))]
    if number:
        return "an" if number[0] == "8" or number in ("11", "18") else "a"
    return "an" if word[:1].lower() in "aeiou" and not word.startswith("uni") else "a"


_INTERVALS: Final = (
    "unison", "semitone", "whole step", "minor third", "major third", "fourth", "tritone", "fifth",
    "minor sixth", "major sixth", "minor seventh", "major seventh",
)  # fmt: skip


def frame_words(frame: Frame) -> str:
    """A frame after "hangs on": ``G major``, but ``the C major triad arpeggio``."""
    return f"the {frame.name}" if frame.collection.is_arpeggio else frame.name


def interval(semitones: int) -> str:
    """A distance by its name: ``a minor third``, ``an octave and a fifth``.

    >>> interval(-4), interval(12), interval(19), interval(24)
    ('a major third', 'an octave', 'an octave and a fifth', 'two octaves')
    """
    octaves, rest = divmod(abs(semitones), 12)
    name = f"{article(_INTERVALS[rest])} {_INTERVALS[rest]}"
    if not octaves:
        return name
    whole_ones = "an octave" if octaves == 1 else f"{count(octaves)} octaves"
    return f"{whole_ones} and {name}" if rest else whole_ones
