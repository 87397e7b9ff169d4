"""What small signs and words mean: decorations (ABC 2.1, 4.14) and the marks they stand for, one
table for both ways; quoted chord symbols, numbers of endings, U: fields.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from typing import Final

from linewright.errors import MusicError
from linewright.score import Mark
from linewright.theory import ChordSymbol

__all__ = [
    "DECORATIONS",
    "SHORT",
    "WRITTEN",
    "annotation_for",
    "chord_symbol",
    "mark_of_annotation",
    "pass_numbers",
    "user_sign",
]

_SLIDE_IN: Final = Mark("slide in", Fraction(-1))

#: Decoration name -> mark; None for one that is known and has no mark.
DECORATIONS: Final[dict[str, Mark | None]] = {
    "accent": Mark("accent"), ">": Mark("accent"), "emphasis": Mark("accent"),
    "staccato": Mark("staccato"), "upbow": Mark("up"), "downbow": Mark("down"),
    "slide": _SLIDE_IN,
    **dict.fromkeys(
        (
            "trill", "trill(", "trill)", "lowermordent", "uppermordent", "mordent", "pralltriller",
            "roll", "irishroll", "turn", "turnx", "invertedturn", "invertedturnx", "arpeggio",
            "fermata", "invertedfermata", "tenuto", "0", "1", "2", "3", "4", "5", "+", "plus",
            "snap", "wedge", "open", "thumb", "breath", "pppp", "ppp", "pp", "p", "mp", "mf", "f",
            "ff", "fff", "ffff", "sfz", "sf", "crescendo(", "<(", "crescendo)", "<)",
            "diminuendo(", ">(", "diminuendo)", ">)", "segno", "coda", "D.S.", "D.C.", "dacoda",
            "dacapo", "fine", "shortphrase", "mediumphrase", "longphrase", "nil", "none",
        )
    ),
}  # fmt: skip

#: Single-letter decorations as ABC 2.1 predefines them; ``U:`` fields change a copy.
SHORT: Final[dict[str, str]] = {
    ".": "staccato", "~": "irishroll", "H": "fermata", "L": "accent", "M": "lowermordent",
    "O": "coda", "P": "uppermordent", "S": "segno", "T": "trill", "u": "upbow", "v": "downbow",
}  # fmt: skip

#: How the writer puts a mark that ABC has a sign for.
WRITTEN: Final[dict[Mark, str]] = {
    Mark("staccato"): ".", Mark("up"): "u", Mark("down"): "v", Mark("accent"): "!accent!",
    _SLIDE_IN: "!slide!",
}  # fmt: skip


def annotation_for(mark: Mark) -> str:
    """The annotation that says in words a mark ABC has no sign for: ``"^hammer-on"``.

    A bend is told in whole steps, as players count it: ``"^bend 1"``, ``"^bend 1/2"``.
    """
    if mark.name == "bend":
        return f'"^bend {mark.semitones / 2}"'
    return f'"^{mark}"'


def mark_of_annotation(text: str) -> Mark | None:
    """The mark an annotation names in the words of the marks table, if it does; a bend in whole
    steps (``bend 1``, ``bend 1/2``, ``bend full``).
    """
    words = text.strip()
    name, _, amount = words.rpartition(" ")
    try:
        if name == "bend":
            return Mark("bend", 2 * Fraction("1" if amount == "full" else amount))
        return Mark(name, Fraction(amount)) if name and amount[:1] in "-0123456789" else Mark(words)
    except (MusicError, ValueError, ZeroDivisionError):
        return None


def user_sign(value: str) -> dict[str, str]:
    """What a U: field sets: one letter, a decoration's name."""
    letter, _, meaning = value.partition("=")
    letter, meaning = letter.strip(), meaning.strip().strip("!+")
    return {letter: meaning} if len(letter) == 1 and meaning else {}


def pass_numbers(text: str) -> frozenset[int]:
    """The passes an ending is played on: ``1``, ``1,3`` or ``1-3``."""
    found: set[int] = set()
    for part in text.replace(".", ",").split(","):
        first, _, last = part.partition("-")
        if first:
            low, high = int(first), int(last or first)
            found.update(range(low, min(high, low + 16) + 1))
    return frozenset(n for n in found if 1 <= n <= 16) or frozenset({1})


@lru_cache(maxsize=512)
def chord_symbol(text: str) -> ChordSymbol | None:
    """The chord a quoted text names, or None when it names none."""
    try:
        return ChordSymbol.parse(text)
    except MusicError:
        return None
