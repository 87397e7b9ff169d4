"""The states a line can be in and the moves between them: the model as a product automaton.

A state is a pitch, what the note is (a plain frame note, an outside note in one learned usage,
one note of a figure's plan), the kind of the move that led there, and how much of the source
the line is quoting. Everything a line must never do is simply not an edge: a leap over the
limit, a note out of range or reach, an outside note left otherwise than was learned, a quotation.
What depends on the moment (beat, chord) is a gate on an edge; how well a pitch suits the moment
is a weight that :mod:`.chain` applies. In the words of Papadopoulos, Pachet, Roy and Sakellariou
(2015) these are regular constraints, and the product with the Markov model stays Markov.

States are grown from where lines can start, frame by frame, so only what is reachable exists.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from linewright.analysis.figures.views import frame_steps
from linewright.lines.figure_plans import FigurePlan, Node
from linewright.lines.hand import HandMap
from linewright.lines.moves import NONE, REPEAT, MoveTable, kind_of, staff_heights, steps_between
from linewright.lines.pulls import Pulls
from linewright.lines.quote import QuoteWatch
from linewright.lines.usage import OutsideUse
from linewright.theory import Frame

__all__ = ["FREE", "OUTSIDE", "UNKNOWN", "Gate", "Lattice", "Rules", "State"]

FREE = 0
OUTSIDE = 1
#: A note of which it is not known how it was reached (see :meth:`Lattice.approach_of`).
UNKNOWN = 4
_FIRST_FIGURE = 2
_USE_WEIGHT = 0.35
#: Weight of ending a figure where it may end and may go on, and of going on.
_LEAVE, _GO_ON = 0.5, 0.5


class State(NamedTuple):
    """``node`` is FREE, OUTSIDE or a figure's note; ``memory`` the kind of the last move (FREE),
    the usage (OUTSIDE), or 1 + the usage of an outside note inside a figure, 0 for none.
    """

    midi: int
    node: int
    memory: int
    quote: int


class Gate(NamedTuple):
    """What a moment must be for an edge to be open: on or off the beat (None: either), a pitch
    class its chord must hold (-1: any), parts of the beat a figure may begin at (None: any).
    """

    on_beat: bool | None = None
    chord_tone: int = -1
    parts: frozenset[Fraction] | None = None


@dataclass(frozen=True)
class Rules:
    """What holds for every line of a lattice."""

    moves: MoveTable
    watch: QuoteWatch
    hand: HandMap
    uses: tuple[OutsideUse, ...]
    plans: tuple[FigurePlan, ...]
    leap: int
    low: int
    high: int
    most_frets: int
    phased: bool
    pulls: Pulls


@dataclass(slots=True)
class _View:
    """A frame as heights: half steps of every MIDI number, and the notes inside."""

    tonic: int
    heights: list[int]
    inside: frozenset[int]
    notes: dict[int, int]
    letters: list[int]


class Lattice:
    """States, edges by frame of the arriving note, labels and exits; grown on demand."""

    def __init__(self, rules: Rules, frames: Sequence[Frame], follows: Iterable[tuple[int, int]]):
        self.rules = rules
        self.frames = tuple(frames)
        self.views = [self._view(frame) for frame in frames]
        self._after: dict[int, list[int]] = {}
        for before, after in sorted(set(follows)):
            self._after.setdefault(before, []).append(after)
        self.states: list[State] = []
        self.known: dict[State, int] = {}
        self.gates: list[Gate] = [Gate()]
        self._gate_ids: dict[Gate, int] = {Gate(): 0}
        #: For each frame: (from, to, weight, gate) of its edges, in order of growth.
        self.edges: list[list[tuple[int, int, float, int]]] = [[] for _ in frames]
        #: (plain note, first note of a figure's plan, plan, gate).
        self.labels: list[tuple[int, int, int, int]] = []
        #: (note that may end a figure, its plain twin, weight).
        self.exits: list[tuple[int, int, float]] = []
        self._expanded: list[set[int]] = [set() for _ in frames]
        self._seen: set[tuple[int, int]] = set()
        self._labelled: set[int] = set()
        self._labelled_at: set[tuple[int, int]] = set()
        self._exited: set[int] = set()
        self._todo: list[tuple[int, int]] = []
        self._targets: dict[tuple[int, int], list[tuple[int, int]]] = {}
        self.offsets: list[int] = []
        count = _FIRST_FIGURE
        for plan in rules.plans:
            self.offsets.append(count)
            count += len(plan.nodes)
        self._nodes = [
            (number, node) for number, plan in enumerate(rules.plans) for node in plan.nodes
        ]
        total = sum(len(use.notes) for use in rules.uses) or 1
        self._use_weights = [_USE_WEIGHT * len(use.notes) / total for use in rules.uses]
        self._uses_by_rise: dict[tuple[int, int], list[int]] = {}
        for number, use in enumerate(rules.uses):
            self._uses_by_rise.setdefault((use.above, use.rise_in), []).append(number)
        self.version = 0

    # -- asking --------------------------------------------------------------------------
    def figure_of(self, state: State) -> tuple[int, int] | None:
        """(plan, node) of a state inside a figure."""
        if state.node < _FIRST_FIGURE:
            return None
        plan, _ = self._nodes[state.node - _FIRST_FIGURE]
        return plan, state.node - self.offsets[plan]

    def use_of(self, state: State) -> int | None:
        """The usage of an outside note, None for a frame note."""
        if state.node == OUTSIDE:
            return state.memory
        if state.node >= _FIRST_FIGURE and state.memory:
            return state.memory - 1
        return None

    def opening(self, frame: int) -> list[int]:
        """Every state a line may open with over a frame, grown."""
        found = []
        for midi in sorted(self.views[frame].inside):
            if self._fits(midi):
                found.append(self._arrive(State(midi, FREE, NONE, 0), frame))
        self._grow()
        return found

    def enter(self, state: State, frame: int) -> int:
        """The state of a note that is given, before a note over ``frame``; grown."""
        number = self._id(state)
        if number not in self._expanded[frame]:
            self._expand(number, frame)
        self._grow()
        return number

    def approach_of(self, state: State) -> int:
        """How a note was reached: 0 repeated, 1 by step, 2 by a third, 3 by leap, 4 not known."""
        if state.node == OUTSIDE:
            return min(3, (abs(self.rules.uses[state.memory].rise_in) + 1) // 2)
        if state.node == FREE:
            if state.memory >= REPEAT:
                return UNKNOWN if state.memory == NONE else 0
            return state.memory % 3 + 1
        plan, node = self._nodes[state.node - _FIRST_FIGURE]
        if node is self.rules.plans[plan].nodes[0]:
            return UNKNOWN
        return min(3, (abs(node.move) + 1) // 2)

    # -- growth --------------------------------------------------------------------------
    def _view(self, frame: Frame) -> _View:
        heights = frame_steps(frame, range(128))
        inside = frozenset(m for m in range(128) if m % 12 in frame.numbers)
        return _View(
            frame.tonic.number,
            heights,
            inside,
            {heights[m]: m for m in range(128) if m in inside},
            staff_heights(frame, range(128)),
        )

    def _fits(self, midi: int) -> bool:
        rules = self.rules
        return rules.low <= midi <= rules.high and midi in rules.hand.place

    def _reaches(self, one: int, two: int) -> bool:
        rules = self.rules
        position = rules.hand.position
        if one not in position or two not in position:
            return False
        return (
            abs(two - one) <= rules.leap and abs(position[one] - position[two]) <= rules.most_frets
        )

    def reachable(self, one: int, two: int) -> bool:
        """Whether the leap and the hand allow one pitch after another."""
        return self._reaches(one, two)

    def _id(self, state: State) -> int:
        number = self.known.get(state)
        if number is None:
            number = self.known[state] = len(self.states)
            self.states.append(state)
            self.version += 1
        return number

    def _gate(self, gate: Gate) -> int:
        number = self._gate_ids.get(gate)
        if number is None:
            number = self._gate_ids[gate] = len(self.gates)
            self.gates.append(gate)
        return number

    def _grow(self) -> None:
        while self._todo:
            number, frame = self._todo.pop()
            for after in self._after.get(frame, ()):
                if number not in self._expanded[after]:
                    self._expand(number, after)

    def _reach(self, state: State, frame: int) -> int:
        """Note that a state can stand over a frame, to be expanded later."""
        number = self._id(state)
        if (number, frame) not in self._seen:
            self._seen.add((number, frame))
            self._todo.append((number, frame))
        return number

    def _arrive(self, state: State, frame: int) -> int:
        """A plain frame note, with the figures that may begin on it."""
        number = self._reach(state, frame)
        if (number, frame) in self._labelled_at:
            return number
        self._labelled_at.add((number, frame))
        first = number not in self._labelled
        self._labelled.add(number)
        for plan, offset in enumerate(self.offsets):
            begins = self._reach(State(state.midi, offset, 0, state.quote), frame)
            if first:
                parts = self.rules.plans[plan].phases if self.rules.phased else None
                self.labels.append((number, begins, plan, self._gate(Gate(parts=parts))))
        return number

    def _expand(self, number: int, frame: int) -> None:
        self._expanded[frame].add(number)
        state = self.states[number]
        if state.node == FREE:
            self._expand_free(number, state, frame)
        elif state.node == OUTSIDE:
            self._expand_outside(number, state, frame)
        else:
            self._expand_figure(number, state, frame)

    def _expand_free(self, number: int, state: State, frame: int) -> None:
        edges, rules, watch = self.edges[frame], self.rules, self.rules.watch
        tonic = self.views[frame].tonic
        for midi, steps in self._near(state.midi, frame):
            quote = watch.after(state.quote, midi - state.midi)
            weight = rules.moves.weight(state.memory, steps) * rules.pulls(
                (state.midi - tonic) % 12, (midi - tonic) % 12
            )
            if quote >= 0 and weight:
                kind = kind_of(steps, state.memory)
                to = self._arrive(State(midi, FREE, kind, quote), frame)
                edges.append((number, to, weight, 0))
        self._outside_edges(number, state, frame, None)

    def _outside_edges(self, number: int, state: State, frame: int, rise: int | None) -> None:
        view = self.views[frame]
        for use_number, use in enumerate(self.rules.uses):
            midi = state.midi + use.rise_in
            if rise is not None and use.rise_in != rise:
                continue
            if (midi - view.tonic - use.above) % 12 or midi in view.inside:
                continue
            if not self._fits(midi) or not self._reaches(state.midi, midi):
                continue
            quote = self.rules.watch.after(state.quote, use.rise_in)
            if quote < 0 or not self._leaves(midi, use):
                continue
            to = self._reach(State(midi, OUTSIDE, use_number, quote), frame)
            weight = self._use_weights[use_number]
            self.edges[frame].append((number, to, weight, self._use_gate(use, midi)))

    def _leaves(self, midi: int, use: OutsideUse) -> bool:
        after = midi + use.rise_out
        return self._fits(after) and self._reaches(midi, after)

    def _use_gate(self, use: OutsideUse, midi: int) -> int:
        return self._gate(Gate(use.on_beat, midi % 12 if use.in_chord else -1))

    def _expand_outside(self, number: int, state: State, frame: int) -> None:
        rise = self.rules.uses[state.memory].rise_out
        midi, view = state.midi + rise, self.views[frame]
        if midi not in view.inside:
            self._outside_edges(number, state, frame, rise)
            return
        quote = self.rules.watch.after(state.quote, rise)
        if quote >= 0 and self._fits(midi):
            steps = steps_between(view.letters[state.midi], view.letters[midi])
            kind = kind_of(steps, kind_of(self.rules.uses[state.memory].rise_in))
            to = self._arrive(State(midi, FREE, kind, quote), frame)
            self.edges[frame].append((number, to, 1.0, 0))

    def _expand_figure(self, number: int, state: State, frame: int) -> None:
        plan_number, node = self._nodes[state.node - _FIRST_FIGURE]
        plan, offset = self.rules.plans[plan_number], self.offsets[plan_number]
        rules, tonic = self.rules, self.views[frame].tonic
        pending = self.rules.uses[state.memory - 1].rise_out if state.memory else None
        if node.ends and not state.memory:
            self._exit(number, state, node, plan.in_semitones, frame)
        share = sum(weight for _, _, weight in node.after)
        scale = (_GO_ON if node.ends else 1.0) / share if node.after else 0.0
        for move, after, weight in node.after:
            for midi in self._played(state, move, plan, frame, pending is not None):
                if pending is not None and midi - state.midi != pending:
                    continue
                if not self._fits(midi) or not self._reaches(state.midi, midi):
                    continue
                quote = self.rules.watch.after(state.quote, midi - state.midi)
                if quote < 0:
                    continue
                for memory, gate in self._inside(state, midi, plan, after, frame):
                    to = self._reach(State(midi, offset + after, memory, quote), frame)
                    bond = rules.pulls((state.midi - tonic) % 12, (midi - tonic) % 12)
                    self.edges[frame].append((number, to, weight * scale * bond, gate))

    def _exit(self, number: int, state: State, node: Node, semitones: bool, frame: int) -> None:
        move = node.move if semitones else round(node.move / 2)
        if semitones:
            move = (move > 0) - (move < 0)
        kind = kind_of(move, kind_of(node.before))
        twin = self._id(State(state.midi, FREE, kind, state.quote))
        if twin not in self._expanded[frame]:
            self._expand(twin, frame)
        if number not in self._exited:
            self._exited.add(number)
            self.exits.append((number, twin, _LEAVE if node.after else 1.0))

    def _played(
        self, state: State, move: int, plan: FigurePlan, frame: int, inside: bool
    ) -> tuple[int, ...]:
        """The pitches a figure's move may lead to."""
        if plan.in_semitones:
            return (state.midi + move,)
        view = self.views[frame]
        height = view.heights[state.midi]
        if height % 2 and not inside and not move % 2:  # the frame has moved under the figure
            height += -1 if move > 0 else 1
        height += move
        if not height % 2:
            found = view.notes.get(height)
            return () if found is None else (found,)
        low, high = view.notes.get(height - 1), view.notes.get(height + 1)
        return () if low is None or high is None else tuple(range(low + 1, high))

    def _inside(
        self, state: State, midi: int, plan: FigurePlan, after: int, frame: int
    ) -> list[tuple[int, int]]:
        """(memory, gate) with which a figure's next note may be ``midi``."""
        view = self.views[frame]
        if midi in view.inside:
            return [(0, 0)]
        node = plan.nodes[after]
        if node.edge or node.ends or len(node.after) != 1:
            return []
        above = (midi - view.tonic) % 12
        found = []
        for number in self._uses_by_rise.get((above, midi - state.midi), ()):
            use = self.rules.uses[number]
            there = State(midi, 0, 0, 0)
            rises = {
                m - midi for m in self._played(there, node.after[0][0], plan, frame, inside=True)
            }
            if use.rise_out in rises and self._leaves(midi, use):
                found.append((number + 1, self._use_gate(use, midi)))
        return found

    def _near(self, midi: int, frame: int) -> list[tuple[int, int]]:
        """(pitch, frame steps) of every frame note in reach of a pitch."""
        found = self._targets.get((midi, frame))
        if found is None:
            view, leap = self.views[frame], self.rules.leap
            found = []
            for other in range(midi - leap, midi + leap + 1):
                if other in view.inside and self._fits(other) and self._reaches(midi, other):
                    steps = steps_between(view.letters[midi], view.letters[other])
                    found.append((other, steps))
            self._targets[(midi, frame)] = found
        return found
