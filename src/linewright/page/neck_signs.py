"""The marks of the neck diagram and the legend that says what they mean."""

from __future__ import annotations

from linewright.page.palette import FRAME, OUTSIDE, PAPER, QUIET

__all__ = ["Row", "legend_lines", "legend_rows", "legend_svg", "shape"]

_RADIUS = 14
_TINTS = {FRAME: "#cfe5f4", OUTSIDE: "#fbdcc6"}

Row = tuple[tuple[str, bool, str], int]  # kind, played, words; width


def shape(kind: str, x: float, y: float, played: bool, r: float = _RADIUS) -> str:
    """The mark of a place at a point, of radius ``r``."""
    colour = OUTSIDE if kind == "outside" else FRAME
    paint = (
        f'fill="{_TINTS[colour]}" stroke="{colour}" stroke-width="3"'
        if played
        else f'fill="{PAPER}" stroke="{colour}" stroke-width="1.2"'
    )
    if kind == "dead":
        return f'<circle cx="{x:g}" cy="{y:g}" r="{r - 4:g}" fill="{PAPER}"/>'
    if kind == "tonic":
        s = r - 1
        return f'<rect x="{x - s:g}" y="{y - s:g}" width="{2 * s:g}" height="{2 * s:g}" {paint}/>'
    if kind == "outside":
        d = r * 1.3
        return (
            f'<path d="M{x - d:g} {y:g}L{x:g} {y - d:g}L{x + d:g} {y:g}L{x:g} {y + d:g}Z" {paint}/>'
        )
    return f'<circle cx="{x:g}" cy="{y:g}" r="{r:g}" {paint}/>'


def legend_rows(kinds: set[str], unplayed: bool, word: str, letter: float) -> list[Row]:
    """What the legend says of the kinds shown; ``letter`` is the width of one."""
    found: list[tuple[str, bool, str]] = []
    if "tonic" in kinds:
        found.append(("tonic", "lick" in kinds, "tonic"))
    if "lick" in kinds:
        found.append(("frame", True, "in the lick"))
    if unplayed:
        found.append(("frame", False, f"elsewhere in the {word}"))
    if "outside" in kinds:
        found.append(("outside", True, f"outside the {word}"))
    # Seven to a letter leaves room in the widest serif a reader's machine may put in.
    return [(row, round(32 + letter * len(row[2]))) for row in found]


def legend_lines(rows: list[Row], width: float) -> list[list[Row]]:
    """The legend in as many lines as it takes."""
    lines: list[list[Row]] = []
    for row in rows:
        if not lines or sum(wide for _, wide in [*lines[-1], row]) > width:
            lines.append([])
        lines[-1].append(row)
    return lines


def legend_svg(rows: list[Row], width: float, y: int) -> str:
    """One line of the legend, in the middle of the width."""
    at = (width - sum(w for _, w in rows)) / 2 + 10
    found = []
    for (kind, played, text), wide in rows:
        found.append(
            shape(kind, at, y, played, 6) + f'<text x="{at + 14:g}" y="{y + 4.5}">{text}</text>'
        )
        at += wide
    return f'<g class="legend" font-size="13" fill="{QUIET}">{"".join(found)}</g>'
