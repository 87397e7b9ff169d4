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

__all__ = ["rhythm_strip_rows", "rhythm_strip_svg", "rhythm_strip_widths"]

_EDGE, _ROW, _LEGEND = 8, 82, 22
#: Room for a letter of the legend, in the widest serif a reader's machine may put in.
_LETTER = 7
#: Heights in a row: bar number and letter, triangle, lane and its foot, beat numbers.
_NAME, _SIGN, _TOP, _FOOT, _BEATS = 13, 26, 30, 54, 71
#: Least pixels of a beat, least of the shortest time between two notes, most of a quarter note.
_LEAST_BEAT, _LEAST_GAP, _MOST = 26, 11, 96
#: Pixels from the left of a moment.
Scale = Callable[[int], float]
_TINT = "#9cc9e6"
#: Moments are counted in ticks of the lick's grid over this, so that parts of beats are whole too.
_FINER = 12
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


def rhythm_strip_widths(lick: Lick, analysis: Analysis, widths_px: Sequence[int]) -> list[str]:
    """The same strip for each of several widths, its words and places worked out once."""
    facts = _Facts(lick, analysis.rhythm)
    return [_strip(lick, analysis, width, facts).svg() for width in widths_px]


def rhythm_strip_rows(lick: Lick, analysis: Analysis, width_px: int = 760) -> tuple[str, ...]:
    """The same strip as one ``svg`` element for each row, for pages that break between them."""
    strip = _strip(lick, analysis, width_px)
    return tuple(strip.svg(row, row + 1) for row in range(len(strip.rows)))


def _strip(lick: Lick, analysis: Analysis, width_px: int, facts: _Facts | None = None) -> _Strip:
    if not 240 <= width_px <= 4000:
        raise OptionError(f"a rhythm strip {width_px} pixels wide", accepted="Use 240 to 4000")
    return _Strip(facts or _Facts(lick, analysis.rhythm), width_px)


class _Facts:
    """What a strip shows at any width: moments in whole numbers, ``unit`` of them to a quarter."""

    def __init__(self, lick: Lick, rhythm: Rhythm) -> None:
        self.lick, self.rhythm = lick, rhythm
        grid = lick.grid
        self.unit = grid.ticks * _FINER
        self.starts = [start * _FINER for start in grid.starts]
        self.onsets = [onset * _FINER for onset in grid.onsets]
        self.ends = [end * _FINER for end in grid.ends]
        self.syncopated = frozenset(rhythm.heard)
        self.letters = _letters(rhythm)
        self.titles = [escape(self._says(index)) for index in range(len(lick.notes))]
        self.rulers = [self._ruler(bar, at) for at, bar in enumerate(lick.bars)]
        self.columns: list[list[list[int]]] = [[] for _ in lick.bars]
        last = -1
        for index, onset in enumerate(grid.onsets):
            columns = self.columns[grid.bars[index]]
            if onset == last:
                columns[-1].append(index)
            else:
                columns.append([index])
            last = onset
        for columns in self.columns:
            for column in columns:
                column.sort(key=lambda i: -grid.midis[i])

    def _ruler(self, bar: Bar, at: int) -> list[tuple[int, int, float]]:
        """What a bar's ruler marks: the moment, the number of the beat that begins there or 0, and
        the quarters of a part of that beat.
        """
        grid = self.lick.grid
        parts = self.rhythm.subdivision if self.rhythm.subdivision in (2, 3, 4, 6) else 1
        origin, start, stop = grid.origins[at] * _FINER, self.starts[at], self.starts[at + 1]
        found = []
        beats = zip(bar.meter.beat_onsets, bar.meter.beats, strict=True)
        for number, (offset, length) in enumerate(beats, start=1):
            begins, long = origin + grid.whole(offset) * _FINER, grid.whole(length) * _FINER
            for part in range(parts):
                moment = begins + long * part // parts
                if start <= moment < stop:
                    found.append((moment, 0 if part else number, long / parts / self.unit))
        return found

    def _says(self, index: int) -> str:
        note = self.lick.notes[index]
        lasts = beats_words(note.duration / self.lick.bar_at(note.onset).meter.beat)
        words = [self.lick.place(note.onset), f"lasts {lasts}"]
        if note.is_joined:
            words.append("slurred")
        if index in self.syncopated:
            words.append("syncopated")
        return ", ".join(words)


