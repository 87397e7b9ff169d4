"""The command line: parse, make one service call, print, exit.

Exit codes: 0 done, 1 done but some tunes of a book failed, 2 the input or an option cannot be used
(one line on standard error says what, where and what is accepted), 70 a fault of Linewright's own.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from typing import Annotated, Final

import typer

from linewright.cli import hear, lick, lines, moving, practice, shelf, sound, takes
from linewright.cli.overview import Overview, examples
from linewright.errors import ChoiceNeeded, LinewrightError

__all__ = ["app", "main", "run"]

app = typer.Typer(
    name="linewright",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
    cls=Overview,
    help=(
        "Take one short phrase, a lick, and see what it is made of; make fresh lines in its"
        " character, a practice plan, a printed lesson and sound; and hear whether it is played.\n\n"
        "A lick is a text tab, ABC, MusicXML or MIDI file. Begin with:\n\n"
        "\b\n"
        "  linewright analyze lick.tab\n"
        "  linewright serve --demo"
    ),
    epilog="linewright COMMAND --help teaches each of them, with examples.",
)

_COMMANDS: Final[dict[str, Callable[..., None]]] = {
    "analyze": lick.analyze,
    "compare": lick.compare,
    "move": moving.move,
    "convert": lick.convert,
    "handout": lick.handout,
    "line": lines.line,
    "plan": practice.plan,
    "take": takes.take,
    "render": sound.render,
    "hear": hear.hear,
    "keep": shelf.keep,
    "find": shelf.find,
    "export": shelf.export_,
    "import": shelf.import_,
    "serve": shelf.serve,
}
for _name, _command in _COMMANDS.items():
    app.command(_name, epilog=examples(_name))(_command)


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
        hint = f". See '{context.command_path} --help'" if context is not None else ""
        _complain(f"{shown().rstrip('.')}{hint}")
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
