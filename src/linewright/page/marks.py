"""Drawings of playing marks, put where verovio has left a word or a plain line.

All lengths are in verovio's own drawing units: 180 to a staff-line space, 315 between the
lines of a tablature.
"""

from __future__ import annotations

import re
from functools import cached_property

from linewright.page.palette import PAPER
from linewright.score import Lick, Note

__all__ = ["HEAD_WIDTH", "Geometry", "draw_marks", "flatten_slurs"]

_DIGIT = re.compile(
    r'(<g id="t(\d+)" class="note[^"]*">)<text x="(-?\d+)" y="(-?\d+)"[^>]*>'
    r'<tspan font-size="(\d+)px">(\d+)</tspan></text>'
)
_HEAD = re.compile(
    r'<g id="n(\d+)(-g?\d+)?" class="note[^"]*">(?:<g class="ledger[^"]*">.*?</g>)?'
    r'<g[^>]*class="notehead"[^>]*><use href="[^"]*" transform="translate\((-?\d+), (-?\d+)\)'
)
_WORD = re.compile(
    r'<g id="\w+" class="dir (bend|vibrato|letter)([^"]*)"><text x="(-?\d+)" y="(-?\d+)"[^>]*>'
    r"(.*?)</text></g>"
)
_BETWEEN = re.compile(r"between-(\d+)-(\d+)")
_TAB_SLUR = re.compile(
    r'class="slur joined"><path d="M(-?\d+),(-?\d+) C-?\d+,(-?\d+) -?\d+,(-?\d+) (-?\d+),(-?\d+)'
    r'[^"]*" stroke-width="15"'
)
_GLISS = re.compile(
    r'<g id="\w+" class="gliss slide(?: (up|down) between-(\d+)-(\d+))?"><path d="M(-?\d+) (-?\d+) L(-?\d+) (-?\d+)"'
    r' stroke-width="\d+"'
)
_TAGS = re.compile(r"<[^>]+>")
_SLUR = re.compile(r'(class="slur joined"><path d=")([^"]+)("[^>]*? stroke-width="15")')
_POINT = re.compile(r"(-?\d+),(-?\d+)")
_HIGHEST = 190  # of a slur over fret numbers: the letters above it keep clear of what is over them
HEAD_WIDTH = 217
TAB_STEP = 315


class Geometry:
    """Where notes and frets stand in a drawing."""

    def __init__(self, body: str) -> None:
        self._body = body

    @cached_property
    def digits(self) -> dict[int, tuple[int, int, int]]:
        """Note index -> x and y of the middle of its fret number, and its number of digits."""
        return {
            int(m[2]): (int(m[3]), int(m[4]) - 106, len(m[6])) for m in _DIGIT.finditer(self._body)
        }

    @cached_property
    def slurs(self) -> list[tuple[int, ...]]:
        """Left x, then the heights of the four points, then right x of each tablature slur."""
        found = [tuple(map(int, m.groups())) for m in _TAB_SLUR.finditer(self._body)]
        return [(x0, y0, y1, y2, y3, x3) for x0, y0, y1, y2, x3, y3 in found]

    def over_slurs(self, x: int, y: int) -> int:
        """The height of a letter at ``x``, lifted clear of the slurs there."""
        for x0, y0, y1, y2, y3, x3 in self.slurs:
            if x0 <= x <= x3 and abs(y0 - y) < 4 * TAB_STEP:  # on this system
                t = (x - x0) / max(x3 - x0, 1)
                u = 1 - t
                curve = u**3 * y0 + 3 * u * u * t * y1 + 3 * u * t * t * y2 + t**3 * y3
                y = min(y, round(curve) - 55)
        return y

    @cached_property
    def heads(self) -> dict[str, tuple[int, int, int]]:
        """``n4``, ``n4-g1`` -> left edge and middle of the note's head, its place in the text."""
        return {
            f"n{m[1]}{m[2] or ''}": (int(m[3]), int(m[4]), m.start())
            for m in _HEAD.finditer(self._body)
        }


