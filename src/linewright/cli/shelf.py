"""Commands about the library: keep, find, export, import, serve."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from linewright.cli.options import (
    Capo,
    From,
    Instrument,
    LibraryFile,
    Octave,
    Repeats,
    Tonic,
    Tuning,
    load,
    open_library,
    read_options,
    save,
    say,
    watched,
)
from linewright.errors import InputError, ReadError


def keep(
    files: Annotated[list[str], typer.Argument(help="Files to keep; a tune book brings all its tunes.", metavar="FILE...")],
    library: LibraryFile = None, tonic: Tonic = None, form: From = None,
    tags: Annotated[str, typer.Option(help="Tags to give, separated by commas.", metavar="TAGS")] = "",
    again: Annotated[bool, typer.Option("--again", help="Keep licks that are in the library already once more.")] = False,
    repeats: Repeats = "once", instrument: Instrument = None, tuning: Tuning = None, capo: Capo = 0, octave: Octave = "written",
) -> None:  # fmt: skip
    """Put licks into the library; every file or tune that fails is reported with its reason.

    A lick that is there already, note for note under the same title, is named and left out
    unless --again is given.
    """
    from rich.console import Console
    from rich.progress import Progress

    from linewright.services.bring import bring_in_all
    from linewright.services.shelf import About, keep_all, parse_tags, sort_out

    options = read_options(None, None, None, None, None, repeats, instrument, tuning, capo, octave)
    kept, failed, there = 0, 0, 0
    errors = Console(stderr=True, soft_wrap=True, highlight=False, markup=False)
    with open_library(library) as shelf:
        for name in files:
            try:
                data, filename = load(name)
            except ReadError as error:
                failed += 1
                errors.print(str(error))
                continue
            with Progress(console=errors, transient=True, disable=not sys.stderr.isatty()) as bar:
                task = bar.add_task(f"Reading {filename or 'standard input'}", total=None)

                def report(
                    done: int, total: int, _title: str, bar: Progress = bar, task: Any = task
                ) -> None:
                    bar.update(task, completed=done, total=total)

                try:
                    book = bring_in_all(
                        data, filename, format=form, options=options, tonic=tonic, progress=report
                    )
                except InputError as error:
                    failed += 1
                    errors.print(f"{name}: {error}")
                    continue
            about = About(tags=parse_tags(tags)) if tags else About()
            tunes = tuple(tune for _, tune in book.tunes)
            new, twins = (tunes, ()) if again else sort_out(shelf, tunes, about)
            there += len(twins)
            for number, tune in twins:
                errors.print(
                    f"{name}: {tune.lick.title} is in the library already, as number {number}"
                )
            kept += len(keep_all(shelf, new, about))
            failed += len(book.failures)
            for failure in book.failures:
                errors.print(f"{name}: tune {failure.number} ({failure.title}): {failure.error}")
    say(
        f"Kept {kept} {'lick' if kept == 1 else 'licks'}."
        + (f" {there} left out: --again keeps them once more." if there else "")
        + (f" {failed} failed." if failed else "")
    )
    if failed or there:
        raise typer.Exit(1)


def find(
    text: Annotated[list[str] | None, typer.Argument(help="Words to look for.", metavar="[WORD...]")] = None,
    library: LibraryFile = None,
    style: Annotated[str | None, typer.Option(help="Only this style.", metavar="STYLE")] = None,
    tag: Annotated[str | None, typer.Option(help="Only with this tag.", metavar="TAG")] = None,
    frame: Annotated[str | None, typer.Option(help="Only on this frame, as in 'minor pentatonic'.", metavar="FRAME")] = None,
    outside: Annotated[str | None, typer.Option(help="Only with this outside note, as in b5.", metavar="DEGREE")] = None,
    instrument: Instrument = None,
    meter: Annotated[str | None, typer.Option(help="Only in this meter.", metavar="METER")] = None,
) -> None:  # fmt: skip
    """List the licks of the library that match."""
    from linewright.store import Query
    from linewright.theory import Degree, collection

    if frame is not None:
        frame = collection(" ".join(frame.lower().split())).name
    if outside is not None:
        outside = Degree.parse(outside.strip()).name
    query = Query(
        text=" ".join(text or ()), style=style, tag=tag, frame=frame, outside=outside,
        instrument=instrument, meter=meter, sort="title",
    )  # fmt: skip
    with open_library(library, must_exist=True) as shelf:
        found = shelf.search(query)
    if not found.entries:
        say("No lick matches." if query.is_narrowed else "The library is empty.")
        return
    width = min(40, max(len(entry.title) for entry in found.entries))
    for entry in found.entries:
        facts = "; ".join(
            filter(None, (entry.facts.frame_label, entry.meter, entry.style, entry.instrument))
        )
        say(f"{entry.id:4}  {entry.title[:width]:{width}}  {facts}")


def export_(
    output: Annotated[Path, typer.Argument(help="The zip file to write.", metavar="ZIP")],
    library: LibraryFile = None,
) -> None:
    """Write the whole library as one zip of open formats: JSON, MusicXML, ABC and text tab.

    Practice plans, marks and takes go along, with their recordings.
    """
    from linewright.services.zips import export_all, left_behind

    with open_library(library, must_exist=True) as shelf:
        data = watched("Writing licks", lambda report: export_all(shelf, progress=report))
        behind = left_behind(shelf)
    save(output, data)
    say(
        f"Wrote {output}."
        + (f" {behind} of the oldest recordings did not fit and stayed behind." if behind else "")
    )


def import_(
    file: Annotated[
        str, typer.Argument(help="A zip that export wrote, or - for standard input.", metavar="ZIP")
    ],
    library: LibraryFile = None,
) -> None:
    """Bring an exported zip into the library: all of it, or nothing if anything in it is wrong."""
    from linewright.services.zips import import_all

    data, _ = load(file)
    with open_library(library) as shelf:
        done = watched("Reading licks", lambda report: import_all(shelf, data, progress=report))
    say(
        f"{len(done.added)} added, {len(done.updated)} changed,"
        f" {len(done.unchanged)} already there."
        + (f" Practice plans new or with new marks: {len(done.plans)}." if done.plans else "")
        + (f" Takes: {done.takes}." if done.takes else "")
        + (f" {done.silent} of them without their recordings." if done.silent else "")
    )


def serve(
    library: LibraryFile = None,
    host: Annotated[str, typer.Option(help="Address to listen on; only this machine by default.", metavar="ADDRESS")] = "127.0.0.1",
    port: Annotated[int | None, typer.Option(help="Port; a free one near 8765 by default.", metavar="PORT", min=1, max=65535)] = None,
    demo: Annotated[bool, typer.Option(help="Put the demo licks in.")] = False,
    open_: Annotated[bool, typer.Option("--open", help="Open the page in a browser.")] = False,
) -> None:  # fmt: skip
    """Open the library, the lick page and the rest as a local web app."""
    from linewright.web.app import serve as run

    def announce(address: str) -> None:
        say(f"Linewright is at {address} - Ctrl-C stops it.")
        sys.stdout.flush()

    run(library, host=host, port=port, open_browser=open_, demo=demo, announce=announce)
