"""A stream of bars without end, each going on from the one before."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import lcm
from random import Random
from typing import TYPE_CHECKING

from linewright.lines.line import Line
from linewright.lines.rhythms import closing_bars
from linewright.lines.write import write_line
from linewright.score import Bar, ChordSpan

if TYPE_CHECKING:
    from linewright.lines.chain import Chain
    from linewright.lines.model import LineModel
    from linewright.lines.plan import LinePlan
    from linewright.lines.request import LineRequest
    from linewright.lines.setup import Setup

__all__ = ["stream"]

_LONGEST_ROUND = 128


def stream(model: LineModel, request: LineRequest) -> Iterator[Line]:
    """Bars of a line that never ends.

    One round of the chords and ``bars`` bars more are planned and their messages worked out
    once; the stream walks the round again and again, every note drawn given the note before
    and all that may follow. Pins, landing and intensity belong to lines with an end and are left out.
    """
    endless = request.with_(pins={}, landing=None, intensity=None, held=False, strict=False)
    first = model.plan(endless)
    period = lcm(len(first.progression.bars), len(closing_bars(model.analysis.lick, endless)))
    if period > _LONGEST_ROUND:
        period = len(first.progression.bars)
    if request.grid == "cells":  # a round of rhythms long enough not to be noticed
        period *= max(1, 16 // period)
    ahead = max(2, request.bars)
    whole = endless.with_(bars=period + ahead)
    setup = model.setup(whole, {})
    chain, plan = setup.chains[0], setup.plan
    rng = setup.dice(request.seed)
    return _bars(setup, chain, plan, period, rng, model)


def _bars(
    setup: Setup, chain: Chain, plan: LinePlan, period: int, rng: Random, model: LineModel
) -> Iterator[Line]:
    by_bar: list[list[int]] = [[] for _ in plan.bars]
    for t, slot in enumerate(plan.slots):
        by_bar[slot.bar - 1].append(t)
    at: int | None = None
    count = 0
    while True:
        for place in range(period):
            count += 1
            path = []
            for t in by_bar[place]:
                shown, at = chain.go_on(t, at, rng)
                path.append(shown)
            bar = _bar(plan, by_bar[place], place, count)
            part = replace(setup, plan=bar, stretches=[(0, len(path))])
            yield write_line(model.analysis, part, bar, [path])


def _bar(plan: LinePlan, slots: list[int], place: int, count: int) -> LinePlan:
    """The plan of one bar of the round, standing alone as bar ``count``."""
    old = plan.bars[place]
    bar = Bar(count, old.onset - old.onset, old.duration, old.meter, old.key)
    chords = tuple(
        ChordSpan(
            max(c.onset, old.onset) - old.onset,
            min(c.end, old.end) - max(c.onset, old.onset),
            c.symbol,
        )
        for c in plan.chords
        if c.onset < old.end and c.end > old.onset
    )
    moved = tuple(
        replace(plan.slots[t], onset=plan.slots[t].onset - old.onset, bar=count) for t in slots
    )
    return replace(plan, bars=(bar,), chords=chords, slots=moved)
