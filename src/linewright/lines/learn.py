"""What one lick teaches: its moves, figures, usages and habits, and the elements of a mix."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from linewright.analysis import Analysis
from linewright.errors import MusicError
from linewright.lines.echo import echo_rate
from linewright.lines.figure_plans import FigurePlan, plan_figures
from linewright.lines.mix import Element
from linewright.lines.moves import MoveTable, staff_heights, steps_between
from linewright.lines.pulls import Pulls
from linewright.lines.setup import Learned
from linewright.lines.taste import Taste
from linewright.lines.usage import OutsideUse, learned_uses

__all__ = ["learn"]


def learn(analysis: Analysis) -> Learned:
    """Everything a line is made from, learned from one analysis."""
    lick, frame = analysis.lick, analysis.frame
    source = tuple(lick.notes[index].midi for index in lick.melody)
    if frame is None:
        raise MusicError("a line needs a frame")
    heights = staff_heights(frame, source)
    pairs = list(itertools.pairwise(heights))
    moves = [(b - a) // 2 for a, b in pairs if not a % 2 and not b % 2]
    ways = [steps_between(a, b) for a, b in pairs]
    uses, plans = learned_uses(analysis), plan_figures(analysis)
    table = MoveTable(moves, ways)
    pulls = Pulls(frame, heights, table)
    taste = Taste(analysis, table, pulls)
    return Learned(
        source,
        taste.moves,
        uses,
        plans,
        pulls,
        taste,
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
