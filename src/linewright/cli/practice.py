"""The command about practice: plan."""

from __future__ import annotations

from typing import Annotated

import typer

from linewright.cli.options import (
    Capo,
    File,
    From,
    Instrument,
    Tonic,
    Tune,
    Tuning,
    bring_one,
    print_json,
    read_options,
    say,
)


def plan(
    file: File,
    level: Annotated[str, typer.Option(help="For whom: beginner, working or fluent.", metavar="LEVEL")] = "working",
    length: Annotated[str, typer.Option(help="How long: week or month.", metavar="LENGTH")] = "week",
    seed: Annotated[int, typer.Option(help="Another number, other example lines; the same number, the same plan.", metavar="N")] = 0,
    as_json: Annotated[bool, typer.Option("--json", help="Print the plan as JSON.")] = False,
    tonic: Tonic = None, form: From = None, tune: Tune = None,
    instrument: Instrument = None, tuning: Tuning = None, capo: Capo = 0,
) -> None:  # fmt: skip
    """Make a graded practice plan from a lick: drills, example lines, tempos, and what counts as done.

    Prints it to read, with every drill as a tab, or with --json everything, as documented in
    docs/plan.md.
    """
    from linewright.practice import plan_to_dict
    from linewright.services.planning import plan_for, plan_text

    options = read_options(tune, None, None, None, None, "once", instrument, tuning, capo)
    made = plan_for(bring_one(file, form, options, tonic), level=level, length=length, seed=seed)
    if as_json:
        print_json(plan_to_dict(made))
    else:
        say(plan_text(made))
