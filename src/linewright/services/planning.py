"""Making a practice plan from a lick, and writing it out with its music."""

from __future__ import annotations

from linewright.formats import write_bytes
from linewright.practice import Plan, make_plan, plan_words
from linewright.score import Lick
from linewright.services.bring import BroughtIn

__all__ = ["plan_for", "plan_text"]


def plan_for(
    brought: BroughtIn, *, level: str = "working", length: str = "week", seed: int = 0
) -> Plan:
    """The practice plan of a lick that was brought in."""
    return make_plan(brought.analysis, level=level, length=length, seed=seed)


def plan_text(plan: Plan) -> str:
    """The plan to read, every drill and example as a tab."""
    return plan_words(plan, _tab)


def _tab(lick: Lick) -> str:
    """The staves alone: title, meter and tempo stand in the plan already."""
    text = write_bytes(lick, "tab").decode()
    header, blank, staves = text.partition("\n\n")
    return staves if blank else header
