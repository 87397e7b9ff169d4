"""The options commands share, and reading and writing on the command line."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, TypeVar

import typer

from linewright.errors import InputError, NotFound, OptionError, ReadError, WriteError

if TYPE_CHECKING:
    from linewright.formats import ReadOptions
    from linewright.services.bring import BroughtIn
    from linewright.store import Library

__all__ = [
    "Bars", "Capo", "File", "From", "Instrument", "LibraryFile", "Octave", "Part", "Repeats", "To", "Tonic", "Track",
    "Tune", "Tuning", "Voice", "bring_one", "load", "open_library", "print_json", "put", "read_bars", "read_options",
    "save", "say", "watched",
]  # fmt: skip

_Made = TypeVar("_Made")

File = Annotated[
    str, typer.Argument(help="The lick's file, or - for standard input.", metavar="FILE")
]
Tonic = Annotated[
    str | None, typer.Option(help="Read it against this tonic, as in G or Bb.", metavar="NOTE")
]
From = Annotated[
    str | None,
    typer.Option(
        "--from",
        help="Format of the input when its name does not tell: tab, abc, musicxml, mxl, midi, json.",
        metavar="FORMAT",
    ),
]
Tune = Annotated[
    int | None,
    typer.Option(
        help="Which tune of a tune book: its X: number, or its place where numbers repeat.",
        metavar="NUMBER",
    ),
]
Part = Annotated[str | None, typer.Option(help="Which part of a score.", metavar="PART")]
Voice = Annotated[str | None, typer.Option(help="Which voice of a part.", metavar="VOICE")]
Track = Annotated[int | None, typer.Option(help="Which track of a MIDI file, from 1.", metavar="N")]
Bars = Annotated[
    str | None, typer.Option(help="Only these bars, as in 1-4 (0 is the pickup).", metavar="A-B")
]
Repeats = Annotated[
    str, typer.Option(help="Repeated bars: once, or as they would play: play.", metavar="WAY")
]
Instrument = Annotated[str | None, typer.Option(help="Instrument, as in mandolin.", metavar="NAME")]
Tuning = Annotated[
    str | None,
    typer.Option(help="Tuning by name or by strings, low to high, as in DADGAD.", metavar="TUNING"),
]
Capo = Annotated[int, typer.Option(help="Fret the capo stands on.", metavar="FRET", min=0, max=12)]
Octave = Annotated[
    str,
    typer.Option(
        help="How ABC and MusicXML sound: written, as they are written, or guitar, an octave"
        " lower, as guitar music in the treble clef does.",
        metavar="WAY",
    ),
]
To = Annotated[
    str,
    typer.Option(
        "--to", help="Format to print: tab, abc, musicxml, mxl, midi, json, mei.", metavar="FORMAT"
    ),
]
LibraryFile = Annotated[
    Path | None,
    typer.Option(
        "--library",
        help="The library file (default: your own, or LINEWRIGHT_LIBRARY).",
        metavar="PATH",
    ),
]


def read_options(
    tune: int | None, part: str | None, voice: str | None, track: int | None, bars: str | None,
    repeats: str, instrument: str | None, tuning: str | None, capo: int, octave: str = "written",
) -> ReadOptions:  # fmt: skip
    """Gather what the shared options say; OptionError for a value that is not accepted."""
    from linewright.formats import ReadOptions

    named = None
    if instrument or tuning or capo:
        from linewright.fretboard import parse_instrument

        named = parse_instrument(instrument, tuning, capo)
    if repeats not in ("once", "play"):
        raise OptionError(f"--repeats {repeats!r} is not known", accepted="Use once or play")
    if octave not in ("written", "guitar"):
        raise OptionError(f"--octave {octave!r} is not known", accepted="Use written or guitar")
    way: Literal["once", "play"] = "play" if repeats == "play" else "once"
    return ReadOptions(
        tune=tune,
        part=part,
        voice=voice,
        track=track,
        bars=read_bars(bars) if bars is not None else None,
        repeats=way,
        instrument=named,
        octave="guitar" if octave == "guitar" else "written",
    )


def read_bars(text: str, option: str = "--bars") -> tuple[int, int]:
    """First and last bar of a span such as ``1-4`` or ``3``."""
    first, _, last = text.partition("-")
    if not first.strip().isdecimal() or not (last or first).strip().isdecimal():
        raise OptionError(
            f"{option} {text!r} is not a span of bars", accepted="Write it as 1-4, or 3"
        )
    return int(first), int(last or first)


#: Largest input read at all; each format states a smaller limit of its own.
_MOST_BYTES = 64 * 1024 * 1024


def load(name: str) -> tuple[bytes, str | None]:
    """The bytes of a file, or of standard input for ``-``, and the file's name."""
    if name == "-":
        return sys.stdin.buffer.read(_MOST_BYTES + 1), None
    path = Path(name)
    try:
        with path.open("rb") as stream:
            return stream.read(_MOST_BYTES + 1), path.name
    except (OSError, ValueError) as error:  # ValueError: a name no file can have
        reason = getattr(error, "strerror", None) or error
        raise ReadError(
            f"{name if name.isprintable() and name else repr(name)} cannot be read: {reason}",
            accepted="Name a file, or - for standard input",
        ) from error