class _Strip:
    def __init__(self, facts: _Facts, width: int) -> None:
        self.facts, self.lick, self.rhythm, self.width = facts, facts.lick, facts.rhythm, width
        self.syncopated, self.letters = facts.syncopated, facts.letters
        self.rows = _rows(facts.lick, width - 2 * _EDGE)
        starts = facts.starts
        longest = max((starts[row.stop] - starts[row.start]) / facts.unit for row in self.rows)
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

    def _row(self, row: range, y: int) -> str:
        """The bars with these places."""
        facts = self.facts
        start, stop = facts.starts[row.start], facts.starts[row.stop]
        unit, scale = facts.unit, self.scale

        def x(at: int) -> float:
            return round(_EDGE + (at - start) / unit * scale, 1)

        ruler: list[str] = []
        numbers: list[str] = []
        names: list[str] = []
        for at in row:
            bar = self.lick.bars[at]
            self._ruler(at, x, y, ruler, numbers)
            left = x(facts.starts[at])
            if bar.number:
                names.append(f'<text x="{left + 4:g}" y="{y + _NAME}">{bar.number}</text>')
            letter = self.letters.get(bar.onset) if self.letters else None
            if letter:
                at_x = left + 14 + 8 * len(str(bar.number))
                names.append(
                    f'<rect x="{at_x:g}" y="{y + 0.5:g}" width="18" height="16.5" rx="3" fill="none"'
                    f' stroke="{QUIET}"/><text class="same" x="{at_x + 9:g}" y="{y + _NAME}"'
                    f' font-weight="bold" text-anchor="middle" fill="{INK}">{letter}</text>'
                )
        ruler.append(f'<path d="M{x(stop)} {y + 4}V{y + _FOOT + 4}" stroke="{INK}"/>')
        columns = [self._column(column, x, y, stop) for at in row for column in facts.columns[at]]
        return (
            f'<g class="ruler" stroke="#a6a6a6">{"".join(ruler)}</g>'
            f'<g class="beats" text-anchor="middle" fill="{QUIET}">{"".join(numbers)}</g>'
            f'<g class="bars" fill="{QUIET}">{"".join(names)}</g>'
            f"{self._held(start, stop, x, y)}{''.join(columns)}"
        )

    def _ruler(self, at: int, x: Scale, y: int, ruler: list[str], numbers: list[str]) -> None:
        """Bar line, beat lines and their numbers, and ticks where the beat is divided."""
        start, stop = self.facts.starts[at], self.facts.starts[at + 1]
        ruler.append(f'<path d="M{x(start)} {y + 4}V{y + _FOOT + 4}" stroke="{INK}"/>')
        ruler.append(f'<path d="M{x(start)} {y + _FOOT}H{x(stop)}"/>')
        for moment, number, part in self.facts.rulers[at]:
            if number:
                dx = 6 if moment == start else 0  # the first clear of its bar line
                ruler.append(f'<path d="M{x(moment)} {y + _TOP - 3}V{y + _FOOT + 4}"/>')
                numbers.append(f'<text x="{x(moment) + dx:g}" y="{y + _BEATS}">{number}</text>')
            elif part * self.scale >= 7:
                ruler.append(f'<path d="M{x(moment)} {y + _FOOT}v4"/>')

    def _held(self, start: int, stop: int, x: Scale, y: int) -> str:
        """Notes still held from the row above: blocks without the edge of an attack."""
        facts = self.facts
        return "".join(
            f'<g class="held" data-note="{index}" aria-hidden="true">'
            f'<rect x="{x(start) + 1:g}" y="{y + _TOP + 2}"'
            f' width="{max(x(min(end, stop)) - x(start) - 2.5, 2):.1f}"'
            f' height="{_FOOT - _TOP - 5}" rx="2"'
            f' fill="{PAPER if self.lick.notes[index].is_joined else _TINT}"'
            f' stroke="{FRAME}" stroke-width="1.5"/></g>'
            for index, (onset, end) in enumerate(zip(facts.onsets, facts.ends, strict=True))
            if onset < start < end
        )

    def _column(self, column: Sequence[int], x: Scale, y: int, stop: int) -> str:
        """Notes that begin together, the highest on top."""
        facts = self.facts
        high = (_FOOT - _TOP - 4) / len(column)
        found = []
        for place, index in enumerate(column):
            left, right = x(facts.onsets[index]), x(min(facts.ends[index], stop))
            top = y + _TOP + 2 + place * high
            fill = PAPER if self.lick.notes[index].is_joined else _TINT
            sign = ""
            if index in self.syncopated:
                at, foot = left + 6, y + _SIGN
                sign = f'<path class="syncopated" d="M{at - 5:g} {foot}h10l-5 -9z"/>'
            found.append(
                f'<g class="note" data-note="{index}" role="img">'
                f"<title>{facts.titles[index]}</title>"
                f'<rect x="{left + 1:g}" y="{top:g}" width="{max(right - left - 2.5, 2):.1f}"'
                f' height="{high - 1:g}" rx="2" fill="{fill}" stroke="{FRAME}" stroke-width="1.5"/>'
                f'<rect x="{left + 0.5:g}" y="{top - 0.5:g}" width="3" height="{high:g}"/>{sign}</g>'
            )
        return "".join(found)

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
            peak = '<path d="M1 0h12l-6 -11z"/>'
            entries.append((peak, "syncopated: next stronger beat not struck"))
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
            wide = len(words) * _LETTER + (22 if sign else 0)
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


def _rows(lick: Lick, room: int) -> list[range]:
    """Places of the bars of each row, as many as stand there legibly."""
    grid = lick.grid
    onsets = [grid.onsets[index] for index in grid.melody]
    gaps = min((b - a for a, b in pairwise(onsets)), default=grid.ticks)
    quarter = max(
        _LEAST_BEAT / float(min(bar.meter.beat for bar in lick.bars)),
        min(_LEAST_GAP / (gaps / grid.ticks), _MOST),
    )
    widths = [(stop - start) / grid.ticks * quarter for start, stop in pairwise(grid.starts)]
    breaks = share_bars(widths, room + HEAD, pickup=lick.bars[0].number == 0)
    places = [0, *breaks, len(lick.bars)]
    return [range(a, b) for a, b in pairwise(places)]
