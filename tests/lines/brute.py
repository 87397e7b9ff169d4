"""Every line of a small lattice with its weight, by plain recursion and no messages."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable

import numpy as np

from linewright.lines.chain import Chain

Path = tuple[int, ...]


def every_line(chain: Chain) -> dict[tuple[int, ...], float]:
    """Weight of every allowed line (states shown at each slot); see :func:`every_way`."""
    weights: dict[tuple[int, ...], float] = defaultdict(float)
    for (path, _), weight in every_way(chain).items():
        weights[path] += weight
    return dict(weights)


def every_way(chain: Chain) -> dict[tuple[tuple[int, ...], tuple[int, ...]], float]:
    """Weight of every allowed line (states shown, and states gone on from, at each slot): the product of its edges, labels
    and exits, its pitches' weights, the ways they are reached and its tilts.
    """
    lattice = chain.tables.lattice
    starts = dict(enumerate(chain.tables.label_weight.tolist()))
    weights: dict[tuple[tuple[int, ...], tuple[int, ...]], float] = defaultdict(float)
    last = len(chain.slots) - 1

    def is_open(number: int, t: int) -> bool:
        gate, slot = lattice.gates[number], chain.slots[t]
        if gate.on_beat is not None and (slot.part == 0) != gate.on_beat:
            return False
        tone, chord = gate.chord_tone, slot.chord
        if tone >= 0 and (chord is None or tone not in chord.numbers):
            return False
        if gate.over and not any(like.fits(chord, gate.over_tone) for like in gate.over):
            return False
        return gate.parts is None or slot.part in gate.parts

    def own(t: int, state: int) -> float:
        tilt = chain._tilts[chain.sections[t]][state]
        here = lattice.states[state]
        reached = chain.approaches[t][lattice.approach_of(here)]
        return float(chain.weights[t][here.midi] * reached * tilt)

    def arrive(t: int, state: int, weight: float, path: Path, fro: Path) -> None:
        stand(t, state, weight * own(t, state), path, fro)
        for row, (a, b, _, gate) in enumerate(lattice.labels):
            if a == state and is_open(gate, t):
                stand(t, b, weight * starts[row] * own(t, b), path, fro)

    def stand(t: int, state: int, weight: float, path: Path, fro: Path) -> None:
        if weight == 0:
            return
        path = (*path, state)
        move_on(t, state, weight, path, fro)
        for a, b, exit_weight in lattice.exits:
            if a == state:
                move_on(t, b, weight * exit_weight, path, fro)

    def move_on(t: int, state: int, weight: float, path: Path, fro: Path) -> None:
        if t == last:
            if lattice.states[state].node in (0, 1):
                closing = chain.ends.closing(state)
                if closing:
                    weights[path, fro] += weight * closing
            return
        for a, b, edge, gate in lattice.edges[chain.frames[t + 1]]:
            if a == state and is_open(gate, t + 1):
                arrive(t + 1, b, weight * edge, path, (*fro, state))

    for state in chain.ends.opening:
        arrive(0, state, 1.0, (), ())
    return dict(weights)


def with_echo(
    chain: Chain, rows: np.ndarray, follows: Callable[[Path], float], first: int
) -> dict[Path, float]:
    """Weight of every line whose last bar, from slot ``first`` on, echoes what came before: what the
    chain gives for that bar after its beginning, times ``follows``, times a tilt of the one element
    there may be, such that its expected notes are those without the echo.
    """
    from scipy import optimize  # takes longer to import than what most files of this folder test

    begun: dict[tuple[Path, Path], dict[Path, float]] = defaultdict(lambda: defaultdict(float))
    for (path, fro), weight in every_way(chain).items():
        begun[path[:first], fro[:first]][path] += weight
    found: dict[Path, float] = defaultdict(float)
    for paths in begun.values():
        base = np.array(list(paths.values()))
        bent = base * [follows(path) for path in paths]
        counts = np.array([[row[list(p[first:])].sum() for p in paths] for row in rows])
        if len(rows) and counts.max() > counts.min():
            goal = float(counts[0] @ base / base.sum())

            def away(theta: float, bent=bent, counts=counts, goal=goal) -> float:
                tilted = bent * np.exp(theta * counts[0])
                return float(counts[0] @ tilted / tilted.sum()) - goal

            bent = bent * np.exp(optimize.brentq(away, -30.0, 30.0) * counts[0])
        for path, weight in zip(paths, bent * base.sum() / bent.sum(), strict=True):
            found[path] += weight
    return dict(found)


def chi_square(weights: dict[tuple[int, ...], float], draws: list[tuple[int, ...]]) -> float:
    """p of the draws under the weights; lines expected fewer than five times are put together."""
    from scipy import stats

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
