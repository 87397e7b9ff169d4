"""A plan as it is shown and kept: every piece of music with what is said of its notes.

A :class:`Plan` knows how its lines were made; a :class:`PlanSheet` only what a player reads and
plays. It can be written down and read back whole (see :mod:`linewright.practice.sheet_json`), so
that a plan someone works from stays as it was given, whatever becomes of the lick.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from linewright.lines import Line
from linewright.practice.model import Day, Done, Drill, Plan, Step
from linewright.practice.statement import done_rules
from linewright.score import Lick
from linewright.theory import Degree, PitchClass

__all__ = ["Piece", "PlanSheet", "StepSheet", "sheet_of"]


@dataclass(frozen=True)
class Piece:
    """A drill or an example line.

    Parameters
    ----------
    title, words : str
        ``words`` say how to play it; empty for an example.
    lick : Lick
    outside : tuple of (int, str)
        Index and degree of each note outside the frame.
    reasons : tuple of str
        Why each note is there; empty for a drill.
    """

    title: str
    words: str
    lick: Lick
    outside: tuple[tuple[int, str], ...] = ()
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True)
class StepSheet:
    """One step, as a player works through it; fields as in :class:`Step`."""

    number: int
    key: str
    title: str
    purpose: str
    drills: tuple[Piece, ...]
    examples: tuple[Piece, ...]
    tempo_ladder: tuple[int, ...]
    done: Done
    rules: tuple[str, ...]
    if_not: tuple[str, ...]

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """Drills, then example lines."""
        return (*self.drills, *self.examples)


@dataclass(frozen=True)
class PlanSheet:
    """A plan with the lick it was made from; fields as in :class:`Plan`.

    ``tonic`` is the one the lick was to be read against, None when its own key and notes said.
    """

    title: str
    level: str
    length: str
    seed: int
    beat: Fraction
    lick: Lick
    steps: tuple[StepSheet, ...]
    schedule: tuple[Day, ...]
    cautions: tuple[str, ...]
    tonic: str | None = None

    @property
    def pieces(self) -> int:
        """How many drills and example lines it has."""
        return sum(len(step.pieces) for step in self.steps)


def sheet_of(plan: Plan, lick: Lick, tonic: str | None = None) -> PlanSheet:
    """The sheet of a plan that was made from ``lick``, read against ``tonic`` where one was given."""
    return PlanSheet(
        plan.title,
        plan.level,
        plan.length,
        plan.seed,
        plan.beat,
        lick,
        tuple(_step(step, plan.beat) for step in plan.steps),
        plan.schedule,
        plan.cautions,
        tonic,
    )


def _step(step: Step, beat: Fraction) -> StepSheet:
    return StepSheet(
        step.number,
        step.key,
        step.title,
        step.purpose,
        tuple(_drill(drill, step) for drill in step.drills),
        tuple(_example(line, number) for number, line in enumerate(step.examples, 1)),
        step.tempo_ladder,
        step.done,
        done_rules(step.done, beat),
        step.if_not,
    )


def _example(line: Line, number: int) -> Piece:
    outside = tuple(
        (index, note.degree) for index, note in enumerate(line.notes) if note.role == "outside"
    )
    reasons = tuple(note.why for note in line.notes)
    return Piece(f"Line {number}", "", line.lick, outside, reasons)


def _drill(drill: Drill, step: Step) -> Piece:
    """With the notes marked that are the step's outside note (moved drills have other tonics)."""
    _, _, name = step.key.partition("outside ")
    if not name:
        return Piece(drill.title, drill.words, drill.lick)
    tonic = PitchClass.parse(step.done.only[0].tonic)
    number = (tonic.number + Degree.parse(name).semitones) % 12
    outside = tuple(
        (index, name) for index, note in enumerate(drill.lick.notes) if note.midi % 12 == number
    )
    return Piece(drill.title, drill.words, drill.lick, outside)
