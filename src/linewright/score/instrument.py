"""A fretted instrument as a value: its strings and where the capo sits."""

from __future__ import annotations

from dataclasses import dataclass

from linewright.errors import MusicError
from linewright.theory import Pitch

__all__ = ["Instrument"]


@dataclass(frozen=True)
class Instrument:
    """A fretted instrument.

    Parameters
    ----------
    name : str
        As in ``guitar``, ``mandolin``, ``five-string banjo``.
    strings : tuple of Pitch
        Open pitches, string 1 first (the string nearest the floor; the thin e of a guitar),
        without capo.
    tuning : str
        The tuning's name, as in ``standard``, ``drop D``; ``custom`` for one listed by hand.
    frets : int
        Number of frets.
    capo : int
        Fret the capo stands on, 0 without one. Frets in a lick count from the capo.
    short : tuple of (int, int)
        (string, fret it starts at) for short strings, as the banjo's fifth: its open pitch is
        the pitch at that fret, and a fret number on it counts from the nut like its neighbours'.
    courses : int
        Strings sounding together per string named (2 for a mandolin).
    """

    name: str
    strings: tuple[Pitch, ...]
    tuning: str = "standard"
    frets: int = 20
    capo: int = 0
    short: tuple[tuple[int, int], ...] = ()
    courses: int = 1

    def __post_init__(self) -> None:
        if not 1 <= len(self.strings) <= 12:
            raise MusicError(
                f"an instrument with {len(self.strings)} strings", accepted="Name 1 to 12 strings"
            )
        if not 0 <= self.capo <= 12:
            raise MusicError(f"a capo at fret {self.capo}", accepted="Use a fret from 0 to 12")

    def open_midi(self, string: int) -> int:
        """MIDI number of a string played open with the capo on (a capo does not reach a short
        string).
        """
        self._known(string)
        start = dict(self.short).get(string, 0)
        return self.strings[string - 1].midi + (self.capo if not start else 0)

    def midi_at(self, string: int, fret: int) -> int:
        """MIDI number sounding at a string and fret; raises MusicError for a place that is not there."""
        self._known(string)
        if not 0 <= fret <= self.frets - self.capo:
            raise MusicError(
                f"there is no fret {fret} on a {self.name} with {self.frets} frets"
                + (f" and a capo at {self.capo}" if self.capo else ""),
                accepted=f"Use 0 to {self.frets - self.capo}",
            )
        start = dict(self.short).get(string, 0)
        if start and 0 < fret <= start - self.capo:
            raise MusicError(
                f"string {string} of the {self.name} begins at fret {start}",
                accepted="Use 0 or a fret past it",
            )
        if start and fret:
            return self.strings[string - 1].midi + self.capo + fret - start
        return self.open_midi(string) + fret

    def _known(self, string: int) -> None:
        if not 1 <= string <= len(self.strings):
            raise MusicError(
                f"there is no string {string} on a {self.name}",
                accepted=f"Use 1 to {len(self.strings)}",
            )
