"""What a plan calls the notes it is made of: a scale by its name, or the notes heard."""

from __future__ import annotations

from dataclasses import dataclass

from linewright.lines.heard import NOTES_HEARD
from linewright.theory import Frame

__all__ = ["Called", "called"]


@dataclass(frozen=True)
class Called:
    """Words for a frame in the sentences of a plan.

    Parameters
    ----------
    name : str
        ``G major``, or ``the notes heard`` where no plain scale is settled.
    the : str
        ``the frame``, or ``the notes heard``.
    notes : str
        ``frame notes``, or ``notes heard``.
    some : str
        The same after a number: ``frame notes``, or ``of the notes heard``.
    own : str
        Nothing else: ``the frame's notes``, or ``the notes heard``.
    one : str
        One of them: ``note of the frame``, or ``of the notes heard``, after "next" or "every other".
    each : str
        ``each degree of the frame``, or ``each of the notes heard``.
    all : str
        ``the 7 notes of G major``, or ``the 6 notes heard, G A B C D E,``.
    moved : str
        In another key, which comes after it: ``the frame of``, or ``the same notes in``.
    """

    name: str
    the: str
    notes: str
    some: str
    own: str
    one: str
    each: str
    all: str
    moved: str


def called(frame: Frame) -> Called:
    """The words for a frame.

    >>> from linewright.theory import COLLECTIONS, PitchClass
    >>> called(Frame(PitchClass("G"), COLLECTIONS["major"])).all
    'the 7 notes of G major'
    """
    count = len(frame.collection.degrees)
    if frame.collection.name == NOTES_HEARD:
        heard = "the notes heard"
        return Called(
            heard, heard, "notes heard", f"of {heard}", heard, f"of {heard}", f"each of {heard}",
            f"the {count} notes heard, {' '.join(frame.names)},", "the same notes in",
        )  # fmt: skip
    return Called(
        frame.name, "the frame", "frame notes", "frame notes", "the frame's notes", "note of the frame",
        "each degree of the frame", f"the {count} notes of {frame.name}", "the frame of",
    )  # fmt: skip
