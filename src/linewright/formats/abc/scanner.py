"""The signs of a line of ABC music, as one regular expression.

Each alternative consumes what it matches or a bounded number of characters, so scanning is
linear in the length of the line. The small arithmetic of length signs stands beside it.
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import lru_cache
from typing import Final

from linewright.errors import MusicError

__all__ = ["GRACE_NOTE", "TOKEN", "broken_factors", "length_of", "tuplet_of"]

_NOTE: Final = r"(?P<acc>\^\^?|__?|=)?(?P<step>[A-Ga-g])(?P<oct>[,']*)(?P<len>\d{0,4}/{0,6}\d{0,4})"
TOKEN: Final = re.compile(
    rf"""
    (?P<space>[\ \t`]+)
    |(?P<note>{_NOTE})
    |(?P<bar>\.?(?::+\[\|\]|\[?(?=[|:])[|:]*\|[|:]*\]?|::+|\[\]|:\]))(?:[ ]{{0,3}}(?P<barend>\d{{1,2}}(?:[,.\-]\d{{1,2}}){{0,9}}))?
    |(?P<rest>[zx](?P<restlen>\d{{0,4}}/{{0,6}}\d{{0,4}}))
    |(?P<bars>[ZX](?P<count>\d{{0,4}}))
    |(?P<tuplet>\((?P<p>\d{{1,2}})(?::(?P<q>\d{{0,2}})(?::(?P<r>\d{{0,2}}))?)?)
    |(?P<grace>\{{/?(?P<inner>[^{{}}]*)\}})
    |(?P<broken>>{{1,3}}|<{{1,3}})
    |(?P<tie>\.?-)
    |(?P<slur>\.?[()])
    |(?P<string>"(?P<words>[^"]*)"?)
    |(?P<deco>!(?P<name>[^!|\s\[\]"]{{1,20}})!)
    |(?P<plus>\+(?P<oldname>[A-Za-z0-9.<>^_=,'/]{{1,40}})\+)
    |(?P<field>\[(?P<letter>[A-Za-z]):(?P<value>[^\]]*)\]?)
    |(?P<ending>\[[ ]{{0,3}}(?P<numbers>\d{{1,2}}(?:[,.\-]\d{{1,2}}){{0,9}}))
    |(?P<open>\[)
    |(?P<close>\](?P<chordlen>\d{{0,4}}/{{0,6}}\d{{0,4}}))
    |(?P<spacer>y\d{{0,4}})
    |(?P<short>[.~H-Wh-w])
    |(?P<overlay>&+\)?)
    |(?P<breaks>[!\\*;$]+)
    |(?P<stray>.)
    """,
    re.VERBOSE,
)
#: Notes inside braces.
GRACE_NOTE: Final = re.compile(
    r"(?P<acc>\^\^?|__?|=)?(?P<step>[A-Ga-g])(?P<oct>[,']*)(?P<len>\d{0,4}/{0,6}\d{0,4})"
)


@lru_cache(maxsize=2048)
def length_of(text: str) -> Fraction:
    """The multiple of the unit a length sign means: ``3/2``, ``/``, ``//``, ``3/``, empty for 1.

    Raises MusicError for a length that no note value or tuplet can make.

    >>> length_of("3/"), length_of("//"), length_of("")
    (Fraction(3, 2), Fraction(1, 4), Fraction(1, 1))
    """
    if not text:
        return Fraction(1)
    top, slashes, bottom = re.fullmatch(r"(\d*)(/*)(\d*)", text).groups()  # type: ignore[union-attr]
    numerator = int(top) if top else 1
    denominator = int(bottom) if bottom else 1 << len(slashes)
    if bottom and len(slashes) > 1:
        denominator = int(bottom) << (len(slashes) - 1)
    rest = denominator
    for prime in (2, 3, 5, 7):
        while rest and rest % prime == 0:
            rest //= prime
    if rest != 1 or denominator > 1024 or numerator > 1024:
        raise MusicError(
            f"a note length of {text!r:.40} fits no note value",
            accepted="Write lengths such as 2, 3/2, / or /4",
        )
    return Fraction(numerator, denominator)


def tuplet_of(match: re.Match[str], *, compound: bool) -> tuple[Fraction, int]:
    """What a tuplet sign does to lengths, and to how many notes (ABC 2.1, 4.13).

    Raises MusicError for one that no music has.
    """
    p = int(match["p"])
    q = int(match["q"] or 0) or {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}.get(p, 3 if compound else 2)
    r = int(match["r"] or 0) or p
    if not (2 <= p <= 16 and 1 <= q <= 16 and r <= 64):
        raise MusicError(
            f"there is no tuplet of {p} in the time of {q}", accepted="Use 2 to 16 notes"
        )
    return Fraction(q, p), r


def broken_factors(sign: str) -> tuple[Fraction, Fraction]:
    """What ``>``, ``>>`` or ``>>>`` (or ``<``) does to the notes before and after it."""
    parts = 1 << len(sign)
    long, short = Fraction(2 * parts - 1, parts), Fraction(1, parts)
    return (long, short) if sign[0] == ">" else (short, long)
