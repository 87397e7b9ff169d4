"""Text made fit to print: ``b3`` and ``Eb7#9`` as ♭3 and E♭7♯9, no control characters."""

from __future__ import annotations

import re
from functools import lru_cache

__all__ = ["musical", "printable"]

_PRINTED = {"b": "♭", "#": "♯"}
#: A sign before a degree number, or after a note letter that does not begin a word.
_SIGN = re.compile(r"(?<![A-Za-z])[b#]{1,3}(?=\d)|(?<![A-Za-z])[A-G][b#]{1,3}(?![a-z])")
_CHORD = re.compile(r"(?<![A-Za-z♭♯])[A-G][♭♯]?(?:m|maj|M|dim|aug|sus|add|alt|[0-9/+°øΔ])[^\s,;]*")


@lru_cache(maxsize=1024)
def musical(text: str) -> str:
    """The text with its degrees, note names and chord symbols in printed signs.

    >>> musical("the b5 of Bb falls to the 4 over Em7b5, by hand")
    'the ♭5 of B♭ falls to the 4 over Em7♭5, by hand'
    """
    text = _SIGN.sub(lambda m: _print(m[0]), text)
    return _CHORD.sub(lambda m: re.sub(r"[b#](?=\d)", lambda s: _PRINTED[s[0]], m[0]), text)


def printable(text: str) -> str:
    """One line of text without control characters and lone surrogates, which neither SVG nor
    PDF can carry.
    """
    kept = "".join(c if c.isprintable() else " " for c in text)
    return kept.encode("utf-8", "replace").decode()


def _print(found: str) -> str:
    return found.translate({ord(k): v for k, v in _PRINTED.items()})
