"""A lick that no plain scale or arpeggio fits: lines from the notes it plays.

The six notes 1 2 3 4 5 6 may be major or mixolydian; the analysis says so and names neither. A line
needs no name: it keeps to the degrees that were heard, on the tonic of the analysis.
"""

from __future__ import annotations

from typing import Final

from linewright.analysis import Analysis
from linewright.errors import OptionError
from linewright.theory import Collection, Degree, Frame

__all__ = ["MOST_HEARD", "NOTES_HEARD", "degrees_heard", "makes_lines", "with_notes_heard"]

#: What stands where a scale's name would.
NOTES_HEARD: Final = "notes heard"
#: As many different notes as a plain scale has.
MOST_HEARD: Final = 7


def degrees_heard(analysis: Analysis) -> tuple[Degree, ...]:
    """The degrees the lick plays, rising from the tonic; of two names of one, the first heard."""
    heard: dict[int, Degree] = {}
    for note in analysis.notes:
        heard.setdefault(note.degree.semitones, note.degree)
    return tuple(heard[above] for above in sorted(heard))


def makes_lines(analysis: Analysis) -> bool:
    """Whether lines can be made from it: it has a frame, or plays no more notes than one has."""
    return analysis.frame is not None or len(degrees_heard(analysis)) <= MOST_HEARD


def with_notes_heard(analysis: Analysis) -> Analysis:
    """The analysis itself where it has a frame, else with the notes heard for one.

    Figures stay as they were found, so that ``f1`` is the same figure in both.

    Raises
    ------
    OptionError
        When it plays more notes than a scale has: such a set of notes would hold a line to nothing.
    """
    if analysis.frame is not None or not analysis.notes:
        return analysis
    heard = degrees_heard(analysis)
    if not makes_lines(analysis):
        raise OptionError(
            f"{analysis.lick.title} hangs on no plain scale or arpeggio and plays {len(heard)} different"
            " notes, so no line can be made from it",
            accepted=f"Choose a lick with a frame, or of at most {MOST_HEARD} notes, or name its tonic",
        )
    return analysis.with_frame(Frame(analysis.tonic, Collection(NOTES_HEARD, heard, "heard")))
