"""Bars that echo earlier bars: what makes a line sound thought out rather than wandering.

First the plan is drawn: which bars echo which, as often as the lick's own bars come back (over
what is usual in tunes, counted in 1,362 of them: ``python -m benchmarks.line_habits``). Then a bar that
echoes is drawn from what the model gives for it after the notes before it, each of its moves
weighed by how well it follows the same move of the earlier bar: the same contour, from wherever it
starts, so moved by frame steps. The bars after it are drawn as ever. Every line so comes with
exactly the share these two rules give it, and keeps every limit, since a weight opens no way that
was closed.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from random import Random
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.analysis import Analysis
from linewright.analysis.figures.views import frame_steps
from linewright.lines.chain import Chain, pick, sums
from linewright.lines.mix import update
from linewright.lines.slots import Slot
from linewright.lines.tables import RISES, Ways

__all__ = ["Echo", "Echoing", "bars_to_echo", "draw_echoes", "echo_rate"]

Vector = NDArray[np.float64]
#: The share of bars that echo, and how many bars of a lick it counts as much as.
_USUAL: Final = 0.36
_USUAL_BARS: Final = 6.0
#: How often a bar of a tune is the echo of the bar so many before it, where there is one.
_LAGS: Final = {1: 0.037, 2: 0.097, 3: 0.019, 4: 0.176, 6: 0.025, 8: 0.108}
#: The share of moves that makes a bar an echo, and the fewest moves it must have.
_ALIKE: Final = 0.7
_FEWEST: Final = 3
#: Weights of a move that is the same, in half frame steps, and of one that goes the same way.
_SAME: Final = 16.0
_WAY: Final = 2.0
#: Weight of the echoed bar's own first note.
_PLACE: Final = 8.0
#: Stretches of more notes have no echoes.
_LONGEST: Final = 512
#: How near, in notes, an echo keeps to what the mix expects, and how often that is bettered.
_CLOSE: Final = 0.01
_TURNS: Final = 9
_FARTHEST: Final = 8.0


@dataclass(frozen=True, slots=True)
class Echo:
    """Slots ``first`` to ``end`` of a stretch echo as many from ``source`` on."""

    first: int
    end: int
    source: int


def echo_rate(analysis: Analysis) -> float:
    """The share of a line's bars that should echo an earlier one, as the lick teaches it."""
    lick, frame = analysis.lick, analysis.frame
    if frame is None:
        return _USUAL
    rows: list[tuple[list[Fraction], list[int]]] = []
    count = found = 0
    for bar in lick.bars:
        if not bar.number or not bar.is_full:
            continue
        inside = [lick.notes[i] for i in lick.melody if bar.onset <= lick.notes[i].onset < bar.end]
        heights = frame_steps(frame, [note.midi for note in inside])
        moves = [b - a for a, b in itertools.pairwise(heights)]
        row = ([note.onset - bar.onset for note in inside], moves)
        if len(moves) >= _FEWEST:
            count += bool(rows)
            found += any(_alike(row, other) for other in rows)
            rows.append(row)
    return round((_USUAL_BARS * _USUAL + found) / (_USUAL_BARS + count), 4)


def _alike(one: tuple[list[Fraction], list[int]], two: tuple[list[Fraction], list[int]]) -> bool:
    if one[0] != two[0]:
        return False
    same = sum(a == b for a, b in zip(one[1], two[1], strict=True))
    return same >= _ALIKE * len(one[1])


def bars_to_echo(slots: Sequence[Slot]) -> list[dict[Echo, float]]:
    """For each bar of a stretch but the first the echoes it may be, each with how often a bar of a
    tune is one; bars echo only bars of the same rhythm, as far as the shorter goes.
    """
    bars = _bars(slots)
    at = {slots[first].bar: (first, end) for first, end in bars}
    found: list[dict[Echo, float]] = []
    for first, end in bars[1:]:
        found.append({})
        for lag, share in _LAGS.items():
            source = at.get(slots[first].bar - lag)
            if source is not None and _follows(slots, (first, end), source):
                found[-1][Echo(first, _until(slots, first, end), source[0])] = share
    return found


def draw_echoes(bars: Sequence[Mapping[Echo, float]], rate: float, rng: Random) -> dict[int, Echo]:
    """Which bars echo which, by the first slot of the bar."""
    found: dict[int, Echo] = {}
    for ways in bars:
        weights = [share * rate / _USUAL for share in ways.values()]
        echo = [*ways, None][pick([*weights, max(0.0, 1.0 - sum(weights))], rng)]
        if echo is not None:
            found[echo.first] = echo
    return found


def _bars(slots: Sequence[Slot]) -> list[tuple[int, int]]:
    """First slot and end of each bar."""
    found: list[tuple[int, int]] = []
    for t, slot in enumerate(slots):
        if found and slots[t - 1].bar == slot.bar:
            found[-1] = (found[-1][0], t + 1)
        else:
            found.append((t, t + 1))
    return found


