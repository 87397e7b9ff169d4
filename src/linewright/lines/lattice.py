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

from linewright.lines.figure_plans import Node
from linewright.lines.moves import NONE, REPEAT, kind_of, last_kind, steps_between
from linewright.lines.onward import FIRST_FIGURE, FREE, OUTSIDE, Gate, Onward, Rules, State
from linewright.theory import Frame

__all__ = ["FREE", "OUTSIDE", "UNKNOWN", "Gate", "Lattice", "Rules", "State"]

#: A note of which it is not known how it was reached (see :meth:`Lattice.approach_of`).
UNKNOWN = 4
#: Weight of ending a figure where it may end and may go on.
_LEAVE = 0.5


class Lattice:
    """States, edges by frame of the arriving note, labels and exits; grown on demand."""

    def __init__(self, rules: Rules, frames: Sequence[Frame], follows: Iterable[tuple[int, int]]):
        self.rules = rules
        self.frames = tuple(frames)
        self.onward = Onward(rules, frames)
        self.views = self.onward.views
        self.gates, self.offsets, self._nodes = (
            self.onward.gates, self.onward.offsets, self.onward.nodes,
        )  # fmt: skip
        self._after: dict[int, list[int]] = {}
        for before, after in sorted(set(follows)):
            self._after.setdefault(before, []).append(after)
        self.states: list[State] = []
        self.known: dict[tuple[int, int, int, int], int] = {}
        #: For each frame: (from, to, weight, gate) of its edges, in order of growth.
        self.edges: list[list[tuple[int, int, float, int]]] = [[] for _ in frames]
        #: (plain note, first note of a figure's plan, plan, gate).
        self.labels: list[tuple[int, int, int, int]] = []
        #: (note that may end a figure, its plain twin, weight).
        self.exits: list[tuple[int, int, float]] = []
        self._expanded: list[set[int]] = [set() for _ in frames]
        self._seen: list[set[int]] = [set() for _ in frames]
        self._labelled: set[int] = set()
        self._labelled_at: list[set[int]] = [set() for _ in frames]
        self._exited: set[int] = set()
        self._todo: list[tuple[int, int]] = []
        self.version = 0

    # -- asking --------------------------------------------------------------------------
    def figure_of(self, state: State) -> tuple[int, int] | None:
        """(plan, node) of a state inside a figure."""
        if state.node < FIRST_FIGURE:
            return None
        plan, _ = self._nodes[state.node - FIRST_FIGURE]
        return plan, state.node - self.offsets[plan]

    def use_of(self, state: State) -> int | None:
        """The usage of an outside note, None for a frame note."""
        if state.node == OUTSIDE:
            return state.memory
        if state.node >= FIRST_FIGURE and state.memory:
            return state.memory - 1
        return None

    def opening(self, frame: int) -> list[int]:
        """Every state a line may open with over a frame, grown."""
        found = []
        for midi in sorted(self.views[frame].inside):
            if self.onward.fits(midi):
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
            kind = last_kind(state.memory)
            if kind >= REPEAT:
                return UNKNOWN if kind == NONE else 0
            return kind % 3 + 1
        plan, node = self._nodes[state.node - FIRST_FIGURE]
        if node is self.rules.plans[plan].nodes[0]:
            return UNKNOWN
        return min(3, (abs(node.move) + 1) // 2)

    # -- growth --------------------------------------------------------------------------
    def reachable(self, one: int, two: int) -> bool:
        """Whether the leap and the hand allow one pitch after another."""
        return self.onward.reaches(one, two)

    def _id(self, state: State) -> int:
        number = self.known.get(state)
        if number is None:
            number = self.known[state] = len(self.states)
            self.states.append(state)
            self.version += 1
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
        if number not in self._seen[frame]:
            self._seen[frame].add(number)
            self._todo.append((number, frame))
        return number

    def _arrive(self, state: State, frame: int) -> int:
        """A plain frame note, with the figures that may begin on it."""
        number = self._reach(state, frame)
        if number in self._labelled_at[frame]:
            return number
        self._labelled_at[frame].add(number)
        first = number not in self._labelled
        self._labelled.add(number)
        for plan, offset in enumerate(self.offsets):
            begins = self._reach(State(state.midi, offset, 0, state.quote), frame)
            if first:
                parts = self.rules.plans[plan].phases if self.rules.phased else None
                self.labels.append((number, begins, plan, self.onward.gate(Gate(parts=parts))))
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
        edges, after = self.edges[frame], self.rules.watch.after
        known, arrived = self.known, self._labelled_at[frame]
        for midi, memory, weight in self.onward.free(state, frame):
            quote = after(state.quote, midi - state.midi)
            if quote < 0:
                continue
            to = known.get((midi, FREE, memory, quote))  # a state is a tuple; most are known
            if to is None or to not in arrived:
                to = self._arrive(State(midi, FREE, memory, quote), frame)
            edges.append((number, to, weight, 0))
        self._outside_edges(number, state, frame, None)

    def _outside_edges(self, number: int, state: State, frame: int, rise: int | None) -> None:
        for midi, use, weight, gate in self.onward.outside(state.midi, frame, rise):
            quote = self.rules.watch.after(state.quote, midi - state.midi)
            if quote >= 0:
                to = self._reach(State(midi, OUTSIDE, use, quote), frame)
                self.edges[frame].append((number, to, weight, gate))

    def _expand_outside(self, number: int, state: State, frame: int) -> None:
        rise = self.rules.uses[state.memory].rise_out
        midi, view = state.midi + rise, self.views[frame]
        if midi not in view.inside:
            self._outside_edges(number, state, frame, rise)
            return
        quote = self.rules.watch.after(state.quote, rise)
        if quote >= 0 and self.onward.fits(midi):
            steps = steps_between(view.letters[state.midi], view.letters[midi])
            kind = kind_of(steps, kind_of(self.rules.uses[state.memory].rise_in))
            to = self._arrive(State(midi, FREE, kind, quote), frame)
            self.edges[frame].append((number, to, 1.0, 0))

    def _expand_figure(self, number: int, state: State, frame: int) -> None:
        plan_number, node = self._nodes[state.node - FIRST_FIGURE]
        if node.ends and not state.memory:
            self._exit(number, state, node, self.rules.plans[plan_number].in_semitones, frame)
        edges, after = self.edges[frame], self.rules.watch.after
        known, seen = self.known, self._seen[frame]
        for midi, there, memory, weight, gate in self.onward.figure(state, frame):
            quote = after(state.quote, midi - state.midi)
            if quote < 0:
                continue
            to = known.get((midi, there, memory, quote))
            if to is None or to not in seen:
                to = self._reach(State(midi, there, memory, quote), frame)
            edges.append((number, to, weight, gate))

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
