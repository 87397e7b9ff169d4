"""The handout: one lick's lesson on paper, as a PDF.

Typst lays the page out from a template of our own; all text goes in as JSON data and none of it
is ever read as markup, so a title may hold anything. Only the fonts that typst carries are
used, so the page looks the same everywhere.
"""

from __future__ import annotations

import json
import re
from functools import partial
from importlib.resources import files
from typing import Any, Final, Literal

from linewright.analysis import Analysis, Reading
from linewright.analysis.words import paragraphs
from linewright.errors import OptionError, WriteError
from linewright.page.engraving import engrave_pages
from linewright.page.neck import neck_svg
from linewright.page.signs import musical, printable
from linewright.page.strip import rhythm_strip_rows
from linewright.page.turns import Draw, at_once
from linewright.score import Lick

__all__ = ["PAPERS", "handout_inputs", "handout_pdf"]

#: Paper name -> typst's name for it, and the width of the text on it in points.
PAPERS: Final[dict[str, tuple[str, float]]] = {
    "a4": ("a4", 493.2),
    "letter": ("us-letter", 510.0),
}
#: Width in pixels that the music is engraved for, by level of closeness: a staff comes out 7 mm
#: high, or a little less.
_SCORE_PX = (780, 780, 820, 860)
_SYSTEM_PX = 60  # less than any system: each comes as a picture of its own and flows with the text
#: A last page filled less than this far is one too many.
_WELL_FILLED = 0.36
_LONG = 4  # more pages than this are not worth saving one
_BESIDE = 300  # points: a wider neck does not stand beside text
#: Kind of figure (a run by its last word) -> the dashes of its bracket, as typst names them.
_DASHES = {"run": "dashed", "alternation": "dash-dotted", "pedal": "dotted"}
_JOINED = re.compile(r"(\b(?:bar|beat|fret|of|the)|\d(?= %)) (?=\d|%)")
_CARE = (
    "Practise kindly: stop when it hurts, and rest your hands between short sessions. Keep the"
    " volume low in headphones. If pain stays, ask a teacher or a clinician."
)


