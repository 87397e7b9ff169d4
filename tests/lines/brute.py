"""Every line of a small lattice with its weight, by plain recursion and no messages."""

from __future__ import annotations

from collections import defaultdict

import numpy as np
from scipy import stats

from linewright.lines.chain import Chain


def every_line(chain: Chain) -> dict[tuple[int, ...], float]:
    """Weight of every allowed line (states shown at each slot): the product of its edges, labels
    and exits, its pitches' weights, the ways they are reached and its tilts.
    """
    lattice = chain.tables.lattice
    starts = dict(enumerate(chain.tables.label_weight.tolist()))
    weights: dict[tuple[int, ...], float] = defaultdict(float)
    last = len(chain.slots) - 1

    def is_open(number: int, t: int) -> bool:
        gate, slot = lattice.gates[number], chain.slots[t]
        if gate.on_beat is not None and (slot.part == 0) != gate.on_beat:
            return False
        tone, chord = gate.chord_tone, slot.chord
        if tone >= 0 and (chord is None or tone not in chord.numbers):
            return False
        return gate.parts is None or slot.part in gate.parts

    def own(t: int, state: int) -> float:
        tilt = chain._tilts[chain.sections[t]][state]
        here = lattice.states[state]
        reached = chain.approaches[t][lattice.approach_of(here)]
        return float(chain.weights[t][here.midi] * reached * tilt)

    def arrive(t: int, state: int, weight: float, path: tuple[int, ...]) -> None:
        stand(t, state, weight * own(t, state), path)
        for row, (a, b, _, gate) in enumerate(lattice.labels):
            if a == state and is_open(gate, t):
                stand(t, b, weight * starts[row] * own(t, b), path)

    def stand(t: int, state: int, weight: float, path: tuple[int, ...]) -> None:
        if weight == 0:
            return
        path = (*path, state)
        move_on(t, state, weight, path)
        for a, b, exit_weight in lattice.exits:
            if a == state:
                move_on(t, b, weight * exit_weight, path)

    def move_on(t: int, state: int, weight: float, path: tuple[int, ...]) -> None:
        if t == last:
            if lattice.states[state].node in (0, 1):
                closing = chain.ends.closing(state)
                if closing:
                    weights[path] += weight * closing
            return
        for a, b, edge, gate in lattice.edges[chain.frames[t + 1]]:
            if a == state and is_open(gate, t + 1):
                arrive(t + 1, b, weight * edge, path)

    for state in chain.ends.opening:
        arrive(0, state, 1.0, ())
    return dict(weights)


def chi_square(weights: dict[tuple[int, ...], float], draws: list[tuple[int, ...]]) -> float:
    """p of the draws under the weights; lines expected fewer than five times are put together."""
    total = sum(weights.values())
    counts: dict[tuple[int, ...], int] = defaultdict(int)
    for path in draws:
        counts[path] += 1
    if any(path not in weights for path in counts):
        return 0.0
    seen, expected, rest_seen, rest = [], [], 0, 0.0
    for path, weight in weights.items():
        wanted = weight / total * len(draws)
        if wanted >= 5:
            seen.append(counts[path])
            expected.append(wanted)
        else:
            rest_seen += counts[path]
            rest += wanted
    if rest >= 5:
        seen.append(rest_seen)
        expected.append(rest)
    else:
        seen[-1] += rest_seen
        expected[-1] += rest
    s, e = np.array(seen), np.array(expected)
    return float(stats.chi2.sf(((s - e) ** 2 / e).sum(), len(s) - 1))
