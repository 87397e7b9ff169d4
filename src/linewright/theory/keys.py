"""Keys as a signature writer understands them: a tonic, a mode, added accidentals."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from linewright.errors import MusicError
from linewright.theory.pitch import STEPS, PitchClass

__all__ = ["Key", "MODES"]

#: Mode name -> how far its signature lies from the major signature of the same tonic, in fifths.
MODES: Final[dict[str, int]] = {
    "major": 0, "ionian": 0, "mixolydian": -1, "dorian": -2, "natural minor": -3,
    "minor": -3, "aeolian": -3, "phrygian": -4, "locrian": -5, "lydian": 1,
}  # fmt: skip
#: Spellings of each mode found in the wild; matched on their first three letters (ABC 2.1, 3.1.14).
_ABBREVIATED: Final = {
    "maj": "major", "ion": "major", "min": "minor", "aeo": "minor", "m": "minor",
    "mix": "mixolydian", "dor": "dorian", "phr": "phrygian", "lyd": "lydian", "loc": "locrian",
}  # fmt: skip
_KEY_RE: Final = re.compile(r"\s*([A-Ga-g][#b♯♭]?)\s*([A-Za-z ]*)\s*")
_SHARP_ORDER: Final = "FCGDAEB"


@dataclass(frozen=True, slots=True)
class Key:
    """A key: tonic, mode (a name in :data:`MODES`) and explicit extra accidentals.

    >>> Key.parse("Em").fifths, Key.parse("D mixolydian").fifths
    (1, 1)
    """

    tonic: PitchClass
    mode: str = "major"
    added: tuple[PitchClass, ...] = ()

    def __post_init__(self) -> None:
        if self.mode not in MODES:
            raise MusicError(f"no mode {self.mode!r}", accepted=f"Use one of {', '.join(MODES)}")
        if not -7 <= self.fifths <= 7:
            raise MusicError(
                f"{self.tonic} {self.mode} needs more than seven sharps or flats",
                accepted="Write the key with its plainer name",
            )

    @classmethod
    def parse(cls, text: str) -> Key:
        """Read ``G``, ``Em``, ``A dorian``, ``Bb minor``; raises MusicError."""
        match = _KEY_RE.fullmatch(text)
        word = match[2].strip() if match else ""
        if match is None or (word and word != "M" and cls._mode(word) is None):
            raise MusicError(
                f"{text!r} is not a key", accepted="Write it as G, Em, A dorian or Bb major"
            )
        tonic = PitchClass.parse(match[1])
        return cls(tonic, "major" if word in ("", "M") else cls._mode(word) or "major")

    @staticmethod
    def _mode(word: str) -> str | None:
        lowered = word.lower()
        if lowered in MODES:
            return {"ionian": "major", "aeolian": "minor", "natural minor": "minor"}.get(
                lowered, lowered
            )
        return _ABBREVIATED.get(lowered if lowered == "m" else lowered[:3])

    @property
    def fifths(self) -> int:
        """Sharps (positive) or flats (negative) in the signature, added accidentals apart."""
        return self.tonic.fifths + MODES[self.mode]

    def alter(self, step: str) -> int:
        """What the signature does to a letter, in semitones."""
        for note in self.added:
            if note.step == step:
                return note.alter
        place = _SHARP_ORDER.index(step)
        if self.fifths > 0:
            return 1 if place < self.fifths else 0
        return -1 if 6 - place < -self.fifths else 0

    @property
    def signature(self) -> dict[str, int]:
        """Letter -> alteration, for the letters the signature changes."""
        return {step: self.alter(step) for step in STEPS if self.alter(step)}

    @property
    def name(self) -> str:
        """As in ``A dorian``; added accidentals follow."""
        extra = "".join(f" {n.name}" for n in self.added)
        return f"{self.tonic} {self.mode}{extra}"

    def __str__(self) -> str:
        return self.name
