"""Practice: the graded plan that gets a player from a lick to improvising with what it is made of.

:func:`make_plan` makes a :class:`Plan` from an analysis; every step has drills made for this
lick, three lines of its own, a ladder of tempos, and :class:`Done`, the rules that say when it is
done, as values. :class:`Progress` tells which step may be begun. See docs/plan.md.
"""

from linewright.practice.as_json import plan_to_dict
from linewright.practice.levels import LENGTHS, LEVELS, Level
from linewright.practice.make import make_plan
from linewright.practice.model import (
    Allowed,
    Day,
    Done,
    Drill,
    FigureRule,
    Plan,
    Step,
    UseRule,
    Work,
)
from linewright.practice.progress import Mark, Progress
from linewright.practice.sheet import Piece, PlanSheet, StepSheet, sheet_of
from linewright.practice.sheet_json import done_from_dict, sheet_from_dict, sheet_to_dict
from linewright.practice.statement import beat_name, done_rules
from linewright.practice.words import plan_words

__all__ = [
    "LENGTHS",
    "LEVELS",
    "Allowed",
    "Day",
    "Done",
    "Drill",
    "FigureRule",
    "Level",
    "Mark",
    "Piece",
    "Plan",
    "PlanSheet",
    "Progress",
    "Step",
    "StepSheet",
    "UseRule",
    "Work",
    "beat_name",
    "done_from_dict",
    "done_rules",
    "make_plan",
    "plan_to_dict",
    "plan_words",
    "sheet_from_dict",
    "sheet_of",
    "sheet_to_dict",
]