def flatten_slurs(body: str) -> str:
    """The drawing with the slurs over its fret numbers no higher than they need be."""
    return _SLUR.sub(_flat, body) if 'class="slur joined"' in body else body


def _flat(match: re.Match[str]) -> str:
    points = [(int(x), int(y)) for x, y in _POINT.findall(match[2])]
    (x0, y0), (x3, y3) = points[0], points[3]
    lift = max(y0 + (y3 - y0) * (x - x0) / max(x3 - x0, 1) - y for x, y in points[1:3])
    share = _HIGHEST / lift if lift > _HIGHEST else 1.0
    if share == 1.0:
        return match[0]

    def lower(point: re.Match[str]) -> str:
        x, y = int(point[1]), int(point[2])
        base = y0 + (y3 - y0) * (x - x0) / max(x3 - x0, 1)
        return f"{x},{round(base + (y - base) * share)}"

    return match[1] + _POINT.sub(lower, match[2]) + match[3]


def draw_marks(body: str, where: Geometry, lick: Lick) -> str:
    """The drawing with its marks drawn."""
    notes = lick.notes
    names = {mark.name for note in notes for mark in note.marks}
    if names & {"bend", "vibrato", "hammer-on", "pull-off", "release"}:
        body = _WORD.sub(lambda m: _word(m, where), body)
    if "slide" in names:
        body = _GLISS.sub(lambda m: _slide(m, where), body)
    if names & {"slide in", "slide out"}:
        body = _HEAD.sub(lambda m: _beside_head(m, notes), body)
    if where.digits:
        body = _DIGIT.sub(lambda m: _digit(m, notes, where), body)
    return body


def _word(match: re.Match[str], where: Geometry) -> str:
    kind, rest, x, y = match[1], match[2], int(match[3]), int(match[4])
    text = _TAGS.sub("", match[5])
    if kind == "vibrato":
        waves = "".join(" q55 -120 110 0 q55 120 110 0" for _ in range(3))
        path = f'<path d="M{x} {y - 60}{waves}" fill="none" stroke-width="36"/>'
        return f'<g class="vibrato">{path}</g>'
    index = int(rest.rsplit("-", 1)[1]) if kind == "bend" else -1
    if kind == "bend" and index in where.digits:
        return _bend(*where.digits[index], y, text)
    anchor = "middle" if kind == "letter" else "start"
    between = _BETWEEN.search(rest)
    if between is not None:
        a, b = where.digits.get(int(between[1])), where.digits.get(int(between[2]))
        if a is not None and b is not None and a[0] < b[0]:  # not across a system break
            x = (a[0] + b[0]) // 2
            y = where.over_slurs(x, y)
    return (
        f'<g class="dir {kind}"><text x="{x}" y="{y}" font-size="300px" text-anchor="{anchor}">'
        f"{text}</text></g>"
    )


def _bend(x: int, y: int, digits: int, top: int, text: str) -> str:
    """An arrow from the fret up to the word that says how far."""
    start, end, tip = x + 25 + 85 * digits, x + 100 + 85 * digits, top + 60
    return (
        f'<g class="bend"><path d="M{start} {y} C{end} {y} {end} {y - 120} {end} {tip + 90}"'
        f' fill="none" stroke-width="26"/>'
        f'<polygon points="{end - 62},{tip + 120} {end + 62},{tip + 120} {end},{tip}"/>'
        f'<text x="{end}" y="{top}" font-size="300px" text-anchor="middle">{text}</text></g>'
    )


