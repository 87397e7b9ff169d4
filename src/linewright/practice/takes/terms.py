"""The terms a step is judged on."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

from linewright.analysis import Analysis
from linewright.lines import LineRequest, line_model
from linewright.practice.model import Step
from linewright.practice.sheet import StepSheet
from linewright.practice.takes.model import Ground, Terms
from linewright.score import ChordSpan, Lick

__all__ = ["terms_of"]


def terms_of(step: Step | StepSheet, analysis: Analysis) -> Terms:
    """What a take of ``step`` is judged by; ``analysis`` is of the lick the plan was made from."""
    line = step.examples[0].lick
    ground = Ground.of(line, _unit(line))
    if step.key != "move":  # an example may be shorter than a round of the lick's own chords
        chords, length = _round_of(analysis)
        ground = replace(ground, chords=chords, length=length)
    return Terms(step.done, ground, analysis, _places(step, analysis.lick))


def _places(step: Step | StepSheet, lick: Lick) -> tuple[tuple[int, int, int], ...]:
    """Where the step's drills and lines have a pitch, or else the lick has it, if always at the
    same string and fret.
    """
    found = _found([piece.lick for piece in (*step.drills, *step.examples)])
    if step.key not in ("neck", "move"):  # those are played elsewhere
        found = _found([lick]) | found
    alone = ((midi, *at) for midi, places in found.items() if len(places) == 1 for at in places)
    return tuple(sorted(alone))


def _found(licks: Iterable[Lick]) -> dict[int, set[tuple[int, int]]]:
    found: dict[int, set[tuple[int, int]]] = {}
    for note in itertools.chain.from_iterable(lick.notes for lick in licks):
        if note.string is not None and note.fret is not None and not note.bend:
            found.setdefault(note.midi, set()).add((note.string, note.fret))
    return found


@lru_cache(maxsize=32)
def _round_of(analysis: Analysis) -> tuple[tuple[ChordSpan, ...], Fraction]:
    """One round of a lick's chords, bar by bar, and how long it lasts."""
    model = line_model(analysis)
    bars = len(model.plan(LineRequest(bars=1, grid="cells")).progression.bars)
    return model.plan(
        LineRequest(bars=bars, grid="cells")
    ).chords, bars * analysis.lick.meter.length


def _unit(line: Lick) -> Fraction:
    """Quarters of one slot of a steady line: its commonest distance between onsets."""
    onsets = [line.notes[k].onset for k in line.melody]
    gaps = Counter(b - a for a, b in itertools.pairwise(onsets))
    if not gaps:
        return line.meter.beat / 2
    return min(gaps, key=lambda gap: (-gaps[gap], gap))
