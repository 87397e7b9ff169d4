"""Templates: the Jinja environment, its filters, and pages as responses."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime
from functools import cache, lru_cache
from typing import Any
from urllib.parse import urlencode

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse

from linewright.analysis.prose import capital
from linewright.page.signs import musical
from linewright.services.lesson import Lesson
from linewright.services.shelf import Dash
from linewright.sound.band import CLICKS, STYLES

__all__ = ["for_page", "lesson_body", "page", "sentence"]

#: A drawing wider than this scrolls in its own box on a phone rather than shrink past reading.
_LONG = 520
_SIZE = re.compile(r' width="100%" style="max-width:(\d+)px[^"]*"')


def sentence(text: str) -> str:
    """A reason as a sentence: a capital in front, a full stop behind."""
    text = text.strip()
    if not text:
        return ""
    return capital(text) + ("" if text[-1] in ".!?" else ".")


@lru_cache(maxsize=256)
def for_page(svg: str | None) -> Markup:
    """A drawing of our own to stand in a page: its size as a plain attribute, its styles left to
    the style sheet, where the content policy wants them.
    """
    text = _SIZE.sub(_sized, svg or "", count=1)
    # A pattern would try every space of a long drawing; plain searching does not.
    for opening, closing in (("<style", "</style>"), (' style="', '"')):
        parts = []
        at = 0
        while (start := text.find(opening, at)) >= 0:
            parts.append(text[at:start])
            at = text.index(closing, start + len(opening)) + len(closing)
        text = "".join((*parts, text[at:]))
    return Markup(text)


def _sized(match: re.Match[str]) -> str:
    long = ' data-long=""' if int(match[1]) > _LONG else ""
    return f' width="{match[1]}"{long}'


def sketch(dashes: Sequence[Dash]) -> Markup:
    """A small picture of a lick's shape: a dash for each note, higher for higher, hollow and
    boxed in the outside colour for one outside the frame.
    """
    if not dashes:
        return Markup("")
    low, high = min(d.midi for d in dashes), max(d.midi for d in dashes)
    end = max(d.start + d.length for d in dashes)
    step = min(2.4, 30 / max(1, high - low))
    parts = [
        f'<rect class="{"out" if dash.outside else "in"}" x="{2 + 156 * dash.start / end:.1f}"'
        f' y="{18 - 2 + step * ((high + low) / 2 - dash.midi):.1f}"'
        f' width="{max(2.5, 156 * dash.length / end - 1.5):.1f}" height="4" rx="1"/>'
        for dash in dashes
    ]
    svg = f'<svg class="sketch" viewBox="0 0 160 40" aria-hidden="true">{"".join(parts)}</svg>'
    return Markup(svg)


def day(moment: datetime) -> str:
    """A date as people write it."""
    local = moment.astimezone()
    return f"{local.day} {local:%B %Y}"


def indexes(notes: tuple[int, ...]) -> str:
    """Note indexes as a data attribute."""
    return " ".join(map(str, notes))


def changed_query(params: dict[str, Any], **changes: Any) -> str:
    """A query string with some parameters changed; empty ones are left out."""
    merged = {k: v for k, v in {**params, **changes}.items() if v not in (None, "")}
    return "?" + urlencode(merged) if merged else "?"


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("linewright.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(
        signs=musical,
        sentence=sentence,
        capital=capital,
        svg=for_page,
        sketch=sketch,
        day=day,
        indexes=indexes,
    )
    environment.globals.update(
        changed_query=changed_query, lesson_body=lesson_body, band_styles=tuple(STYLES.values()),
        clicks=CLICKS,
    )  # fmt: skip
    return environment


@lru_cache(maxsize=64)
def lesson_body(lesson: Lesson, rows: tuple[tuple[str, str], ...] = ()) -> Markup:
    """The sections of a lesson as they stand in a page; the last ones are kept at hand."""
    return Markup(_environment().get_template("_lesson.html").render(lesson=lesson, rows=rows))


def page(request: Request, template: str, *, status: int = 200, **values: Any) -> HTMLResponse:
    """A page from a template."""
    text = _environment().get_template(template).render(path=request.url.path, **values)
    return HTMLResponse(text, status)
