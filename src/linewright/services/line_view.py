"""A line as its page shows it: engraved with its reasons, each element's asked and got."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import lru_cache
from html import escape
from typing import Final

from linewright.analysis import Analysis
from linewright.analysis.prose import capital
from linewright.errors import OptionError, WriteError
from linewright.lines import Line, LineModel
from linewright.page.engraving import engrave
from linewright.page.overhead import Bracket, brackets_of
from linewright.page.signs import musical
from linewright.score import Lick
from linewright.services.drawing import drawn
from linewright.services.making import line_of, request_of, teaching_of
from linewright.services.wishes import Steps, Wishes

__all__ = ["ElementView", "LineView", "ReasonView", "elements_of", "given_way", "view_of"]

#: A little smaller than a lick's own score: a line is long.
_WIDE, _NARROW, _SCALE = 760, 340, 0.36
_TITLE: Final = re.compile(r'(data-note="(\d+)"[^>]*>)<title>([^<]*)</title>')
#: What may be left of the lick's own shares where these chords have no room for all of them.
_PARTS: Final = (1.0, 0.75, 0.5, 0.25)
#: Of the most an element can have, what the lick's own share may take.
_BELOW_MOST: Final = 0.9


@dataclass(frozen=True)
class ElementView:
    """Something that a line can be made of: its name in a mix, what it is, its shares.

    Shares are percents: ``own`` the lick's, ``most`` what the other wishes leave room for (None
    when they leave none at all), ``asked`` and ``got`` the line's.
    """

    name: str
    kind: str
    words: str
    own: int
    most: int | None = None
    asked: float | None = None
    got: float | None = None

    @property
    def roomless(self) -> bool:
        """Whether the other wishes leave no room for it, so that there is nothing to set."""
        return self.most == 0


@dataclass(frozen=True)
class ReasonView:
    """A note and why it is there."""

    index: int
    pitch: str
    role: str
    why: str


@dataclass(frozen=True)
class LineView:
    """A line: its engravings for a page and a phone, and the reasons of its notes by bar."""

    line: Line
    wide: str
    narrow: str
    problem: str | None
    reasons: tuple[tuple[int, tuple[ReasonView, ...]], ...]


def elements_of(
    lick: Lick, tonic: str | None, wishes: Wishes, line: Line | None = None
) -> tuple[ElementView, ...]:
    """The figures and outside notes a line on this lick can have, as the wishes leave room."""
    teaching = teaching_of(lick, tonic)
    most = _most(lick, tonic, wishes)
    return tuple(
        ElementView(
            name,
            kind,
            words,
            own,
            None if most is None else int(100 * most.get(name, 0.0) + 1e-9),
            None if line is None else 100 * line.asked.get(name, 0.0),
            None if line is None else 100 * line.got.get(name, 0.0),
        )
        for name, kind, words, own in teaching.use(_taught)
    )


def _taught(model: LineModel) -> tuple[tuple[str, str, str, int], ...]:
    """Name, kind, description and the lick's own percent of each element that is no group."""
    found = []
    plans = {plan.tag: plan for plan in model.figures}
    for element in model.elements:
        if element.group:
            continue
        plan = plans.get(element.name)
        if plan is not None:
            kind, words = "figure", plan.words or plan.kind
        else:
            kind = "outside"
            ways = dict.fromkeys(
                f"{use.function}, {use.before} to {use.after}"
                for use in model.uses
                if use.degree == element.name
            )
            words = "; ".join(ways)
        found.append((element.name, kind, words, round(100 * element.share)))
    return tuple(found)


def _most(lick: Lick, tonic: str | None, wishes: Wishes) -> Mapping[str, float] | None:
    try:
        return _most_of(lick, tonic, _plain(wishes))
    except OptionError:
        return None


def _plain(wishes: Wishes) -> Wishes:
    """All that says how much room there is for each element."""
    return wishes.with_(mix=None, seed=0, hold=(), strict=False, intensity=None)


@lru_cache(maxsize=64)
def _most_of(lick: Lick, tonic: str | None, wishes: Wishes) -> Mapping[str, float]:
    teaching = teaching_of(lick, tonic)
    request = request_of(teaching, wishes)
    return teaching.use(lambda model: model.most(request))


def _capped(own: Mapping[str, int], most: Mapping[str, float]) -> dict[str, float]:
    """The lick's own shares as far as there is room for each."""
    return {
        name: min(share / 100, _BELOW_MOST * most.get(name, 0.0)) for name, share in own.items()
    }


@lru_cache(maxsize=64)
def _part(lick: Lick, tonic: str | None, wishes: Wishes) -> float:
    """How much of the lick's own shares, all together, these chords have room for."""
    own = {e.name: e.own for e in elements_of(lick, tonic, wishes)}
    whole = _capped(own, _most(lick, tonic, wishes) or {})
    for part in _PARTS:
        mix = tuple((name, part * share) for name, share in sorted(whole.items()))
        if _reaches(lick, tonic, wishes.with_(mix=mix)):
            return part
    return 0.0


