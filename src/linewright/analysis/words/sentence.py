"""A sentence with the notes it is about, a paragraph of them, and the small change of prose."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

__all__ = [
    "LENGTHS",
    "Paragraph",
    "Sentence",
    "article",
    "capital",
    "count",
    "counted",
    "interval",
    "listed",
    "note_name",
    "percent",
    "whole",
]


@dataclass(frozen=True, slots=True)
class Sentence:
    """A whole sentence.

    Parameters
    ----------
    head : str
        With ``notes``, the part of the sentence that names them (a page makes a button of it);
        without, the whole sentence.
    rest : str
        What follows the head, spaces and all.
    notes : tuple of int
        Indexes of the notes that the sentence is about, () when it is about none in particular.
    about : str
        The figure (``f1``, by its number) or outside degree (``b5``) it belongs to, else ''.
    """

    head: str
    rest: str = ""
    notes: tuple[int, ...] = ()
    about: str = ""

    @property
    def text(self) -> str:
        """The whole sentence."""
        return self.head + self.rest


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A ``heading`` and what is ``said`` under it; ``key`` names it for programs: ``frame``,
    ``neighbours``, ``spans``, ``motion``, ``figures``, ``outside``, ``rhythm``, ``chords``,
    ``hand`` or ``remarks``.
    """

    key: str
    heading: str
    said: tuple[Sentence, ...]

    @property
    def sentences(self) -> tuple[str, ...]:
        """The sentences as text."""
        return tuple(sentence.text for sentence in self.said)


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


def article(word: str) -> str:
    """``an`` before a vowel sound: an arpeggio, an eighth, an 8th; a sixth, a unison.

    >>> [article(word) for word in ("eighth", "sixth", "8th", "11", "unison", "octave")]
    ['an', 'a', 'an', 'an', 'a', 'an']
    """
    number = word[: len(word) - len(word.lstrip("0123456789"))]
    if number:
        return "an" if number[0] == "8" or number in ("11", "18") else "a"
    return "an" if word[:1].lower() in "aeiou" and not word.startswith("uni") else "a"


def listed(places: Iterable[str]) -> str:
    """Places, which have commas of their own: ``bar 1, beat 2; bar 3, beat 4``."""
    return "; ".join(places)


_INTERVALS: Final = (
    "unison", "semitone", "whole step", "minor third", "major third", "fourth", "tritone", "fifth",
    "minor sixth", "major sixth", "minor seventh", "major seventh",
)  # fmt: skip


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


def note_name(name: str) -> str:
    """``the b3`` of a degree, ``Eb`` of a note."""
    return f"the {name}" if name[-1:].isdigit() else name


def percent(share: Fraction | float) -> str:
    """``57 %``."""
    return f"{round(float(share) * 100)} %"


#: A length in quarters as an adjective and as a plural noun.
LENGTHS: Final = {
    Fraction(4): ("whole-note", "whole notes"),
    Fraction(3): ("dotted half-note", "dotted half notes"),
    Fraction(2): ("half-note", "half notes"),
    Fraction(3, 2): ("dotted-quarter", "dotted quarters"),
    Fraction(1): ("quarter-note", "quarter notes"),
    Fraction(3, 4): ("dotted-eighth", "dotted eighths"),
    Fraction(2, 3): ("triplet-quarter", "triplet quarters"),
    Fraction(1, 2): ("eighth-note", "eighth notes"),
    Fraction(1, 3): ("triplet-eighth", "triplet eighths"),
    Fraction(1, 4): ("sixteenth-note", "sixteenth notes"),
    Fraction(1, 6): ("triplet-sixteenth", "triplet sixteenths"),
    Fraction(1, 8): ("thirty-second-note", "thirty-second notes"),
}
