"""Sound files of a lick: what the command renders, and the page without scripts plays."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from fractions import Fraction
from pathlib import PurePath
from typing import Final

from linewright.errors import OptionError
from linewright.formats.midi import write_performance
from linewright.score import Lick
from linewright.sound.band import ClickPlan, performance_of
from linewright.sound.band.passes import passes_of

__all__ = ["KINDS", "kind_of", "plan_click", "recorded"]

#: What can be rendered, by the ending of a file's name.
KINDS: Final = ("wav", "flac", "mp3", "ogg", "mid")


def kind_of(name: str) -> str:
    """The kind of file a name asks for; OptionError for one that is not rendered."""
    ending = PurePath(name).suffix.lower().removeprefix(".")
    ending = {"midi": "mid", "oga": "ogg"}.get(ending, ending)
    if ending not in KINDS:
        raise OptionError(
            f"{PurePath(name).name!r} names no kind of sound file",
            accepted=f"End the name in .{', .'.join(KINDS)}",
        )
    return ending


def plan_click(pattern: str | None, drop: str | None) -> ClickPlan | None:
    """A click from what is typed: a pattern, and bars on and off as in ``2-2``.

    >>> plan_click("beats", "2-1")
    ClickPlan(pattern='beats', sound=2, silent=1)
    """
    if drop is None:
        return ClickPlan(pattern) if pattern is not None else None
    sound, _, silent = drop.partition("-")
    if not (sound.strip().isdecimal() and silent.strip().isdecimal()):
        raise OptionError(f"--drop {drop!r:.40} is not bars on and off", accepted="Write it as 2-2")
    return ClickPlan(pattern or "beats", int(sound), int(silent))


def recorded(
    lick: Lick,
    kind: str,
    *,
    band: str | None = None,
    click: ClickPlan | None = None,
    count_in: int = 0,
    lead: bool = True,
    loops: int = 1,
    tempo: Fraction | None = None,
    seed: int | None = None,
    levels: Mapping[str, float] | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> bytes:
    """A lick as the bytes of a sound file, or of a multi-track MIDI file.

    The parameters are those of :func:`linewright.sound.band.performance_of`; ``levels`` are of
    ``lead``, ``band`` and ``click``, 1 as balanced. ``progress`` is told of passes done. In a sound
    file what is held to the end rings on for up to two seconds.

    Raises
    ------
    OptionError, MusicError, WriteError
    """
    performance = performance_of(
        lick, band=band, click=click, count_in=count_in, lead=lead, loops=loops, tempo=tempo,
        seed=seed,
    )  # fmt: skip
    steps = 2
    if progress is not None:
        progress(0, steps)
    if kind == "mid":
        laid = passes_of(lick, loops, count_in)
        data = write_performance(performance, laid.bars(lick), lick.title)
    else:
        from linewright.sound.lead import left_ringing
        from linewright.sound.render import render  # numpy: only sound pays for it
        from linewright.sound.write_audio import write_audio

        end = performance.length
        parts = tuple(left_ringing(part, end) for part in performance.parts)
        samples = render(replace(performance, parts=parts), levels=levels)
        if progress is not None:
            progress(1, steps)
        data = write_audio(samples, 44100, kind)
    if progress is not None:
        progress(steps, steps)
    return data
