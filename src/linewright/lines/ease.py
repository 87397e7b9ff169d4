"""Wishes one step simpler or harder: leaps, outside notes and rhythm, one thing at a time.

The order is common practice in teaching: a line gets easier for the hand first (smaller leaps),
then for the ear (fewer outside notes), then for time (a plainer rhythm).
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from typing import Final

from linewright.lines.request import LineRequest

__all__ = ["LEAPS", "harder_steps", "simpler_steps"]

#: Size of the largest leap in half steps -> its name.
LEAPS: Final[dict[int, str]] = {
    3: "a minor 3rd", 4: "a major 3rd", 5: "a 4th", 7: "a 5th", 9: "a 6th", 12: "an octave",
}  # fmt: skip
_EASY_LEAP: Final = 5
_LEAST_OUTSIDE: Final = 0.02
_PLAINER: Final = {
    "cells": "eighths", "sixteenths": "triplets", "triplets": "eighths", "eighths": "quarters",
}  # fmt: skip
_LIVELIER: Final = {"quarters": "eighths", "eighths": "triplets", "triplets": "sixteenths"}
Way = tuple[LineRequest, str]


def simpler_steps(
    request: LineRequest, asked: Mapping[str, float], outside: Collection[str], grid: str
) -> Iterator[Way]:
    """The wishes one step simpler with what that step is, the most welcome first.

    Parameters
    ----------
    request : LineRequest
    asked : mapping of str to float
        The shares of the line that the request made.
    outside : collection of str
        The elements that are outside notes.
    grid : str
        The grid of that line, by name.
    """
    smaller = max((size for size in LEAPS if size < request.leap), default=None)
    if smaller is not None and request.leap > _EASY_LEAP:
        yield _leap(request, smaller)
    if any(asked.get(name, 0.0) > 0 for name in outside):
        mix = {name: _fewer(share) if name in outside else share for name, share in asked.items()}
        left = any(mix.get(name, 0.0) > 0 for name in outside)
        yield request.with_(mix=mix), "fewer outside notes" if left else "no outside notes"
    plainer = _PLAINER.get(grid)
    if plainer is not None and plainer != "quarters":
        yield request.with_(grid=plainer), f"steady {plainer}"
    if smaller is not None and request.leap <= _EASY_LEAP:
        yield _leap(request, smaller)
    if plainer == "quarters":
        yield request.with_(grid=plainer), f"steady {plainer}"


def harder_steps(
    request: LineRequest,
    asked: Mapping[str, float],
    outside: Collection[str],
    own: Mapping[str, float],
    grid: str,
) -> Iterator[Way]:
    """The same one step harder; ``own`` are the lick's own shares."""
    if grid == "quarters":
        yield request.with_(grid="eighths"), "steady eighths"
    grown = {
        name: min(own[name], max(1.5 * asked.get(name, 0.0), own[name] / 3))
        for name in outside
        if name in own and asked.get(name, 0.0) < own[name] - 0.005
    }
    if grown:
        yield request.with_(mix={**asked, **grown}), "more outside notes"
    wider = min((size for size in LEAPS if size > request.leap), default=None)
    if wider is not None:
        yield _leap(request, wider)
    more = {name: 1.3 * max(share, 0.03) for name, share in asked.items()}
    total = sum(more.values())
    if total:
        fits = min(1.0, 0.9 / total)
        if any(fits * more[name] > share + 0.01 for name, share in asked.items()):
            mix = {name: fits * share for name, share in more.items()}
            yield request.with_(mix=mix), "more of every element"
    livelier = _LIVELIER.get(grid)
    if livelier is not None and livelier != "eighths":
        yield request.with_(grid=livelier), f"steady {livelier}"


def _leap(request: LineRequest, size: int) -> Way:
    return request.with_(leap=size), f"no leap over {LEAPS[size]}"


def _fewer(share: float) -> float:
    return share / 2 if share / 2 >= _LEAST_OUTSIDE else 0.0
