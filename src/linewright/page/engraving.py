"""Engraving: a lick as an SVG of staff over tablature, each note tied to its meaning.

Verovio draws, from MEI that :func:`linewright.formats.mei.write_mei` wrote and nothing else.
The SVG is then made the page's own: every note carries ``data-note`` and ``data-degree``, an
outside note the class ``outside`` with a boxed label besides its colour, ids are unique to the
engraving, and the signs that verovio has no drawing for (bends, vibrato, slides between
frets) are drawn in.
"""

from __future__ import annotations

import threading
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files
from typing import Any, Final, Literal, get_args

from linewright.analysis import Analysis
from linewright.errors import OptionError
from linewright.formats.mei import MeiSheet, mei_sheet
from linewright.page.finish import finish
from linewright.page.overhead import Bracket, brackets_of
from linewright.page.systems import HEAD, bar_widths, share_bars
from linewright.score import Lick, notate

__all__ = ["Engraving", "Labels", "engrave", "engrave_pages", "engrave_widths"]

#: What stands under the notes.
Labels = Literal["degrees", "chords", "none"]

#: Pixels of a staff-line space at scale 1 (verovio's unit 9, two units to a space).
_SPACE = 18
_TALLEST = 60000
_local = threading.local()
#: What verovio is told once; width, height and scale are told for each engraving.
OPTIONS: Final[dict[str, Any]] = {
    "inputFrom": "mei", "breaks": "line", "adjustPageHeight": True,
    "header": "none", "footer": "none", "svgViewBox": True, "svgRemoveXlink": True,
    "svgFormatRaw": True, "smuflTextFont": "none", "xmlIdSeed": 1,
    "pageMarginLeft": 10, "pageMarginRight": 10,
    "minLastJustification": 0.3, "spacingNonLinear": 0.6, "bottomMarginHarm": 1.0,
}  # fmt: skip
#: Room between staves and around them, usual and close.
_APART: Final = {"spacingStaff": 12, "pageMarginTop": 20, "pageMarginBottom": 20}
_CLOSE: Final = {"spacingStaff": 5, "pageMarginTop": 16, "pageMarginBottom": 4}
#: How far a comfortable bar can be narrowed, as share of its width.
_CLOSER: Final = 0.88


@dataclass(frozen=True, slots=True)
class Engraving:
    """An engraved lick.

    Parameters
    ----------
    svg : str
        One ``svg`` element, without an XML declaration, to stand in a page as it is.
    width, height : int
        Its size in pixels; the SVG itself scales to the width it is given.
    mei : str
        The MEI it was drawn from.
    """

    svg: str
    width: int
    height: int
    mei: str


def engrave(
    lick: Lick,
    *,
    analysis: Analysis | None = None,
    labels: Mapping[int, str] | Labels | None = None,
    outside: Collection[int] | None = None,
    figures: bool | Sequence[Bracket] = True,
    tab: bool | None = None,
    width_px: int = 760,
    scale: float = 0.42,
) -> Engraving:
    """Engrave a lick on one page as tall as it needs.

    Parameters
    ----------
    lick : Lick
    analysis : Analysis, optional
        Gives the labels under the notes, says which notes are outside, and what recurs.
    labels : mapping of int to str or str, optional
        The row under the staff: ``degrees`` against the tonic (with an analysis the default),
        ``chords`` for what each note is to the chord of the moment (3, b7, 9), ``none``; or
        texts of your own by note index. An outside note without a text gets a diamond.
    outside : collection of int, optional
        Indexes of the outside notes; they take the place of the analysis's.
    figures : bool or sequence of Bracket
        Whether the figures of the analysis are bracketed over the staff, or brackets of your own;
        each carries ``data-figure`` and ``data-notes``, and each of its notes ``data-figure``.
    tab : bool, optional
        As in :func:`~linewright.formats.mei.write_mei`.
    width_px : int
        Width the engraving is laid out for, 240 to 4000: about 760 for a page's column, 360
        for a phone. Fewer bars stand on a system where there is less room.
    scale : float
        Size of the music; 0.42 gives a staff 30 pixels high. A bar that cannot fit the width
        at this size makes the whole engraving smaller.

    Raises
    ------
    OptionError
        For a width or scale out of range, or labels of no kind that there is.
    WriteError
        When a rhythm cannot be written.
    """
    return engrave_pages(
        lick, analysis=analysis, labels=labels, outside=outside, figures=figures, tab=tab,
        width_px=width_px, scale=scale,
    )[0]  # fmt: skip


def engrave_widths(
    lick: Lick,
    widths_px: Sequence[int],
    *,
    analysis: Analysis | None = None,
    labels: Mapping[int, str] | Labels | None = None,
    scale: float = 0.42,
) -> tuple[Engraving, ...]:
    """Engrave a lick for each of several widths, its rhythm, MEI and words worked out once.

    The parameters are those of :func:`engrave`.
    """
    for width in widths_px:
        _check(width, scale)
    sheet = _sheet(lick, analysis, labels, None, True, None)
    return tuple(_lay_out(sheet, width, scale, None, False)[0] for width in widths_px)


