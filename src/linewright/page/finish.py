"""From verovio's SVG to the page's: meaning on the notes, own drawings, nothing left over.

Works on the text of the SVG (verovio's own output, whose form is fixed), since parsing it into
a tree would take as long as drawing it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import blake2b
from html import escape

from linewright.errors import WriteError
from linewright.page.marks import Geometry, draw_marks, flatten_slurs
from linewright.page.overhead import Bracket, lay_over
from linewright.page.palette import INK, LINES, OUTSIDE, SERIF
from linewright.page.signs import musical, printable
from linewright.score import Lick

__all__ = ["Finished", "finish"]

_VIEW = re.compile(r'<svg viewBox="0 0 (\d+) (\d+)"[^>]* id="(\w+)">')
_INNER = re.compile(r'<svg class="definition-scale"[^>]*viewBox="0 0 (\d+) (\d+)"[^>]*>')
#: Elements with an id that the MEI writer gave. Verovio's own ids are random and may look like
#: these; the classes tell them apart.
_OURS = re.compile(
    r' id="(?:([nt])(\d+)(-g?\d+)?" class="(note[^"]*)'
    r'|l(\d+)" class="(harm label[^"]*)|m(\d+)" class="(measure[^"]*))">'
)
#: Every other id, but for those of the signs that are drawn more than once.
_ID = re.compile(r' id="(?!E[0-9A-F]{4}-)[^"]*"')
_PLACEHOLDERS = re.compile(
    r'<g id="\w+" class="[^"]*placeholder[^"]*">(?:<ellipse[^>]*/>)?</g>'
    r'|<g id="\w+" class="[^"]*ilestone[^"]*"/>'
)
_GLYPH = re.compile(r'<tspan font-family="Leipzig" font-size="\d+px">(.)</tspan>')
#: SMuFL accidentals in running text -> Unicode ones that text fonts have.
_SIGNS = {
    "\ue260": "♭", "\ue261": "♮", "\ue262": "♯", "\uea64": "♭", "\uea65": "♮", "\uea66": "♯",
}  # fmt: skip
#: What the drawing needs to look right anywhere: scoped to the engraving's own class.
_STYLE = (
    "<style>.{0} path,.{0} polygon,.{0} polyline,.{0} ellipse,.{0} rect{{stroke:currentColor}}"
    ".{0} .mNum{{font-style:italic}}</style>"
)


@dataclass(frozen=True, slots=True)
class Finished:
    """The SVG and its size in pixels."""

    svg: str
    width: int
    height: int


def finish(
    raw: str,
    mei: str,
    lick: Lick,
    *,
    degrees: Mapping[int, str],
    brackets: Sequence[Bracket] = (),
    page: int = 1,
    said: dict[int, str] | None = None,
) -> Finished:
    """Make verovio's SVG the page's own (see the module docstring).

    ``said`` holds the notes in words as far as they are known already, and is filled.
    """
    titles = {} if said is None else said
    view, inner = _VIEW.search(raw), _INNER.search(raw)
    if view is None or inner is None:
        raise WriteError("the lick could not be engraved")
    width, height, old = int(view[1]), int(view[2]), view[3]
    name = "e" + blake2b(f"{mei}{page}{width}".encode(), digest_size=6).hexdigest()
    defs = raw[raw.index("<defs>") : raw.index("</defs>") + 7] if "<defs>" in raw else ""
    body = raw[inner.end() : raw.rindex("</svg>", 0, raw.rindex("</svg>"))]
    body = _PLACEHOLDERS.sub("", body)
    body = body.replace('stroke-width="23"', f'stroke-width="15" color="{LINES}"')
    body = _GLYPH.sub(_text_sign, body)
    body = flatten_slurs(body)
    where = Geometry(body)
    over = lay_over(body, where, brackets, lick if page == 1 else None)
    figures = {
        i: b.number
        for b in brackets
        for first, last in b.occurrences
        for i in range(first, last + 1)
    }
    body = draw_marks(body, where, lick)

    def open_tag(match: re.Match[str]) -> str:
        kind, note, part, of_note, label, of_label, bar, of_bar = match.groups()
        if bar:
            return f' class="{of_bar}" data-bar="{int(bar)}">'
        index, classes = int(note or label), of_note or of_label
        data = f'data-note="{index}"'
        if index in degrees:
            data += f' data-degree="{escape(degrees[index])}"'
        if index in figures:
            data += f' data-figure="{figures[index]}"'
        is_outside = "outside" in classes.split()
        if is_outside:
            # Text stays dark; boxes around it and heads on the staff take the colour.
            data += f' color="{OUTSIDE}"' + (f' fill="{OUTSIDE}"' if kind == "n" else "")
        if kind == "n" and part is None:
            title = titles.get(index)
            if title is None:
                title = escape(spoken(lick, index, degrees.get(index), is_outside))
                titles[index] = title
            return f' class="{classes}" {data} role="img"><title>{title}</title>'
        return f' class="{classes}" {data} aria-hidden="true">'

    body = _ID.sub("", _OURS.sub(open_tag, body))
    first, *systems = body.split('<g class="system">')
    body, down = first, 0
    for drawn, system in zip(over, systems, strict=True):
        down += drawn.shift
        moved = f' transform="translate(0, {down})"' if down else ""
        body += f'<g class="system"{moved}>{drawn.svg}{system}'
    tall = int(inner[2]) + down
    height = round(height * tall / int(inner[2]))
    label = escape(
        f"{printable(lick.title)}: staff notation" + (" over tablature" if "tabGrp" in mei else "")
    )
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="engraving {name}" role="group"'
        f' aria-label="{label}" viewBox="0 0 {width} {height}" width="100%"'
        f' style="max-width:{width}px;height:auto;display:block">'
        f"{_STYLE.format(name)}{defs}"
        f'<svg viewBox="0 0 {inner[1]} {tall}" color="{INK}" fill="{INK}"'
        f' font-family="{SERIF}">{body}</svg></svg>'
    ).replace(f"-{old}", f"-{name}")
    return Finished(svg, width, height)


def spoken(lick: Lick, index: int, degree: str | None, outside: bool) -> str:
    """A note in words, for a tooltip and for screen readers."""
    note = lick.notes[index]
    name = musical(note.pitch.name)
    words = [name, f"{lick.place(note.onset)}"]
    if degree:
        words.append(f"degree {musical(degree)}")
    if note.string is not None:
        words.append(
            f"string {note.string}, fret {note.fret}" if note.fret else f"open string {note.string}"
        )
    words += [str(mark.name) for mark in note.marks]
    if outside:
        words.append("outside the frame")
    return ", ".join(words)


def _text_sign(match: re.Match[str]) -> str:
    sign = _SIGNS.get(match[1])
    return f'<tspan font-size="405px">{sign}</tspan>' if sign else match[0]
