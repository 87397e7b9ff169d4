"""What stands over a system: the brackets of the figures, and tempo and capo at its left end.

Verovio has put everything else in its place; these are laid over what it drew, clear of the
highest thing beneath them, and the systems are moved down to make room.

A figure is told by the number and kind written in its bracket, and by the line: solid for a
sequence, double for a repetition, dashed for a run, dash and dot for an alternation, dotted for a
pedal. Colour only repeats that it is a figure.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from linewright.analysis.figures import Figure
from linewright.formats.mei.controls import BEATS
from linewright.page.marks import HEAD_WIDTH, Geometry
from linewright.page.palette import FIGURE, INK
from linewright.page.signs import musical
from linewright.score import Lick

__all__ = ["Bracket", "Over", "brackets_of", "lay_over"]

_SYSTEM = re.compile(r'<g id="\w+" class="system">')
_STAFF = re.compile(r'class="staff"><path d="M-?\d+ (-?\d+)')
_GLYPH = re.compile(r'href="#(\w{4})-\w+" transform="translate\((-?\d+), (-?\d+)\)')
#: Two patterns since one that begins with a choice is searched for much more slowly.
_PATH = re.compile(r' d="M(-?\d+[ ,](-?\d+)[^"]*)"')
_POLYGON = re.compile(r' points="(-?\d+[ ,](-?\d+)[^"]*)"')
_TEXT = re.compile(r'<text(?: x="(-?\d+)")? y="(-?\d+)"( text-anchor="middle")?[^>]*>(.*?)</text>')
_NUMBER = re.compile(r"-?\d+")
_TAGS = re.compile(r"<[^>]+>")
#: First letters of a SMuFL code -> how far its sign reaches over its middle; 330 for all others.
_RISE = {"E0A": 100, "E05": 830}
_SIZE, _LETTER = 330, 180  # of the text in a bracket, and about the width of a letter of it
_HOOK, _GAP, _LEAST = 170, 70, 480
_DEEP = 1600  # a line that begins so far under the top of the staff belongs to the tablature
#: First word of a kind (a run by its last) -> the dashes of its line.
_DASHES = {"run": "150 80", "alternation": "170 70 24 70", "pedal": "12 64"}


@dataclass(frozen=True, slots=True)
class Bracket:
    """A figure to be bracketed: ``number`` counts from 1, ``kind`` gives the line."""

    number: int
    kind: str
    name: str
    says: str
    occurrences: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Over:
    """What is drawn over a system, and how far that system moves down from the one above."""

    svg: str
    shift: int


def brackets_of(figures: Sequence[Figure]) -> tuple[Bracket, ...]:
    """The figures of an analysis as brackets, numbered as they come."""
    return tuple(
        Bracket(number, f.kind, f.name, f.tight.words, f.occurrences)
        for number, f in enumerate(figures, start=1)
    )


def lay_over(
    body: str, where: Geometry, brackets: Sequence[Bracket], lick: Lick | None
) -> list[Over]:
    """What stands over each system of verovio's drawing.

    Parameters
    ----------
    body : str
        Verovio's own drawing.
    where : Geometry
        Of the same drawing.
    brackets : sequence of Bracket
    lick : Lick or None
        Whose tempo and capo stand over the first system; None where none does.
    """
    starts = [match.start() for match in _SYSTEM.finditer(body)]
    headed = lick is not None and (
        lick.tempo is not None or lick.swing is not None or _capo(lick, where)
    )
    if not brackets and not headed:
        return [Over("", 0)] * len(starts)
    drawn = []
    named: set[int] = set()
    for place, start in enumerate(starts):
        stop = starts[place + 1] if place + 1 < len(starts) else len(body)
        parts = _parts(brackets, where, start, stop)
        heading = lick if headed and place == 0 else None
        if not parts and heading is None:
            drawn.append(Over("", 0))
            continue
        sky = _Skyline(body[start:stop])
        before = sky.highest
        svg = _draw_brackets(parts, sky, named)
        if heading is not None:
            svg += _draw_heading(heading, _capo(heading, where), sky)
        drawn.append(Over(svg, max(0, before - sky.highest)))
    return drawn


class _Skyline:
    """How high what is drawn reaches, over any stretch of a system."""

    def __init__(self, system: str) -> None:
        staff = _STAFF.search(system)
        self.staff = int(staff[1]) if staff else 0
        self.chords: int | None = None  # the line that the chord symbols stand on
        boxes = []
        for code, x, y in _GLYPH.findall(system):
            boxes.append((int(x) - 30, int(x) + 300, int(y) - _RISE.get(code[:3], 330)))
        for path, begins in (*_PATH.findall(system), *_POLYGON.findall(system)):
            y = int(begins)
            if y > self.staff + _DEEP:
                continue
            if y >= self.staff:  # most are staff lines and stems under the top line
                words = path.split(" ")
                if len(words) == 4 and words[2][0] == "L" and int(words[3]) >= self.staff:
                    continue
            numbers = _NUMBER.findall(path)
            top = min(map(int, numbers[1::2]))
            if top < self.staff:
                xs = list(map(int, numbers[::2]))
                boxes.append((min(xs), max(xs), top))
        for x, y, middle, inside in _TEXT.findall(system):
            if int(y) < self.staff:
                left, wide = int(x or 0), 210 * len(_TAGS.sub("", inside))
                left -= wide // 2 if middle else 0
                boxes.append((left - 60, left + wide + 60, int(y) - 310))
        self.boxes = [box for box in boxes if box[2] < self.staff]

    @property
    def highest(self) -> int:
        return min((top for _, _, top in self.boxes), default=self.staff)

    def over(self, left: int, right: int) -> int:
        """The highest point between two places."""
        return min((t for a, b, t in self.boxes if a < right and b > left), default=self.staff)

    def add(self, left: int, right: int, top: int) -> None:
        self.boxes.append((left, right, top))


@dataclass(frozen=True, slots=True)
class _Part:
    """The part of one occurrence that stands on one system."""

    bracket: Bracket
    turn: int
    left: int
    right: int
    begins: bool
    ends: bool


def _parts(brackets: Sequence[Bracket], where: Geometry, start: int, stop: int) -> list[_Part]:
    """The occurrences on the system whose text lies between two places, from left to right."""
    found = []
    for bracket in brackets:
        for turn, (first, last) in enumerate(bracket.occurrences):
            heads = [where.heads.get(f"n{i}") for i in range(first, last + 1)]
            here = [head for head in heads if head is not None and start <= head[2] < stop]
            if not here:
                continue
            left, right = min(h[0] for h in here) - 40, max(h[0] for h in here) + HEAD_WIDTH + 40
            if right - left < _LEAST:
                spare = (_LEAST - right + left) // 2
                left, right = left - spare, right + spare
            begins = heads[0] is None or heads[0] in here
            ends = heads[-1] is None or heads[-1] in here
            found.append(_Part(bracket, turn, left, right, begins, ends))
    return sorted(found, key=lambda part: part.left)


def _draw_brackets(parts: Sequence[_Part], sky: _Skyline, named: set[int]) -> str:
    """The brackets of a system in one line; each figure's kind is written where first it fits."""
    if not parts:
        return ""
    y = min(sky.over(part.left, part.right) for part in parts) - _GAP - _HOOK
    for part in parts:
        sky.add(part.left, part.right, y - 150)
    return "".join(_draw_bracket(part, y, named) for part in parts)


