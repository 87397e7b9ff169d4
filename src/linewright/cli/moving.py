"""The command that moves a lick."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from linewright.cli.options import (
    Bars,
    File,
    From,
    Octave,
    Part,
    Repeats,
    To,
    Tonic,
    Track,
    Tune,
    Voice,
    bring_one,
    print_json,
    put,
    read_options,
)


def move(
    file: File,
    key: Annotated[str | None, typer.Option("--key", help="Key its home moves to, the nearer way, as in C or Bb.", metavar="KEY")] = None,
    quality: Annotated[str | None, typer.Option(help="Home chord it is to fit: major, dominant or minor.", metavar="QUALITY")] = None,
    position: Annotated[int | None, typer.Option(help="Fret the index finger is to lie over.", metavar="FRET")] = None,
    instrument: Annotated[str | None, typer.Option(help="Instrument to lay it out for, as in mandolin.", metavar="NAME")] = None,
    tuning: Annotated[str | None, typer.Option(help="Tuning to lay it out for, by name or by strings, low to high.", metavar="TUNING")] = None,
    capo: Annotated[int, typer.Option(help="Fret the capo is to stand on.", metavar="FRET", min=0, max=12)] = 0,
    by_beats: Annotated[str | None, typer.Option("--by-beats", help="Beats by which the melody comes later against the bar; negative is earlier. As in 1, -1 or 1/2.", metavar="BEATS")] = None,
    open_strings: Annotated[bool | None, typer.Option("--open/--no-open", help="With open strings wherever there is one, or without any.")] = None,
    octaves: Annotated[int | None, typer.Option(help="Octaves to move it by, up or with a minus down, in place of the octave in which it lies best on the instrument.", metavar="N", min=-3, max=3)] = None,
    to: To = "tab",
    output: Annotated[Path | None, typer.Option("-o", "--output", help="File to write instead of printing.", metavar="PATH")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the notes, what was done, and which notes changed and why, as JSON.")] = False,
    tonic: Tonic = None, form: From = None, tune: Tune = None, part: Part = None,
    voice: Voice = None, track: Track = None, bars: Bars = None, repeats: Repeats = "once",
    octave: Octave = "written",
) -> None:  # fmt: skip
    """Move the lick itself: another key, chord quality, position, tuning, or place in the bar.

    Between chord qualities the 3rd and 7th change, and a tone that only the old chord had goes
    with it; on another instrument it lies in the octave that is easiest to play. What changes is
    named on standard error, with why (in --json under changes).
    """
    from linewright.services.moving import MoveWishes, changes_of, move_lick, moved_dict
    from linewright.services.paper import download

    options = read_options(tune, part, voice, track, bars, repeats, None, None, 0, octave)
    brought = bring_one(file, form, options, tonic)
    wishes = MoveWishes(
        key or "", quality or "", position, instrument or "", tuning or "", capo, by_beats or "",
        open_strings, octaves,
    )  # fmt: skip
    done = move_lick(brought.analysis, wishes)
    if as_json:
        print_json(moved_dict(done))
        return
    for change in changes_of(brought.analysis, done):
        typer.echo(f"{change.place}: {change.before} is now {change.after}: {change.why}", err=True)
    if done.register:
        typer.echo(f"It is {done.register}", err=True)
    put(output, download(done.lick, to).data)
