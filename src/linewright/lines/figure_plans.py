"""A figure's loose form as a small graph of notes: the ways a line may play it.

A node is one note of the figure; an edge is a move, in half frame steps (an odd place lies
between two frame notes) or in semitones for a chromatic run. A line may enter at node 0 and
leave at any node with ``ends``. What varies is what the loose form leaves open: where it
starts, how far it shifts, how often it comes, how long it runs, and within its tolerance the
last note of its cell.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from linewright.analysis import Analysis
from linewright.analysis.figures import Figure
from linewright.analysis.figures.views import frame_steps

__all__ = ["FigurePlan", "Node", "plan_figures"]

_MOST_CELLS: Final = 4
_MOST_NOTES: Final = 24
_MOST_CONTOURS: Final = 6


@dataclass(slots=True)
class Node:
    """A note of a figure: its ``cell`` and ``place`` (both from 0), whether it may be the last,
    whether it begins or ends a cell (and so must be a frame note), and where it goes on:
    (move, next node, weight). ``move`` led here, and ``before`` to the note before.
    """

    cell: int
    place: int
    ends: bool = False
    edge: bool = False
    after: list[tuple[int, int, float]] = field(default_factory=list)
    move: int = 0
    before: int = 0


@dataclass(frozen=True)
class FigurePlan:
    """A figure a line may play.

    Parameters
    ----------
    tag : str
        ``f1``, ``f2``, ... in the order of the analysis.
    kind, words : str
        The figure's kind, and its idea in a sentence.
    nodes : tuple of Node
    in_semitones : bool
        Moves count semitones instead of half frame steps.
    phases : frozenset of Fraction
        Where in the beat it begins in the lick, as a part of the beat.
    length : float
        Notes of an average instance.
    share : float
        Its share of the lick's notes.
    """

    tag: str
    kind: str
    words: str
    nodes: tuple[Node, ...]
    in_semitones: bool
    phases: frozenset[Fraction]
    length: float
    share: float


def plan_figures(analysis: Analysis) -> tuple[FigurePlan, ...]:
    """Plans of the figures of an analysis that a line can make use of."""
    if analysis.frame is None:
        return ()
    lick = analysis.lick
    order = {index: place for place, index in enumerate(lick.melody)}
    midi = [lick.notes[index].midi for index in lick.melody]
    heights = frame_steps(analysis.frame, midi)
    plans = []
    for number, figure in enumerate(analysis.figures, 1):
        semis = figure.kind == "chromatic run"
        row = midi if semis else heights
        spans = [(order[a], order[b] + 1) for a, b in figure.occurrences]
        cells = [row[a:b] for a, b in spans]
        nodes = _nodes(figure, cells)
        if nodes is None:
            continue
        notes = [lick.notes[figure.occurrences[0][0]]]
        plans.append(
            FigurePlan(
                f"f{number}",
                figure.kind,
                figure.loose.words,
                tuple(nodes),
                semis,
                frozenset(_phase(analysis, note.onset) for note in notes),
                _usual_length(nodes),
                figure.covers / max(1, len(lick.melody)),
            )
        )
    return tuple(plans)


def _phase(analysis: Analysis, onset: Fraction) -> Fraction:
    bar = analysis.lick.bar_at(onset)
    number, rest = bar.meter.beat_at(bar.offset(onset))
    return rest / bar.meter.beats[number - 1]


def _nodes(figure: Figure, cells: Sequence[Sequence[int]]) -> list[Node] | None:
    if figure.is_run:
        return _run(figure, cells[0])
    if figure.kind == "alternation":
        return _alternation(figure, cells[0])
    if figure.kind == "pedal":
        return _pedal(figure, cells)
    return _cells(figure, cells)


def _chain(nodes: list[Node], at: int, move: int, node: Node, weight: float = 1.0) -> int:
    node.move, node.before = move, nodes[at].move
    nodes.append(node)
    nodes[at].after.append((move, len(nodes) - 1, weight))
    return len(nodes) - 1


def _run(figure: Figure, notes: Sequence[int]) -> list[Node] | None:
    shortest, longest = figure.loose.length
    moves = [b - a for a, b in itertools.pairwise(notes)]
    if figure.kind == "scale run":
        moves = [2 if moves[0] > 0 else -2] * (longest - 1)
    elif figure.kind == "chromatic run":
        moves = [1 if moves[0] > 0 else -1] * (longest - 1)
    nodes = [Node(0, 0, edge=True)]
    at = 0
    for place, move in enumerate(moves[: _MOST_NOTES - 1], 1):
        at = _chain(nodes, at, move, Node(0, place, ends=place + 1 >= shortest))
    return nodes if nodes[-1].ends else None


def _alternation(figure: Figure, notes: Sequence[int]) -> list[Node] | None:
    if len(notes) != 2 or notes[0] == notes[1]:
        return None
    there = notes[1] - notes[0]
    fewest, most = figure.loose.times
    nodes = [Node(0, 0, edge=True)]
    at = 0
    for number in range(1, min(2 * most, _MOST_NOTES)):
        move = there if number % 2 else -there
        node = Node(number // 2, number % 2, ends=number + 1 >= 2 * fewest)
        at = _chain(nodes, at, move, node)
    return nodes


def _pedal(figure: Figure, cells: Sequence[Sequence[int]]) -> list[Node] | None:
    full = [cell for cell in cells if len(cell) == figure.cell]
    common = [p for p in range(figure.cell) if len({cell[p] for cell in full}) == 1]
    if not common or len(full) < 2:
        return None
    pedal = full[0][common[0]]
    shapes = list(dict.fromkeys(tuple(h - pedal for h in cell) for cell in full))[:_MOST_CONTOURS]
    if any(shape[0] % 2 or shape[-1] % 2 for shape in shapes):
        return None
    fewest, most = figure.loose.times
    most = max(2, min(most, _MOST_CELLS, _MOST_NOTES // figure.cell))
    nodes = [Node(0, 0, edge=True)]
    firsts = {shapes[0][0]: 0}
    shapes = [s for s in shapes if s[0] in firsts]  # all begin alike, so one entry serves
    ends = [(0, shapes[0][0])]
    for number in range(most):
        done = []
        for shape in shapes:
            start = -1
            for at_end, height in ends:
                if number == 0:
                    start = 0
                    break
                move = shape[0] - height
                if start < 0:
                    start = _chain(nodes, at_end, move, Node(number, 0, edge=True))
                else:
                    nodes[at_end].after.append((move, start, 1.0))
            at = start
            for place in range(1, figure.cell):
                node = Node(number, place)
                at = _chain(nodes, at, shape[place] - shape[place - 1], node)
            nodes[at].edge = True
            nodes[at].ends = number + 1 >= fewest
            done.append((at, shape[-1]))
        ends = done
    return nodes


def _cells(figure: Figure, cells: Sequence[Sequence[int]]) -> list[Node] | None:
    """Sequences and repetitions: contours by shifts by times."""
    size = figure.cell
    full = [cell for cell in cells if len(cell) == size]
    contours = _contours(full, figure.loose.tolerance)
    if not contours:
        return None
    low, high = figure.loose.shift
    shifts = [s for s in range(low, high + 1) if s or figure.kind != "sequence"]
    fewest, most = figure.loose.times
    most = max(2, min(most, _MOST_CELLS, _MOST_NOTES // size))
    nodes = [Node(0, 0, edge=True)]
    for number, contour in enumerate(contours):
        weight = 1.0 if number == 0 else 0.5
        at = _through(nodes, 0, contour, 0, weight)
        for shift in shifts:
            end = at
            for cell in range(1, most):
                node = Node(cell, 0, edge=True, ends=size == 1 and cell + 1 >= fewest)
                end = _chain(nodes, end, 2 * shift - contour[-1], node)
                end = _through(nodes, end, contour, cell, 1.0)
                nodes[end].ends = cell + 1 >= fewest
    return nodes


def _through(nodes: list[Node], at: int, contour: Sequence[int], cell: int, weight: float) -> int:
    for place in range(1, len(contour)):
        move = contour[place] - contour[place - 1]
        at = _chain(nodes, at, move, Node(cell, place), weight if place == 1 else 1.0)
    nodes[at].edge = True
    return at


def _contours(cells: Sequence[Sequence[int]], tolerance: int) -> list[tuple[int, ...]]:
    found: list[tuple[int, ...]] = []
    for cell in cells:
        base = cell[0] - cell[0] % 2
        contour = [height - base for height in cell]
        contour[0] = 0
        contour[-1] += contour[-1] % 2  # a cell ends on a frame note
        if len(contour) == 1:
            contour = [0]
        found.append(tuple(contour))
    found = list(dict.fromkeys(found))[:2]
    if not tolerance or not found:
        return found
    first, size = found[0], len(found[0])
    middle = (size - 1) // 2
    for place in (size - 1, middle, middle + 1):  # a new ending, or a turn in the middle
        for change in (2, -2):
            if not 0 < place < size or len(found) >= _MOST_CONTOURS:
                continue
            other = (*first[:place], first[place] + change, *first[place + 1 :])
            beside = other[place - 1 : place] + other[place + 1 : place + 2]
            if other[place] not in beside and other not in found:
                found.append(other)
    return found


def _usual_length(nodes: Sequence[Node]) -> float:
    """Notes of an average way through, every end as likely as going on."""
    total = weight = 0.0
    reach = [0.0] * len(nodes)
    length = [1] * len(nodes)
    reach[0] = 1.0
    for at, node in enumerate(nodes):
        stop = reach[at] * (0.5 if node.after else 1.0) if node.ends else 0.0
        total += stop * length[at]
        weight += stop
        share = sum(w for _, _, w in node.after)
        for _, after, w in node.after:
            reach[after] += (reach[at] - stop) * w / share
            length[after] = length[at] + 1
    return total / weight if weight else float(len(nodes))