def _draw_bracket(part: _Part, y: int, named: set[int]) -> str:
    bracket, left, right = part.bracket, part.left, part.right
    number, name = f"f{bracket.number}", bracket.name
    room = right - left
    full = bracket.number not in named and len(f"{number} {name}") * _LETTER + 350 <= room
    if full:
        named.add(bracket.number)
    half = (len(number) + (1 + len(name) if full else 0)) * _LETTER // 2 + 60
    middle = (left + right) // 2
    text = f'<tspan font-weight="bold">{number}</tspan>'
    if full:
        text += f'<tspan font-style="italic"> {name}</tspan>'
    hooks = [f"M{x} {y + _HOOK}V{y}" for x, has in ((left, part.begins), (right, part.ends)) if has]
    lines = [(left, middle - half), (middle + half, right)]
    lines = [(a, b) for a, b in lines if b - a > 40]
    ways = (y - 26, y + 26) if bracket.kind == "repetition" else (y,)
    strokes = "".join(f"M{a} {way}H{b}" for a, b in lines for way in ways)
    dashes = _DASHES.get(bracket.kind.rsplit(" ", 1)[-1])
    style = f' stroke-dasharray="{dashes}"' if dashes else ""
    round_ends = ' stroke-linecap="round"' if bracket.kind == "pedal" else ""
    width = 18 if bracket.kind == "repetition" else 32
    first, last = bracket.occurrences[part.turn]
    notes = " ".join(map(str, range(first, last + 1)))
    count = len(bracket.occurrences)
    says = f"Figure {bracket.number}, {name}"
    says += f", {part.turn + 1} of {count}: " if count > 1 else ": "
    return (
        f'<g class="figure {bracket.kind.replace(" ", "-")}" data-figure="{bracket.number}"'
        f' data-notes="{notes}" role="img" color="{FIGURE}">'
        f"<title>{escape(says + musical(bracket.says))}</title>"
        f'<path d="{"".join(hooks)}" fill="none" stroke-width="32"/>'
        f'<path d="{strokes}" fill="none" stroke-width="{width}"{style}{round_ends}/>'
        f'<text x="{middle}" y="{y + 105}" font-size="{_SIZE}px" text-anchor="middle"'
        f' fill="{INK}">{text}</text></g>'
    )


