"""The command about takes: take."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NamedTuple

import typer

from linewright.cli.options import (
    Bars,
    Capo,
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
    load,
    print_json,
    read_options,
    say,
    watched,
)
from linewright.errors import InputError, LinewrightError, OptionError

if TYPE_CHECKING:
    from linewright.formats import ReadOptions
    from linewright.practice import PlanSheet


def take(
    audio: Annotated[Path, typer.Argument(help="The recording: wav, flac, mp3, m4a, ogg, opus, webm, up to ten minutes; or a MIDI file.", metavar="AUDIO")],
    plan: Annotated[str, typer.Option(help="The plan, as plan -o plan.json wrote it; or the lick's file, and the plan is made from it.", metavar="FILE")],
    step: Annotated[int, typer.Option(help="Which step was tried, from 1.", metavar="N", min=1)],
    tempo: Annotated[float | None, typer.Option(help="Beats a minute of the click, in the plan's beat (default: the step's).", metavar="BPM")] = None,
    start: Annotated[float | None, typer.Option(help="Seconds into the recording at which beat 1 of bar 1 falls; found from the playing when not given.", metavar="SECONDS")] = None,
    click: Annotated[bool, typer.Option("--click", help="The click can be heard in the recording; needs --start.")] = False,
    instrument: Instrument = None,
    level: Annotated[str, typer.Option(help="With a lick's file: beginner, working or fluent.", metavar="LEVEL")] = "working",
    length: Annotated[str, typer.Option(help="With a lick's file: week or month.", metavar="LENGTH")] = "week",
    seed: Annotated[int, typer.Option(help="With a lick's file: the number the plan was made with.", metavar="N")] = 0,
    as_json: Annotated[bool, typer.Option("--json", help="Print the verdict as JSON.")] = False,
    tonic: Tonic = None, form: From = None, tune: Tune = None, part: Part = None,
    voice: Voice = None, track: Track = None, bars: Bars = None, repeats: Repeats = "once",
    tuning: Tuning = None, capo: Capo = 0, octave: Octave = "written",
) -> None:  # fmt: skip
    """Hear a take and say whether its step is done: every rule with what was measured and allowed.

    First make a plan: linewright plan lick.tab -o plan.json

    Record one try of a step: one note at a time, the click in headphones, close to the microphone.
    Count yourself in and keep going for as many bars as the step asks for.

    Then: linewright take try.wav --plan plan.json --step 3

    A lick's file in place of the plan is read with the options the plan command has; with a plan's
    file, --instrument, --tuning and --capo say what was played, where it is not the plan's own.

    A slower try, its first beat 2.4 s in: add --tempo 66 --start 2.4. Without --start nothing is
    said of being early or late, which cannot be told from the recording's delay.

    A note that is not heard clearly never counts against you. The exit code is 0 whether the step
    is done or not yet. With --json everything, as documented in docs/takes.md.

    Practise in short stretches and rest often; keep headphones soft. If playing hurts, stop and
    ask a teacher or a clinician.
    """
    from linewright.services.taking import Setting, judge_audio, step_of
    from linewright.services.verdict_text import verdict_text

    if click and start is None:
        raise OptionError("--click without --start", accepted="Say where beat 1 falls")
    reading = read_options(
        tune, part, voice, track, bars, repeats, instrument, tuning, capo, octave
    )
    sheet = _plan(plan, form, reading, _Asked(tonic, level, length, seed))
    wanted = step_of(sheet, step)
    named = reading.instrument
    how = Setting(float(wanted.done.bpm) if tempo is None else tempo, start, 0.0, click)
    try:
        judged = watched(
            "Listening",
            lambda report: judge_audio(audio, sheet, step, how, instrument=named, progress=report),
        )
    except InputError as error:
        if isinstance(error, OptionError):
            raise
        raise error.in_file(audio.name) from error.__cause__
    if as_json:
        print_json(judged.to_dict())
    else:
        say(verdict_text(judged, wanted))


class _Asked(NamedTuple):
    """How a plan is made from a lick."""

    tonic: str | None = None
    level: str = "working"
    length: str = "week"
    seed: int = 0


def _plan(name: str, form: str | None, reading: ReadOptions, asked: _Asked) -> PlanSheet:
    """The plan in a file, or the one made from the lick in it."""
    from linewright.formats import ReadOptions
    from linewright.services.planning import read_plan, sheet_for

    data, filename = load(name)
    found = _json_of(data) if form in (None, "json") else None
    if isinstance(found, dict) and ("sheet" in found or "steps" in found):
        if asked != _Asked() or reading != ReadOptions(instrument=reading.instrument):
            raise OptionError(
                "options of how a lick is read, and --level, --length and --seed, are for a lick's"
                " file",
                accepted="A plan's file holds them already",
            )
        try:
            return read_plan(found)
        except LinewrightError as error:
            raise error.in_file(filename or "standard input") from error.__cause__
    if name == "-":
        raise OptionError("a lick from standard input", accepted="Name its file, or give a plan")
    brought = bring_one(name, form, reading, asked.tonic)
    level, length, seed = asked.level, asked.length, asked.seed
    return sheet_for(brought.lick, brought.tonic, level=level, length=length, seed=seed)


def _json_of(data: bytes) -> object:
    if data.lstrip()[:1] != b"{":
        return None
    try:
        return json.loads(data)
    except (ValueError, RecursionError):
        return None
