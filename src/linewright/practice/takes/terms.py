"""The terms a step is judged on."""

from __future__ import annotations

import itertools
from collections import Counter
from fractions import Fraction

from linewright.analysis import Analysis
from linewright.practice.model import Step
from linewright.practice.sheet import StepSheet
from linewright.practice.takes.model import Ground, Terms
from linewright.score import Lick

__all__ = ["terms_of"]


def terms_of(step: Step | StepSheet, analysis: Analysis) -> Terms:
    """What a take of ``step`` is judged by; ``analysis`` is of the lick the plan was made from."""
    line = step.examples[0].lick
    return Terms(step.done, Ground.of(line, _unit(line)), analysis)


def _unit(line: Lick) -> Fraction:
    """Quarters of one slot of a steady line: its commonest distance between onsets."""
    onsets = [line.notes[k].onset for k in line.melody]
    gaps = Counter(b - a for a, b in itertools.pairwise(onsets))
    if not gaps:
        return line.meter.beat / 2
    return min(gaps, key=lambda gap: (-gaps[gap], gap))