def save(path: Path, data: bytes) -> None:
    """Write a file, whole or not at all; WriteError with the reason when it cannot be."""
    part: Path | None = None
    try:
        if path.exists() and not path.is_file():  # a pipe or a device
            path.write_bytes(data)
            return
        goal = path.resolve()  # through a link, to the file it stands for
        handle, name = tempfile.mkstemp(prefix=f".{goal.name}.", dir=goal.parent)
        part = Path(name)
        with os.fdopen(handle, "wb") as target:
            target.write(data)
            target.flush()
            os.fsync(target.fileno())
        mask = os.umask(0)
        os.umask(mask)
        part.chmod(0o666 & ~mask)
        part.replace(goal)
    except OSError as error:
        raise WriteError(
            f"{path} cannot be written: {error.strerror or error}",
            accepted="Name a file in a folder that may be written to",
        ) from error
    finally:
        if part is not None:
            part.unlink(missing_ok=True)


def put(output: Path | None, data: bytes) -> None:
    """Write a file, or standard output when none is named."""
    if output is not None:
        save(output, data)
        return
    sys.stdout.flush()
    sys.stdout.buffer.write(data)
    if b"\0" not in data and not data.endswith(b"\n"):  # text; MIDI and zips hold zero bytes
        sys.stdout.buffer.write(b"\n")


def bring_one(
    name: str, form: str | None, options: ReadOptions, tonic: str | None = None
) -> BroughtIn:
    """Load and read one lick, and say what it is made of."""
    from linewright.services.bring import bring_in

    data, filename = load(name)
    try:
        return bring_in(data, filename, format=form, options=options, tonic=tonic)
    except OptionError:
        raise  # what was asked is wrong, not the file
    except InputError as error:
        raise error.in_file(filename or "standard input") from error.__cause__


def open_library(path: Path | None, *, must_exist: bool = False) -> Library:
    """Open the library named, or the user's own; one that is only read must be there."""
    from linewright.services.shelf import default_library
    from linewright.store import Library

    if must_exist and path is not None and "://" not in str(path) and not path.exists():
        raise NotFound(f"there is no library at {path}", accepted="Name the file of a library")
    return Library.open(path or default_library())


def say(text: str) -> None:
    """Print text with its line end."""
    sys.stdout.write(text if text.endswith("\n") else text + "\n")


def print_json(value: Any) -> None:
    """Print JSON, readable and in Unicode."""
    import json

    say(json.dumps(value, ensure_ascii=False, indent=1))


def watched(label: str, work: Callable[[Callable[..., None]], _Made]) -> _Made:
    """What ``work(report)`` gives, with a progress bar on a terminal; ``report`` is told how much
    is done, of how much, and what.
    """
    from rich.console import Console
    from rich.progress import Progress

    with Progress(
        console=Console(stderr=True), transient=True, disable=not sys.stderr.isatty()
    ) as bar:
        task = bar.add_task(label, total=None)
        return work(lambda done, total, _title="": bar.update(task, completed=done, total=total))
