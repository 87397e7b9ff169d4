"""Line: a lick the tool made, with the reason for every note."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Literal

from linewright.lines.progression import Progression
from linewright.lines.request import LineRequest
from linewright.lines.usage import OutsideUse
from linewright.score import Lick, note_outline, outline

__all__ = ["Line", "LineNote", "Role"]

Role = Literal["frame", "figure", "outside"]


@dataclass(frozen=True, slots=True)
class LineNote:
    """Why one note of a line is there.

    Parameters
    ----------
    role : str
        ``frame``, ``figure`` or ``outside`` (also for an outside note inside a figure).
    why : str
        One sentence, without a full stop.
    degree : str
        Against the frame's tonic at that moment.
    figure : str or None
        The figure's tag (``f2``) when the note belongs to one.
    cell : int or None
        Which cell of the figure, from 1.
    use : OutsideUse or None
        The learned usage of an outside note.
    pinned : bool
        Kept to the note by the request.
    """

    role: Role
    why: str
    degree: str
    figure: str | None = None
    cell: int | None = None
    use: OutsideUse | None = None
    pinned: bool = False


@dataclass(frozen=True)
class Line:
    """A made line.

    Parameters
    ----------
    lick : Lick
    notes : tuple of LineNote
        One for each note of ``lick``.
    asked, got : mapping of str to float
        Shares of the notes that were free to choose, by element.
    request : LineRequest
    progression : Progression
    """

    lick: Lick
    notes: tuple[LineNote, ...]
    asked: Mapping[str, float]
    got: Mapping[str, float]
    request: LineRequest
    progression: Progression

    @property
    def seed(self) -> int:
        """The seed that makes this line again."""
        return self.request.seed

    @property
    def mix(self) -> dict[str, dict[str, float]]:
        """Asked and got shares, rounded to a tenth of a percent."""
        return {
            "asked": {name: round(share, 3) for name, share in self.asked.items()},
            "got": {name: round(share, 3) for name, share in self.got.items()},
        }

    def to_dict(self) -> dict[str, Any]:
        """The line as JSON values: a lick whose notes carry ``role`` and ``why``, with ``mix``,
        ``seed`` and ``progression``; keys in docs/lines.md.
        """
        lick = self.lick
        return {
            **outline(lick),
            "notes": [self._note(index) for index in range(len(self.notes))],
            "mix": self.mix,
            "seed": self.seed,
            "progression": self.progression.to_dict(),
            "request": self.request.to_dict(),
        }

    def _note(self, index: int) -> dict[str, Any]:
        note, reason = self.lick.notes[index], self.notes[index]
        chord = self.lick.chord_at(note.onset)
        return {
            **note_outline(self.lick, index),
            "degree": reason.degree,
            "chord": chord.text if chord else None,
            "outside": reason.role == "outside",
            "role": reason.role,
            "figure": reason.figure,
            "cell": reason.cell,
            "pinned": reason.pinned,
            "why": reason.why,
        }

    def bar(self, number: int) -> Lick:
        """One bar of the line as a lick."""
        return self.lick.slice(number, number)

    @property
    def length(self) -> Fraction:
        """In quarter notes."""
        return self.lick.length
