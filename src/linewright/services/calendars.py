"""The days of a plan as iCalendar (RFC 5545), for whatever calendar the player keeps."""

from __future__ import annotations

import uuid
from datetime import UTC, date, datetime, timedelta

from linewright.errors import OptionError
from linewright.page.signs import musical, printable
from linewright.practice import Day, PlanSheet, beat_name

__all__ = ["plan_calendar"]

_NAMESPACE = uuid.UUID("0c1d3b0e-52c9-4e0c-9d66-8f5b1f0f7f2b")


def plan_calendar(sheet: PlanSheet, start: date, stamp: datetime, identity: str = "") -> bytes:
    """One whole-day event for each day of the plan's schedule.

    Parameters
    ----------
    sheet : PlanSheet
    start : date
        The plan's first day.
    stamp : datetime
        When this is written, with its zone.
    identity : str
        What tells this plan from others; by default lick, level, length and seed. The same plan
        taken in again from another day moves its events instead of doubling them.

    Raises
    ------
    OptionError
        When the plan would run past the year 9999.
    """
    from icalendar import Calendar, Event  # here since only this pays for it

    try:
        start + timedelta(days=len(sheet.schedule) + 1)
    except OverflowError as error:
        raise OptionError(
            f"a plan that begins on {start} would run past the year 9999",
            accepted="Begin it earlier",
        ) from error
    name = identity or "|".join(
        (sheet.lick.title, str(_notes_of(sheet)), sheet.level, sheet.length, str(sheet.seed))
    )
    calendar = Calendar()
    calendar.add("prodid", "-//Linewright//Practice plan//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    for day in sheet.schedule:
        on = start + timedelta(days=day.number - 1)
        event = Event()
        event.add("uid", f"{uuid.uuid5(_NAMESPACE, f'{name}|{day.number}')}@linewright")
        event.add("dtstamp", stamp.astimezone(UTC).replace(microsecond=0))
        # Readers take an event again when its sequence has grown (RFC 5545, 3.8.7.4).
        event.add("sequence", int(stamp.timestamp()) // 60)
        event.add("dtstart", on)
        event.add("dtend", on + timedelta(days=1))
        event.add("transp", "TRANSPARENT")
        event.add("categories", ["practice"])
        event.add("summary", _summary(sheet, day))
        event.add("description", _description(sheet, day))
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def _notes_of(sheet: PlanSheet) -> uuid.UUID:
    """What tells apart two licks of one title: their notes."""
    notes = ";".join(f"{note.onset}/{note.duration}/{note.midi}" for note in sheet.lick.notes)
    return uuid.uuid5(_NAMESPACE, notes)


def _summary(sheet: PlanSheet, day: Day) -> str:
    title = printable(sheet.lick.title).strip() or "Untitled"
    if day.is_rest:
        return f"{title}: rest"
    numbers = " and ".join(str(work.step) for work in day.work if work.is_new)
    if numbers:
        return f"{title}: begin step {numbers}"
    return f"{title}: day {day.number}"


def _description(sheet: PlanSheet, day: Day) -> str:
    lines = [day.words]
    beat = beat_name(sheet.beat)
    for work in day.work:
        step = sheet.steps[work.step - 1]
        low, high = work.tempos
        lines.append(
            f"Step {step.number}, {printable(step.title)}: {work.minutes} min, {low} to {high}"
            f" {beat} a minute"
        )
    if day.work:
        lines += ["", *sheet.cautions]
    return musical("\n".join(lines))
