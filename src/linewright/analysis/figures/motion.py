"""How a line moves, in numbers and a few words."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from linewright.analysis.figures.views import views_of
from linewright.analysis.prose import counted, join_words
from linewright.score import Lick, Note
from linewright.theory import Frame, degree_of

__all__ = ["Motion", "motion"]


@dataclass(frozen=True, slots=True)
class Motion:
    """How the melody of a lick moves.

    Parameters
    ----------
    steps, skips, repeats, leaps : Fraction
        Shares of the moves from note to note; they add up to 1 (all 0 with fewer than two
        notes). A step goes to the next note of the frame (or to or from a note between), a
        skip passes over one or two frame notes, a leap over more; without a frame letters of
        the staff are counted.
    longest_up, longest_down : int
        Moves in the longest unbroken climb and fall.
    range : int
        Semitones from the lowest to the highest note.
    first, last : str or None
        Degree of the first and last note (its name without a frame).
    last_bar : str
        What the last sounding bar does, in words.
    """

    steps: Fraction
    skips: Fraction
    repeats: Fraction
    leaps: Fraction
    longest_up: int
    longest_down: int
    range: int
    first: str | None
    last: str | None
    last_bar: str

    def to_dict(self) -> dict[str, Any]:
        """As JSON values; shares as decimals."""
        return {
            "steps": round(float(self.steps), 3),
            "skips": round(float(self.skips), 3),
            "repeats": round(float(self.repeats), 3),
            "leaps": round(float(self.leaps), 3),
            "longest_up": self.longest_up,
            "longest_down": self.longest_down,
            "range": self.range,
            "first": self.first,
            "last": self.last,
            "last_bar": self.last_bar,
        }


def motion(lick: Lick, frame: Frame | None) -> Motion:
    """How the melody of ``lick`` moves against ``frame``."""
    views = views_of(lick, frame)
    heights = views.semitones
    sizes = [
        0 if heights[k] == heights[k + 1] else max(1, abs(views.steps[k + 1] - views.steps[k]))
        for k in range(len(heights) - 1)
    ]
    counts = {
        "repeats": sum(size == 0 for size in sizes),
        "steps": sum(1 <= size <= 2 for size in sizes),
        "skips": sum(3 <= size <= 6 for size in sizes),
        "leaps": sum(size > 6 for size in sizes),
    }
    total = max(1, len(sizes))
    notes = [lick.notes[index] for index in lick.melody]
    return Motion(
        **{name: Fraction(number, total) for name, number in counts.items()},
        longest_up=_longest(heights, 1),
        longest_down=_longest(heights, -1),
        range=max(heights) - min(heights) if heights else 0,
        first=_degree(notes[0], frame) if notes else None,
        last=_degree(notes[-1], frame) if notes else None,
        last_bar=_last_bar(lick, notes, frame),
    )


def _longest(heights: Sequence[int], way: int) -> int:
    longest = run = 0
    for low, high in itertools.pairwise(heights):
        run = run + 1 if (high - low) * way > 0 else 0
        longest = max(longest, run)
    return longest


def _degree(note: Note, frame: Frame | None) -> str:
    if frame is None:
        return note.pitch.pitch_class.name
    own = frame.degree(note.pitch.pitch_class.number)
    return str(own or degree_of(note.pitch.pitch_class, frame.tonic))


def _last_bar(lick: Lick, notes: Sequence[Note], frame: Frame | None) -> str:
    if not notes:
        return "no notes"
    bar = lick.bar_at(notes[-1].onset)
    inside = [note for note in notes if note.onset >= bar.onset]
    end = _degree(notes[-1], frame)
    what = end if frame is None else f"the {end}" if end != "1" else "the tonic"
    held = notes[-1].duration
    if len(inside) == 1:
        verb = "holds" if held * 2 >= bar.duration else "ends on"
        return f"{verb} {what}" + (" all bar" if held >= bar.duration else "")
    heights = [note.midi for note in inside]
    change = heights[-1] - heights[0]
    ups = any(b > a for a, b in itertools.pairwise(heights))
    downs = any(b < a for a, b in itertools.pairwise(heights))
    if not ups and not downs:
        moves = "stays on one note"
    elif ups and downs:
        way = "higher than" if change > 0 else "lower than" if change < 0 else "where"
        moves = f"winds through {counted(len(inside), 'note')}"
        what += f", {way} it began"
    else:
        moves = f"{'climbs' if ups else 'falls'} through {counted(len(inside), 'note')}"
    parts = [moves, f"ends on {what}"]
    if held >= 2 * max(note.duration for note in inside[:-1]):
        parts[-1] += ", held"
    return join_words(parts)
