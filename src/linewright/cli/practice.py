"""The command about practice: plan."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from linewright.cli.options import (
    Bars,
    Capo,
    File,
    From,
    Instrument,
    Octave,
    Part,
    Repeats,
    Tonic,
    Track,
    Tune,
    Tuning,
    Voice,
    bring_one,
    print_json,
    read_options,
    save,
    say,
    watched,
)
from linewright.errors import OptionError

if TYPE_CHECKING:
    from linewright.practice import PlanSheet
    from linewright.services.bring import BroughtIn

_ENDINGS = (".pdf", ".ics", ".txt", ".json")


def plan(
    file: File,
    level: Annotated[str, typer.Option(help="For whom: beginner, working or fluent.", metavar="LEVEL")] = "working",
    length: Annotated[str, typer.Option(help="How long: week or month.", metavar="LENGTH")] = "week",
    seed: Annotated[int, typer.Option(help="Another number, other example lines; the same number, the same plan.", metavar="N")] = 0,
    output: Annotated[Path | None, typer.Option("-o", "--output", help="File to write; its ending tells what: .pdf to print, .ics for a calendar, .txt, .json.", metavar="PATH")] = None,
    paper: Annotated[str, typer.Option(help="Paper size of the PDF: a4 or letter.", metavar="SIZE")] = "a4",
    start: Annotated[str | None, typer.Option(help="First day of the calendar, as in 2026-03-02 (default: today).", metavar="DATE")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the plan as JSON.")] = False,
    tonic: Tonic = None, form: From = None, tune: Tune = None, part: Part = None,
    voice: Voice = None, track: Track = None, bars: Bars = None, repeats: Repeats = "once",
    instrument: Instrument = None, tuning: Tuning = None, capo: Capo = 0, octave: Octave = "written",
) -> None:  # fmt: skip
    """Make a graded practice plan from a lick: drills, example lines, tempos, and what counts as done.

    Prints it to read, with every drill as a tab, or with --json everything, as documented in
    docs/plan.md. With -o plan.pdf it is printed with its music engraved; with -o plan.ics its days
    go into a calendar.
    """
    from linewright.practice import sheet_of
    from linewright.services.planning import plan_as_json, plan_for, plan_text

    kind = output.suffix.lower() if output else ""
    if output and kind not in _ENDINGS:
        raise OptionError(
            f"no plan is written as {output.name!r}",
            accepted=f"Let the name end in one of {' '.join(_ENDINGS)}",
        )
    if start is not None and kind != ".ics":
        raise OptionError("--start is for a calendar", accepted="Give it with -o NAME.ics")
    options = read_options(
        tune, part, voice, track, bars, repeats, instrument, tuning, capo, octave
    )
    brought = bring_one(file, form, options, tonic)
    made = plan_for(brought, level=level, length=length, seed=seed)
    if output is not None and kind in (".pdf", ".ics"):
        sheet = sheet_of(made, brought.lick, brought.tonic)
        save(output, _pdf(sheet, paper) if kind == ".pdf" else _ics(sheet, start))
    elif as_json or kind == ".json":
        _put(output, plan_as_json(made, sheet_of(made, brought.lick, brought.tonic)), print_json)
    else:
        _put(output, plan_text(made), say)


def _put(output: Path | None, value: object, printed: Callable[..., None]) -> None:
    if output is None:
        printed(value)
        return
    import json

    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False, indent=1)
    save(output, (text.rstrip("\n") + "\n").encode())


def _pdf(sheet: PlanSheet, paper: str) -> bytes:
    from linewright.services.planning import plan_file

    return watched(
        "Engraving the plan", lambda report: plan_file(sheet, paper=paper, progress=report)
    ).data


def _ics(sheet: PlanSheet, start: str | None) -> bytes:
    from linewright.services.clock import now
    from linewright.services.planning import plan_ics, read_day

    first = read_day(start) if start is not None else now().astimezone().date()
    return plan_ics(sheet, first).data


def with_plan(brought: BroughtIn, paper: str, level: str, length: str) -> bytes:
    """The handout with the plan behind it."""
    from linewright.services.planning import plan_handout, sheet_for

    sheet = sheet_for(brought.lick, brought.tonic, level=level, length=length)
    return watched(
        "Engraving the plan",
        lambda report: plan_handout(sheet, paper=paper, tonic=brought.tonic, progress=report),
    ).data
