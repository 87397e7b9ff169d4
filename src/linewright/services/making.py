"""Making lines from a lick: the use cases behind the command, the page and the JSON API."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import datetime
from functools import lru_cache
from typing import Final, Literal, TypeVar

from linewright.errors import OptionError
from linewright.lines import Line, LineModel, LineRequest, line_model, parse_progression
from linewright.score import Lick
from linewright.services.bring import BroughtIn, made_of
from linewright.services.shelf import About, Kept, Library, keep
from linewright.services.wishes import MOST_BARS, Steps, Wishes, trimmed

__all__ = [
    "Teaching",
    "keep_line",
    "line_of",
    "make_line",
    "nearer",
    "parse_mix",
    "request_of",
    "teaching_of",
    "with_lick_in",
]

_USUAL_BARS: Final = 8
_Found = TypeVar("_Found")


class Teaching:
    """What one lick teaches a line, kept at hand for the next line.

    The model keeps what it worked out for its last requests and is not made for several threads
    at once, so it is used in turn.
    """

    def __init__(self, lick: Lick, tonic: str | None) -> None:
        self.analysis = made_of(lick, tonic)
        self._model: Final = line_model(self.analysis)
        self._turn = threading.Lock()

    def use(self, ask: Callable[[LineModel], _Found]) -> _Found:
        """What ``ask`` gets from the model."""
        with self._turn:
            return ask(self._model)


@lru_cache(maxsize=16)
def teaching_of(lick: Lick, tonic: str | None = None) -> Teaching:
    """The line model of a lick; one for each revision of it, the last ones kept at hand.

    Raises
    ------
    OptionError
        When the lick hangs on no frame, so that no line can be made.
    MusicError
        When it has too few notes.
    """
    return Teaching(lick, tonic)


def make_line(brought: BroughtIn, request: LineRequest) -> Line:
    """One line in the character of a lick."""
    return line_model(brought.analysis).sample(request)


def line_of(lick: Lick, tonic: str | None, steps: Steps) -> Line:
    """The line that wishes ask for; the last of ``steps`` may hold bars of the one before it.

    A line depends on nothing else, so the last lines are kept at hand.

    Raises
    ------
    OptionError
        When no line can meet the wishes, saying which of them clash.
    """
    return _line(lick, tonic, trimmed(steps))


@lru_cache(maxsize=64)
def _line(lick: Lick, tonic: str | None, steps: Steps) -> Line:
    now, teaching = steps[-1], teaching_of(lick, tonic)
    request = request_of(teaching, now)
    if not now.hold:
        return teaching.use(lambda model: model.sample(request))
    before = _line(lick, tonic, steps[:-1])
    last = min(request.bars, before.request.bars)
    if now.hold[-1] > last:
        raise OptionError(f"there is no bar {now.hold[-1]} to hold", accepted=f"Use 1 to {last}")
    base = replace(before, request=request)
    return teaching.use(lambda model: model.resample(base, now.hold, seed=request.seed))


def request_of(teaching: Teaching, wishes: Wishes) -> LineRequest:
    """Wishes as the line maker takes them."""
    lick = teaching.analysis.lick
    bars = wishes.bars
    if wishes.over and bars is None:
        over = parse_progression(wishes.over, key=teaching.analysis.tonic)
        bars = min(len(over.bars), MOST_BARS)
    request = LineRequest(
        bars=bars or _USUAL_BARS,
        progression=wishes.over or None,
        seed=wishes.seed,
        mix=dict(wishes.mix) if wishes.mix is not None else None,
        leap=wishes.leap,
        quote=wishes.quote,
        start=wishes.start,
        landing=wishes.landing,
        grid=wishes.grid,
        follow=wishes.follow,
        tempo=wishes.tempo,
    )
    if wishes.lick_in is None:
        return request
    first, last = wishes.lick_in
    if last > request.bars:
        raise OptionError(
            f"the lick cannot stand in bars {first} to {last}",
            accepted=f"This line has bars 1 to {request.bars}",
        )
    return _with_in(request, lick, first, last)


def nearer(lick: Lick, tonic: str | None, steps: Steps, way: Literal["simpler", "harder"]) -> Steps:
    """The steps with the last wishes made simpler or harder, in whole percents."""
    line, teaching = line_of(lick, tonic, steps), teaching_of(lick, tonic)
    found = teaching.use(
        lambda model: model.simpler(line) if way == "simpler" else model.harder(line)
    ).request
    mix = tuple(sorted((name, int(share * 100) / 100) for name, share in (found.mix or {}).items()))
    return (*steps[:-1], steps[-1].with_(leap=found.leap, mix=mix or None))


def keep_line(
    library: Library,
    lick: Lick,
    tonic: str | None,
    steps: Steps,
    title: str | None = None,
    *,
    now: datetime | None = None,
) -> Kept:
    """Make a line and put it into the library as a lick of its own, tagged ``line``.

    It is read against the line's home where its notes alone would be read otherwise.
    """
    line = line_of(lick, tonic, steps)
    made = line.lick.with_(title=f"{line.lick.title}, seed {line.seed}", tags=("line",))
    key = line.progression.key
    home = key.tonic if key else teaching_of(lick, tonic).analysis.tonic
    found = made_of(made)
    given = None if found.tonic.number == home.number else home.name
    brought = BroughtIn(made, made_of(made, given) if given else found, given)
    return keep(library, brought, About(title=title), now=now)


def with_lick_in(request: LineRequest, brought: BroughtIn, first: int, last: int) -> LineRequest:
    """The request with the lick itself standing in bars ``first`` to ``last``."""
    return _with_in(request, brought.analysis.lick, first, last)


def _with_in(request: LineRequest, lick: Lick, first: int, last: int) -> LineRequest:
    whole = [bar.number for bar in lick.bars if bar.number]
    count = last - first + 1
    if not 1 <= count <= len(whole):
        raise OptionError(
            f"the lick has {len(whole)} full {'bar' if len(whole) == 1 else 'bars'},"
            f" so it cannot fill bars {first} to {last}",
            accepted=f"Keep up to {len(whole)} bars, as in {first}-{first + len(whole) - 1}",
        )
    return request.with_(pins={first: lick.slice(1, count)})


def parse_mix(wishes: Iterable[str]) -> dict[str, float] | None:
    """Read ``b5=10%`` or ``f1=0.3``; None for no wishes.

    >>> parse_mix(["b5=10%", "sequence=0.5"])
    {'b5': 0.1, 'sequence': 0.5}
    """
    mix: dict[str, float] = {}
    for wish in wishes:
        name, sign, share = wish.partition("=")
        number = share.strip().removesuffix("%")
        try:
            value = float(number) / (100 if share.strip().endswith("%") else 1)
        except ValueError:
            value = -1.0
        if not sign or not name.strip() or not 0 <= value <= 1:
            raise OptionError(
                f"the wish {wish!r} is not a share of the notes",
                accepted="Write it as b5=10% or f1=0.3",
            )
        mix[name.strip()] = value
    return mix or None
