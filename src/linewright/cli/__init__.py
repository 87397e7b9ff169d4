"""The command line: parse, make one service call, print, exit.

Exit codes: 0 done, 1 done but some tunes of a book failed, 2 the input or an option cannot be used
(one line on standard error says what, where and what is accepted), 70 a fault of Linewright's own.
"""

from __future__ import annotations

import os
import sys
from typing import Annotated

import typer

from linewright.cli import hear, lick, moving, practice, shelf, sound, takes
from linewright.errors import ChoiceNeeded, LinewrightError

__all__ = ["app", "main", "run"]

app = typer.Typer(
    name="linewright",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
    help=(
        "Say what a lick is made of, keep it in a library, and print it as a lesson.\n\n"
        "A lick is a short phrase in a text tab, ABC, MusicXML or MIDI file. Try:\n\n"
        "  linewright analyze lick.tab           which scale it hangs on, and why\n\n"
        "  linewright handout lick.tab -o l.pdf  a printed lesson\n\n"
        "  linewright serve --demo               the same on a page, with a demo library"
    ),
)

app.command("analyze")(lick.analyze)
app.command("compare")(lick.compare)
app.command("convert")(lick.convert)
app.command("line")(lick.line)
app.command("move")(moving.move)
app.command("plan")(practice.plan)
app.command("hear")(hear.hear)
app.command("take")(takes.take)
app.command("handout")(lick.handout)
app.command("render")(sound.render)
app.command("keep")(shelf.keep)
app.command("find")(shelf.find)
app.command("export")(shelf.export_)
app.command("import")(shelf.import_)
app.command("serve")(shelf.serve)


def _version(wanted: bool) -> None:
    if wanted:
        from linewright import __version__

        typer.echo(f"linewright {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    _show_version: Annotated[
        bool, typer.Option("--version", help="Print the version.", callback=_version, is_eager=True)
    ] = False,
) -> None:
    pass


def main(arguments: list[str] | None = None) -> int:
    """Run the command line and return its exit code; no traceback reaches the user."""
    try:
        done = app(arguments, prog_name="linewright", standalone_mode=False)
        return int(done or 0)
    except LinewrightError as error:
        _complain(str(error))
        if isinstance(error, ChoiceNeeded):
            for option in error.options:
                sys.stderr.write(f"  {option}\n")
        return 2
    except (KeyboardInterrupt, typer.Abort):
        sys.stderr.write("\nStopped.\n")
        return 130
    except BrokenPipeError:  # the reader of our output went away
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as error:
        _complain(f"cannot write the output: {error.strerror or error}")
        return 2
    except Exception as error:
        return _other(error)


def _other(error: Exception) -> int:
    if type(error).__name__ == "NoArgsIsHelpError":
        sys.stdout.write(str(getattr(error, "message", error)) + "\n")
        return 0
    shown = getattr(error, "format_message", None)  # the option parser's own usage errors
    if shown is not None:
        context = getattr(error, "ctx", None)
        hint = f" See '{context.command_path} --help'." if context is not None else ""
        _complain(f"{shown()}{hint}")
        return 2
    if os.environ.get("LINEWRIGHT_DEBUG"):
        raise error
    _complain(
        f"a fault of Linewright's own ({type(error).__name__}). Nothing was saved."
        " Set LINEWRIGHT_DEBUG=1 to see where, and please report it"
    )
    return 70


def _complain(text: str) -> None:
    sys.stderr.write(f"linewright: {text}\n")


def run() -> None:
    """Entry point of the installed command."""
    sys.exit(main())
