"""Reading a list of open strings: ``DADGAD``, ``E A D G B E``, ``D2 A2 D3 G3 B3 E4``."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from linewright.errors import MusicError
from linewright.theory import Pitch, PitchClass

__all__ = ["listed_strings"]

_LONGEST: Final = 120
_SEPARATORS: Final = re.compile(r"[\s,;/|-]+")
_STRING: Final = re.compile(r"([A-Ga-g])(##|#|♯|bb|b|♭)?(\d)?")
#: The same where every ``b`` is the note B: ``eadgbe``.
_STRING_NO_FLAT: Final = re.compile(r"([A-Ga-g])(##|#|♯|♭)?(\d)?")


def listed_strings(text: str, standard: Sequence[Pitch] | None) -> tuple[Pitch, ...] | None:
    """Open strings listed low to high, returned string 1 first; None when it is no such list.

    ``standard`` (string 1 first) gives the number of strings and the octaves that are not
    written; with None every string must carry its octave.
    """
    if len(text) > _LONGEST:
        return None
    for pattern in (_STRING, _STRING_NO_FLAT):
        found = _split(text, pattern)
        if found is None or (standard is not None and len(found) != len(standard)):
            continue
        found.reverse()
        try:
            if standard is None:
                if 1 <= len(found) <= 12 and all(octave for _, octave in found):
                    return tuple(Pitch.parse(name + octave) for name, octave in found)
                continue
            return tuple(
                Pitch.parse(name + octave) if octave else _nearest(PitchClass.parse(name), usual)
                for (name, octave), usual in zip(found, standard, strict=True)
            )
        except MusicError:
            return None
    return None


def _split(text: str, pattern: re.Pattern[str]) -> list[tuple[str, str]] | None:
    """(note name, octave or '') for each string, or None when other text stands among them."""
    found: list[tuple[str, str]] = []
    for word in _SEPARATORS.split(text.strip()):
        at = 0
        while at < len(word):
            match = pattern.match(word, at)
            if match is None:
                return None
            found.append((match[1].upper() + (match[2] or ""), match[3] or ""))
            at = match.end()
    return found or None


def _nearest(note: PitchClass, usual: Pitch) -> Pitch:
    """The pitch of that name nearest a string's usual pitch, the lower of two equally near."""
    options = (Pitch(note.step, note.alter, usual.octave + k) for k in (-1, 0, 1))
    return min(options, key=lambda pitch: (abs(pitch.midi - usual.midi), pitch.midi))
