"""What a stretch of new notes owes to the kept notes beside it."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from linewright.lines.lattice import FREE, OUTSIDE, Lattice, State
from linewright.lines.moves import NONE
from linewright.lines.plan import LinePlan

__all__ = ["Closing", "state_before"]


def _block(plan: LinePlan, t: int, way: int) -> list[int]:
    """MIDI numbers of the kept notes from ``t`` outward, in order of time."""
    found = []
    while t in plan.kept:
        found.append(plan.kept[t].notes[0].midi)
        t += way
    return found if way > 0 else found[::-1]


def state_before(plan: LinePlan, lattice: Lattice, t: int) -> State:
    """The state of the last kept note before a stretch."""
    block = _block(plan, t, -1)
    quote = 0
    for a, b in itertools.pairwise(block):
        quote, _ = lattice.rules.watch.through(quote, b - a)
    reasons = plan.kept[t].reasons
    use = reasons[0].use if reasons else None
    if use is not None and use in lattice.rules.uses:
        return State(block[-1], OUTSIDE, lattice.rules.uses.index(use), quote)
    return State(block[-1], FREE, NONE, quote)


class Closing:
    """Which states may end a stretch: nothing left hanging, and the kept notes after it in reach
    and no quotation with them.
    """

    def __init__(self, plan: LinePlan, lattice: Lattice, end: int) -> None:
        self.lattice = lattice
        self.block = _block(plan, end, 1)
        reasons = plan.kept[end].reasons if end in plan.kept else ()
        self.use = reasons[0].use if reasons else None
        self.alone = self._through(0, self.block)[0] if self.block else 0

    def _through(self, quote: int, row: Sequence[int]) -> tuple[int, bool]:
        bad = False
        for a, b in itertools.pairwise(row):
            quote, done = self.lattice.rules.watch.through(quote, b - a)
            bad = bad or done
        return quote, bad

    def __call__(self, number: int) -> float:
        """1 when the state may end the stretch, else 0."""
        state = self.lattice.states[number]
        if not self.block:
            return 1.0 if state.node == FREE else 0.0
        rise = self.block[0] - state.midi
        if state.node == OUTSIDE and self.lattice.rules.uses[state.memory].rise_out != rise:
            return 0.0
        if self.use is not None and self.use.rise_in != rise:
            return 0.0
        if not self.lattice.reachable(state.midi, self.block[0]):
            return 0.0
        limit = self.lattice.rules.watch.limit
        quote = state.quote
        for a, b in zip([state.midi, *self.block], self.block[:limit], strict=False):
            quote, done = self.lattice.rules.watch.through(quote, b - a)
            if done:
                return 0.0
        if len(self.block) <= limit and quote != self.alone:
            return 0.0
        return 1.0
