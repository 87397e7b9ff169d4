"""Chord symbols: what a lead sheet writes, and the notes it asks for.

Reading is lenient over the spellings in common use (``m``, ``min``, ``-``; ``maj7``,
``M7``, ``Δ``; ``m7b5``, ``ø``); the text as written is kept. The degrees of each
quality are common practice and are held against music21's chord symbols in the tests.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Final

from linewright.errors import MusicError
from linewright.theory.degrees import Degree
from linewright.theory.pitch import PitchClass

__all__ = ["ChordSymbol", "QUALITIES"]

#: Canonical quality -> degrees above the root.
QUALITIES: Final[dict[str, str]] = {
    "": "1 3 5", "m": "1 b3 5", "dim": "1 b3 b5", "aug": "1 3 #5", "5": "1 5",
    "sus2": "1 2 5", "sus4": "1 4 5", "6": "1 3 5 6", "m6": "1 b3 5 6", "6/9": "1 3 5 6 9",
    "m6/9": "1 b3 5 6 9",
    "7": "1 3 5 b7", "maj7": "1 3 5 7", "m7": "1 b3 5 b7", "mMaj7": "1 b3 5 7",
    "m7b5": "1 b3 b5 b7", "dim7": "1 b3 b5 bb7", "aug7": "1 3 #5 b7", "7sus4": "1 4 5 b7",
    "augMaj7": "1 3 #5 7", "7b5": "1 3 b5 b7", "maj7b5": "1 3 b5 7",
    "9": "1 3 5 b7 9", "maj9": "1 3 5 7 9", "m9": "1 b3 5 b7 9", "mMaj9": "1 b3 5 7 9",
    "9sus4": "1 4 5 b7 9",
    "add9": "1 3 5 9", "madd9": "1 b3 5 9", "11": "1 3 5 b7 9 11", "m11": "1 b3 5 b7 9 11",
    "13": "1 3 5 b7 9 13", "maj13": "1 3 5 7 9 13", "m13": "1 b3 5 b7 9 13",
    "7b9": "1 3 5 b7 b9", "7#9": "1 3 5 b7 #9", "7#11": "1 3 5 b7 #11", "maj7#11": "1 3 5 7 #11",
    "7b13": "1 3 5 b7 b13", "9#11": "1 3 5 b7 9 #11", "13b9": "1 3 5 b7 b9 13",
    "7b5b9": "1 3 b5 b7 b9", "7#5#9": "1 3 #5 b7 #9", "7#5b9": "1 3 #5 b7 b9",
    "7b5#9": "1 3 b5 b7 #9", "7alt": "1 3 b7 b9 #9 b13",
}  # fmt: skip

#: Spellings seen on lead sheets -> canonical quality.
_SPELLINGS: Final[dict[str, str]] = {
    "maj": "", "M": "", "major": "", "min": "m", "mi": "m", "-": "m", "minor": "m",
    "°": "dim", "o": "dim", "+": "aug", "sus": "sus4", "2": "sus2", "4": "sus4",
    "maj6": "6", "M6": "6", "min6": "m6", "-6": "m6", "69": "6/9", "m69": "m6/9",
    "dom7": "7", "M7": "maj7", "ma7": "maj7", "Δ": "maj7", "Δ7": "maj7", "j7": "maj7", "Maj7": "maj7",
    "min7": "m7", "mi7": "m7", "-7": "m7", "mM7": "mMaj7", "mmaj7": "mMaj7", "m(maj7)": "mMaj7",
    "m(M7)": "mMaj7", "-Δ7": "mMaj7", "minmaj7": "mMaj7", "-maj7": "mMaj7",
    "ø": "m7b5", "ø7": "m7b5", "-7b5": "m7b5", "min7b5": "m7b5", "m7-5": "m7b5", "m7(b5)": "m7b5",
    "°7": "dim7", "o7": "dim7", "7#5": "aug7", "+7": "aug7", "7+": "aug7", "7aug": "aug7",
    "7(#5)": "aug7", "7sus": "7sus4", "+M7": "augMaj7", "maj7#5": "augMaj7", "7(b5)": "7b5",
    "M9": "maj9", "Δ9": "maj9", "min9": "m9", "-9": "m9", "9sus": "9sus4", "add2": "add9",
    "(add9)": "add9", "m(add9)": "madd9", "min11": "m11", "-11": "m11", "M13": "maj13",
    "min13": "m13", "-13": "m13", "7(b9)": "7b9", "7-9": "7b9", "7(#9)": "7#9", "7+9": "7#9",
    "7(#11)": "7#11", "M7#11": "maj7#11", "Δ#11": "maj7#11", "maj7(#11)": "maj7#11",
    "7(b13)": "7b13", "alt": "7alt", "alt7": "7alt", "13(b9)": "13b9", "5th": "5",
}  # fmt: skip

_SYMBOL_RE: Final = re.compile(r"([A-G][#b♯♭]?)(.*?)(?:/([A-G][#b♯♭]?))?")
NO_CHORD: Final = frozenset({"N.C.", "NC", "N.C", "n.c.", "nc"})


@dataclass(frozen=True, slots=True)
class ChordSymbol:
    """A chord symbol: ``root``, canonical ``quality`` and optional ``bass``; ``text`` as written.

    >>> c = ChordSymbol.parse("Em7b5")
    >>> c.quality, [str(d) for d in c.degrees], [n.name for n in c.notes]
    ('m7b5', ['1', 'b3', 'b5', 'b7'], ['E', 'G', 'Bb', 'D'])
    """

    root: PitchClass
    quality: str = ""
    bass: PitchClass | None = None

    def __post_init__(self) -> None:
        if self.quality not in QUALITIES:
            raise MusicError(
                f"no chord quality {self.quality!r}", accepted="See docs/chords.md for the list"
            )

    @classmethod
    def parse(cls, text: str) -> ChordSymbol:
        """Read a symbol such as ``G7``, ``Em7b5`` or ``C/E``; raises MusicError."""
        cleaned = text.strip().replace("♯", "#").replace("♭", "b")
        match = _SYMBOL_RE.fullmatch(cleaned)
        if match is not None:
            quality = match[2].strip().replace(" ", "")
            if quality not in QUALITIES:
                quality = _SPELLINGS.get(
                    quality, _SPELLINGS.get(quality.strip("()"), quality.strip("()"))
                )
            if quality in QUALITIES:
                bass = PitchClass.parse(match[3]) if match[3] else None
                return cls(PitchClass.parse(match[1]), quality, bass)
        raise MusicError(
            f"{text!r} is not a chord symbol Linewright knows",
            accepted="Write it as G, Em, A7, Cmaj7, Bm7b5, F#dim or C/E",
        )

    @property
    def degrees(self) -> tuple[Degree, ...]:
        """Degrees above the root."""
        return _degrees(self.quality)

    @property
    def notes(self) -> tuple[PitchClass, ...]:
        """Spelled chord tones from the root up (a foreign bass note not included)."""
        return _notes(self.root, self.quality)

    @property
    def numbers(self) -> frozenset[int]:
        """Pitch-class numbers of the chord tones."""
        return _numbers(self.root.number, self.quality)

    @property
    def third(self) -> str:
        """``major``, ``minor`` or ``none``: what the chord says about its third."""
        names = QUALITIES[self.quality].split()
        return "major" if "3" in names else "minor" if "b3" in names else "none"

    @property
    def is_dominant(self) -> bool:
        """A major third and a minor seventh."""
        names = QUALITIES[self.quality].split()
        return "3" in names and "b7" in names

    @property
    def text(self) -> str:
        """The symbol written canonically, as in ``Em7b5`` or ``C/E``."""
        return f"{self.root}{self.quality}" + (f"/{self.bass}" if self.bass else "")

    def __str__(self) -> str:
        return self.text


@cache
def _degrees(quality: str) -> tuple[Degree, ...]:
    return tuple(Degree.parse(d) for d in QUALITIES[quality].split())


@lru_cache(maxsize=1024)
def _notes(root: PitchClass, quality: str) -> tuple[PitchClass, ...]:
    return tuple(degree.above(root) for degree in _degrees(quality))


@lru_cache(maxsize=1024)
def _numbers(root: int, quality: str) -> frozenset[int]:
    return frozenset((root + degree.semitones) % 12 for degree in _degrees(quality))
