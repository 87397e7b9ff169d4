"""A judged take as its page shows it: engraved with its marks, the rules as rows, the time as a
strip.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from statistics import median
from typing import Any, Final

from linewright.analysis.prose import capital
from linewright.errors import WriteError
from linewright.page.engraving import engrave_pages
from linewright.page.signs import musical
from linewright.page.timing_chart import TimingNote, timing_chart
from linewright.score import Lick
from linewright.services.drawing import drawn
from linewright.services.rule_words import allowed, late, measured
from linewright.sound.band.passes import quarter_bpm_of

__all__ = ["NoteRow", "RuleRow", "TakeView", "first_beat", "take_view"]

_WIDE, _NARROW, _SCALE = 760, 340, 0.36
_TITLE: Final = re.compile(r'(data-note="(\d+)"[^>]*>)<title>([^<]*)</title>')
#: What engraving says of a note with a label of its own; here the label is a mark.
_MARKED: Final = re.compile(r", degree [✕?]|, outside the frame")
_DEGREE: Final = re.compile(r' data-degree="[✕?]"')
_NOTE: Final = re.compile(r'data-note="(\d+)"')
#: What is said of a rule's result, with the mark before it.
_STATES: Final = {True: ("done", "✓"), False: ("not yet", "✕"), None: ("left open", "?")}
#: A note may be so many spreads off before it is marked (nineteen in twenty are not, where the
#: spread is just what is allowed).
_BAND: Final = 2.0


@dataclass(frozen=True)
class RuleRow:
    """One rule of the step against the take: what was measured and allowed in words, whether it
    is ``done``, ``not yet`` or ``left open``, and its places.
    """

    key: str
    title: str
    measured: str
    allowed: str
    state: str
    mark: str
    words: str
    notes: tuple[int, ...]
    bars: tuple[int, ...]


@dataclass(frozen=True)
class NoteRow:
    """One note of the take in words."""

    index: int
    place: str
    name: str
    late: str
    said: str


@dataclass(frozen=True)
class TakeView:
    """A take as its page shows it.

    ``passed`` is True, False or None (not judged); ``placed`` whether early or late on average
    could be told.
    """

    passed: bool | None
    words: str
    work_on: str
    suggestion: str
    bpm: str
    placed: bool
    rules: tuple[RuleRow, ...]
    notes: tuple[NoteRow, ...]
    wide: str
    narrow: str
    problem: str | None
    timing_wide: str
    timing_narrow: str
    bars: int


def take_view(verdict: Mapping[str, Any], lick: Lick) -> TakeView:
    """What a take's page shows.

    Parameters
    ----------
    verdict : mapping
        As :func:`~linewright.practice.takes.verdict_to_dict` writes it.
    lick : Lick
        What was played, its notes in the verdict's order.
    """
    return _view(json.dumps(verdict, sort_keys=True), lick)


@lru_cache(maxsize=32)
def _view(text: str, lick: Lick) -> TakeView:
    verdict = json.loads(text)
    said = _said(verdict)
    wrong, doubtful = set(verdict["wrong"]), set(verdict["doubtful"])
    wide, narrow, problem = "", "", None
    try:
        wide, narrow = (_drawing(lick, verdict, said, width) for width in (_WIDE, _NARROW))
    except WriteError as error:
        problem = str(error)
    strips = [_strip(verdict, lick, said, width) for width in (_WIDE, _NARROW)]
    return TakeView(
        verdict["passed"],
        verdict["words"],
        verdict["work_on"],
        verdict["suggestion"],
        f"{verdict['bpm']:g}",
        verdict["timing"]["mean_ms"] is not None,
        tuple(_rule(rule, lick) for rule in verdict["rules"]),
        tuple(
            NoteRow(
                index,
                lick.place(lick.notes[index].onset),
                musical(lick.notes[index].pitch.name),
                late(note["late_ms"]),
                _standing(index, wrong, doubtful),
            )
            for index, note in enumerate(verdict["take"]["notes"])
        ),
        wide,
        narrow,
        problem,
        strips[0],
        strips[1],
        len(lick.bars),
    )


def first_beat(verdict: Mapping[str, Any], lick: Lick) -> float:
    """Where beat 1 of bar 1 falls in the recording, in seconds, as the notes tell."""
    quarter = float(60 / quarter_bpm_of(lick))
    rows = verdict["take"]["notes"]
    if not rows:
        return 0.0
    return median(
        float(row["onset_s"]) - float(note.onset) * quarter
        for row, note in zip(rows, lick.notes, strict=True)
    )


# -- words -------------------------------------------------------------------------------
def _standing(index: int, wrong: set[int], doubtful: set[int]) -> str:
    if index in wrong:
        return "not yet"
    return "not heard clearly" if index in doubtful else "right"


def _said(verdict: Mapping[str, Any]) -> list[str]:
    """What is said of each note besides its name and place."""
    why: dict[int, list[str]] = {}
    for rule in verdict["rules"]:
        if rule["passed"] is False:
            for index in rule["notes"]:
                why.setdefault(index, []).append(rule["title"])
    doubtful = set(verdict["doubtful"])
    said = []
    for index, note in enumerate(verdict["take"]["notes"]):
        words = [late(note["late_ms"])]
        if index in why:
            words.append(f"not yet: {', '.join(why[index])}")
        if index in doubtful:
            words.append("not heard clearly, so it does not count against you")
        said.append("; ".join(words))
    return said


def _rule(rule: Mapping[str, Any], lick: Lick) -> RuleRow:
    state, mark = _STATES[rule["passed"]]
    bars = tuple(rule["bars"])
    notes = tuple(rule["notes"])
    if not notes and bars and rule["passed"] is False:
        starts = {bar.number: bar for bar in lick.bars}
        notes = tuple(
            index
            for index, note in enumerate(lick.notes)
            if any(starts[b].onset <= note.onset < starts[b].end for b in bars if b in starts)
        )
    return RuleRow(
        rule["key"],
        rule["title"],
        measured(rule["key"], rule["value"], rule["limit"], rule["unit"], passed=rule["passed"]),
        allowed(rule["key"], rule["limit"], rule["unit"]),
        state,
        mark,
        rule["words"],
        notes,
        bars,
    )


# -- drawings ----------------------------------------------------------------------------
def _drawing(lick: Lick, verdict: Mapping[str, Any], said: list[str], width: int) -> str:
    """Staff and tab; a wrong place has a cross and its own colour, a doubtful one a question mark."""
    wrong, doubtful = set(verdict["wrong"]), set(verdict["doubtful"]) - set(verdict["wrong"])
    labels = dict.fromkeys(wrong, "✕") | dict.fromkeys(doubtful, "?")
    chords = lick.chords if any(span.symbol for span in lick.chords) else ()
    shown = lick.with_(tempo=None, chords=chords)
    svg = drawn(
        lambda: (
            engrave_pages(
                shown,
                labels=labels,
                outside=wrong,
                figures=False,
                width_px=width,
                scale=_SCALE,
                close=True,
            )[0].svg
        )
    )

    def retitled(match: re.Match[str]) -> str:
        index = int(match[2])
        name = _MARKED.sub("", match[3])
        return f"{match[1]}<title>{name}. {escape(capital(said[index]))}.</title>"

    def doubted(match: re.Match[str]) -> str:
        return match[0] + (' data-doubt=""' if int(match[1]) in doubtful else "")

    return _NOTE.sub(doubted, _DEGREE.sub("", _TITLE.sub(retitled, svg)))


def _strip(verdict: Mapping[str, Any], lick: Lick, said: list[str], width: int) -> str:
    spread = next((r["limit"] for r in verdict["rules"] if r["key"] == "spread"), None)
    doubtful = set(verdict["doubtful"])
    rows = verdict["take"]["notes"]
    notes = [
        TimingNote(
            index,
            float(note.onset),
            row["late_ms"],
            index not in doubtful,
            f"{musical(note.pitch.name)}, {lick.place(note.onset)}. {said[index]}",
        )
        for index, (note, row) in enumerate(zip(lick.notes, rows, strict=True))
    ]
    return timing_chart(
        notes,
        [(bar.number, float(bar.onset)) for bar in lick.bars],
        float(lick.bars[-1].end),
        allowed_ms=_BAND * (spread or 25.0),
        width=width,
    )
