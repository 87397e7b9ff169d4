"""The values a practice plan is made of."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from linewright.lines import Line
from linewright.score import Lick

__all__ = ["Allowed", "Day", "Done", "Drill", "FigureRule", "Plan", "Step", "UseRule", "Work"]


@dataclass(frozen=True)
class Drill:
    """Something to play until it is easy: a title, how to play it, and the music."""

    title: str
    words: str
    lick: Lick


@dataclass(frozen=True, slots=True)
class Allowed:
    """The notes that may be played: ``degrees`` above ``tonic``.

    ``over`` is the chord they belong to, None for everywhere.
    """

    over: str | None
    tonic: str
    degrees: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FigureRule:
    """A figure (its tag and kind) that has to come at least ``times`` in so many bars."""

    tag: str
    kind: str
    times: int
    bars: int


@dataclass(frozen=True, slots=True)
class UseRule:
    """An outside note and the one way it may be used.

    ``rise_in`` and ``rise_out`` are semitones into and out of it; it has to come at least
    ``times`` in so many bars (0 when it only may come).
    """

    degree: str
    before: str
    after: str
    rise_in: int
    rise_out: int
    on_beat: bool
    over: str | None
    times: int
    bars: int


@dataclass(frozen=True)
class Done:
    """What counts as done, as values to check a take by, and as a statement.

    Parameters
    ----------
    bpm : int
        Beats a minute, in the plan's beat.
    bars : int
        Bars without a stop.
    takes : int
        How many times in a row.
    mean_ms, spread_ms : float
        Largest mean distance from the click (early or late), and largest standard deviation.
    timing_source : str
        Where these two limits come from.
    only : tuple of Allowed
        No other notes, outside notes in ``uses`` apart.
    leap : int
        Largest move in semitones.
    figures : tuple of FigureRule
    uses : tuple of UseRule
    chord_tones : float or None
        Least share of chord changes met by a tone of the new chord within half a beat; None
        where chords do not count.
    statement : str
    slips : float
        Share of the notes that may go wrong.
    alike : float
        Largest share of bars that may be the same bar.
    quoted : int
        Most notes running that may be the lick's own.
    """

    bpm: int
    bars: int
    takes: int
    mean_ms: float
    spread_ms: float
    timing_source: str
    only: tuple[Allowed, ...]
    leap: int
    figures: tuple[FigureRule, ...]
    uses: tuple[UseRule, ...]
    chord_tones: float | None
    statement: str
    slips: float = 0.02
    alike: float = 0.5
    quoted: int = 8


@dataclass(frozen=True)
class Step:
    """One grade of a plan.

    Parameters
    ----------
    number : int
        From 1.
    key : str
        ``frame``, ``neck``, ``stream``, ``figure f1``, ``outside b5``, ``chords``, ``together``
        or ``move``.
    title : str
    purpose : str
        What it is for, in one sentence.
    drills : tuple of Drill
    examples : tuple of Line
        Three lines of this step.
    tempo_ladder : tuple of int
        Beats a minute, slowest first.
    done : Done
    if_not : tuple of str
        What to do when it will not come, in sentences.
    """

    number: int
    key: str
    title: str
    purpose: str
    drills: tuple[Drill, ...]
    examples: tuple[Line, ...]
    tempo_ladder: tuple[int, ...]
    done: Done
    if_not: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Work:
    """A step on a day: for how many minutes, and the tempos to work between."""

    step: int
    minutes: int
    tempos: tuple[int, int]
    is_new: bool


@dataclass(frozen=True, slots=True)
class Day:
    """A day of the schedule, numbered from 1; a rest day has no work."""

    number: int
    work: tuple[Work, ...]
    words: str

    @property
    def is_rest(self) -> bool:
        """Whether nothing is practised."""
        return not self.work


@dataclass(frozen=True)
class Plan:
    """A graded practice plan made from one lick.

    ``beat`` is what its tempos count, in quarter notes (3/2 for a dotted quarter).
    """

    title: str
    level: str
    length: str
    seed: int
    beat: Fraction
    steps: tuple[Step, ...]
    schedule: tuple[Day, ...]
    cautions: tuple[str, ...]

    def step(self, key: str) -> Step | None:
        """The step of that key, if the plan has it."""
        return next((step for step in self.steps if step.key == key), None)
