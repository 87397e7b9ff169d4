"""The takes of a step as a page shows them: rows, a chart, and the tempo to try next."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from linewright.page.timing_chart import HistoryPoint, history_chart
from linewright.practice import StepSheet
from linewright.services.reviewing import StepHistory
from linewright.services.takes import TakeEntry

__all__ = ["HistoryRow", "HistoryView", "history_view", "next_tempo"]

_MOST_POINTS: Final = 40
_SLOWER: Final = "clean, slower"
_WORDS: Final = {True: ("done", "✓"), False: ("not yet", "✕"), None: ("left open", "?")}


@dataclass(frozen=True)
class HistoryRow:
    """A take in the list of a step's takes."""

    id: int
    at: datetime
    bpm: str
    spread: str
    state: str
    mark: str
    is_here: bool


@dataclass(frozen=True)
class HistoryView:
    """The judged takes of a step, the last one first, and a chart of them; ``''`` for fewer than
    two.
    """

    rows: tuple[HistoryRow, ...]
    best_clean: str
    chart: str
    narrow_chart: str
    due: datetime | None


def history_view(step: StepSheet, history: StepHistory, here: int | None = None) -> HistoryView:
    """How a step is coming on; ``here`` is the take whose page it stands on."""
    takes = [take for take in history.takes if take.state == "judged"]
    points = [_point(take) for take in takes[-_MOST_POINTS:]]
    charts = [
        history_chart(points, goal_bpm=step.done.bpm, spread_ms=step.done.spread_ms, width=width)
        if len(points) > 1
        else ""
        for width in (620, 340)
    ]
    return HistoryView(
        tuple(_row(take, take.id == here) for take in reversed(takes)),
        f"{history.best_clean:g}" if history.best_clean is not None else "",
        charts[0],
        charts[1],
        history.review.due if history.review else None,
    )


def _point(take: TakeEntry) -> HistoryPoint:
    state, _ = _standing(take)
    spread = f", spread {take.spread_ms:.0f} ms" if take.spread_ms is not None else ""
    name = f"{take.at.astimezone():%d %B}: at {take.setting.bpm:g}{spread}, {state}"
    return HistoryPoint(name, take.setting.bpm, take.spread_ms, take.counts, state == _SLOWER)


def _standing(take: TakeEntry) -> tuple[str, str]:
    """In words, and with a mark."""
    if take.counts is False and take.clean and take.ruling is None:
        return _SLOWER, "◇"
    return _WORDS[take.counts]


def _row(take: TakeEntry, is_here: bool) -> HistoryRow:
    state, mark = _standing(take)
    if take.ruling is not None:
        state += f", says {take.by}"
    spread = f"{take.spread_ms:.0f} ms" if take.spread_ms is not None else "–"
    return HistoryRow(take.id, take.at, f"{take.setting.bpm:g}", spread, state, mark, is_here)


def next_tempo(step: StepSheet, history: StepHistory) -> int:
    """The rung of the ladder to try: the one over the best clean tempo; before any clean take the
    last one tried, or the step's own.
    """
    ladder = step.tempo_ladder
    if history.best_clean is not None:
        return next((bpm for bpm in ladder if bpm > history.best_clean), ladder[-1])
    tried = [round(take.setting.bpm) for take in history.takes]
    return next((bpm for bpm in reversed(tried) if bpm in ladder), ladder[-1])