def handout_pdf(
    analysis: Analysis,
    *,
    paper: Literal["a4", "letter"] | str = "a4",
    lines: int = 2,
    left_handed: bool = False,
    draw: Draw = at_once,
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
    draw : Draw
        Runs each engraving, one at a time.

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
    inputs = handout_inputs(analysis, paper=paper, lines=lines, left_handed=left_handed, draw=draw)
    import typst  # here since laying out pages is all it is for

    try:
        pdf = typst.compile(_template(), format="pdf", sys_inputs=inputs, ignore_system_fonts=True)
    except typst.TypstError as error:
        raise WriteError(f"the handout could not be laid out: {error.message}") from error
    return bytes(pdf)


def handout_inputs(
    analysis: Analysis,
    *,
    paper: str = "a4",
    lines: int = 2,
    left_handed: bool = False,
    draw: Draw = at_once,
) -> dict[str, str]:
    """What the template is given, set as close as saves a page; parameters and errors are those
    of :func:`handout_pdf`.
    """
    if paper not in PAPERS:
        raise OptionError(f"no paper is called {paper!r}", accepted=f"Use {' or '.join(PAPERS)}")
    if not 0 <= lines <= 40:
        raise OptionError(f"{lines} ruled lines", accepted="Use 0 to 40")
    data = _data(analysis, paper, lines, left_handed)
    import typst

    best: tuple[float, dict[str, str]] | None = None
    try:
        for level in range(len(_SCORE_PX)):
            inputs = {"data": json.dumps(data | draw(partial(_at_level, analysis, level)))}
            found = typst.query(
                _template(), "<last>", field="value", one=True,
                sys_inputs=inputs, ignore_system_fonts=True,
            )  # fmt: skip
            last = json.loads(found)
            pages = last["pages"]
            empty = pages > 1 and (last["told"] < pages or last["filled"] < _WELL_FILLED)
            cost = pages + 0.1 * level + 0.8 * empty
            if best is None or cost < best[0]:
                best = cost, inputs
            if pages == 1 or (pages > _LONG and not empty):
                break
    except typst.TypstError as error:
        raise WriteError(f"the handout could not be laid out: {error.message}") from error
    return best[1] if best is not None else {}


def _template() -> bytes:
    return files("linewright.page").joinpath("handout.typ").read_bytes()


def _at_level(analysis: Analysis, level: int) -> dict[str, Any]:
    """What changes as the page is set closer."""
    lick = analysis.lick
    engraved = engrave_pages(
        lick, analysis=analysis, width_px=_SCORE_PX[level], height_px=_SYSTEM_PX
    )
    title = _title(lick)
    return {
        "level": level,
        "scores": [{"svg": page.svg, "alt": f"{title} in staff notation"} for page in engraved],
    }


def _is_for_the_player(remark: str) -> bool:
    """Whether what was decided while reading changes what to play: the rhythm was inferred. The
    rest (lines left out, repeats) is the business of whoever brought the lick in.
    """
    return "rhythm" in remark


def _title(lick: Lick) -> str:
    return printable(lick.title).strip() or "Untitled"


def _data(analysis: Analysis, paper: str, lines: int, left_handed: bool) -> dict[str, Any]:
    lick, title = analysis.lick, _title(analysis.lick)
    parts = {
        part.key: {"heading": part.heading, "sentences": [_sentence(s) for s in part.sentences]}
        for part in paragraphs(analysis)
        if part.key != "remarks"
    }
    remarks = [_sentence(remark) for remark in lick.remarks if _is_for_the_player(remark)]
    if remarks:
        parts["remarks"] = {"heading": "About the rhythm", "sentences": remarks}
    return {
        "title": title,
        "paper": PAPERS[paper][0],
        "keywords": [printable(word) for word in (analysis.frame_name, *lick.tags)],
        "facts": musical(_facts(lick)),
        "parts": parts,
        "degrees": _degrees(analysis.chosen),
        "figures": _figures(analysis),
        "outside": [
            {
                "degree": musical(note.degree.name),
                "place": lick.place(lick.notes[note.index].onset),
                "function": note.function,
                "reason": _sentence(note.reason, capital=False),
            }
            for note in analysis.outside_notes
        ],
        # The table says what the section's first sentences say, one row for each.
        "usage": parts["outside"]["sentences"][len(analysis.outside_notes) :]
        if "outside" in parts
        else [],
        "strips": [
            {"svg": svg, "alt": f"The rhythm of {title} over the beats"}
            for svg in rhythm_strip_rows(lick, analysis, _SCORE_PX[0])
        ],
        "neck": _neck(analysis, PAPERS[paper][1], left_handed),
        "lines": lines,
        "care": _CARE,
    }


def _figures(analysis: Analysis) -> list[dict[str, Any]]:
    """Each figure's sentences with the number and line that its bracket has in the score."""
    sentences = [
        _sentence(s) for p in paragraphs(analysis) if p.key == "figures" for s in p.sentences
    ]
    found = []
    for number, figure in enumerate(analysis.figures, start=1):
        tight = sentences.pop(0)
        found.append(
            {
                "number": number,
                "dash": _DASHES.get(figure.kind.rsplit(" ", 1)[-1], "solid"),
                "double": figure.kind == "repetition",
                "tight": tight,
                "loose": sentences.pop(0) if figure.loose.words else "",
            }
        )
    return found


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
        left_handed=left_handed, printed=True,
    )  # fmt: skip
    drawn = float(svg.split('viewBox="0 0 ', 1)[1].split(" ", 1)[0])
    wide = min(width, drawn * 0.6)
    return {
        "svg": svg,
        "width": wide,
        "large": min(width, drawn * 0.8),
        "beside": wide <= _BESIDE and analysis.hand is not None,
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
    words = _JOINED.sub("\\1\u00a0", words)  # a number stays on the line of what it counts
    if capital and not words[:2].isupper():
        words = words[:1].upper() + words[1:]
    return words + "."
