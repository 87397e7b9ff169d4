"""A plan as its page shows it: each piece engraved, each step with where the player stands."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from html import escape
from typing import Final

from linewright.analysis.prose import capital
from linewright.errors import WriteError
from linewright.page.engraving import engrave_pages
from linewright.page.signs import musical
from linewright.practice import Piece, PlanSheet, StepSheet, beat_name
from linewright.services.drawing import drawn
from linewright.store.practice import PlanEntry, StepMark

__all__ = ["PieceView", "Standing", "StepView", "pieces_of", "standing_of", "steps_of", "tempos_in"]

#: A little smaller than a lick's own score: a plan holds many.
_WIDE, _NARROW, _SCALE = 760, 340, 0.36
_TITLE: Final = re.compile(r'(data-note="(\d+)"[^>]*>)<title>([^<]*)</title>')


@dataclass(frozen=True)
class PieceView:
    """A drill or an example line, engraved for a page and a phone."""

    title: str
    words: str
    wide: str
    narrow: str
    problem: str | None


@dataclass(frozen=True)
class StepView:
    """A step and where the player stands in it.

    ``state`` is ``done``, ``opened``, ``open`` (may be begun), ``not yet`` (may be begun, and
    was tried) or ``held``; ``held_by`` is the step that holds it back. Without a student every
    step is ``open``.
    """

    step: StepSheet
    state: str
    held_by: int | None
    mark: StepMark | None
    history: tuple[StepMark, ...]


@dataclass(frozen=True)
class Standing:
    """Where a plan stands: steps done, of how many, and the step the player is at (None: all
    are behind).
    """

    entry: PlanEntry
    done: int
    opened: int
    steps: int
    at: int | None
    at_title: str | None
    last: StepMark | None

    @property
    def when(self) -> datetime:
        """When something last happened."""
        return self.last.at if self.last else self.entry.made


def standing_of(entry: PlanEntry) -> Standing:
    """Where a plan stands."""
    progress = entry.progress
    at = progress.current
    return Standing(
        entry,
        done=sum(mark.done for mark in progress.marks),
        opened=sum(mark.opens and not mark.done for mark in progress.marks),
        steps=len(entry.steps),
        at=at,
        at_title=entry.steps[at - 1][1] if at else None,
        last=entry.last,
    )


def steps_of(sheet: PlanSheet, entry: PlanEntry | None = None) -> tuple[StepView, ...]:
    """The steps, with what was said of them when the plan is a student's."""
    if entry is None:
        return tuple(StepView(step, "open", None, None, ()) for step in sheet.steps)
    progress = entry.progress
    views = []
    for step in sheet.steps:
        mark = entry.mark_of(step.number)
        held = not progress.can_start(step.number)
        said = progress.marks[step.number - 1]
        if said.done:
            state = "done"
        elif said.opens:
            state = "opened"
        elif held:
            state = "held"
        else:
            state = "not yet" if mark else "open"
        views.append(
            StepView(
                step,
                state,
                progress.current if held else None,
                mark,
                tuple(m for m in entry.marks if m.step == step.number and m.undone is None),
            )
        )
    return tuple(views)


def pieces_of(step: StepSheet) -> tuple[tuple[PieceView, ...], tuple[PieceView, ...]]:
    """The drills and the example lines of a step, engraved; the last ones are kept at hand."""
    return (
        tuple(_piece(piece) for piece in step.drills),
        tuple(_piece(piece) for piece in step.examples),
    )


def _piece(piece: Piece) -> PieceView:
    try:
        wide, narrow = (_drawing(piece, width) for width in (_WIDE, _NARROW))
    except WriteError as error:
        return PieceView(piece.title, piece.words, "", "", str(error))
    return PieceView(piece.title, piece.words, wide, narrow, None)


@lru_cache(maxsize=512)
def _drawing(piece: Piece, width: int) -> str:
    marked = dict(piece.outside)
    lick = piece.lick
    chords = lick.chords if any(span.symbol for span in lick.chords) else ()
    shown = lick.with_(tempo=None, chords=chords, title=piece.title)

    def draw() -> str:
        return engrave_pages(
            shown, labels=marked, outside=marked, width_px=width, scale=_SCALE, close=True
        )[0].svg

    svg = drawn(draw)
    if not piece.reasons:
        return svg

    def with_reason(match: re.Match[str]) -> str:
        why = musical(piece.reasons[int(match[2])])
        return f"{match[1]}<title>{match[3]}. {escape(capital(why))}.</title>"

    return _TITLE.sub(with_reason, svg)


def tempos_in(sheet: PlanSheet) -> str:
    """What the tempos of a plan count, in words."""
    return f"{beat_name(sheet.beat)} a minute"
