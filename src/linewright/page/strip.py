"""The rhythm strip: when every note comes and how long it lasts, on a ruler of beats.

One lane of blocks over the numbered beats of each bar, as wide as they are long; bars that do not
fit side by side go on below at the same scale. A filled block is picked, a hollow one slurred
into; a triangle over a block says that it is syncopated, and bars with the same letter have the
same rhythm.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from html import escape
from itertools import pairwise
from string import ascii_uppercase

from linewright.analysis import Analysis
from linewright.analysis.rhythm import Rhythm
from linewright.errors import OptionError
from linewright.page.palette import FRAME, INK, PAPER, QUIET, SERIF
from linewright.page.signs import printable
from linewright.page.systems import HEAD, share_bars
from linewright.score import Bar, Lick

__all__ = ["rhythm_strip_rows", "rhythm_strip_svg"]

_EDGE, _ROW, _LEGEND = 8, 82, 22
#: Heights in a row: bar number and letter, triangle, lane and its foot, beat numbers.
_NAME, _SIGN, _TOP, _FOOT, _BEATS = 13, 26, 30, 54, 71
#: Least pixels of a beat, least of the shortest time between two notes, most of a quarter note.
_LEAST_BEAT, _LEAST_GAP, _MOST = 26, 11, 96
Scale = Callable[[Fraction], float]
_TINT = "#9cc9e6"
_PARTS = {
    Fraction(1, 2): "½", Fraction(1, 3): "⅓", Fraction(2, 3): "⅔", Fraction(1, 4): "¼",
    Fraction(3, 4): "¾", Fraction(1, 6): "⅙", Fraction(5, 6): "⅚", Fraction(1, 8): "⅛",
}  # fmt: skip


def rhythm_strip_svg(lick: Lick, analysis: Analysis, width_px: int = 760) -> str:
    """Draw the rhythm of a lick as one ``svg`` element.

    Parameters
    ----------
    lick : Lick
    analysis : Analysis
        Of the same lick.
    width_px : int
        Width it is laid out for, 240 to 4000; it scales to the width it is given.

    Returns
    -------
    str
        Each note is a group with ``data-note`` and a title; the strip has a title of its own.

    Raises
    ------
    OptionError
        For a width out of range.
    """
    return _strip(lick, analysis, width_px).svg()


def rhythm_strip_rows(lick: Lick, analysis: Analysis, width_px: int = 760) -> tuple[str, ...]:
    """The same strip as one ``svg`` element for each row, for pages that break between them."""
    strip = _strip(lick, analysis, width_px)
    return tuple(strip.svg(row, row + 1) for row in range(len(strip.rows)))


def _strip(lick: Lick, analysis: Analysis, width_px: int) -> _Strip:
    if not 240 <= width_px <= 4000:
        raise OptionError(f"a rhythm strip {width_px} pixels wide", accepted="Use 240 to 4000")
    return _Strip(lick, analysis.rhythm, width_px)


class _Strip:
    def __init__(self, lick: Lick, rhythm: Rhythm, width: int) -> None:
        self.lick, self.rhythm, self.width = lick, rhythm, width
        self.syncopated = frozenset(rhythm.syncopated)
        self.letters = _letters(rhythm)
        self.rows = _rows(lick, width - 2 * _EDGE)
        longest = max(float(row[-1].end - row[0].onset) for row in self.rows)
        self.scale = min((width - 2 * _EDGE) / longest, _MOST)

    def svg(self, first: int = 0, last: int | None = None) -> str:
        """The strip, or only its rows from ``first`` up to ``last``; the legend after the last."""
        rows = self.rows[first:last]
        body = [self._row(row, number * _ROW) for number, row in enumerate(rows)]
        ends = last is None or last >= len(self.rows)
        legend = self._legend(len(rows) * _ROW + 12) if ends else ""
        height = len(rows) * _ROW + _LEGEND * legend.count('<g class="row"')
        title = f"Rhythm of {printable(self.lick.title).strip() or 'the lick'}"
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="rhythm-strip" role="group"'
            f' viewBox="0 0 {self.width} {height}" width="100%"'
            f' style="max-width:{self.width}px;height:auto;display:block"'
            f' font-family="{SERIF}" font-size="13" fill="{INK}">'
            f"<title>{escape(title)}</title>{''.join(body)}{legend}</svg>"
        )

    def _row(self, bars: Sequence[Bar], y: int) -> str:
        start = bars[0].onset

        def x(at: Fraction) -> float:
            return round(_EDGE + float(at - start) * self.scale, 1)

        ruler: list[str] = []
        numbers: list[str] = []
        names: list[str] = []
        for bar in bars:
            self._ruler(bar, x, y, ruler, numbers)
            left = x(bar.onset)
            if bar.number:
                names.append(f'<text x="{left + 4:g}" y="{y + _NAME}">{bar.number}</text>')
            letter = self.letters.get(bar.onset)
            if letter:
                at = left + 14 + 8 * len(str(bar.number))
                names.append(
                    f'<rect x="{at:g}" y="{y + 0.5:g}" width="18" height="16.5" rx="3" fill="none"'
                    f' stroke="{QUIET}"/><text class="same" x="{at + 9:g}" y="{y + _NAME}"'
                    f' font-weight="bold" text-anchor="middle" fill="{INK}">{letter}</text>'
                )
        end = x(bars[-1].end)
        ruler.append(f'<path d="M{end} {y + 4}V{y + _FOOT + 4}" stroke="{INK}"/>')
        return (
            f'<g class="ruler" stroke="#a6a6a6">{"".join(ruler)}</g>'
            f'<g class="beats" text-anchor="middle" fill="{QUIET}">{"".join(numbers)}</g>'
            f'<g class="bars" fill="{QUIET}">{"".join(names)}</g>'
            + self._held(bars, x, y)
            + "".join(self._column(column, x, y, bars[-1].end) for column in self._columns(bars))
        )

    def _ruler(self, bar: Bar, x: Scale, y: int, ruler: list[str], numbers: list[str]) -> None:
        """Bar line, beat lines and their numbers, and ticks where the beat is divided."""
        ruler.append(f'<path d="M{x(bar.onset)} {y + 4}V{y + _FOOT + 4}" stroke="{INK}"/>')
        opening = bar.onset - bar.offset(bar.onset)
        ruler.append(f'<path d="M{x(bar.onset)} {y + _FOOT}H{x(bar.end)}"/>')
        parts = self.rhythm.subdivision if self.rhythm.subdivision in (2, 3, 4, 6) else 1
        beats = zip(bar.meter.beat_onsets, bar.meter.beats, strict=True)
        for number, (offset, length) in enumerate(beats, start=1):
            for part in range(parts):
                at = opening + offset + length * part / parts
                if not bar.onset <= at < bar.end:
                    continue
                if part == 0:
                    dx = 6 if at == bar.onset else 0  # the first clear of its bar line
                    ruler.append(f'<path d="M{x(at)} {y + _TOP - 3}V{y + _FOOT + 4}"/>')
                    numbers.append(f'<text x="{x(at) + dx:g}" y="{y + _BEATS}">{number}</text>')
                elif float(length / parts) * self.scale >= 7:
                    ruler.append(f'<path d="M{x(at)} {y + _FOOT}v4"/>')

    def _held(self, bars: Sequence[Bar], x: Scale, y: int) -> str:
        """Notes still held from the row above: blocks without the edge of an attack."""
        start, stop = bars[0].onset, bars[-1].end
        return "".join(
            f'<g class="held" data-note="{index}" aria-hidden="true">'
            f'<rect x="{x(start) + 1:g}" y="{y + _TOP + 2}"'
            f' width="{max(x(min(note.end, stop)) - x(start) - 2.5, 2):.1f}"'
            f' height="{_FOOT - _TOP - 5}" rx="2" fill="{PAPER if note.is_joined else _TINT}"'
            f' stroke="{FRAME}" stroke-width="1.5"/></g>'
            for index, note in enumerate(self.lick.notes)
            if note.onset < start < note.end
        )

    def _columns(self, bars: Sequence[Bar]) -> list[list[int]]:
        """Notes that begin together, in the order they come."""
        columns: dict[Fraction, list[int]] = {}
        for index, note in enumerate(self.lick.notes):
            if bars[0].onset <= note.onset < bars[-1].end:
                columns.setdefault(note.onset, []).append(index)
        return list(columns.values())

    def _column(self, column: Sequence[int], x: Scale, y: int, stop: Fraction) -> str:
        high = (_FOOT - _TOP - 4) / len(column)
        found = []
        for place, index in enumerate(sorted(column, key=lambda i: -self.lick.notes[i].midi)):
            note = self.lick.notes[index]
            left, right = x(note.onset), x(min(note.end, stop))
            top = y + _TOP + 2 + place * high
            fill = PAPER if note.is_joined else _TINT
            sign = ""
            if index in self.syncopated:
                at, foot = left + 6, y + _SIGN
                sign = f'<path class="syncopated" d="M{at - 5:g} {foot}h10l-5 -9z"/>'
            found.append(
                f'<g class="note" data-note="{index}" role="img">'
                f"<title>{escape(self._says(index))}</title>"
                f'<rect x="{left + 1:g}" y="{top:g}" width="{max(right - left - 2.5, 2):.1f}"'
                f' height="{high - 1:g}" rx="2" fill="{fill}" stroke="{FRAME}" stroke-width="1.5"/>'
                f'<rect x="{left + 0.5:g}" y="{top - 0.5:g}" width="3" height="{high:g}"/>{sign}</g>'
            )
        return "".join(found)

    def _says(self, index: int) -> str:
        note = self.lick.notes[index]
        lasts = beats_words(note.duration / self.lick.bar_at(note.onset).meter.beat)
        words = [self.lick.place(note.onset), f"lasts {lasts}"]
        if note.is_joined:
            words.append("slurred")
        if index in self.syncopated:
            words.append("syncopated")
        return ", ".join(words)

    def _legend(self, y: int) -> str:
        """What the signs mean, those that stand in this strip; as many lines as it takes."""
        entries: list[tuple[str, str]] = []
        if any(note.is_joined for note in self.lick.notes):
            block = (
                f'<rect y="-10" width="14" height="11" rx="2" fill="{PAPER}" stroke="{FRAME}"'
                ' stroke-width="1.5"/>'
            )
            entries.append((block, "slurred, not picked"))
        if self.syncopated:
            entries.append(('<path d="M1 0h12l-6 -11z"/>', "syncopated: held over a stronger beat"))
        if self.letters:
            box = (
                f'<rect x="0" y="-12" width="16" height="15" rx="3" fill="none" stroke="{QUIET}"/>'
                '<text x="8" font-weight="bold" text-anchor="middle">A</text>'
            )
            entries.append((box, "same letter, same rhythm"))
        if self.rhythm.swing is not None:
            entries.append(("", f"played swung, {float(self.rhythm.swing):g} to 1"))
        if not entries:
            return ""
        rows: list[str] = []
        at = float(self.width)
        for sign, words in entries:
            wide = len(words) * 5.9 + (22 if sign else 0)
            if at + wide > self.width - _EDGE:
                rows.append("")
                at = _EDGE
            rows[-1] += (
                f'<g transform="translate({at:g} {y + (len(rows) - 1) * _LEGEND})">{sign}'
                f'<text x="{22 if sign else 0}">{words}</text></g>'
            )
            at += wide + 22
        return f'<g class="legend" fill="{QUIET}">' + "".join(
            f'<g class="row">{row}</g>' for row in rows
        ) + "</g>"  # fmt: skip


def beats_words(count: Fraction) -> str:
    """A number of beats: ``½ beat``, ``1 beat``, ``2¼ beats``."""
    whole, rest = divmod(count, 1)
    text = str(whole) if whole or not rest else ""
    if rest:
        text += _PARTS.get(rest) or (f" {rest}" if text else f"{rest}")
    return f"{text} {'beat' if count <= 1 else 'beats'}"


def _letters(rhythm: Rhythm) -> dict[Fraction, str]:
    """Onset of each bar whose rhythm recurs -> its letter, in the order they first come."""
    cells = sorted(rhythm.cells, key=lambda cell: cell.onsets[0])
    return {
        onset: letter
        for cell, letter in zip(cells, ascii_uppercase, strict=False)
        for onset in cell.onsets
    }


def _rows(lick: Lick, room: int) -> list[tuple[Bar, ...]]:
    """The bars of each row, as many as stand there legibly."""
    onsets = sorted({note.onset for note in lick.notes})
    shortest = min((b - a for a, b in pairwise(onsets)), default=Fraction(1))
    quarter = max(
        _LEAST_BEAT / float(min(bar.meter.beat for bar in lick.bars)),
        min(_LEAST_GAP / float(shortest), _MOST),
    )
    widths = [float(bar.duration) * quarter for bar in lick.bars]
    breaks = share_bars(widths, room + HEAD, pickup=lick.bars[0].number == 0)
    places = [0, *breaks, len(lick.bars)]
    return [tuple(lick.bars[a:b]) for a, b in pairwise(places)]
