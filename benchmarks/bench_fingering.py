"""Fingering of 64 notes, against networkx's shortest path over the same graph of states."""

from __future__ import annotations

import time
from collections.abc import Callable
from fractions import Fraction
from itertools import product

import networkx

from linewright.fretboard import FingeringCost, finger, fingering_cost, instrument
from linewright.fretboard.cost import reach_of
from linewright.fretboard.places import places
from linewright.score import Lick, Meter, Note, Tempo, bars_for
from linewright.theory import spell_midi

#: Two bars of a pentatonic line over two octaves, four times over, a step up each time.
PATTERN = (43, 45, 47, 50, 52, 55, 57, 59, 62, 64, 67, 64, 62, 59, 57, 55)


def line_of_64() -> Lick:
    """Sixty-four eighth notes on a guitar, without string or fret."""
    midis = [midi + step for step in (0, 2, 5, 7) for midi in PATTERN]
    half = Fraction(1, 2)
    notes = tuple(Note(k * half, half, spell_midi(midi)) for k, midi in enumerate(midis))
    return Lick(notes, bars_for(Meter(4, 4), len(notes) * half), tempo=Tempo(Fraction(110)))


def shortest_path(lick: Lick) -> float:
    """The least cost by Dijkstra over (note, place, position), every edge written out."""
    neck, cost = instrument("guitar"), FingeringCost()
    reach = reach_of(neck)
    assert lick.tempo is not None
    seconds = lick.tempo.seconds_per_quarter
    graph = networkx.DiGraph()
    before: list[tuple[object, ...]] = [("start",)]
    for index, note in enumerate(lick.notes):
        states = [
            (index, place, hand)
            for place in places(note.midi, neck)
            for hand in (
                range(max(1, place.fret - reach), place.fret + 2) if place.fret else range(1, 26)
            )
        ]
        for old, new in product(before, states):
            _, place, hand = new
            weight = cost.node((note,), (place,), hand, reach)
            if index:
                last = (lick.notes[index - 1],)
                _, old_place, old_hand = old
                weight += cost.across((note,), (old_place,), (place,))
                if hand != old_hand:
                    haste = cost.haste if old_place.fret else cost.haste_open
                    weight += haste(last, (note,), seconds) * (
                        cost.shift + cost.shift_fret * abs(hand - old_hand)
                    )
            graph.add_edge(old, new, weight=weight)
        before = list(states)
    for state in before:
        graph.add_edge(state, "end", weight=0.0)
    return float(networkx.shortest_path_length(graph, ("start",), "end", weight="weight"))


def _best_of(action: Callable[[], object], times: int) -> float:
    best = float("inf")
    for _ in range(times):
        start = time.perf_counter()
        action()
        best = min(best, time.perf_counter() - start)
    return best * 1000


def run() -> list[tuple[str, float, float | None, float | None, str]]:
    """(what, our ms, reference ms, reference / ours, target)."""
    lick = line_of_64()
    done = finger(lick)
    ours = _best_of(lambda: finger(lick), 5)
    costs: list[float] = []
    reference = _best_of(lambda: costs.append(shortest_path(lick)), 1)
    if abs(costs[0] - fingering_cost(done)) > 1e-6:
        raise SystemExit(f"the fingering costs {fingering_cost(done)}, Dijkstra finds {costs[0]}")
    what = "fingering of 64 notes (against networkx shortest path on the same graph)"
    return [(what, ours, reference, reference / ours, "under 30 ms")]


if __name__ == "__main__":
    for what, ours, reference, ratio, target in run():
        print(f"{what}: {ours:.1f} ms, reference {reference:.0f} ms, {ratio:.0f} times; {target}")
