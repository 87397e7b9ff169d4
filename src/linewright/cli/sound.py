"""The command about sound: render."""

from __future__ import annotations

import sys
from fractions import Fraction
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
    Track,
    Tune,
    Tuning,
    Voice,
    bring_one,
    read_options,
    save,
)
from linewright.errors import OptionError


def render(
    file: File,
    output: Annotated[Path, typer.Option("-o", "--output", help="File to write; its ending tells the kind: wav, flac, mp3, ogg, or mid for multi-track MIDI.", metavar="PATH")],
    tempo: Annotated[float | None, typer.Option(help="Beats a minute, of the beat the lick's own tempo counts (default: the lick's).", metavar="BPM")] = None,
    loops: Annotated[int, typer.Option(help="Times through, 1 to 100.", metavar="N")] = 1,
    band: Annotated[str | None, typer.Option(help="A band behind it: boom-chick, swing, waltz, ballad, shuffle, jig, plain, or usual for what suits the lick. Needs chords.", metavar="STYLE")] = None,
    lead: Annotated[bool, typer.Option("--lead/--no-lead", help="With the lick itself, or without, to play it yourself.")] = True,
    click: Annotated[str | None, typer.Option(help="A click: beats, divided, 2and4.", metavar="WAY")] = None,
    drop: Annotated[str | None, typer.Option(help="The click sounds and falls silent for so many bars, as in 2-2, to test your time.", metavar="ON-OFF")] = None,
    count_in: Annotated[int, typer.Option(help="Bars counted before it, 0 to 4; a pickup falls right.", metavar="N")] = 0,
    lead_level: Annotated[float, typer.Option(help="How loud the lick is, 0 to 4; 1 is balanced.", metavar="LEVEL")] = 1.0,
    band_level: Annotated[float, typer.Option(help="How loud the band is, 0 to 4.", metavar="LEVEL")] = 1.0,
    click_level: Annotated[float, typer.Option(help="How loud click and count-in are, 0 to 4.", metavar="LEVEL")] = 1.0,
    human: Annotated[int | None, typer.Option(help="Slight human timing of the band; another number, another evening. Exact without.", metavar="SEED")] = None,
    form: From = None, tune: Tune = None, part: Part = None, voice: Voice = None,
    track: Track = None, bars: Bars = None, repeats: Repeats = "once",
    instrument: Instrument = None, tuning: Tuning = None, capo: Capo = 0, octave: Octave = "written",
) -> None:  # fmt: skip
    """Play a lick into a sound file, or write it as multi-track MIDI, with or without a band.

    Sound files stand at -16 LUFS. Begin with the volume low, most of all in headphones, and rest
    often; if playing hurts, stop and ask a teacher or a clinician.
    """
    from linewright.services.recording import kind_of, plan_click, recorded

    kind = kind_of(output.name)
    clicks = plan_click(click, drop)
    speed = None
    if tempo is not None:
        if not 10 <= tempo <= 1000:
            raise OptionError(f"--tempo {tempo:g}", accepted="Use 10 to 1000 beats a minute")
        speed = Fraction(tempo).limit_denominator(1000)
    options = read_options(
        tune, part, voice, track, bars, repeats, instrument, tuning, capo, octave
    )
    lick = bring_one(file, form, options).lick

    from rich.console import Console
    from rich.progress import Progress

    console = Console(stderr=True)
    with Progress(console=console, transient=True, disable=not sys.stderr.isatty()) as shown:
        task = shown.add_task("Playing", total=None)
        data = recorded(
            lick, kind, band=band, click=clicks, count_in=count_in, lead=lead, loops=loops,
            tempo=speed, seed=human,
            levels={"lead": lead_level, "band": band_level, "click": click_level},
            progress=lambda done, total: shown.update(task, completed=done, total=total),
        )  # fmt: skip
    save(output, data)
