"""From a step's request to the rules that say when it is done."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from linewright.lines import LineRequest
from linewright.lines.figure_plans import FigurePlan
from linewright.lines.usage import OutsideUse
from linewright.practice.levels import TIMING_SOURCE
from linewright.practice.material import Material
from linewright.practice.model import Allowed, Done, FigureRule, UseRule
from linewright.practice.outside_drills import chord_of
from linewright.practice.statement import say_done
from linewright.theory import Frame

__all__ = ["done_for", "figure_rule", "use_rules"]

_TAKES = 2
_MOST_BARS = 16


def done_for(
    m: Material,
    request: LineRequest,
    ladder: Sequence[int],
    *,
    figures: Iterable[FigureRule] = (),
    uses: Iterable[UseRule] = (),
    chord_tones: float | None = None,
    moving: bool = False,
) -> Done:
    """Rules and statement; ``moving`` when the frame goes with the chords of the request."""
    level = m.level
    figures, uses = tuple(figures), tuple(uses)
    spans = [rule.bars for rule in figures] + [rule.bars for rule in uses if rule.times]
    done = Done(
        bpm=ladder[-1],
        bars=max([level.bars, request.bars, *spans]),
        takes=_TAKES,
        mean_ms=level.mean_ms,
        spread_ms=level.spread_ms,
        timing_source=TIMING_SOURCE,
        only=_over_chords(m, request) if moving else (_allowed(None, _home(m, request)),),
        leap=request.leap,
        figures=figures,
        uses=uses,
        chord_tones=chord_tones,
        statement="",
        slips=level.slips,
    )
    return replace(done, statement=say_done(done, m.beat))


def figure_rule(m: Material, plan: FigurePlan, share: float) -> FigureRule:
    """How often a figure has to come: half as often as the lines made for the step have it."""
    times, bars = _often(m, share / max(1.0, plan.length))
    return FigureRule(plan.tag, plan.kind, times, bars)


def use_rules(m: Material, uses: Sequence[OutsideUse], share: float | None) -> tuple[UseRule, ...]:
    """The usages of one outside degree; ``share`` None when it may come and need not."""
    times, bars = _often(m, share / len(uses)) if share is not None else (0, m.level.bars)
    return tuple(
        UseRule(
            use.degree, use.before, use.after, use.rise_in, use.rise_out, use.on_beat,
            str(chord_of(m, use)) if use.in_chord else None, times, bars,
        )
        for use in uses
    )  # fmt: skip


def _often(m: Material, a_note: float) -> tuple[int, int]:
    """(times, bars) for something that comes ``a_note`` times a note; once in more bars if rare."""
    a_bar = a_note * float(m.lick.meter.length / m.unit)
    for bars in (4, 8, _MOST_BARS):
        if a_bar * bars / 2 >= 1:
            return int(a_bar * bars / 2), bars
    return 1, _MOST_BARS


def _allowed(over: str | None, frame: Frame) -> Allowed:
    degrees = tuple(degree.name for degree in frame.collection.degrees)
    return Allowed(over, frame.tonic.name, degrees)


def _home(m: Material, request: LineRequest) -> Frame:
    """The lick's frame on the tonic of the request's key."""
    over = m.model.plan(request).progression
    return Frame(over.key.tonic, m.frame.collection) if over.key is not None else m.frame


def _over_chords(m: Material, request: LineRequest) -> tuple[Allowed, ...]:
    found: dict[str | None, Allowed] = {}
    for slot in m.model.plan(request).slots:
        over = str(slot.chord) if slot.chord else None
        found.setdefault(over, _allowed(over, slot.frame))
    return tuple(found.values())
