"""Small drawings of a take's time: early and late note by note, and takes one after the other.

Marks differ by shape as well as colour (Okabe and Ito 2008): a dot is within what is allowed, a
cross is not, a ring was not heard clearly.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

from linewright.page.palette import FIGURE, FRAME, INK, LINES, OUTSIDE, PAPER, QUIET

__all__ = ["HistoryPoint", "TimingNote", "history_chart", "timing_chart"]

_LEFT, _RIGHT = 66, 10
_FONT: Final = 'font-size="12" font-family="sans-serif"'


@dataclass(frozen=True, slots=True)
class TimingNote:
    """A note in time: the quarter it stands at, how late it came, and what is said of it."""

    index: int
    at: float
    late_ms: float
    is_sure: bool
    says: str


@dataclass(frozen=True, slots=True)
class HistoryPoint:
    """A take among others: its tempo, its spread, and whether it counts as done (None: open) or
    was at least ``clean`` at a slower tempo.
    """

    name: str
    bpm: float
    spread_ms: float | None
    passed: bool | None
    clean: bool = False


def timing_chart(
    notes: Sequence[TimingNote],
    bars: Sequence[tuple[int, float]],
    end: float,
    *,
    allowed_ms: float,
    width: int = 760,
    height: int = 150,
) -> str:
    """Early and late, note by note, as an SVG.

    Parameters
    ----------
    notes : sequence of TimingNote
        Each mark carries ``data-note``.
    bars : sequence of (int, float)
        Number of each bar and the quarter it begins at.
    end : float
        Quarters the take lasts.
    allowed_ms : float
        Half the height of the shaded band: what one note may be off.
    width, height : int
    """
    most = max([allowed_ms * 1.6, *(abs(note.late_ms) for note in notes)])
    reach = _round_up(min(most, 6 * allowed_ms))
    top, bottom = 16, height - 24
    middle = (top + bottom) / 2

    def x(at: float) -> float:
        return _LEFT + (width - _LEFT - _RIGHT) * at / (end or 1)

    def y(ms: float) -> float:
        return middle + max(-1.0, min(1.0, ms / reach)) * (bottom - top) / 2

    parts = [
        f'<rect x="{_LEFT}" y="{y(-allowed_ms):.1f}" width="{width - _LEFT - _RIGHT}"'
        f' height="{y(allowed_ms) - y(-allowed_ms):.1f}" fill="{FIGURE}" fill-opacity=".14"/>',
        f'<path d="M{_LEFT} {middle:.1f}H{width - _RIGHT}" stroke="{INK}"/>',
    ]
    for ms, words in ((-reach, f"{reach:g} early"), (0.0, "click"), (reach, f"{reach:g} late")):
        parts.append(
            f'<text x="{_LEFT - 6}" y="{y(ms) + 4:.1f}" text-anchor="end" {_FONT}'
            f' fill="{QUIET}">{words}</text>'
        )
    apart = max(1, math.ceil(len(bars) * 26 / (width - _LEFT)))
    for place, (number, at) in enumerate(bars):
        parts.append(f'<path d="M{x(at):.1f} {top}V{bottom}" stroke="{LINES}" stroke-width=".5"/>')
        if place % apart == 0:
            parts.append(
                f'<text x="{x(at) + 3:.1f}" y="{height - 8}" {_FONT} fill="{QUIET}">{number}</text>'
            )
    for note in notes:
        mark = _note_mark(x(note.at), y(note.late_ms), note, allowed_ms)
        parts.append(f'<g data-note="{note.index}"><title>{escape(note.says)}</title>{mark}</g>')
    label = "Early and late, note by note; the same is in the table below"
    return _svg(width, height, label, parts, "timing-chart")


def _note_mark(x: float, y: float, note: TimingNote, allowed_ms: float) -> str:
    if not note.is_sure:
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{PAPER}" stroke="{FRAME}" stroke-width="2"/>'
    if abs(note.late_ms) > allowed_ms:
        return _cross(x, y)
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.5" fill="{INK}"/>'


def _cross(x: float, y: float) -> str:
    return (
        f'<path d="M{x - 4:.1f} {y - 4:.1f}l8 8m0 -8l-8 8" stroke="{OUTSIDE}" stroke-width="2.5"'
        ' fill="none"/>'
    )


def history_chart(
    points: Sequence[HistoryPoint], *, goal_bpm: float, spread_ms: float, width: int = 620
) -> str:
    """Tempo and spread of takes over time, one above the other, as an SVG.

    Parameters
    ----------
    points : sequence of HistoryPoint
        The first take first.
    goal_bpm, spread_ms : float
        What the step asks for: dashed lines.
    width : int
    """
    tempo = _panel(
        [(p.bpm, p) for p in points], goal_bpm, width, 18, 92, "a minute", falls_to_zero=False
    )
    spread = _panel(
        [(p.spread_ms, p) for p in points], spread_ms, width, 132, 190, "ms spread",
        falls_to_zero=True,
    )  # fmt: skip
    label = "Tempo and spread of the takes, the first one left; the same is in the table below"
    return _svg(width, 204, label, [*tempo, *spread], "history-chart")


def _panel(
    values: Sequence[tuple[float | None, HistoryPoint]],
    goal: float,
    width: int,
    top: int,
    bottom: int,
    unit: str,
    *,
    falls_to_zero: bool,
) -> list[str]:
    known = [value for value, _ in values if value is not None]
    high = max([goal, *known]) * 1.08
    low = 0.0 if falls_to_zero else min([goal, *known]) * 0.92

    def y(value: float) -> float:
        return bottom - (bottom - top) * (value - low) / ((high - low) or 1)

    step = (width - _LEFT - _RIGHT - 20) / max(1, len(values) - 1)
    parts = [
        f'<path d="M{_LEFT} {top}V{bottom}H{width - _RIGHT}" fill="none" stroke="{LINES}"/>',
        f'<path d="M{_LEFT} {y(goal):.1f}H{width - _RIGHT}" stroke="{FIGURE}" stroke-width="1.5"'
        ' stroke-dasharray="6 4"/>',
        f'<text x="{_LEFT - 6}" y="{y(goal) + 4:.1f}" text-anchor="end" {_FONT} fill="{INK}">'
        f"{goal:g}</text>",
        f'<text x="{_LEFT}" y="{top - 6}" {_FONT} fill="{QUIET}">{unit}, dashed: what the step'
        f" asks</text>",
    ]
    line: list[str] = []
    marks: list[str] = []
    for place, (value, point) in enumerate(values):
        if value is None:
            continue
        x, at = _LEFT + 10 + place * step, y(value)
        line.append(f"{'L' if line else 'M'}{x:.1f} {at:.1f}")
        marks.append(f"<g><title>{escape(point.name)}</title>{_take_mark(x, at, point)}</g>")
    if len(line) > 1:
        parts.append(f'<path d="{"".join(line)}" fill="none" stroke="{LINES}"/>')
    return [*parts, *marks]


def _take_mark(x: float, y: float, point: HistoryPoint) -> str:
    if point.passed:
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5" fill="{FIGURE}"/>'
    if point.passed is False and point.clean:
        return (
            f'<path d="M{x:.1f} {y - 6:.1f}l6 6l-6 6l-6 -6z" fill="{PAPER}" stroke="{FIGURE}"'
            ' stroke-width="2"/>'
        )
    if point.passed is False:
        return _cross(x, y)
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{PAPER}" stroke="{FRAME}" stroke-width="2"/>'


def _round_up(value: float) -> float:
    step = 10 if value <= 100 else 50
    return float(step * math.ceil(value / step))


def _svg(width: int, height: int, label: str, parts: Sequence[str], kind: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{kind}" role="group"'
        f' aria-label="{escape(label)}" viewBox="0 0 {width} {height}" width="{width}">'
        f"{''.join(parts)}</svg>"
    )
