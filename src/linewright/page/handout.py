"""The handout: one lick's lesson on paper, as a PDF.

Typst lays the page out from a template of our own; all text goes in as JSON data and none of it
is ever read as markup, so a title may hold anything. Only the fonts that typst carries are
used, so the page looks the same everywhere.
"""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any, Final, Literal

from linewright.analysis import Analysis, Reading
from linewright.errors import OptionError, WriteError
from linewright.page.engraving import engrave_pages
from linewright.page.neck import neck_svg
from linewright.page.signs import musical, printable
from linewright.score import Lick

__all__ = ["PAPERS", "handout_pdf"]

#: Paper name -> typst's name for it, and the width of the text on it in points.
PAPERS: Final[dict[str, tuple[str, float]]] = {
    "a4": ("a4", 493.2),
    "letter": ("us-letter", 510.0),
}
_SCORE_PX = 780  # the engraving's own width; a staff comes out 7 mm high
_SYSTEM_PX = 60  # less than any system: each comes as a picture of its own and flows with the text


def handout_pdf(
    analysis: Analysis,
    *,
    paper: Literal["a4", "letter"] | str = "a4",
    lines: int = 2,
    left_handed: bool = False,
) -> bytes:
    """Lay out the lesson of an analysed lick.

    Parameters
    ----------
    analysis : Analysis
    paper : str
        ``a4`` or ``letter``.
    lines : int
        Ruled lines for notes at least, 0 to 40; what is left of the page is ruled too.
    left_handed : bool
        Mirror the neck diagram.

    Returns
    -------
    bytes
        A tagged PDF whose title is the lick's.

    Raises
    ------
    OptionError
        For another paper or number of lines.
    WriteError
        When a rhythm cannot be written.
    """
    if paper not in PAPERS:
        raise OptionError(f"no paper is called {paper!r}", accepted=f"Use {' or '.join(PAPERS)}")
    if not 0 <= lines <= 40:
        raise OptionError(f"{lines} ruled lines", accepted="Use 0 to 40")
    data = _data(analysis, paper, lines, left_handed)
    import typst  # here since laying out pages is all it is for

    template = files("linewright.page").joinpath("handout.typ").read_bytes()
    try:
        pdf = typst.compile(
            template, format="pdf", sys_inputs={"data": json.dumps(data)}, ignore_system_fonts=True
        )
    except typst.TypstError as error:
        raise WriteError(f"the handout could not be laid out: {error.message}") from error
    return bytes(pdf)


def _data(analysis: Analysis, paper: str, lines: int, left_handed: bool) -> dict[str, Any]:
    lick = analysis.lick
    engraved = engrave_pages(lick, analysis=analysis, width_px=_SCORE_PX, height_px=_SYSTEM_PX)
    chosen, title = analysis.chosen, printable(lick.title).strip() or "Untitled"
    return {
        "title": title,
        "paper": PAPERS[paper][0],
        "keywords": [printable(word) for word in (analysis.frame_name, *lick.tags)],
        "facts": musical(_facts(lick)),
        "scores": [{"svg": page.svg, "alt": f"{title} in staff notation"} for page in engraved],
        "verdict": _sentence(analysis.verdict),
        "tonic": _sentence(f"The tonic is {analysis.tonic}: {analysis.tonic_reason}"),
        "frame": musical(analysis.frame_name),
        "degrees": _degrees(chosen),
        "rivals": [_sentence(reading.reason) for reading in analysis.rivals],
        "outside": [
            {
                "degree": musical(note.degree.name),
                "place": lick.place(lick.notes[note.index].onset),
                "function": note.function,
                "reason": _sentence(note.reason, capital=False),
            }
            for note in analysis.outside_notes
        ],
        "no-outside": "Every note belongs to it." if analysis.frame is not None else "",
        "neck": _neck(analysis, PAPERS[paper][1], left_handed),
        "lines": lines,
    }


def _degrees(chosen: Reading | None) -> list[dict[str, Any]]:
    if chosen is None:
        return []
    return [
        {"name": musical(degree.name), "heard": degree in chosen.heard}
        for degree in chosen.frame.collection.degrees
    ]


def _neck(analysis: Analysis, width: float, left_handed: bool) -> dict[str, Any] | None:
    lick = analysis.lick
    if lick.instrument is None or all(note.string is None for note in lick.notes):
        return None
    svg = neck_svg(
        lick.instrument, analysis.frame, lick=lick, tonic=analysis.tonic,
        outside={fact.index for fact in analysis.notes if fact.is_outside},
        left_handed=left_handed,
    )  # fmt: skip
    drawn = float(svg.split('viewBox="0 0 ', 1)[1].split(" ", 1)[0])
    return {
        "svg": svg,
        "width": min(width, drawn * 0.6),
        "alt": f"{analysis.frame_name} on the neck of the {lick.instrument.name}",
    }


def _facts(lick: Lick) -> str:
    """Style, key, meter, tempo and instrument in one line."""
    parts = [lick.style] if lick.style else []
    if lick.key is not None:
        parts.append(f"key of {lick.key}")
    parts.append(str(lick.meter))
    if lick.tempo is not None:
        parts.append(f"{float(lick.tempo.bpm):g} beats a minute")
    if lick.swing is not None:
        parts.append("swung")
    if lick.instrument is not None:
        instrument = lick.instrument
        words = instrument.name
        if instrument.tuning != "standard":
            words += f" in {instrument.tuning}"
        parts.append(words + (f", capo {instrument.capo}" if instrument.capo else ""))
    return printable("  ·  ".join(parts))


def _sentence(text: str, *, capital: bool = True) -> str:
    words = musical(printable(text).strip().rstrip("."))
    if capital and not words[:2].isupper():
        words = words[:1].upper() + words[1:]
    return words + "."
