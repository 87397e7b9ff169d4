"""Making a practice plan from a lick, and writing it out: to read, to print, for a calendar."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from linewright.errors import OptionError, ReadError
from linewright.formats import write_bytes
from linewright.practice import (
    Plan,
    PlanSheet,
    make_plan,
    plan_to_dict,
    plan_words,
    sheet_from_dict,
    sheet_of,
    sheet_to_dict,
)
from linewright.score import Lick
from linewright.services.bring import BroughtIn, made_of
from linewright.services.calendars import plan_calendar
from linewright.services.clock import now as clock
from linewright.services.drawing import drawn
from linewright.services.paper import File, safe_name

__all__ = [
    "plan_as_json",
    "plan_file",
    "plan_for",
    "plan_handout",
    "plan_ics",
    "plan_text",
    "read_day",
    "read_plan",
    "sheet_for",
]

Progress = Callable[[int, int, str], None]


def plan_for(
    brought: BroughtIn, *, level: str = "working", length: str = "week", seed: int = 0
) -> Plan:
    """The practice plan of a lick that was brought in."""
    return make_plan(brought.analysis, level=level, length=length, seed=seed)


@lru_cache(maxsize=16)
def sheet_for(
    lick: Lick,
    tonic: str | None = None,
    *,
    level: str = "working",
    length: str = "week",
    seed: int = 0,
) -> PlanSheet:
    """The plan of a lick as it is shown and kept; the last ones are kept at hand."""
    plan = make_plan(made_of(lick, tonic), level=level, length=length, seed=seed)
    return sheet_of(plan, lick, tonic)


def plan_text(plan: Plan) -> str:
    """The plan to read, every drill and example as a tab."""
    return plan_words(plan, _tab)


def plan_as_json(plan: Plan, sheet: PlanSheet) -> dict[str, Any]:
    """The plan as JSON values to read, and under ``sheet`` all of it to be read back by
    :func:`read_plan`.
    """
    return {**plan_to_dict(plan), "sheet": sheet_to_dict(sheet)}


def read_plan(data: Any) -> PlanSheet:
    """A plan from the JSON of the plan command, or in the form the library and the JSON API give.

    Raises
    ------
    ReadError
        For anything else.
    """
    if isinstance(data, dict) and "sheet" in data:
        return sheet_from_dict(data["sheet"])
    if isinstance(data, dict) and "steps" in data and "plan" not in data:
        raise ReadError(
            "this plan was written for reading only", accepted="Make it again with the plan command"
        )
    return sheet_from_dict(data)


def _tab(lick: Lick) -> str:
    """The staves alone: title, meter and tempo stand in the plan already."""
    text = write_bytes(lick, "tab").decode()
    header, blank, staves = text.partition("\n\n")
    return staves if blank else header


def plan_file(
    sheet: PlanSheet, *, paper: str = "a4", player: str = "", progress: Progress | None = None
) -> File:
    """The plan as PDF, with the music of every step; ``player`` says whose it is, ``progress``
    is told of each piece.
    """
    size = paper.strip().lower()
    from linewright.page.plan_sheets import plan_pdf  # typst: only printing pays for it

    data = plan_pdf(sheet, paper=size, player=player, progress=progress, draw=drawn)
    return File(data, f"{safe_name(sheet.title)}-{size}.pdf", "application/pdf")


def plan_handout(
    sheet: PlanSheet,
    *,
    paper: str = "a4",
    tonic: str | None = None,
    player: str = "",
    progress: Progress | None = None,
) -> File:
    """The printed lesson of a lick with its practice plan behind it, pages counted through."""
    size = paper.strip().lower()
    from linewright.page.handout import handout_inputs
    from linewright.page.plan_sheets import plan_pdf

    analysis = made_of(sheet.lick, tonic)

    inputs = handout_inputs(analysis, paper=size, draw=drawn)
    data = plan_pdf(sheet, paper=size, player=player, handout=inputs, progress=progress, draw=drawn)
    name = f"{safe_name(sheet.lick.title)}-with-plan-{size}.pdf"
    return File(data, name, "application/pdf")


def plan_ics(sheet: PlanSheet, start: date, *, now: datetime | None = None) -> File:
    """The days of a plan as an iCalendar file that begins on ``start``."""
    data = plan_calendar(sheet, start, now or clock())
    return File(data, f"{safe_name(sheet.title)}.ics", "text/calendar; charset=utf-8")


def read_day(text: str) -> date:
    """A day written as 2026-03-02; OptionError for anything else."""
    try:
        return date.fromisoformat(text.strip())
    except ValueError as error:
        raise OptionError(
            f"{text!r:.40} is not a day", accepted="Write it as 2026-03-02: year, month, day"
        ) from error
