"""Scale degrees against the major scale: ``1``, ``b3``, ``#4``, ``b7``.

The usual way players name notes: the number counts letters up from the tonic, the
sign tells how far the note lies from the major scale's note of that number.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from linewright.errors import MusicError
from linewright.theory.pitch import STEPS, Interval, PitchClass

__all__ = ["Degree", "degree_of"]

#: Semitones of the major scale's degrees above its tonic.
_MAJOR: Final = (0, 2, 4, 5, 7, 9, 11)
_SIGN: Final = {-3: "bbb", -2: "bb", -1: "b", 0: "", 1: "#", 2: "##", 3: "###"}
_DEGREE_RE: Final = re.compile(r"(b{0,3}|#{0,3}|♭|♯)(\d{1,2})")


@dataclass(frozen=True, slots=True)
class Degree:
    """A scale degree: ``number`` (1 to 7; chord tensions may go to 13) and ``alter``.

    >>> str(Degree.parse("b7")), Degree.parse("b7").semitones
    ('b7', 10)
    """

    number: int
    alter: int = 0

    def __post_init__(self) -> None:
        if not (1 <= self.number <= 13 and -3 <= self.alter <= 3):
            signs = ("b" if self.alter < 0 else "#") * min(abs(self.alter), 9)
            raise MusicError(
                f"there is no degree {signs}{self.number}",
                accepted="Use 1 to 13, with up to three flats or sharps, as in b3",
            )

    @classmethod
    def parse(cls, text: str) -> Degree:
        """Read ``b3``, ``#4``, ``5``; raises MusicError."""
        match = _DEGREE_RE.fullmatch(text.strip())
        if match is None:
            raise MusicError(f"{text!r} is not a degree", accepted="Write it as 1, b3, #4 or b7")
        sign = match[1].replace("♭", "b").replace("♯", "#")
        return cls(int(match[2]), len(sign) * (-1 if sign.startswith("b") else 1))

    @property
    def semitones(self) -> int:
        """Semitones above the tonic, 0 to 11 (tensions folded into the octave)."""
        return (_MAJOR[(self.number - 1) % 7] + self.alter) % 12

    @property
    def interval(self) -> Interval:
        """The rising interval from the tonic to this degree."""
        octaves, index = divmod(self.number - 1, 7)
        return Interval(self.number - 1, 12 * octaves + _MAJOR[index] + self.alter)

    @property
    def name(self) -> str:
        """The player's name, as in ``b3``."""
        return f"{_SIGN[self.alter]}{self.number}"

    def __str__(self) -> str:
        return self.name

    def above(self, tonic: PitchClass) -> PitchClass:
        """The spelled pitch class of this degree above ``tonic``."""
        return _above(self.number, self.alter, tonic.step, tonic.alter)


@lru_cache(maxsize=4096)
def _above(number: int, alter: int, step: str, tonic_alter: int) -> PitchClass:
    return PitchClass(step, tonic_alter).transpose(Degree(number, alter).interval)


def degree_of(note: PitchClass, tonic: PitchClass) -> Degree:
    """The degree of a spelled note against a spelled tonic.

    >>> degree_of(PitchClass("D", -1), PitchClass("G")).name
    'b5'
    """
    number = (STEPS.index(note.step) - STEPS.index(tonic.step)) % 7 + 1
    alter = (note.number - tonic.number - _MAJOR[number - 1] + 6) % 12 - 6
    if not -3 <= alter <= 3:  # a spelling far off the tonic's side of the circle
        for candidate in ((number % 7) + 1, ((number - 2) % 7) + 1):
            other = (note.number - tonic.number - _MAJOR[candidate - 1] + 6) % 12 - 6
            if -3 <= other <= 3:
                return Degree(candidate, other)
    return Degree(number, alter)
