"""Strict shares between two counts that lines can have: each line takes one, many have the share."""

from __future__ import annotations

from itertools import pairwise
from random import Random

import pytest
from brute import every_line
from line_licks import demo, small

from linewright.lines import LineRequest
from linewright.theory import Pitch

NARROW = LineRequest(
    bars=2, held=False, phrase=0, range=(Pitch.parse("G3"), Pitch.parse("D4")), leap=5, quote=7,
    strict=True, start=None, landing=None,
)  # fmt: skip


@pytest.mark.parametrize("part", [0.2, 0.5, 0.7])
def test_counts_between_two_reachable_ones_are_drawn_so_that_their_mean_is_asked(part) -> None:
    """The reachable counts are those of the enumeration of all lines."""
    _, model = small()
    loose = model.setup(NARROW.with_(mix={"f1": 0.5}, strict=False), {})
    counts = {int(loose.rows[0][list(p)].sum()) for p in every_line(loose.chains[0])}
    below, above = max(pairwise(sorted(counts)), key=lambda pair: pair[1] - pair[0])
    assert above - below > 2
    asked = below + part * (above - below)
    setup = model.setup(NARROW.with_(mix={"f1": asked / len(loose.plan.slots)}), {})
    rng, row = Random(8), setup.rows[0]
    drawn = [int(row[setup.sample(rng)[0]].sum()) for _ in range(400)]
    assert set(drawn) == {below, above}
    noise = (above - below) * (part * (1 - part) / 400) ** 0.5
    assert sum(drawn) / 400 == pytest.approx(asked, abs=3.5 * noise)


def test_a_long_line_has_one_of_two_counts_and_many_seeds_the_share_asked() -> None:
    """Figures come in cells of 6 notes, two and more: 27 of 133 notes cannot be filled."""
    _, model = demo("rope-ferry")
    asked = LineRequest(bars=16, mix={"f1": 0.203}, strict=True, grid="eighths")
    setup = model.setup(asked, {})
    (section,) = setup.strict[0].sections
    drawn = [section.draw(setup.dice(seed))[0] for seed in range(1000)]
    notes = setup.free_notes
    mean = sum(drawn) / 1000
    noise = (sum((x - mean) ** 2 for x in drawn) / 1000 / 1000) ** 0.5
    assert len(set(drawn)) == 2
    assert mean == pytest.approx(0.203 * notes, abs=3.5 * noise)
    for seed in {drawn.index(count) for count in set(drawn)}:
        line = model.sample(asked.with_(seed=seed))
        assert line.got["f1"] == pytest.approx(drawn[seed] / notes)
        assert line.asked == {"f1": 0.203}


def test_counts_as_near_as_whole_notes_are_always_taken() -> None:
    _, model = demo("late-shift")
    asked = LineRequest(bars=8, mix={"b5": 0.1}, strict=True)
    assert len({model.sample(asked.with_(seed=seed)).got["b5"] for seed in range(8)}) == 1
