"""The dynamic program against brute force, and the bounds the code promises."""

from __future__ import annotations

import random
from itertools import combinations, pairwise

import pytest
from figure_licks import MAJOR, lick_of, random_walk
from hypothesis import given
from hypothesis import strategies as st

from linewright.analysis.figures.parse import best_spans, candidates, parse
from linewright.analysis.figures.places import Places
from linewright.analysis.figures.plain import move_bits, plain_code
from linewright.analysis.figures.prices import (
    KIND_BITS,
    VIEW_BITS,
    count_bits,
    fewest_moves,
    kept_up_bits,
    length_bits,
    shift_bits,
)
from linewright.analysis.figures.views import frame_steps, views_of
from linewright.theory import Frame, PitchClass, collection

Span = tuple[int, int, float]


def brute_force(spans: list[Span]) -> float:
    best = 0.0
    for size in range(1, len(spans) + 1):
        for chosen in combinations(spans, size):
            ordered = sorted(chosen)
            if all(a[1] <= b[0] for a, b in pairwise(ordered)):
                best = max(best, sum(s[2] for s in chosen))
    return best


@given(st.lists(st.tuples(st.integers(0, 8), st.integers(1, 5), st.integers(1, 40)), max_size=9))
def test_best_spans_is_best(raw: list[tuple[int, int, int]]) -> None:
    spans = [(first, min(12, first + size), saving / 4) for first, size, saving in raw]
    total, chosen = best_spans(12, spans)
    assert total == pytest.approx(brute_force(spans))
    assert total == pytest.approx(sum(s[2] for s in chosen))
    assert all(a[1] <= b[0] for a, b in pairwise(chosen))


def test_the_parse_is_the_cheapest_set_of_its_candidates() -> None:
    """Brute force over the candidates, places paid; a returning cell can only save more."""
    rng = random.Random(11)
    checked = 0
    for _ in range(40):
        cell = rng.choice(([5, 4, 3], [1, 2, 3, 1], [6, 8]))
        steps = [s + k for k in range(3) for s in cell] + random_walk(rng, rng.randint(0, 3))
        views = views_of(lick_of(steps), MAJOR)
        plain = plain_code(views)
        places = Places(views)
        spans = []
        for c in candidates(views, plain):
            place = places.bits(c.start, c.end)
            if c.saving - place > 0:
                spans.append((c.start, c.end, c.saving - place))
        best: dict[tuple[int, int], float] = {}
        for first, end, saving in spans:
            best[first, end] = max(saving, best.get((first, end), 0.0))
        flat = sorted(((*key, saving) for key, saving in best.items()), key=lambda s: -s[2])
        wanted = brute_force(flat[:12])
        checked += wanted > 0
        assert sum(p.saving for p in parse(views)) >= wanted - 1e-6
    assert checked >= 20


@pytest.mark.parametrize("table", [KIND_BITS, VIEW_BITS], ids=["kinds", "views"])
def test_tables_are_codes(table: dict[str, float]) -> None:
    """Kraft's inequality: no more probability is given out than there is."""
    assert sum(2**-bits for bits in table.values()) <= 1.001


def test_counts_and_shifts_are_codes() -> None:
    assert sum(2 ** -count_bits(n) for n in range(2, 2000)) <= 1.001
    assert sum(2 ** -count_bits(n, 2) for n in range(2, 2000)) <= 1.001
    assert sum(2 ** -length_bits(n) for n in range(1, 2000)) <= 1.001
    assert sum(2 ** -shift_bits(s) for s in range(-60, 62, 2)) <= 1.001
    assert sum(2 ** -move_bits(m) for m in range(-24, 25)) <= 1.001


@given(st.integers(4, 40), st.data())
def test_places_are_codes(count: int, data: st.DataObject) -> None:
    """The places of a figure of one length, alone or coming back, share one probability."""
    meter = data.draw(st.sampled_from(["4/4", "3/4", "6/8", "5/4"]))
    views = views_of(lick_of(random_walk(random.Random(count), count), meter=meter), MAJOR)
    places = Places(views)
    length = data.draw(st.integers(2, count))
    starts = range(count - length + 1)
    assert sum(2 ** -places.bits(start, start + length) for start in starts) <= 1.001
    first = data.draw(st.sampled_from(starts))
    again = [start for start in starts if start != first]
    assert sum(2 ** -places.again_bits(first, s, s + length) for s in again) <= 1.001


@pytest.mark.parametrize("kind", ["scale run", "arpeggio run", "alternation", "repetition"])
def test_lengths_of_runs_are_codes(kind: str) -> None:
    fewest = fewest_moves(kind)
    assert sum(2 ** -kept_up_bits(kind, fewest + k) for k in range(2000)) <= 1.01


def test_frame_steps_count_the_notes_of_the_frame() -> None:
    """Counted by hand: G minor pentatonic from G3 (MIDI 55) is G Bb C D F; B lies between."""
    frame = Frame(PitchClass("G"), collection("minor pentatonic"))
    heights = frame_steps(frame, [55, 58, 60, 62, 65, 67, 59])
    assert [h - heights[0] for h in heights] == [0, 2, 4, 6, 8, 10, 3]
