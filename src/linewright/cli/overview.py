"""What ``linewright --help`` shows: the commands in groups, and each command's examples."""

from __future__ import annotations

from typing import Any, Final

from typer.core import TyperGroup

__all__ = ["GROUPS", "Overview", "examples"]

#: Heading -> command -> what it does, short enough for one line of a terminal.
GROUPS: Final[dict[str, dict[str, str]]] = {
    "One lick": {
        "analyze": "which scale it hangs on and why, what recurs, what lies outside",
        "compare": "what two licks share and where they differ",
        "move": "the lick in another key, chord quality, position or tuning",
        "convert": "the lick in another format, with string and fret",
        "handout": "a printed lesson",
    },
    "Lines": {
        "line": "a new line in the lick's character, over any chords",
    },
    "Practice": {
        "plan": "a graded practice plan, to read, print or put in a calendar",
        "take": "hear a try of a step and say whether the step is done",
    },
    "Sound": {
        "render": "a sound file or MIDI, with a band and a click",
        "hear": "the notes of a recording",
    },
    "Library": {
        "keep": "put licks and whole tune books in",
        "find": "search it by what is in the licks",
        "export": "everything out, in open formats",
        "import": "everything back in",
        "serve": "all of this on a page",
    },
}

_EXAMPLES: Final[dict[str, tuple[str, ...]]] = {
    "analyze": (
        "linewright analyze lick.tab",
        "linewright analyze book.abc --tune 3 --bars 1-4 --tonic D",
        "linewright analyze - --from abc --json < lick.abc",
    ),
    "compare": (
        "linewright compare monday.tab tuesday.tab",
        "linewright compare book.abc book.abc --tune 1 --second-tune 2",
    ),
    "move": (
        "linewright move lick.tab --key C",
        "linewright move lick.tab --quality minor --position 5",
        "linewright move lick.tab --instrument mandolin -o mandolin.tab",
    ),
    "convert": (
        "linewright convert lick.tab -o lick.musicxml",
        "linewright convert tune.abc --octave guitar --to tab",
        "linewright convert tune.mid --instrument mandolin -o tune.tab",
    ),
    "handout": (
        "linewright handout lick.tab -o lesson.pdf --paper letter",
        "linewright handout lick.tab -o lesson.pdf --plan --level beginner",
    ),
    "line": (
        "linewright line lick.tab --over '12-bar blues' --bars 12",
        "linewright line lick.tab --over 'Dm7 | G7 | Cmaj7 | Cmaj7' --landing 3",
        "linewright line lick.tab --bars 8 --mix b5=10% --mix f1=40% --grow 40-160",
        "linewright line lick.tab --bars 8 --keep 7-8 --range G3-D5 --swing --seed 4",
    ),
    "plan": (
        "linewright plan lick.tab --level beginner --length month",
        "linewright plan lick.tab -o plan.pdf",
        "linewright plan lick.tab -o plan.ics --start 2026-03-02",
    ),
    "take": (
        "linewright plan lick.tab -o plan.json",
        "linewright take try.wav --plan plan.json --step 3",
        "linewright take try.wav --plan plan.json --step 3 --tempo 66 --start 2.4",
    ),
    "render": (
        "linewright render lick.tab -o lick.mp3 --band usual --count-in 1 --tempo 80",
        "linewright render lick.tab -o along.mp3 --band usual --no-lead --loops 8 --click 2and4",
        "linewright render lick.tab -o lick.mid --band swing",
    ),
    "hear": (
        "linewright hear try.wav",
        "linewright hear try.m4a --tempo 96 --instrument mandolin --json",
    ),
    "keep": (
        "linewright keep lick.tab --tags 'week 3, pentatonic'",
        "linewright keep tunebook.abc --octave guitar",
    ),
    "find": (
        "linewright find porch --style blues",
        "linewright find --frame 'minor pentatonic' --outside b5",
    ),
    "export": ("linewright export everything.zip",),
    "import": ("linewright import everything.zip --library new.db",),
    "serve": ("linewright serve --open", "linewright serve --demo --library demo.db"),
}


def examples(name: str) -> str:
    """What stands below a command's options."""
    return "\b\nExamples:\n" + "\n".join(f"  {line}" for line in _EXAMPLES[name])


class Overview(TyperGroup):
    """The commands by what they are for."""

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write a section for each group."""
        del ctx
        for title, commands in GROUPS.items():
            with formatter.section(title):
                formatter.write_dl(list(commands.items()))
