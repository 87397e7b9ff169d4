"""A planned line made ready to sample: lattice, chains between kept notes, tilts."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from random import Random
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.lines.beside import Closing, state_before
from linewright.lines.chain import Chain, Ends
from linewright.lines.echo import Echoing, draw_echoes
from linewright.lines.figure_plans import FigurePlan
from linewright.lines.lattice import FREE, Lattice, Rules
from linewright.lines.mix import Element, Proofs, Tuned, members, set_tilts, tune
from linewright.lines.moves import MoveTable, goes_to_and_fro
from linewright.lines.plan import LinePlan
from linewright.lines.pulls import Pulls
from linewright.lines.quote import QuoteWatch
from linewright.lines.slot_weights import SlotWeights
from linewright.lines.strict import StrictChain
from linewright.lines.tables import Tables
from linewright.lines.taste import Taste
from linewright.lines.usage import OutsideUse

__all__ = ["Learned", "Setup", "allowed", "make_setup"]

Vector = NDArray[np.float64]
#: A line longer than this many notes is tuned on its beginning.
_TUNED_NOTES: Final = 320
_SECTIONS: Final = 4
#: How near the most there can be the lick's own mix may come.
_COMFORT: Final = 0.75


@dataclass(frozen=True)
class Learned:
    """What the lick taught: everything a lattice is grown from."""

    source: tuple[int, ...]
    moves: MoveTable
    uses: tuple[OutsideUse, ...]
    plans: tuple[FigurePlan, ...]
    pulls: Pulls
    taste: Taste
    common: Fraction
    elements: Mapping[str, Element]
    echoes: float


@dataclass
class Setup:
    """Chains ready to sample, with what they were made from."""

    plan: LinePlan
    lattice: Lattice
    tables: Tables
    chains: list[Chain]
    stretches: list[tuple[int, int]]
    asked: dict[str, float]
    uses: tuple[OutsideUse, ...]
    plans: tuple[FigurePlan, ...]
    source: tuple[int, ...]
    echoes: float
    tuned: Tuned | None = None
    strict: list[StrictChain] | None = None
    names: tuple[str, ...] = ()
    rows: Vector = field(default_factory=lambda: np.zeros((0, 0)))

    def dice(self, seed: int) -> Random:
        """The random numbers of a seed: no two licks share theirs."""
        return Random(f"{seed} {self.source}")

    def sample(self, rng: Random) -> list[list[int]]:
        """The states of every stretch of one line; counted lines have no echoes."""
        if self.strict:
            return [chain.sample(rng) for chain in self.strict]
        return [
            echoing.sample(draw_echoes(echoing.bars, self.echoes, rng), rng)
            for echoing in self.echoing
        ]

    @cached_property
    def echoing(self) -> list[Echoing]:
        """The stretches with what their echoes must keep to; needs the messages."""
        return [Echoing(chain, self.rows) for chain in self.chains]

    @property
    def free_notes(self) -> int:
        """Notes of the line that are not kept."""
        return sum(b - a for a, b in self.stretches)

    def possible(self) -> bool:
        """Whether any line meets every hard wish, the shares apart; makes the messages."""
        return all(chain.backward() for chain in self.chains)

    def possible_with(self, tuned: Tuned | None) -> bool:
        """The same with the tilts found, which stay in force."""
        if tuned is not None:
            for chain in self.chains:
                set_tilts(chain, self.rows, tuned.theta)
        return self.possible()

    def most(self, name: str) -> float:
        """The largest share an element can have."""
        return self._most[name]

    @cached_property
    def _most(self) -> dict[str, float]:
        counts = [chain.most(self.rows) for chain in self.chains]
        free = max(1, self.free_notes)
        return {
            name: sum(max(0, row[k]) for row in counts) / free for k, name in enumerate(self.names)
        }


def allowed(
    learned: Learned, mix: Mapping[str, float]
) -> tuple[tuple[FigurePlan, ...], tuple[OutsideUse, ...]]:
    """The plans and usages a mix makes use of: those of elements with a share above 0, but for
    those a more exact name sets to 0.
    """
    plans: set[int] = set()
    uses: set[int] = set()
    for grouped in (True, False):
        for name, share in mix.items():
            element = learned.elements[name]
            if element.group != grouped:
                continue
            if share > 0:
                plans.update(element.plans)
                uses.update(element.uses)
            else:
                plans.difference_update(element.plans)
                uses.difference_update(element.uses)
    return (
        tuple(p for k, p in enumerate(learned.plans) if k in plans),
        tuple(u for k, u in enumerate(learned.uses) if k in uses),
    )


def make_lattice(learned: Learned, plan: LinePlan, mix: Mapping[str, float]) -> Lattice:
    """A fresh lattice under the wishes of a plan."""
    request = plan.request
    plans, uses = allowed(learned, mix)
    frames = plan.frames
    index = {frame: number for number, frame in enumerate(frames)}
    row = [index[slot.frame] for slot in plan.slots]
    units = {slot.duration for slot in plan.slots}
    rules = Rules(
        learned.moves,
        QuoteWatch(learned.source, request.quote),
        plan.hand,
        uses,
        plans,
        request.leap,
        plan.low,
        plan.high,
        plan.most_frets,
        request.grid == "cells" or learned.common in units,
        learned.pulls,
        goes_to_and_fro(learned.source),
    )
    return Lattice(rules, frames, itertools.pairwise(row))


def make_setup(
    learned: Learned, plan: LinePlan, mix: Mapping[str, float], lattice: Lattice
) -> Setup:
    """Chains for every stretch of free slots; no messages yet."""
    index = {frame: number for number, frame in enumerate(plan.frames)}
    stretches = _stretches(plan)
    closings: list[Closing] = []
    openings: list[tuple[tuple[int, ...], int | None]] = []
    for first, end in stretches:
        frame = index[plan.slots[first].frame]
        before = plan.kept.get(first - 1)
        if before is None:
            openings.append((tuple(lattice.opening(frame)), None))
        else:
            state = state_before(plan, lattice, first - 1)
            openings.append(((), lattice.enter(state, frame)))
        closings.append(Closing(plan, lattice, end))
    plans, uses = lattice.rules.plans, lattice.rules.uses
    starts = [round(max(p.share, 0.02) / p.length, 9) for p in plans]
    tables = Tables(lattice, starts)
    setup = Setup(
        plan, lattice, tables, [], stretches, dict(mix), uses, plans, learned.source, learned.echoes
    )
    weights = SlotWeights(learned.taste, plan)
    sections = _sections(plan)
    for (first, end), (opening, entered), closing in zip(
        stretches, openings, closings, strict=True
    ):
        setup.chains.append(
            Chain(
                tables,
                [index[slot.frame] for slot in plan.slots[first:end]],
                plan.slots[first:end],
                [weights(t) for t in range(first, end)],
                [weights.approach(t) for t in range(first, end)],
                Ends(opening, entered, closing),
                sections[first:end],
            )
        )
    setup.names = tuple(
        name
        for name, share in mix.items()
        if share > 0 and (learned.elements[name].plans or learned.elements[name].uses)
    )
    plan_at = {p.tag: k for k, p in enumerate(plans)}
    use_at = {u: k for k, u in enumerate(uses)}
    setup.rows = members(
        lattice,
        [
            (
                frozenset(
                    plan_at[learned.plans[p].tag]
                    for p in learned.elements[name].plans
                    if learned.plans[p].tag in plan_at
                ),
                frozenset(
                    use_at[learned.uses[u]]
                    for u in learned.elements[name].uses
                    if learned.uses[u] in use_at
                ),
            )
            for name in setup.names
        ],
    )
    return setup


def tune_setup(setup: Setup, learned: Learned, *, proofs: Proofs | None = None) -> Tuned | None:
    """Find the tilts for the mix asked; None when nothing is to be tuned. The messages stay.

    ``proofs`` as in :func:`~linewright.lines.mix.tune`.
    """
    if not setup.names:
        return None
    plan = setup.plan
    sections = _sections(plan)
    count = max(sections) + 1
    chains = setup.chains
    if setup.free_notes > _TUNED_NOTES and not setup.plan.kept:
        chains = [_beginning(chains[0])]
    counts = np.zeros(count)
    for chain in chains:
        for section in chain.sections:
            counts[section] += 1
    goals = np.array([setup.asked[name] for name in setup.names])
    asked = np.tile(goals, (count, 1)) * _growth(plan, count)[:, None]
    counts = np.maximum(counts, 1.0)
    lengths = [learned.elements[name].length for name in setup.names]
    asked = np.minimum(asked, 1.0)
    if plan.request.mix is not None:
        return tune(chains, setup.rows, asked, counts, lengths, proofs=proofs)
    # The lick's own mix is a wish to come near: no share is pressed to the most there can be.
    if not setup.possible():
        return None
    room = _COMFORT * np.array([setup.most(name) for name in setup.names])
    # What is said to be asked is what is aimed at.
    setup.asked = {
        name: min(setup.asked[name], float(most))
        for name, most in zip(setup.names, room, strict=True)
    }
    return tune(chains, setup.rows, np.minimum(asked, room), counts, lengths, close=0.01)


def make_strict(setup: Setup, learned: Learned) -> None:
    """Count the shares of a setup in every line, instead of tilting."""
    plan = setup.plan
    growth = _growth(plan, max(_sections(plan)) + 1)
    goals = np.array([min(setup.asked[name], setup.most(name)) for name in setup.names])
    lengths = [learned.elements[name].length for name in setup.names]
    setup.strict = [
        StrictChain(
            chain,
            setup.rows,
            np.array([goals * growth[section] for section in chain.sections]),
            lengths,
        )
        for chain in setup.chains
    ]


def _beginning(chain: Chain) -> Chain:
    """The first part of a long line, with the sections of the whole."""
    size = _TUNED_NOTES
    sections = chain.sections
    if max(sections):  # every section needs its notes
        scale = len(sections) / size
        sections = [sections[int(k * scale)] for k in range(size)]
    ends = Ends(
        chain.ends.opening,
        chain.ends.entered,
        lambda number: float(chain.tables.lattice.states[number].node == FREE),
    )
    return Chain(
        chain.tables,
        chain.frames[:size],
        chain.slots[:size],
        chain.weights[:size],
        chain.approaches[:size],
        ends,
        sections[:size],
    )


def _growth(plan: LinePlan, count: int) -> Vector:
    if plan.request.intensity is None or count == 1:
        return np.ones(count)
    first, last = plan.request.intensity
    row = np.array([first + (last - first) * k / (count - 1) for k in range(count)])
    return np.asarray(row / row.mean())


def _sections(plan: LinePlan) -> list[int]:
    size = len(plan.slots)
    if plan.request.intensity is None:
        return [0] * size
    count = min(_SECTIONS, plan.request.bars)
    bars = plan.request.bars
    return [min(count - 1, (slot.bar - 1) * count // bars) for slot in plan.slots]


def _stretches(plan: LinePlan) -> list[tuple[int, int]]:
    found: list[tuple[int, int]] = []
    for t in range(len(plan.slots)):
        if t in plan.kept:
            continue
        if found and found[-1][1] == t:
            found[-1] = (found[-1][0], t + 1)
        else:
            found.append((t, t + 1))
    return found
