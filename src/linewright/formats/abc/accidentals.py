"""From a written note to the pitch that sounds.

Accidentals hold to the end of the bar for the same letter in every octave, the standard's
default (ABC 2.1, 11.3) and what abc2midi plays; ``%%propagate-accidentals`` changes it. A tie
carries an accidental over the bar line to the note it leads to, and no further.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache
from typing import Final

from linewright.theory import Pitch

__all__ = ["Pitches"]

_ALTER: Final = {"^": 1, "^^": 2, "_": -1, "__": -2, "=": 0}


@lru_cache(maxsize=1024)
def _pitch(step: str, alter: int, octave: int) -> Pitch:
    return Pitch(step, alter, octave)


class Pitches:
    """The signature, the accidentals of the bar and the octave shift in force.

    Parameters
    ----------
    alters : dict
        Letter -> alteration the signature makes.
    octaves : int
        Octaves that what is written is moved by.
    propagate : str
        How far an accidental holds: ``pitch`` (every octave), ``octave`` or ``not``.
    """

    def __init__(self, alters: dict[str, int], octaves: int, propagate: str) -> None:
        self.alters = alters
        self.octaves = octaves
        self.tied: dict[tuple[str, int], int] = {}
        self._propagate = propagate
        self._bar: dict[object, int] = {}

    def sounding(self, match: re.Match[str]) -> Pitch:
        """The pitch of a note sign (groups ``acc``, ``step``, ``oct``); raises MusicError."""
        sign, letter, marks = match["acc"], match["step"], match["oct"]
        step = letter.upper()
        octave = (4 if letter == step else 5) + self.octaves
        if marks:
            octave += marks.count("'") - marks.count(",")
        held: object = step if self._propagate == "pitch" else (step, octave)
        if sign:
            alter = _ALTER[sign]
            if self._propagate != "not":
                self._bar[held] = alter
        elif (step, octave) in self.tied:
            alter = self.tied[step, octave]
        else:
            alter = self._bar.get(held, self.alters.get(step, 0))
        return _pitch(step, alter, octave)

    def carry(self, pitches: Iterable[Pitch]) -> None:
        """Remember the accidentals of notes that a tie leaves."""
        self.tied = {(pitch.step, pitch.octave): pitch.alter for pitch in pitches}

    def new_bar(self) -> None:
        """Forget the accidentals of the bar."""
        self._bar = {}
