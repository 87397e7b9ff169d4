"""Having at hand what the first page and the first sound of a fresh server would wait for.

Fonts of the engraver, tables of the sound, modules that only some pages need: made once, in the
background, by reading, drawing and playing a lick of our own. Nothing of it is kept or shown.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from functools import partial

__all__ = ["warm_up"]

_log = logging.getLogger("linewright.services.warming")


def warm_up(go_on: Callable[[], bool]) -> int:
    """Make it, one thing after the other; how many were made.

    Parameters
    ----------
    go_on : callable
        Asked before each thing: waits while there is something better to do, and says whether to
        go on at all.
    """
    made = 0
    for step in _steps():
        if not go_on():
            break
        try:
            step()
        except Exception as error:  # whatever it is, the page that needs it will say so
            _log.debug("not warmed: %s", error)
        else:
            made += 1
    return made


def _steps() -> Iterator[Callable[[], object]]:
    from linewright.services.demo_library import demo_licks
    from linewright.services.lesson import make_lesson
    from linewright.services.sounding import bar_wav, timing_map, warmed
    from linewright.sound.band import STYLES

    lick = next(iter(demo_licks()))[1].lick
    yield partial(make_lesson, lick)
    yield partial(timing_map, lick, "")
    yield warmed
    yield partial(bar_wav, lick, "lead", 0)
    for style in STYLES:
        yield partial(bar_wav, lick, "band", 0, style=style)
