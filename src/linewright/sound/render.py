"""Performances into sound.

Time is in samples from the start. Parts are mixed in three groups, ``lead`` (the part of that
name), ``click`` (parts of the click voice) and ``band`` (all others), each with its level.
Sound is float32 of shape (frames, 2), between -1 and 1.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.errors import OptionError
from linewright.score.performance import Performance
from linewright.sound.mix import faded, mastered
from linewright.sound.render_stage import GROUPS, Stage

__all__ = ["RATES", "render", "render_stems"]

_Sound = NDArray[np.float32]

#: Sample rates.
RATES: Final = (44100, 48000)
#: No performance is rendered that lasts longer.
_LONGEST_S: Final = 3600.0
#: Seconds a last chord may ring after the end, and in the last of which it fades if it still does.
_TAIL_S, _TAIL_FADE_S = 2.0, 1.2
_SPAN_S: Final = 8.0


def render(
    performance: Performance,
    *,
    rate: int = 44100,
    levels: Mapping[str, float] | None = None,
    seed: int = 0,
    loop: bool = False,
) -> _Sound:
    """The whole performance at -16 LUFS, its true peak under -1 dBTP.

    Sparse music (a click alone) stays softer, rather than be pressed against the ceiling.

    Parameters
    ----------
    performance : Performance
    rate : int
        44100 or 48000 samples a second.
    levels : mapping of str to float, optional
        For ``lead``, ``band``, ``click``: 1 as balanced, 0 silent, up to 4.
    seed : int
        Of the small differences between one pluck and the next.
    loop : bool
        Exactly as long as the performance, to be played round and round: what rings at the end
        rings on in the beginning. Otherwise what rings is added at the end.

    Returns
    -------
    ndarray of float32, shape (frames, 2)

    Raises
    ------
    OptionError
        An option is out of range, or the performance lasts over an hour.
    """
    stems = render_stems(performance, rate=rate, levels=levels, seed=seed, loop=loop)
    total = np.zeros_like(stems["lead"])
    for stem in stems.values():
        total += stem
    return total


def render_stems(
    performance: Performance,
    *,
    rate: int = 44100,
    levels: Mapping[str, float] | None = None,
    seed: int = 0,
    loop: bool = False,
) -> dict[str, _Sound]:
    """As :func:`render`, but ``lead``, ``band`` and ``click`` apart; their sum is its result."""
    gains = _checked(rate, levels)
    if performance.seconds(performance.length) > _LONGEST_S:
        raise OptionError(
            f"a performance of {performance.seconds(performance.length) / 60:.0f} minutes",
            accepted="At most one hour is rendered in one go; play fewer rounds",
        )
    stage = Stage(rate, seed)
    end = stage.schedule(performance, 0)
    if loop:  # each string is struck again a round later, so the second round is every round
        stage.schedule(performance, end)
        stage.schedule(performance, 2 * end)
        _taken(stage, 0, end)
        stems = _taken(stage, end, 2 * end)
    else:
        stems = _taken(stage, 0, end)
        tail = min(max(stage.silent_from - end, 0), round(_TAIL_S * rate))
        if tail:
            rest = stage.mix(end, end + tail)
            if stage.silent_from > end + tail:
                rest = faded(rest, round(_TAIL_FADE_S * rate))
            stems = {group: np.concatenate((stem, rest[group])) for group, stem in stems.items()}
    for group, level in gains.items():
        stems[group] *= np.float32(level)
    return mastered(stems, rate, loop=loop)


def _taken(stage: Stage, low: int, high: int) -> dict[str, _Sound]:
    """The stage's sound in spans, so that few notes are held at a time."""
    span = round(_SPAN_S * stage.rate)
    pieces = [stage.mix(at, min(at + span, high)) for at in range(low, high, span)]
    return {group: np.concatenate([piece[group] for piece in pieces]) for group in GROUPS}


def _checked(rate: int, levels: Mapping[str, float] | None) -> dict[str, float]:
    """Levels times the balance of the groups."""
    if rate not in RATES:
        raise OptionError(f"a sample rate of {rate}", accepted="Use 44100 or 48000")
    for group, level in (levels or {}).items():
        if group not in GROUPS:
            raise OptionError(f"no level is called {group!r}", accepted=f"Use {', '.join(GROUPS)}")
        if not (math.isfinite(level) and 0 <= level <= 4):
            raise OptionError(f"a level of {level} for {group}", accepted="Use 0 to 4")
    return {group: balance * (levels or {}).get(group, 1.0) for group, balance in GROUPS.items()}
