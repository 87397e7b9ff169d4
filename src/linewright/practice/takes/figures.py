"""A lick's figure, found in a take in its loose form.

Two ways count, and both are the idea a player would keep: any way in which a made line may
play the figure (the graph of :mod:`linewright.lines.figure_plans`), and the loose form itself:
cells of the figure's contour within its tolerance, moved by a shift it allows, that have the
same contour as each other, since a cell that does not come back is no figure. A note that was
not heard clearly fits anywhere.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from linewright.analysis import Analysis
from linewright.analysis.figures import Figure
from linewright.analysis.figures.views import frame_steps
from linewright.lines.figure_plans import FigurePlan, plan_figures
from linewright.lines.heard import makes_lines, with_notes_heard

__all__ = ["figure_places"]


def figure_places(
    analysis: Analysis, tag: str, midi: Sequence[int], sure: Sequence[bool]
) -> tuple[tuple[int, int], ...]:
    """First and last note of each time the figure ``tag`` of a lick comes in a take.

    Parameters
    ----------
    analysis : Analysis
        Of the lick that has the figure.
    tag : str
        ``f1``, ``f2``, ... in the order of the analysis.
    midi : sequence of int
        The take's notes.
    sure : sequence of bool
        Whether each was heard clearly.

    Returns
    -------
    tuple of (int, int)
        In order, not overlapping, each as short as the figure allows.
    """
    if makes_lines(analysis):
        analysis = with_notes_heard(analysis)
    plan = next((p for p in plan_figures(analysis) if p.tag == tag), None)
    if plan is None or analysis.frame is None:
        return ()
    figure = analysis.figures[int(tag[1:]) - 1]
    row = list(midi) if plan.in_semitones else frame_steps(analysis.frame, midi)
    found: list[tuple[int, int]] = []
    at = 0
    while at < len(row):
        ends = [e for e in (_by_plan(plan, row, sure, at), _loose(figure, row, sure, at)) if e]
        if ends:
            found.append((at, min(ends)))
            at = min(ends) + 1
        else:
            at += 1
    return tuple(found)


def _by_plan(plan: FigurePlan, row: Sequence[int], sure: Sequence[bool], start: int) -> int | None:
    """The nearest note at which a way through the plan may end, None when there is no way."""
    nodes = plan.nodes
    if not plan.in_semitones and sure[start] and row[start] % 2 and nodes[0].edge:
        return None
    # (node, height it is at, or None after a note that was not clear)
    states: set[tuple[int, int | None]] = {(0, row[start] if sure[start] else None)}
    for at in range(start + 1, len(row)):
        after: set[tuple[int, int | None]] = set()
        for node, height in states:
            for move, to, _ in nodes[node].after:
                wanted = None if height is None else height + move
                if not sure[at]:
                    after.add((to, wanted))
                elif wanted is None or wanted == row[at]:
                    after.add((to, row[at]))
        if any(nodes[node].ends for node, _ in after):
            return at
        if not after:
            return None
        states = after
    return None


def _loose(figure: Figure, row: Sequence[int], sure: Sequence[bool], start: int) -> int | None:
    """The last note of the fewest cells that make the loose form from ``start`` on."""
    if figure.kind not in ("sequence", "repetition"):
        return None
    loose, size = figure.loose, figure.cell
    count = max(2, loose.times[0])
    last = start + count * size - 1
    if size < 2 or last >= len(row):
        return None
    low, high = loose.shift
    firsts = [row[start + size * k] if sure[start + size * k] else None for k in range(count)]
    for a, b in itertools.pairwise(firsts):
        if a is not None and b is not None and not (2 * low <= b - a <= 2 * high):
            return None
    if figure.kind == "sequence" and len(set(firsts)) == 1 and firsts[0] is not None:
        return None
    for place in range(1, size):
        if place in loose.free_notes:
            continue
        heights = {
            row[index] - base
            for k, base in enumerate(firsts)
            if base is not None and sure[index := start + size * k + place]
        }
        wanted = 2 * loose.contour[place]
        if len(heights) > 1 or any(abs(h - wanted) > 2 * loose.tolerance for h in heights):
            return None
    return last