def _slide(match: re.Match[str], where: Geometry) -> str:
    x1, y1, x2, y2 = (int(match[n]) for n in (4, 5, 6, 7))
    if match[1]:  # between two frets on one string: a slanted stroke, up or down the neck
        a, b = where.digits.get(int(match[2])), where.digits.get(int(match[3]))
        if a is not None and b is not None and a[0] < b[0]:
            x1, x2 = a[0] + 85 * a[2] + 70, b[0] - 85 * b[2] - 85
            middle, half = (x1 + x2) // 2, min(max((x2 - x1) // 2, 55), 260)
            x1, x2, y1, y2 = middle - half, middle + half, a[1], b[1]
        lift = 80 if match[1] == "up" else -80
        y1, y2 = y1 + lift, y2 - lift
    elif x2 - x1 < 110:
        middle = (x1 + x2) // 2
        x1, x2 = middle - 65, middle + 65
    return f'<g class="slide"><path d="M{x1} {y1} L{x2} {y2}" stroke-width="30"'


def _slides_beside(note: Note) -> list[tuple[int, int]]:
    """Strokes beside a note: (-1 before it or 1 after it, vertical way at its outer end)."""
    found = []
    for mark in note.marks:
        if mark.name in ("slide in", "slide out"):
            side = -1 if mark.name == "slide in" else 1
            found.append((side, -1 if mark.semitones > 0 else 1))
    return found


def _stroke(x: int, y: int, side: int, way: int, gap: int, rise: int) -> str:
    near, far = x + side * gap, x + side * (gap + 190)
    return (
        f'<path class="slide" d="M{far} {y + way * rise} L{near} {y + way * rise // 5}"'
        f' stroke-width="30" stroke-linecap="round"/>'
    )


def _beside_head(match: re.Match[str], notes: tuple[Note, ...]) -> str:
    if match[2]:
        return match[0]
    x, y = int(match[3]) + HEAD_WIDTH // 2, int(match[4])
    strokes = "".join(
        _stroke(x, y, side, way, HEAD_WIDTH // 2 + 30, 150)
        for side, way in _slides_beside(notes[int(match[1])])
    )
    opened = match[0].index(">") + 1
    return match[0][:opened] + strokes + match[0][opened:]


def _digit(match: re.Match[str], notes: tuple[Note, ...], where: Geometry) -> str:
    """A fret number: crossed for a dead note, bracketed for a ghost or harmonic, boxed outside."""
    opened, index = match[1], int(match[2])
    note = notes[index]
    x, y, size = where.digits[index]
    text = match[6]
    if not (note.marks or note.grace or "outside" in opened):
        return f'{opened}<text x="{x}" y="{y + 110}" text-anchor="middle" font-size="340px">{text}</text>'
    if note.has("dead"):
        text = "×"
    elif note.has("ghost"):
        text = f"({text})"
    elif note.has("harmonic"):
        text = f"‹{text}›"
    half = 85 * len(text) + 45
    under = ""
    if "outside" in opened:
        under = (
            f'<rect x="{x - half - 15}" y="{y - 148}" width="{2 * half + 30}" height="296" rx="60"'
            f' fill="{PAPER}" stroke-width="26"/>'
        )
    elif len(text) > size:
        under = (
            f'<rect x="{x - half}" y="{y - 140}" width="{2 * half}" height="280"'
            f' fill="{PAPER}" color="{PAPER}"/>'
        )
    large = 440 if text == "×" else 340
    strokes = "".join(_stroke(x, y, side, way, half, 110) for side, way in _slides_beside(note))
    graces = "".join(
        f'<text x="{where.heads[f"n{index}-g{n}"][0] + 70}"'
        f' y="{y + 80 + (grace.string - (note.string or 0)) * TAB_STEP}" font-size="240px"'
        f' text-anchor="middle" stroke="{PAPER}" stroke-width="120" paint-order="stroke">'
        f"{grace.fret}</text>"
        for n, grace in enumerate(note.grace, start=1)
        if grace.string is not None and f"n{index}-g{n}" in where.heads
    )
    return (
        f'{opened}{under}{graces}<text x="{x}" y="{y + 110 + (large - 340) // 5}" text-anchor="middle"'
        f' font-size="{large}px">{text}</text>{strokes}'
    )
