"""What one lick teaches: its moves, figures, usages and habits, and the elements of a mix."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from linewright.analysis import Analysis
from linewright.analysis.figures.views import frame_steps
from linewright.lines.echo import echo_rate
from linewright.lines.figure_plans import FigurePlan, plan_figures
from linewright.lines.mix import Element
from linewright.lines.moves import MoveTable, steps_between
from linewright.lines.setup import Learned
from linewright.lines.taste import Taste
from linewright.lines.usage import OutsideUse, learned_uses

__all__ = ["learn"]


def learn(analysis: Analysis) -> Learned:
    """Everything a line is made from, learned from one analysis."""
    lick, frame = analysis.lick, analysis.frame
    source = tuple(lick.notes[index].midi for index in lick.melody)
    moves: list[int] = []
    ways: list[int] = []
    if frame is not None:
        heights = frame_steps(frame, source)
        ways = [steps_between(a, b) for a, b in itertools.pairwise(heights)]
        inside = [height % 2 == 0 for height in heights]
        for a, b, x, y in zip(heights, heights[1:], inside, inside[1:], strict=False):
            if x and y:
                moves.append((b - a) // 2)
    uses, plans = learned_uses(analysis), plan_figures(analysis)
    return Learned(
        source,
        MoveTable(moves, ways),
        uses,
        plans,
        Taste(analysis),
        analysis.rhythm.common,
        _elements(analysis, plans, uses),
        echo_rate(analysis),
    )


def _elements(
    analysis: Analysis, plans: Sequence[FigurePlan], uses: Sequence[OutsideUse]
) -> dict[str, Element]:
    count = max(1, len(analysis.lick.melody))
    found: dict[str, Element] = {}
    for number, plan in enumerate(plans):
        words = f"{plan.kind}: {plan.words}"
        found[plan.tag] = Element(plan.tag, words, plan.share, plan.length, (number,))
    for use in uses:
        same = tuple(k for k, other in enumerate(uses) if other.degree == use.degree)
        notes = sum(len(uses[k].notes) for k in same)
        words = f"the {use.degree}, outside the frame"
        found.setdefault(use.degree, Element(use.degree, words, notes / count, 1.0, (), same))
    for plan in plans:
        same = tuple(k for k, other in enumerate(plans) if other.kind == plan.kind)
        share = sum(plans[k].share for k in same)
        length = sum(plans[k].length for k in same) / len(same)
        element = Element(plan.kind, f"every {plan.kind}", share, length, same, group=True)
        found.setdefault(plan.kind, element)
    for use in uses:
        same = tuple(k for k, other in enumerate(uses) if other.function == use.function)
        share = sum(len(uses[k].notes) for k in same) / count
        words = f"every {use.function}"
        found.setdefault(
            use.function, Element(use.function, words, share, 1.0, (), same, group=True)
        )
    return found
