"""Playing marks: one table for every reader, writer, checker and page.

A mark sits on the note it leads to or colours. ``hammer-on``, ``pull-off`` and ``slide``
sit on the note that is *reached*, since that is the note without a new pluck; they join it
to the note before. ``bend`` carries the semitones pushed: the note's pitch is the pitch
that is reached, its fret the fret that is held.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from linewright.errors import MusicError

__all__ = ["MARKS", "Mark", "MarkKind"]


@dataclass(frozen=True, slots=True)
class MarkKind:
    """A kind of mark: its ``name``, whether it ``joins`` the note to the one before it on the
    same string, its sign in a text tab ('' when tabs have none) and a few words for a legend.
    """

    name: str
    joins: bool
    sign: str
    legend: str


_KINDS: Final = (
    MarkKind("hammer-on", True, "h", "hammer on from the note before"),
    MarkKind("pull-off", True, "p", "pull off from the note before"),
    MarkKind("slide", True, "/", "slide from the note before"),
    MarkKind("release", True, "r", "let the bend down to this note"),
    MarkKind("slide in", False, "/", "slide in from below or above"),
    MarkKind("slide out", False, "\\", "slide away"),
    MarkKind("bend", False, "b", "bend up to this note"),
    MarkKind("vibrato", False, "~", "vibrato"),
    MarkKind("dead", False, "x", "dead note, no clear pitch"),
    MarkKind("ghost", False, "()", "played softly, half heard"),
    MarkKind("harmonic", False, "<>", "natural harmonic"),
    MarkKind("palm mute", False, "", "palm on the strings"),
    MarkKind("let ring", False, "", "let the string ring"),
    MarkKind("accent", False, ">", "accented"),
    MarkKind("staccato", False, ".", "short"),
    MarkKind("down", False, "", "downstroke"),
    MarkKind("up", False, "", "upstroke"),
)

#: Mark kind by name.
MARKS: Final[dict[str, MarkKind]] = {kind.name: kind for kind in _KINDS}


@dataclass(frozen=True, slots=True, order=True)
class Mark:
    """A mark on a note: a ``name`` in :data:`MARKS` and, for a bend, ``semitones`` pushed.

    For ``slide in`` and ``slide out`` the sign of ``semitones`` tells the side: -1 from (or to)
    below, +1 from (or to) above.
    """

    name: str
    semitones: Fraction = Fraction(0)

    def __post_init__(self) -> None:
        if self.name not in MARKS:
            raise MusicError(
                f"no playing mark {self.name!r}", accepted=f"Use one of {', '.join(MARKS)}"
            )

    @property
    def kind(self) -> MarkKind:
        """The table row."""
        return MARKS[self.name]

    def __str__(self) -> str:
        return f"{self.name} {self.semitones}" if self.semitones else self.name
