"""Commands about one lick: analyze, convert, handout."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

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
    put,
    read_options,
    save,
    say,
)
from linewright.cli.practice import with_plan
from linewright.errors import OptionError


def analyze(
    file: File, tonic: Tonic = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the analysis as JSON.")] = False,
    form: From = None, tune: Tune = None, part: Part = None, voice: Voice = None,
    track: Track = None, bars: Bars = None, repeats: Repeats = "once",
    instrument: Instrument = None, tuning: Tuning = None, capo: Capo = 0, octave: Octave = "written",
) -> None:  # fmt: skip
    """Say what a lick is made of: its frame and why, and the notes outside it.

    Prints words a teacher could read out, or with --json everything, as documented in
    docs/analysis.md. Reads standard input with -.
    """
    options = read_options(
        tune, part, voice, track, bars, repeats, instrument, tuning, capo, octave
    )
    brought = bring_one(file, form, options, tonic)
    if as_json:
        from linewright.analysis.as_json import analysis_to_dict

        print_json(analysis_to_dict(brought.analysis))
    else:
        from linewright.analysis.words import describe

        say(describe(brought.analysis))


def convert(
    file: File,
    output: Annotated[Path | None, typer.Option("-o", "--output", help="File to write; its ending tells the format.", metavar="PATH")] = None,
    to: Annotated[str | None, typer.Option("--to", help="Format to write: tab, abc, musicxml, mxl, midi, json, mei.", metavar="FORMAT")] = None,
    form: From = None, tune: Tune = None, part: Part = None, voice: Voice = None,
    track: Track = None, bars: Bars = None, repeats: Repeats = "once",
    instrument: Instrument = None, tuning: Tuning = None, capo: Capo = 0, octave: Octave = "written",
) -> None:  # fmt: skip
    """Write a lick in another format, with string and fret found where none are given."""
    from linewright.formats import FORMATS, find_format
    from linewright.services.paper import download

    if to is None and output is None:
        raise OptionError("no format to write", accepted="Give -o PATH or --to FORMAT")
    if to is not None:
        name = find_format(to).name
    else:
        ending = output.suffix.lower() if output else ""
        name = next(
            (f.name for f in FORMATS.values() if f.can_write and ending in f.extensions), ""
        )
        if not name:
            endings = " ".join(f.extensions[0] for f in FORMATS.values() if f.can_write)
            raise OptionError(f"no format ends in {ending!r}", accepted=f"Use {endings}, or --to")
    options = read_options(
        tune, part, voice, track, bars, repeats, instrument, tuning, capo, octave
    )
    made = download(bring_one(file, form, options).lick, name)
    put(output, made.data)


def handout(
    file: File,
    output: Annotated[Path, typer.Option("-o", "--output", help="The PDF to write.", metavar="PATH")],
    paper: Annotated[str, typer.Option(help="Paper size: a4 or letter.", metavar="SIZE")] = "a4",
    plan: Annotated[bool, typer.Option("--plan", help="With the practice plan behind it.")] = False,
    level: Annotated[str, typer.Option(help="The plan: beginner, working or fluent.", metavar="LEVEL")] = "working",
    length: Annotated[str, typer.Option(help="The plan: week or month.", metavar="LENGTH")] = "week",
    tonic: Tonic = None, form: From = None, tune: Tune = None, part: Part = None,
    voice: Voice = None, track: Track = None, bars: Bars = None, repeats: Repeats = "once",
    instrument: Instrument = None, tuning: Tuning = None, capo: Capo = 0, octave: Octave = "written",
) -> None:  # fmt: skip
    """Print a lick as a lesson: staff and tab, what it is made of, the neck, room for notes.

    With --plan the practice plan follows, with the music of every step.
    """
    from linewright.services.paper import handout as make

    options = read_options(
        tune, part, voice, track, bars, repeats, instrument, tuning, capo, octave
    )
    brought = bring_one(file, form, options, tonic)
    if plan:
        save(output, with_plan(brought, paper, level, length))
        return
    save(output, make(brought.lick, paper=paper, tonic=brought.tonic).data)


def compare(
    first: Annotated[str, typer.Argument(help="The first lick's file.", metavar="A")],
    second: Annotated[str, typer.Argument(help="The second lick's file.", metavar="B")],
    as_json: Annotated[bool, typer.Option("--json", help="Print the comparison as JSON.")] = False,
    second_tonic: Annotated[str | None, typer.Option(help="Read B against this tonic.", metavar="NOTE")] = None,
    second_tune: Annotated[int | None, typer.Option(help="Which tune of B.", metavar="NUMBER")] = None,
    second_bars: Annotated[str | None, typer.Option(help="Only these bars of B.", metavar="A-B")] = None,
    tonic: Tonic = None, form: From = None, tune: Tune = None, part: Part = None,
    voice: Voice = None, track: Track = None, bars: Bars = None, repeats: Repeats = "once",
    instrument: Instrument = None, tuning: Tuning = None, capo: Capo = 0, octave: Octave = "written",
) -> None:  # fmt: skip
    """Say what two licks share and where they differ.

    The options hold for both licks; those that begin with --second hold for B instead.
    """
    from linewright.analysis.compare import compare as put_side_by_side

    analyses = []
    for name, own_tune, own_bars, own_tonic in (
        (first, tune, bars, tonic),
        (second, second_tune or tune, second_bars or bars, second_tonic or tonic),
    ):
        options = read_options(own_tune, part, voice, track, own_bars, repeats, instrument, tuning, capo, octave)  # fmt: skip
        analyses.append(bring_one(name, form, options, own_tonic).analysis)
    found = put_side_by_side(*analyses)
    if as_json:
        print_json(found.to_dict())
    else:
        say(found.text())
