"""What may come after a note, whatever is quoted: pitches in reach, learned usages, notes of figures.

The many states of a lattice that differ in what they quote alone share what is worked out here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from linewright.analysis.figures.views import frame_steps
from linewright.lines.figure_plans import FigurePlan
from linewright.lines.hand import HandMap
from linewright.lines.moves import (
    MoveTable,
    kind_of,
    last_kind,
    memory_after,
    staff_heights,
    steps_between,
)
from linewright.lines.over import Over
from linewright.lines.pulls import Pulls
from linewright.lines.quote import QuoteWatch
from linewright.lines.usage import OutsideUse
from linewright.theory import Frame

__all__ = ["FIRST_FIGURE", "FREE", "OUTSIDE", "Gate", "Onward", "Rules", "State"]

FREE = 0
OUTSIDE = 1
FIRST_FIGURE = 2
_USE_WEIGHT = 0.35
#: Weight of going on with a figure where it may end.
_GO_ON = 0.5
#: (pitch, note of a figure, memory, weight, gate).
_Inside = tuple[int, int, int, float, int]


class State(NamedTuple):
    """``node`` is FREE, OUTSIDE or a figure's note; ``memory`` the kind of the last move and how often
    it has gone to and fro (FREE, :func:`.memory_after`), the usage (OUTSIDE), or 1 + the usage of an
    outside note inside a figure, 0 for none.
    """

    midi: int
    node: int
    memory: int
    quote: int


class Gate(NamedTuple):
    """What a moment must be for an edge to be open: on or off the beat (None: either), a pitch
    class its chord must hold (-1: any), parts of the beat a figure may begin at (None: any), and
    chords one of which it must be like (none: any) for the pitch class ``over_tone``.
    """

    on_beat: bool | None = None
    chord_tone: int = -1
    parts: frozenset[Fraction] | None = None
    over: tuple[Over, ...] = ()
    over_tone: int = -1


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
    #: Whether plain notes may go to and fro between two notes more than twice.
    to_and_fro: bool


@dataclass(slots=True)
class _View:
    """A frame as heights: half steps of every MIDI number, and the notes inside."""

    tonic: int
    heights: list[int]
    inside: frozenset[int]
    notes: dict[int, int]
    letters: list[int]


class Onward:
    """What may follow what, under the rules of a lattice and its frames."""

    def __init__(self, rules: Rules, frames: Sequence[Frame]) -> None:
        self.rules = rules
        self.views = [_view(frame) for frame in frames]
        self.gates: list[Gate] = [Gate()]
        self._gate_ids: dict[Gate, int] = {Gate(): 0}
        #: The node of the first note of each plan, and (plan, its node) of every note of figures.
        self.offsets: list[int] = []
        count = FIRST_FIGURE
        for plan in rules.plans:
            self.offsets.append(count)
            count += len(plan.nodes)
        self.nodes = [
            (number, node) for number, plan in enumerate(rules.plans) for node in plan.nodes
        ]
        total = sum(len(use.notes) for use in rules.uses) or 1
        self._use_weights = [_USE_WEIGHT * len(use.notes) / total for use in rules.uses]
        self._uses_by_rise: dict[tuple[int, int], list[int]] = {}
        for number, use in enumerate(rules.uses):
            self._uses_by_rise.setdefault((use.above, use.rise_in), []).append(number)
        self._targets: dict[tuple[int, int], list[tuple[int, int]]] = {}
        self._free: dict[tuple[int, int, int], list[tuple[int, int, float]]] = {}
        self._outside: dict[tuple[int, int | None, int], list[tuple[int, int, float, int]]] = {}
        self._figure: dict[tuple[int, int, int, int], list[_Inside]] = {}

    def free(self, state: State, frame: int) -> list[tuple[int, int, float]]:
        """(pitch, memory, weight) of every frame note after a plain one."""
        key = (state.midi, state.memory, frame)
        found = self._free.get(key)
        if found is None:
            found = self._free[key] = self._free_moves(state, frame)
        return found

    def outside(self, midi: int, frame: int, rise: int | None) -> list[tuple[int, int, float, int]]:
        """(pitch, usage, weight, gate) of every outside note after a note, ``rise`` away if given."""
        key = (midi, rise, frame)
        found = self._outside.get(key)
        if found is None:
            found = self._outside[key] = self._outside_notes(midi, frame, rise)
        return found

    def figure(self, state: State, frame: int) -> list[_Inside]:
        """(pitch, note of the figure, memory, weight, gate) of where a figure goes on."""
        key = (state.midi, state.node, state.memory, frame)
        found = self._figure.get(key)
        if found is None:
            found = self._figure[key] = self._figure_notes(state, frame)
        return found

    def gate(self, gate: Gate) -> int:
        """The number of a gate."""
        number = self._gate_ids.get(gate)
        if number is None:
            number = self._gate_ids[gate] = len(self.gates)
            self.gates.append(gate)
        return number

    def fits(self, midi: int) -> bool:
        """Whether a pitch is in range and on the instrument."""
        rules = self.rules
        return rules.low <= midi <= rules.high and midi in rules.hand.place

    def reaches(self, one: int, two: int) -> bool:
        """Whether the leap and the hand allow one pitch after another."""
        rules = self.rules
        position = rules.hand.position
        if one not in position or two not in position:
            return False
        return (
            abs(two - one) <= rules.leap and abs(position[one] - position[two]) <= rules.most_frets
        )

    def _free_moves(self, state: State, frame: int) -> list[tuple[int, int, float]]:
        rules, tonic = self.rules, self.views[frame].tonic
        before = last_kind(state.memory)
        found = []
        for midi, steps in self._near(state.midi, frame):
            weight = rules.moves.weight(before, steps) * rules.pulls(
                (state.midi - tonic) % 12, (midi - tonic) % 12
            )
            memory = (
                kind_of(steps, before) if rules.to_and_fro else memory_after(steps, state.memory)
            )
            if weight and memory is not None:
                found.append((midi, memory, weight))
        return found

    def _outside_notes(
        self, before: int, frame: int, rise: int | None
    ) -> list[tuple[int, int, float, int]]:
        view = self.views[frame]
        found = []
        for number, use in enumerate(self.rules.uses):
            midi = before + use.rise_in
            if rise is not None and use.rise_in != rise:
                continue
            if (midi - view.tonic - use.above) % 12 or midi in view.inside:
                continue
            if self.fits(midi) and self.reaches(before, midi) and self._leaves(midi, use):
                found.append((midi, number, self._use_weights[number], self._use_gate(use, midi)))
        return found

    def _leaves(self, midi: int, use: OutsideUse) -> bool:
        after = midi + use.rise_out
        return self.fits(after) and self.reaches(midi, after)

    def _use_gate(self, use: OutsideUse, midi: int) -> int:
        tone, over = midi % 12, use.over
        return self.gate(
            Gate(
                use.on_beat,
                tone if use.in_chord else -1,
                over=over,
                over_tone=tone if any(like.above_root >= 0 for like in over) else -1,
            )
        )

    def _figure_notes(self, state: State, frame: int) -> list[_Inside]:
        plan_number, node = self.nodes[state.node - FIRST_FIGURE]
        plan, offset = self.rules.plans[plan_number], self.offsets[plan_number]
        rules, tonic = self.rules, self.views[frame].tonic
        pending = rules.uses[state.memory - 1].rise_out if state.memory else None
        found: list[_Inside] = []
        share = sum(weight for _, _, weight in node.after)
        scale = (_GO_ON if node.ends else 1.0) / share if node.after else 0.0
        for move, after, weight in node.after:
            for midi in self._played(state, move, plan, frame, pending is not None):
                if pending is not None and midi - state.midi != pending:
                    continue
                if not self.fits(midi) or not self.reaches(state.midi, midi):
                    continue
                bond = rules.pulls((state.midi - tonic) % 12, (midi - tonic) % 12)
                for memory, gate in self._inside(state, midi, plan, after, frame):
                    found.append((midi, offset + after, memory, weight * scale * bond, gate))
        return found

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
                if other in view.inside and self.fits(other) and self.reaches(midi, other):
                    steps = steps_between(view.letters[midi], view.letters[other])
                    found.append((other, steps))
            self._targets[(midi, frame)] = found
        return found


def _view(frame: Frame) -> _View:
    heights = frame_steps(frame, range(128))
    inside = frozenset(m for m in range(128) if m % 12 in frame.numbers)
    return _View(
        frame.tonic.number,
        heights,
        inside,
        {heights[m]: m for m in range(128) if m in inside},
        staff_heights(frame, range(128)),
    )