@lru_cache(maxsize=256)
def _reaches(lick: Lick, tonic: str | None, wishes: Wishes) -> bool:
    """Whether the shares can be had together; much cheaper than being told why not."""
    teaching = teaching_of(lick, tonic)
    try:
        request = request_of(teaching, wishes)
        return teaching.use(lambda model: model.reaches(request))
    except OptionError:
        return False


def given_way(lick: Lick, tonic: str | None, steps: Steps) -> Steps:
    """The steps with a mix that can be had, where one can: shares that stand as the lick has them
    give way to those that were changed.

    Raises
    ------
    OptionError
        When the changed shares cannot be had even alone.
    """
    *before, now = steps
    own = {e.name: e.own for e in elements_of(lick, tonic, now)}
    wished = dict(now.mix or ())
    changed = {n: s for n, s in wished.items() if n not in own or round(100 * s, 6) != own[n]}
    if not changed:
        return (*before, now.with_(mix=None))
    most = _most(lick, tonic, now) or {}
    over = any(share > most.get(name, 1.0) + 0.005 for name, share in changed.items())
    part = 0.0 if over else _part(lick, tonic, _plain(now))
    for left in () if over else (part, part / 2):
        rest = {
            name: round(left * share, 4)
            for name, share in _capped(own, most).items()
            if name not in changed
        }
        made = (*before, now.with_(mix=tuple(sorted({**rest, **changed}.items()))))
        if any(rest.values()) and _reaches(lick, tonic, made[-1]):
            with suppress(OptionError):
                line_of(lick, tonic, made)
                return made
    alone = {**dict.fromkeys(own, 0.0), **changed}
    made = (*before, now.with_(mix=tuple(sorted(alone.items()))))
    line_of(lick, tonic, made)
    return made


@lru_cache(maxsize=64)
def _drawing(lick: Lick, whys: tuple[str, ...], labels: tuple[str, ...],
             outside: tuple[int, ...], figures: tuple[Bracket, ...], width: int) -> str:  # fmt: skip
    drawing = drawn(
        lambda: (
            engrave(
                lick,
                labels=dict(enumerate(labels)),
                outside=outside,
                figures=figures,
                width_px=width,
                scale=_SCALE,
            ).svg
        )
    )
    return _TITLE.sub(lambda m: f"{m[1]}<title>{m[3]}. {escape(whys[int(m[2])])}</title>", drawing)


def view_of(
    line: Line, sizes: Iterable[str] = ("wide", "narrow"), analysis: Analysis | None = None
) -> LineView:
    """The line engraved, with why each note is there as what pointing at it says.

    ``sizes`` names the engravings that are wanted; ``analysis`` is the lick's the line is made
    from, whose figures are bracketed where the line plays them.
    """
    figures = _brackets(line, analysis) if analysis is not None else ()
    whys = tuple(_sentence(musical(note.why)) for note in line.notes)
    labels = tuple(note.degree for note in line.notes)
    outside = tuple(i for i, note in enumerate(line.notes) if note.role == "outside")
    drawings = {"wide": "", "narrow": ""}
    problem = None
    try:
        for name, width in (("wide", _WIDE), ("narrow", _NARROW)):
            if name in sizes:
                drawings[name] = _drawing(line.lick, whys, labels, outside, figures, width)
    except WriteError as error:
        problem = str(error)
    bars: dict[int, list[ReasonView]] = {}
    for index, (note, reason) in enumerate(zip(line.lick.notes, line.notes, strict=True)):
        view = ReasonView(index, note.pitch.name, reason.role, whys[index])
        bars.setdefault(line.lick.bar_at(note.onset).number, []).append(view)
    reasons = tuple((number, tuple(notes)) for number, notes in bars.items())
    return LineView(line, drawings["wide"], drawings["narrow"], problem, reasons)


def _brackets(line: Line, analysis: Analysis) -> tuple[Bracket, ...]:
    """The lick's figures, each with the places where the line plays it."""
    places: dict[str, list[tuple[int, int]]] = {}
    before, last_cell = None, 0
    for index, note in enumerate(line.notes):
        tag, cell = note.figure, note.cell or 0
        if tag is None:
            before = None
            continue
        found = places.setdefault(tag, [])
        if tag == before and cell >= last_cell and found:
            found[-1] = (found[-1][0], index)
        else:
            found.append((index, index))
        before, last_cell = tag, cell
    return tuple(
        replace(bracket, occurrences=tuple(places[f"f{bracket.number}"]))
        for bracket in brackets_of(analysis.figures)
        if f"f{bracket.number}" in places
    )


def _sentence(text: str) -> str:
    return f"{capital(text)}."
