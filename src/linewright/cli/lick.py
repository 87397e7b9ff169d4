"""Commands about one lick: analyze, convert, handout."""

from __future__ import annotations

import sys
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
    read_bars,
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
    if output is None:
        sys.stdout.buffer.write(made.data)
    else:
        save(output, made.data)


def handout(
    file: File,
    output: Annotated[Path, typer.Option("-o", "--output", help="The PDF to write.", metavar="PATH")],
    paper: Annotated[str, typer.Option(help="Paper size: a4 or letter.", metavar="SIZE")] = "a4",
    plan: Annotated[bool, typer.Option("--plan", help="With the practice plan behind it.")] = False,
    level: Annotated[str, typer.Option(help="The plan: beginner, working or fluent.", metavar="LEVEL")] = "working",
    length: Annotated[str, typer.Option(help="The plan: week or month.", metavar="LENGTH")] = "week",
    tonic: Tonic = None, form: From = None, tune: Tune = None, part: Part = None,
    voice: Voice = None, track: Track = None, bars: Bars = None, repeats: Repeats = "once",
    instrument: Instrument = None, tuning: Tuning = None, capo: Capo = 0,
) -> None:  # fmt: skip
    """Print a lick as a lesson: staff and tab, what it is made of, the neck, room for notes.

    With --plan the practice plan follows, with the music of every step.
    """
    from linewright.services.paper import handout as make

    options = read_options(tune, part, voice, track, bars, repeats, instrument, tuning, capo)
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


def line(
    file: File,
    bars: Annotated[int, typer.Option("--bars", help="How many bars to make.", metavar="N")] = 4,
    over: Annotated[str | None, typer.Option(help="Chords to play over: symbols or scale-degree numbers, bars parted by |, or a form by name, as in '12-bar blues' (default: the lick's own).", metavar="CHORDS")] = None,
    mix: Annotated[list[str] | None, typer.Option(help="Share of an element, as in b5=10% or f1=0.3; give it again for more. What is not named is not used.", metavar="NAME=SHARE")] = None,
    strict: Annotated[bool, typer.Option(help="Hit the shares in this very line, not only on average.")] = False,
    leap: Annotated[int, typer.Option(help="Largest leap in semitones.", metavar="N")] = 7,
    seed: Annotated[int, typer.Option(help="Another number, another line; the same number, the same line.", metavar="N")] = 0,
    kept: Annotated[str | None, typer.Option("--keep", help="Bars in which the lick itself stands, as in 7-8.", metavar="A-B")] = None,
    grid: Annotated[str, typer.Option(help="Rhythm: eighths, quarters, triplets, sixteenths, or cells for the lick's own.", metavar="GRID")] = "eighths",
    to: Annotated[str, typer.Option(help="Format to print: tab, abc, musicxml, midi, json, mei.", metavar="FORMAT")] = "tab",
    output: Annotated[Path | None, typer.Option("-o", "--output", help="File to write instead of printing.", metavar="PATH")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the line with its reasons and mix as JSON.")] = False,
    tonic: Tonic = None, form: From = None, tune: Tune = None,
) -> None:  # fmt: skip
    """Make a new line in the character of a lick: its frame, its figures, its way outside.

    Every note is in the frame or an outside note used as the lick uses it; no leap is larger than
    asked; the lick is not quoted; every note lies under the hand. The reasons are in --json.
    """
    from linewright.lines import LineRequest
    from linewright.services.making import make_line, parse_mix, with_lick_in
    from linewright.services.paper import download

    options = read_options(tune, None, None, None, None, "once", None, None, 0)
    brought = bring_one(file, form, options, tonic)
    wish = LineRequest(
        bars=bars, progression=over, mix=parse_mix(mix or ()), strict=strict, leap=leap,
        seed=seed, grid=grid,
    )  # fmt: skip
    if kept is not None:
        wish = with_lick_in(wish, brought, *read_bars(kept, "--keep"))
    made = make_line(brought, wish)
    if as_json:
        print_json(made.to_dict())
        return
    written = download(made.lick, to).data
    if output is not None:
        save(output, written)
    else:
        sys.stdout.buffer.write(written)