def _until(slots: Sequence[Slot], first: int, end: int) -> int:
    """Where an echo in a bar ends: the last note of a phrase is left to its cadence."""
    return end - 1 if end - first > 1 and slots[end - 1].closes else end


def _follows(slots: Sequence[Slot], bar: tuple[int, int], source: tuple[int, int]) -> bool:
    """Whether a bar, but for a phrase's last note, has the rhythm of another's beginning."""
    count = _until(slots, *bar) - bar[0]
    if count <= _FEWEST or count > source[1] - source[0]:
        return False
    return all(
        slots[bar[0] + k].onset - slots[bar[0]].onset
        == slots[source[0] + k].onset - slots[source[0]].onset
        for k in range(count)
    )


def bends(moves: Sequence[int]) -> list[Vector]:
    """For each move to echo, in half frame steps, a weight for every move from ``-RISES`` on."""
    found = []
    for move in moves:
        weights = np.ones(2 * RISES + 1)
        if move > 0:
            weights[RISES + 1 :] = _WAY
        elif move < 0:
            weights[:RISES] = _WAY
        weights[max(-RISES, min(RISES, move)) + RISES] = _SAME
        found.append(weights)
    return found


def moves_of(chain: Chain, path: Sequence[int], first: int, end: int) -> list[int]:
    """The moves of a path between slots ``first`` and ``end``, in half frame steps."""
    lattice = chain.tables.lattice
    found = []
    for t in range(first + 1, end):
        heights = lattice.views[chain.frames[t]].heights
        before, after = (lattice.states[path[k]].midi for k in (t - 1, t))
        found.append(heights[after] - heights[before])
    return found


def place_of(chain: Chain, path: Sequence[int], echo: Echo) -> Vector:
    """Weights of the first note of an echo, by MIDI number: best where the echoed bar began."""
    lattice = chain.tables.lattice
    began = lattice.states[path[echo.source]].midi
    moved = (
        lattice.views[chain.frames[echo.first]].tonic
        - lattice.views[chain.frames[echo.source]].tonic
    )
    weights = np.ones(128)
    for midi in range(max(0, began - 6), min(127, began + 6) + 1):
        if (midi - began - moved) % 12 == 0:
            weights[midi] = _PLACE
    return weights


