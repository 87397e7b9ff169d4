"""The practice plan on paper: every step with its music, boxes to tick, and the days.

Each piece is engraved system by system, so that it flows with the text. A short one stands beside
its words, a longer one under them across the page.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import lru_cache
from importlib.resources import files
from typing import Any, Final

from linewright.errors import OptionError, WriteError
from linewright.page.engraving import engrave_pages
from linewright.page.handout import PAPERS
from linewright.page.signs import musical, printable
from linewright.page.turns import Draw, at_once
from linewright.practice import Piece, PlanSheet, StepSheet, Work, beat_name
from linewright.score import Lick

__all__ = ["plan_pdf"]

#: Told of each piece as it is engraved: how many are done, of how many, and its step.
Progress = Callable[[int, int, str], None]

#: Width the music is engraved for beside its words, and across the page: a staff comes out nearly
#: 6 mm high.
_BESIDE_PX, _WIDE_PX = 600, 860
#: A last page filled less than this far is one too many, if it can be saved.
_WELL_FILLED = 0.4
_SYSTEM_PX = 60  # less than any system: each comes as a picture of its own
_LEVELS: Final = {
    "beginner": "a beginner",
    "working": "a working player",
    "fluent": "a fluent player",
}


def plan_pdf(
    sheet: PlanSheet,
    *,
    paper: str = "a4",
    player: str = "",
    handout: dict[str, str] | None = None,
    progress: Progress | None = None,
    draw: Draw = at_once,
) -> bytes:
    """Lay a plan out as a PDF.

    Parameters
    ----------
    sheet : PlanSheet
    paper : str
        ``a4`` or ``letter``.
    player : str
        Whose plan it is; a line to write on when empty.
    handout : dict, optional
        The inputs of a handout (:func:`~linewright.page.handout.handout_inputs`) that stands
        before the plan, with its pages counted through.
    progress : callable, optional
        Told of each piece as it is engraved.
    draw : Draw
        Runs each engraving, one at a time.

    Raises
    ------
    OptionError
        For another paper.
    WriteError
        When a rhythm cannot be written.
    """
    if paper not in PAPERS:
        raise OptionError(f"no paper is called {paper!r}", accepted=f"Use {' or '.join(PAPERS)}")
    data = _data(sheet, paper, progress, draw) | {"player": printable(player).strip()}
    import typst  # here since laying out pages is all it is for

    template = _template("plan.typ")
    if handout is not None:
        # Each in a block of its own, so that neither's rules reach the other.
        template = b"#[\n%b\n]\n#[\n%b\n]\n" % (_template("handout.typ"), template)

    def given(close: bool) -> dict[str, str]:
        return {"plan": json.dumps(data | {"close": close}), **(handout or {})}

    def end(close: bool) -> tuple[int, float]:
        """The last page, and how far it is filled."""
        found = typst.query(
            template, "<end>", field="value", one=True,
            sys_inputs=given(close), ignore_system_fonts=True,
        )  # fmt: skip
        last = json.loads(found)
        return last["page"], last["filled"]

    try:
        pages, filled = end(False)
        close = filled < _WELL_FILLED and end(True)[0] < pages
        pdf = typst.compile(
            template, format="pdf", sys_inputs=given(close), ignore_system_fonts=True
        )
    except typst.TypstError as error:
        raise WriteError(f"the plan could not be laid out: {error.message}") from error
    return bytes(pdf)


def _template(name: str) -> bytes:
    return files("linewright.page").joinpath(name).read_bytes()


def _data(sheet: PlanSheet, paper: str, progress: Progress | None, draw: Draw) -> dict[str, Any]:
    done = 0

    def engraved(piece: Piece, step: StepSheet) -> dict[str, Any]:
        nonlocal done
        made = draw(lambda: _piece(piece))
        done += 1
        if progress is not None:
            progress(done, sheet.pieces, step.title)
        return made

    title = _said(sheet.title)
    name = printable(sheet.lick.title).strip() or "Untitled"
    beat = beat_name(sheet.beat)
    return {
        "document": title,
        "title": title,
        "paper": PAPERS[paper][0],
        "keywords": [printable(word) for word in (sheet.level, *sheet.lick.tags)],
        "facts": f"for {_LEVELS.get(sheet.level, sheet.level)}  ·  a {sheet.length}  ·  "
        f"tempos count {beat} a minute",
        "lick": {"systems": draw(lambda: _systems(sheet.lick, name, (), _WIDE_PX))},
        "how": "One after the other: a step that is not done holds the next one back, unless your"
        " teacher decides otherwise. Tick what you have played clean.",
        "steps": [
            {
                "number": step.number,
                "title": _said(step.title),
                "purpose": _said(step.purpose),
                "ladder": [str(bpm) for bpm in step.tempo_ladder],
                "drills": [engraved(piece, step) for piece in step.drills],
                "examples": [engraved(piece, step) for piece in step.examples],
                "rules": [_said(rule) for rule in step.rules],
                "if_not": [_said(sentence) for sentence in step.if_not],
            }
            for step in sheet.steps
        ],
        "beat": f"{beat} a minute",
        "days-title": f"The {sheet.length}, day by day",
        "days": [
            {
                "number": day.number,
                "rest": day.is_rest,
                "words": _said(day.words),
                "work": [_work(work) for work in day.work],
            }
            for day in sheet.schedule
        ],
        "cautions": [_said(caution) for caution in sheet.cautions],
    }


def _work(work: Work) -> str:
    low, high = work.tempos
    tempos = f"{low}–{high}" if low != high else f"{low}"
    return f"step {work.step}, {work.minutes} min, {tempos}"


def _piece(piece: Piece) -> dict[str, Any]:
    """With its music: short enough to stand beside its words, or across the page."""
    title = _said(piece.title)
    systems = _systems(piece.lick, title, piece.outside, _BESIDE_PX)
    beside = len(systems) == 1
    if not beside:
        systems = _systems(piece.lick, title, piece.outside, _WIDE_PX)
    return {"title": title, "words": _said(piece.words), "systems": systems, "beside": beside}


@lru_cache(maxsize=256)  # the other paper, and the handout with the plan, show the same music
def _systems(
    lick: Lick, title: str, outside: tuple[tuple[int, str], ...], width: int
) -> tuple[dict[str, Any], ...]:
    """One picture for each system; the tempo is the ladder's, and where no chord is played none is
    denied.
    """
    marked = dict(outside)
    chords = lick.chords if any(span.symbol for span in lick.chords) else ()
    pages = engrave_pages(
        lick.with_(tempo=None, chords=chords), labels=marked, outside=marked, width_px=width,
        height_px=_SYSTEM_PX, close=True,
    )  # fmt: skip
    return tuple(
        {"svg": page.svg, "alt": f"{title}, line {number} of music", "wide": width / _WIDE_PX}
        for number, page in enumerate(pages, 1)
    )


def _said(text: str) -> str:
    return musical(printable(text).strip())