def engrave_pages(
    lick: Lick,
    *,
    analysis: Analysis | None = None,
    labels: Mapping[int, str] | Labels | None = None,
    outside: Collection[int] | None = None,
    figures: bool | Sequence[Bracket] = True,
    tab: bool | None = None,
    width_px: int = 760,
    scale: float = 0.42,
    height_px: int | None = None,
    close: bool = False,
) -> tuple[Engraving, ...]:
    """Engrave a lick on as many pages as it takes, each at most ``height_px`` high.

    ``close`` sets bars, staves and systems closer, for paper that holds many pieces. The other
    parameters are those of :func:`engrave`.
    """
    _check(width_px, scale)
    sheet = _sheet(lick, analysis, labels, outside, figures, tab)
    return _lay_out(sheet, width_px, scale, height_px, close)


def _check(width_px: int, scale: float) -> None:
    if not 240 <= width_px <= 4000:
        raise OptionError(f"an engraving {width_px} pixels wide", accepted="Use 240 to 4000")
    if not 0.2 <= scale <= 2:
        raise OptionError(f"an engraving at scale {scale:g}", accepted="Use 0.2 to 2")


@dataclass(frozen=True, slots=True)
class _Sheet:
    """All of an engraving that does not depend on the room it is given."""

    lick: Lick
    mei: MeiSheet
    bars: tuple[float, ...]
    degrees: Mapping[int, str]
    brackets: Sequence[Bracket]
    said: dict[int, str]


def _sheet(
    lick: Lick,
    analysis: Analysis | None,
    labels: Mapping[int, str] | Labels | None,
    outside: Collection[int] | None,
    figures: bool | Sequence[Bracket],
    tab: bool | None,
) -> _Sheet:
    texts, degrees = _labels(analysis, labels)
    if outside is None:
        outside = {fact.index for fact in analysis.notes if fact.is_outside} if analysis else ()
    brackets: Sequence[Bracket] = ()
    if not isinstance(figures, bool):
        brackets = figures
    elif analysis is not None and figures:
        brackets = brackets_of(analysis.figures)
    measures = notate(lick)
    mei = mei_sheet(
        lick, labels=texts, mark_outside=outside, tab=tab, heading=False, measures=measures
    )
    return _Sheet(lick, mei, bar_widths(lick, measures, texts), degrees, brackets, {})


def _lay_out(
    sheet: _Sheet, width_px: int, scale: float, height_px: int | None, close: bool
) -> tuple[Engraving, ...]:
    """The pages of a sheet in the room that there is."""
    lick, widths = sheet.lick, sheet.bars
    if close:
        widths = tuple(_CLOSER * width for width in widths)
    tightest = (max(widths, default=1.0) * 0.78 + HEAD) * _SPACE * scale
    scale = max(round(scale * min(1.0, width_px / tightest), 2), 0.2)
    pickup = lick.bars[0].number == 0
    breaks = share_bars(widths, width_px / (_SPACE * scale), pickup=pickup)
    mei = sheet.mei.text([lick.bars[place].number for place in breaks])

    room = height_px
    while True:
        height = room / scale if room else _TALLEST
        pages = _draw(sheet, mei, width_px / scale, height, scale, close)
        over = max(page.height for page in pages) - height_px if height_px else 0
        # What stands over the systems is laid on afterwards: leave room for it where there is any.
        if (
            room is None
            or height_px is None
            or over <= 0
            or room < height_px
            or all(_systems(p) < 2 for p in pages)
        ):
            return pages
        room -= over


def _systems(page: Engraving) -> int:
    return page.svg.count('<g class="system"')


def _draw(
    sheet: _Sheet, mei: str, width: float, height: float, scale: float, close: bool
) -> tuple[Engraving, ...]:
    """The pages as verovio lays them out in a room of its own pixels, made the page's own."""
    toolkit = _toolkit()
    toolkit.setOptions(
        {
            "pageWidth": round(width),
            "pageHeight": round(min(height, _TALLEST)),
            "scale": round(scale * 100),
            **(_CLOSE if close else _APART),
        }
    )
    toolkit.loadData(mei)
    pages = []
    for number in range(1, max(1, toolkit.getPageCount()) + 1):
        raw = toolkit.renderToSVG(number)
        drawn = finish(
            raw, mei, sheet.lick, degrees=sheet.degrees, brackets=sheet.brackets, page=number,
            said=sheet.said,
        )  # fmt: skip
        pages.append(Engraving(drawn.svg, drawn.width, drawn.height, mei))
    return tuple(pages)


def _labels(
    analysis: Analysis | None, labels: Mapping[int, str] | Labels | None
) -> tuple[Mapping[int, str], Mapping[int, str]]:
    """The texts under the notes, and the degrees of the notes, by note index."""
    degrees = {fact.index: fact.degree.name for fact in analysis.notes} if analysis else {}
    if labels is None or labels == "degrees":
        return degrees, degrees
    if labels == "none":
        return {}, degrees
    if labels == "chords":
        relations = analysis.harmony.relations if analysis else ()
        return {relation.index: relation.name for relation in relations}, degrees
    if isinstance(labels, str):
        raise OptionError(
            f"no labels are called {labels!r}", accepted=f"Use {', '.join(get_args(Labels))}"
        )
    return labels, degrees or labels


def _toolkit() -> Any:
    """This thread's verovio toolkit (one toolkit serves one thread at a time)."""
    ready = getattr(_local, "toolkit", None)
    if ready is not None:
        return ready
    import verovio  # here since it takes a tenth of a second that light commands need not pay

    verovio.enableLog(verovio.LOG_OFF)
    # Verovio finds its fonts by itself on the first thread only.
    toolkit = verovio.toolkit(False)
    toolkit.setResourcePath(str(files("verovio") / "data"))
    toolkit.setOptions(OPTIONS)
    _local.toolkit = toolkit
    return toolkit
