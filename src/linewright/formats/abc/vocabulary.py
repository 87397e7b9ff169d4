"""Decorations of ABC 2.1 (4.14) and the playing marks they stand for: one table, both ways."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from linewright.errors import MusicError
from linewright.score import Mark

__all__ = ["DECORATIONS", "SHORT", "WRITTEN", "annotation_for", "mark_of_annotation"]

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
    """The annotation that says in words a mark ABC has no sign for: ``"^hammer-on"``."""
    return f'"^{mark}"'


def mark_of_annotation(text: str) -> Mark | None:
    """The mark an annotation names in the words of the marks table, if it does."""
    words = text.strip()
    name, _, amount = words.rpartition(" ")
    try:
        return Mark(name, Fraction(amount)) if name and amount[:1] in "-0123456789" else Mark(words)
    except (MusicError, ValueError, ZeroDivisionError):
        return None
