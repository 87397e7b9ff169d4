"""A lattice as arrays."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from linewright.lines.largest import Largest
from linewright.lines.lattice import Gate, Lattice
from linewright.lines.slots import Slot

__all__ = ["RISES", "Tables", "Ways"]

Vector = NDArray[np.float64]
#: From, to and weight of each way from state to state.
Ways = tuple[NDArray[np.intp], NDArray[np.intp], Vector]
#: The largest move that is told apart, in half frame steps.
RISES: Final = 36


class Tables:
    """A lattice as arrays; made anew when it has grown."""

    def __init__(self, lattice: Lattice, starts: Sequence[float]) -> None:
        self.lattice, self.version = lattice, lattice.version
        states = lattice.states
        self.size = len(states)
        self.midi = np.array([s.midi for s in states], dtype=np.intp)
        self.approach = np.array([lattice.approach_of(s) for s in states], dtype=np.intp)
        self.edges: list[tuple[NDArray[Any], ...]] = []
        self.slices: list[dict[int, tuple[int, int]]] = []
        self.largest: list[Largest] = []
        for rows in lattice.edges:
            rows.sort(key=lambda row: row[0])
            source = np.array([r[0] for r in rows], dtype=np.intp)
            self.edges.append(
                (
                    source,
                    np.array([r[1] for r in rows], dtype=np.intp),
                    np.array([r[2] for r in rows], dtype=np.float64),
                    np.array([r[3] for r in rows], dtype=np.intp),
                )
            )
            cuts = np.flatnonzero(np.diff(source, prepend=-1)).tolist()
            ends = [*cuts[1:], len(rows)] if cuts else []
            self.slices.append({rows[a][0]: (a, b) for a, b in zip(cuts, ends, strict=True)})
            self.largest.append(Largest(source))
        labels = lattice.labels
        self.label_from = np.array([r[0] for r in labels], dtype=np.intp)
        self.label_to = np.array([r[1] for r in labels], dtype=np.intp)
        self.label_gate = np.array([r[3] for r in labels], dtype=np.intp)
        self.label_weight = np.array([starts[r[2]] for r in labels], dtype=np.float64)
        self.largest_label = Largest(self.label_from)  # found at once, so they stand together
        self.label_list: dict[int, list[int]] = {}
        for row, (a, _, _, _) in enumerate(labels):
            self.label_list.setdefault(a, []).append(row)
        self.exit_from = np.array([r[0] for r in lattice.exits], dtype=np.intp)
        self.exit_to = np.array([r[1] for r in lattice.exits], dtype=np.intp)
        self.exit_weight = np.array([r[2] for r in lattice.exits], dtype=np.float64)
        self.exit_of = {a: (b, w) for a, b, w in lattice.exits}
        self._gated: dict[tuple[int, Any], tuple[Vector, Vector]] = {}
        self._open: dict[Any, Ways] = {}
        self._rises: dict[int, NDArray[np.intp]] = {}

    def rises(self, frame: int) -> NDArray[np.intp]:
        """The move of each edge, in half frame steps, counted from ``-RISES``."""
        found = self._rises.get(frame)
        if found is None:
            heights = np.array(self.lattice.views[frame].heights, dtype=np.intp)[self.midi]
            source, target, _, _ = self.edges[frame]
            found = np.clip(heights[target] - heights[source], -RISES, RISES) + RISES
            self._rises[frame] = found
        return found

    def open_labels(self, slot: Slot) -> Ways:
        """The labels that are open at a moment."""
        key = (slot.part, slot.chord)
        found = self._open.get(key)
        if found is None:
            weights = self.gated(0, slot)[1]
            rows = np.flatnonzero(weights)
            found = (self.label_from[rows], self.label_to[rows], weights[rows])
            self._open[key] = found
        return found

    def gated(self, frame: int, slot: Slot) -> tuple[Vector, Vector]:
        """Edge weights and label weights at a moment, its gates applied."""
        key = (frame, (slot.part, slot.chord))
        found = self._gated.get(key)
        if found is None:
            open_ = np.array([1.0 if _is_open(gate, slot) else 0.0 for gate in self.lattice.gates])
            _, _, weight, gate = self.edges[frame]
            found = (weight * open_[gate], self.label_weight * open_[self.label_gate])
            self._gated[key] = found
        return found


def _is_open(gate: Gate, slot: Slot) -> bool:
    if gate.on_beat is not None and gate.on_beat != slot.on_beat:
        return False
    if gate.chord_tone >= 0 and (slot.chord is None or gate.chord_tone not in slot.chord.numbers):
        return False
    if gate.over and not any(like.fits(slot.chord, gate.over_tone) for like in gate.over):
        return False
    return gate.parts is None or slot.part in gate.parts