# -- tempo and capo --------------------------------------------------------------------------
def _capo(lick: Lick, where: Geometry) -> int:
    """The capo's fret where there is tablature to say it of, else 0."""
    return lick.instrument.capo if lick.instrument is not None and where.digits else 0


def _draw_heading(lick: Lick, capo: int, sky: _Skyline) -> str:
    """Tempo, feel and capo over the clef, clear of whatever else stands there."""
    tempo = lick.tempo
    beat = BEATS.get(tempo.beat) if tempo is not None else None
    parts = []
    if tempo is not None and beat is not None:
        parts.append(f"= {float(tempo.bpm):g}")
    elif tempo is not None:
        parts.append(f"{float(tempo.quarter_bpm):g} quarters a minute")
    if lick.swing is not None:
        parts.append("swing" if parts else "Swing")
    if capo:
        parts.append(f"capo {capo}" if parts else f"Capo {capo}")
    words = ", ".join(parts)
    text_at = 0
    if beat is not None:
        text_at = 310 + (90 if beat[1] else 0) + (60 if beat[0] == "8" else 0)
    right = text_at + 200 * len(words)
    y = sky.over(-90, right + 120) - 140
    sky.add(0, right, y - (560 if beat is not None else 310))
    sign = _beat_sign(beat[0], beat[1], y) if beat is not None else ""
    return (
        f'<g class="tempo">{sign}<text x="{text_at}" y="{y}" font-size="405px">{words}</text></g>'
    )


def _beat_sign(unit: str, dots: int, y: int) -> str:
    """The note that has the beat, as a drawing: no text font has it."""
    paint = "" if unit in ("4", "8") else ' fill="none"'
    drawn = (
        f'<ellipse cx="95" cy="{y - 70}" rx="92" ry="64" stroke-width="30"'
        f' transform="rotate(-22 95 {y - 70})"{paint}/>'
    )
    if unit != "1":
        drawn += f'<path d="M182 {y - 95} V{y - 520}" stroke-width="28"/>'
    if unit == "8":
        drawn += (
            f'<path d="M182 {y - 520} q20 110 110 170 q60 60 10 170" fill="none"'
            ' stroke-width="34"/>'
        )
    if dots:
        drawn += f'<ellipse cx="{330 if unit == "8" else 275}" cy="{y - 70}" rx="28" ry="28"/>'
    return drawn
