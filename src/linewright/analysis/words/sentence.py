"""A sentence with the notes it is about and a paragraph of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

__all__ = [
    "LENGTHS",
    "Paragraph",
    "Sentence",
    "listed",
    "note_name",
    "percent",
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


def listed(places: Iterable[str]) -> str:
    """Places, which have commas of their own: ``bar 1, beat 2; bar 3, beat 4``."""
    return "; ".join(places)


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
