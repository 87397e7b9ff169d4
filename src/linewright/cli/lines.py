"""The command that makes lines."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from linewright.cli.options import (
    Capo,
    File,
    From,
    Instrument,
    Octave,
    Part,
    Repeats,
    To,
    Tonic,
    Track,
    Tune,
    Tuning,
    Voice,
    bring_one,
    print_json,
    put,
    read_bars,
    read_options,
)
from linewright.errors import OptionError


def line(
    file: File,
    bars: Annotated[int, typer.Option("--bars", help="How many bars to make.", metavar="N")] = 4,
    over: Annotated[str | None, typer.Option(help="Chords to play over: symbols or scale-degree numbers, bars parted by |, or a form by name, as in '12-bar blues' (default: the lick's own).", metavar="CHORDS")] = None,
    follow: Annotated[str | None, typer.Option(help="Over the chords the frame stays at home: home; or moves with each chord: chords (default: as the lick does).", metavar="WAY")] = None,
    mix: Annotated[list[str] | None, typer.Option(help="Share of an element, as in b5=10% or f1=0.3; give it again for more. What is not named is not used.", metavar="NAME=SHARE")] = None,
    strict: Annotated[bool, typer.Option("--strict", help="Hit the shares in this very line, not only on average.")] = False,
    grow: Annotated[str | None, typer.Option(help="How much of the mix stands at the start and at the end, in percent: 40-160 grows, 160-40 fades.", metavar="FROM-TO")] = None,
    leap: Annotated[int, typer.Option(help="Largest leap in semitones; 3 or 4 for beginners.", metavar="N")] = 7,
    range_: Annotated[str | None, typer.Option("--range", help="Lowest and highest note, as in G3-D5; G3- or -D5 leaves the other to the lick.", metavar="LOW-HIGH")] = None,
    start: Annotated[str | None, typer.Option(help="First note, as a degree or a note: 1, b3, G4.", metavar="NOTE")] = None,
    landing: Annotated[str | None, typer.Option(help="Last note, as a degree or a note: 1, b3, G4.", metavar="NOTE")] = None,
    quote: Annotated[int, typer.Option(help="Longest run of the lick, in notes and in any key, that may be quoted.", metavar="N")] = 5,
    kept: Annotated[str | None, typer.Option("--keep", help="Bars in which the lick itself stands, as in 7-8.", metavar="A-B")] = None,
    grid: Annotated[str, typer.Option(help="Rhythm: own for the lick's commonest note, eighths, quarters, triplets, sixteenths, or cells for the rhythms of its bars.", metavar="GRID")] = "own",
    swing: Annotated[bool | None, typer.Option("--swing/--straight", help="Swing the eighths, or play them even (default: as the lick is).")] = None,
    tempo: Annotated[float | None, typer.Option(help="Quarters a minute, for what the hand can reach (default: the lick's).", metavar="BPM")] = None,
    seed: Annotated[int, typer.Option(help="Another number, another line; the same number, the same line.", metavar="N")] = 0,
    to: To = "tab",
    output: Annotated[Path | None, typer.Option("-o", "--output", help="File to write instead of printing.", metavar="PATH")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the line with its reasons and mix as JSON.")] = False,
    tonic: Tonic = None, form: From = None, tune: Tune = None, part: Part = None,
    voice: Voice = None, track: Track = None, repeats: Repeats = "once",
    instrument: Instrument = None, tuning: Tuning = None, capo: Capo = 0, octave: Octave = "written",
) -> None:  # fmt: skip
    """Make a new line in the character of a lick: its frame, its figures, its way outside.

    Every note is in the frame or an outside note used as the lick uses it; no leap is larger than
    asked; the lick is not quoted at length; every note lies under the hand.

    An element of --mix is a figure, by its kind (sequence, alternation) or its tag (f1), or an
    outside note, by its degree (b5) or what it does (passing). --json lists those of this lick
    under mix, with what was asked and got, and says of each note why it is there.

    When wishes clash no line is made, and the answer says which.
    """
    from linewright.lines import LineRequest
    from linewright.services.making import make_line, parse_mix, range_of, with_lick_in
    from linewright.services.paper import download
    from linewright.services.wishes import intensity_of

    options = read_options(
        tune, part, voice, track, None, repeats, instrument, tuning, capo, octave
    )
    low, high = _range(range_)
    brought = bring_one(file, form, options, tonic)
    wish = LineRequest(
        bars=bars, progression=over, mix=parse_mix(mix or ()), strict=strict, leap=leap,
        seed=seed, grid=grid, follow=follow, start=start, landing=landing, swing=swing,
        quote=quote, tempo=tempo, range=range_of(brought.lick, low, high),
        intensity=intensity_of(grow) if grow is not None else None,
    )  # fmt: skip
    if kept is not None:
        wish = with_lick_in(wish, brought, *read_bars(kept, "--keep"))
    made = make_line(brought, wish)
    if as_json:
        print_json(made.to_dict())
    else:
        put(output, download(made.lick, to).data)


def _range(text: str | None) -> tuple[str | None, str | None]:
    """Lowest and highest note of ``G3-D5``, ``G3-`` or ``-D5``."""
    if text is None:
        return None, None
    low, sign, high = (part.strip() for part in text.partition("-"))
    if not sign or not (low or high):
        raise OptionError(f"--range {text!r:.40}", accepted="Write it as G3-D5, G3- or -D5")
    return low or None, high or None
