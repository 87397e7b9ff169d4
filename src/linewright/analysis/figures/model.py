"""Figure: what recurs in a lick, exactly (tight) and as the idea a player would keep (loose)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

__all__ = ["Figure", "Kind", "Loose", "Tight", "View"]

Kind = Literal[
    "sequence",
    "repetition",
    "alternation",
    "scale run",
    "arpeggio run",
    "chromatic run",
    "pedal",
]
View = Literal["frame steps", "semitones", "letters"]


@dataclass(frozen=True, slots=True)
class Tight:
    """A figure exactly as it stands.

    Parameters
    ----------
    words : str
        One sentence, without a full stop.
    degrees : tuple of str
        The first occurrence's notes: degrees against the frame's tonic, or note names.
    moves : tuple of float
        From note to note inside the cell, in the figure's viewpoint (half steps of the frame
        reach a note between two frame notes).
    shifts : tuple of float
        How far each later occurrence lies from the one before it.
    changes : tuple of str
        For each later occurrence what differs from the first, '' for nothing.
    hand : str
        What strings and marks do, '' when nothing recurs there or nothing is known.
    """

    words: str
    degrees: tuple[str, ...]
    moves: tuple[float, ...]
    shifts: tuple[float, ...] = ()
    changes: tuple[str, ...] = ()
    hand: str = ""

    def to_dict(self) -> dict[str, Any]:
        """As JSON values."""
        return {
            "words": self.words,
            "degrees": list(self.degrees),
            "moves": [_number(m) for m in self.moves],
            "shifts": [_number(s) for s in self.shifts],
            "changes": list(self.changes),
            "hand": self.hand,
        }


@dataclass(frozen=True, slots=True)
class Loose:
    """The idea of a figure as parameters that a new line may vary.

    Parameters
    ----------
    words : str
        One sentence, without a full stop.
    contour : tuple of float
        Height of each note of the cell above its first, in steps.
    tolerance : int
        How many steps any inner note may stray from the contour and still be the idea.
    shift : tuple of (int, int)
        Least and most steps from one occurrence to the next; negative falls.
    times : tuple of (int, int)
        Fewest and most occurrences (for a run: 1).
    length : tuple of (int, int)
        Fewest and most notes in the cell.
    rhythm : str
        ``kept`` when every occurrence keeps the cell's rhythm, else ``free``.
    free_notes : tuple of int
        Places in the cell (from 0) that change from one occurrence to the next.
    """

    words: str
    contour: tuple[float, ...]
    tolerance: int
    shift: tuple[int, int]
    times: tuple[int, int]
    length: tuple[int, int]
    rhythm: Literal["kept", "free"]
    free_notes: tuple[int, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """As JSON values."""
        return {
            "words": self.words,
            "contour": [_number(c) for c in self.contour],
            "tolerance": self.tolerance,
            "shift": list(self.shift),
            "times": list(self.times),
            "length": list(self.length),
            "rhythm": self.rhythm,
            "free_notes": list(self.free_notes),
        }


@dataclass(frozen=True, slots=True)
class Figure:
    """Something that recurs in a lick.

    Parameters
    ----------
    kind : str
        ``sequence``, ``repetition``, ``alternation``, ``scale run``, ``arpeggio run``,
        ``chromatic run`` or ``pedal``. A varied repetition is a repetition that is not exact.
    cell : int
        Notes in the cell; for a run all its notes.
    shift : int or None
        Frame steps from one occurrence to the next, 0 for a repetition; None where it differs
        from time to time or does not apply.
    exact : bool
        Whether every occurrence has the cell's pitches (moved) and inner rhythm.
    occurrences : tuple of (int, int)
        First and last note of each, as indexes of the lick's notes. An alternation that stops
        half way ends with an occurrence of one note.
    covers : int
        Notes of the melody that belong to the figure.
    view : str
        What recurs: ``frame steps``, ``semitones`` or ``letters``.
    saving : float
        Bits this explanation saves against coding the notes one by one.
    tight : Tight
    loose : Loose
    """

    kind: Kind
    cell: int
    shift: int | None
    exact: bool
    occurrences: tuple[tuple[int, int], ...]
    covers: int
    view: View
    saving: float
    tight: Tight
    loose: Loose

    @property
    def name(self) -> str:
        """The kind in a player's words: ``varied repetition`` for one that is not exact."""
        return f"varied {self.kind}" if not self.exact else self.kind

    @property
    def is_run(self) -> bool:
        """Whether this is a run rather than a cell that comes again."""
        return self.kind.endswith(" run")

    def holds(self, index: int) -> bool:
        """Whether a note of the lick lies in one of the occurrences."""
        return any(first <= index <= last for first, last in self.occurrences)

    def to_dict(self) -> dict[str, Any]:
        """As JSON values."""
        return {
            "kind": self.kind,
            "cell": self.cell,
            "shift": self.shift,
            "exact": self.exact,
            "occurrences": [list(span) for span in self.occurrences],
            "covers": self.covers,
            "view": self.view,
            "tight": self.tight.to_dict(),
            "loose": self.loose.to_dict(),
        }


def _number(value: float) -> int | float:
    return int(value) if value == int(value) else value
