"""The plan's days as iCalendar, read back with another reader and held against RFC 5545."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from icalendar import Calendar

from linewright.errors import OptionError
from linewright.practice import LENGTHS
from linewright.services.bring import bring_in
from linewright.services.planning import plan_ics, read_day, sheet_for
from samples import PORCH

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
START = date(2026, 3, 2)


def sheet(length="week", title="Porch step"):
    return sheet_for(bring_in(PORCH.replace("Porch step", title).encode()).lick, length=length)


@pytest.mark.parametrize("length", LENGTHS)
def test_a_reader_finds_a_whole_day_for_each_day(length):
    made = sheet(length)
    read = Calendar.from_ical(plan_ics(made, START, now=NOON).data)
    assert read["version"] == "2.0"
    assert read["prodid"]
    events = read.walk("VEVENT")
    assert [e["dtstart"].dt for e in events] == [
        START + timedelta(days=n) for n in range(LENGTHS[length])
    ]
    assert all(e["dtend"].dt - e["dtstart"].dt == timedelta(days=1) for e in events)
    for event, day in zip(events, made.schedule, strict=True):
        assert str(event["description"]).startswith(day.words)
        assert ("rest" in str(event["summary"])) == day.is_rest
        for work in day.work:
            assert (
                f"{work.minutes} min, {work.tempos[0]} to {work.tempos[1]}" in event["description"]
            )


def test_lines_end_and_fold_as_the_standard_says():
    data = plan_ics(sheet(title="Ö" * 80), START, now=NOON).data
    # RFC 5545, 3.1: lines end in CRLF and are at most 75 octets, the break left out.
    assert data.endswith(b"END:VCALENDAR\r\n")
    assert b"\n" not in data.replace(b"\r\n", b"")
    assert b"\r" not in data.replace(b"\r\n", b"")
    lines = data.split(b"\r\n")
    assert max(map(len, lines)) <= 75
    assert any(line.startswith(b" ") for line in lines)
    for line in lines:
        line.decode()  # no character is cut in two
    unfolded = data.replace(b"\r\n ", b"").decode()
    # 3.6.1: every event has UID and DTSTAMP once, DTSTAMP in UTC (3.8.7.2).
    for event in unfolded.split("BEGIN:VEVENT")[1:]:
        assert len(re.findall(r"^UID:.+\r$", event, re.M)) == 1
        assert re.findall(r"^DTSTAMP:(.*)\r$", event, re.M) == ["20260301T120000Z"]
    # 3.3.11: commas and semicolons in text are escaped.
    texts = re.findall(r"^(?:SUMMARY|DESCRIPTION):(.*)\r$", unfolded, re.M)
    assert texts
    assert all(not re.search(r"(?<!\\)[,;]", text) for text in texts)


def test_the_same_plan_from_another_day_moves_its_events():
    first, later = (
        Calendar.from_ical(plan_ics(sheet(), day, now=now).data).walk("VEVENT")
        for day, now in ((START, NOON), (START + timedelta(days=7), NOON + timedelta(hours=1)))
    )
    assert [e["uid"] for e in first] == [e["uid"] for e in later]
    assert len({e["uid"] for e in first}) == len(first)
    assert all(a["sequence"] < b["sequence"] for a, b in zip(first, later, strict=True))
    other = Calendar.from_ical(plan_ics(sheet("month"), START, now=NOON).data).walk("VEVENT")
    assert not {e["uid"] for e in first} & {e["uid"] for e in other}


def test_days_are_read_or_refused():
    assert read_day(" 2026-03-02 ") == START
    for wrong in ("", "tomorrow", "2026-02-30", "03/02/2026"):
        with pytest.raises(OptionError, match="is not a day"):
            read_day(wrong)
    with pytest.raises(OptionError, match="past the year 9999"):
        plan_ics(sheet(), date(9999, 12, 28), now=NOON)