class Echoing:
    """A stretch ready to be sampled with echoes.

    Parameters
    ----------
    chain : Chain
        With its messages worked out.
    rows : array, shape (elements, states)
        The states that count for each element of the mix.

    Notes
    -----
    An echo would pull the shares of the mix to those of the bar it echoes. So its states are
    tilted besides, until the notes of each element to be expected in the bar and after it are
    those the chain expects from the note before it on, to ``_CLOSE``; where no tilt does that, the bar is no echo. What is expected of the whole line then
    never changes, whichever bars echo, and the shares stay those the mix was tuned to.
    """

    def __init__(self, chain: Chain, rows: Vector) -> None:
        self.chain, self.rows = chain, rows
        self.bars = bars_to_echo(chain.slots)
        self.most = len(chain.slots) if len(chain.slots) <= _LONGEST else 0
        self.after = self._after() if len(rows) and self.most else {}

    def _after(self) -> dict[int, Vector]:
        """For the slots an echo may begin and end at, the notes of each element (rows) to be
        expected after each state.
        """
        chain = self.chain
        slots, last = chain.slots, len(chain.slots) - 1
        wanted = {t for first, end in _bars(slots) for t in (first, _until(slots, first, end) - 1)}
        value = np.zeros_like(self.rows)
        found = {last: value}
        for t in range(last, 0, -1):
            value = self._before(t, value)
            if t - 1 in wanted:
                found[t - 1] = value
        return found

    def _before(self, t: int, after: Vector) -> Vector:
        """What is to be expected after slot ``t - 1`` from what is after ``t``."""
        chain, tables = self.chain, self.chain.tables
        source, target, _, _ = tables.edges[chain.frames[t]]
        edges, _ = chain.gated(t)
        labelled = chain.message(t) * chain.factor(t)
        rows = [labelled, *(labelled * (self.rows + after))]
        found = []
        for row in rows:
            weight = edges * chain.arriving(t, row)[target]
            before = sums(source, weight, tables.size)
            before[tables.exit_from] += tables.exit_weight * before[tables.exit_to]
            found.append(before)
        whole = np.where(found[0] > 0, found[0], 1.0)
        return np.array(found[1:]) / whole

    def sample(self, echoes: Mapping[int, Echo], rng: Random) -> list[int]:
        """One line with these echoes: the state of every slot."""
        chain = self.chain
        path: list[int] = []
        at: int | None = None
        while len(path) < len(chain.slots):
            t = len(path)
            echo = echoes.get(t) if t < self.most else None
            if echo is None:
                shown, at = chain.go_on(t, at, rng)
                path.append(shown)
                continue
            moves = moves_of(chain, path, echo.source, echo.source + echo.end - echo.first)
            bar = self.bend(echo, at, place_of(chain, path, echo), bends(moves))
            if bar is None:
                echoes = {k: e for k, e in echoes.items() if k != t}
                continue
            for k, (message, bend, extra) in enumerate(bar):
                shown, at = chain.go_on(t + k, at, rng, message, bend, extra)
                path.append(shown)
        return path

    def bend(
        self, echo: Echo, before: int | None, place: Vector, wished: Sequence[Vector]
    ) -> list[tuple[Vector, Vector | None, Vector]] | None:
        """For each slot of an echo the message, the weights of moves and the weights of states;
        None when no tilt is found that keeps what is expected of the mix.
        """
        ways = _Ways(self.chain, echo, before, place, wished)
        plain = ways.tilted(None, None)
        if not len(self.rows):
            return plain
        after = self.after[echo.end - 1]
        goal = self._expected(echo.first, ways)
        centred = after - after.mean(axis=1, keepdims=True)
        at: Vector = np.zeros(len(self.rows))
        slope = ways.expected(plain, self.rows, after) - goal
        if float(np.abs(slope).max()) <= _CLOSE:
            return plain
        inverse: Vector = np.diag(1.0 / (2.0 * np.abs(slope) + 0.2))
        step: Vector = -(inverse @ slope)
        for _ in range(_TURNS):
            to: Vector = np.clip(at + np.clip(step, -2.0, 2.0), -_FARTHEST, _FARTHEST).round(9)
            bar = ways.tilted(np.exp(to @ self.rows), np.exp(to @ centred))
            there = ways.expected(bar, self.rows, after) - goal
            if float(np.abs(there).max()) <= _CLOSE:
                return bar
            inverse = update(inverse, to - at, there - slope)
            if float(there @ there) > 2.0 * float(slope @ slope):
                step = (to - at) / 3.0
                continue
            at, slope = to, there
            step = -(inverse @ slope)
        return None

    def _expected(self, t: int, ways: _Ways) -> Vector:
        """Notes of each element from slot ``t`` on, as the chain alone expects them."""
        chain = self.chain
        labelled = chain.message(t) * chain.factor(t)
        sums = [
            float(ways.weights @ chain.arriving(t, row)[ways.numbers])
            for row in (labelled, *(labelled * (self.rows + self.after[t])))
        ]
        return np.array(sums[1:]) / sums[0]


class _Ways:
    """What an echo's bar may be, after one state."""

    def __init__(
        self, chain: Chain, echo: Echo, before: int | None, place: Vector, wished: Sequence[Vector]
    ) -> None:
        self.chain, self.first, self.end, self.before = chain, echo.first, echo.end, before
        self.wished: list[Vector | None] = [None, *wished]
        self.place = place[chain.tables.midi]
        numbers, weights = chain.entries() if before is None else chain.ways(echo.first, before)
        self.numbers, self.weights = np.array(numbers, dtype=np.intp), np.array(weights)
        #: The ways from what can be reached after that state alone, which is little of the whole.
        self.moves: list[Ways | None] = [None]
        states = chain.named(echo.first, self.numbers)
        for t, bend in enumerate(wished, echo.first + 1):
            moves = chain.moves_from(t, states, bend)
            self.moves.append(moves)
            states = chain.named(t, moves[1])

    def tilted(
        self, tilt: Vector | None, end: Vector | None
    ) -> list[tuple[Vector, Vector | None, Vector]]:
        """Messages, weights of moves and of states: every state tilted, the last by ``end`` too."""
        chain = self.chain
        message = chain.message(self.end - 1)
        one = np.ones(chain.tables.size) if tilt is None else tilt
        found = []
        for t in range(self.end - 1, self.first - 1, -1):
            extra = one
            if t == self.end - 1 and end is not None:
                extra = extra * end
            if t == self.first:
                extra = extra * self.place
            bend = self.wished[t - self.first]
            found.append((message, bend, extra))
            if t > self.first:
                message = chain.step(t, message * extra, self.moves[t - self.first])
        return found[::-1]

    def expected(
        self, bar: Sequence[tuple[Vector, Vector | None, Vector]], rows: Vector, after: Vector
    ) -> Vector:
        """Notes of each element to be expected in the bar and after it."""
        total = np.zeros(len(rows))
        ways = [(moves, extra) for moves, (_, _, extra) in zip(self.moves, bar, strict=True)]
        masses = self.chain.masses(self.first, self.before, ways)
        for (message, _, _), mass in zip(bar, masses, strict=True):
            share = mass * message
            share /= share.sum()
            total = total + rows @ share
        return np.asarray(total + after @ share)
