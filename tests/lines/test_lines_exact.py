"""The sampler against plain enumeration, and the model's weights against their definition."""

from __future__ import annotations

from itertools import pairwise, product
from random import Random

import numpy as np
import pytest
from brute import chi_square, every_line
from line_licks import demo, small

from linewright.errors import OptionError
from linewright.lines import LineRequest
from linewright.lines.moves import NONE, kind_of
from linewright.lines.quote import QuoteWatch
from linewright.lines.setup import tune_setup
from linewright.theory import Pitch

NARROW = LineRequest(
    bars=2, held=False, phrase=0, range=(Pitch.parse("G3"), Pitch.parse("D4")), leap=5,
    start="1", landing="1",
)  # fmt: skip


@pytest.mark.parametrize(
    "request_",
    [
        NARROW,
        NARROW.with_(mix={"f1": 0.3, "b5": 0.1}, quote=7),
        NARROW.with_(mix={"b5": 0.2}, quote=3),
    ],
    ids=["natural", "figure and outside", "outside, quote 3"],
)
def test_draws_follow_the_constrained_distribution(request_: LineRequest) -> None:
    _, model = small()
    setup = model.setup(request_, {})
    weights = every_line(setup.chains[0])
    assert len(weights) > 50
    rng = Random(11)
    draws = [tuple(setup.chains[0].sample(rng)) for _ in range(12_000)]
    assert chi_square(weights, draws) > 0.001


def test_expected_shares_are_those_of_the_enumeration() -> None:
    _, model = small()
    setup = model.setup(NARROW.with_(mix={"f1": 0.3, "b5": 0.1}, quote=7), {})
    chain = setup.chains[0]
    weights = every_line(chain)
    total = sum(weights.values())
    for row, name in zip(setup.rows, setup.names, strict=True):
        mean = sum(w * sum(row[s] for s in path) for path, w in weights.items()) / total
        assert mean / len(chain.slots) == pytest.approx(setup.asked[name], abs=0.004)
    summed = chain.expected(setup.rows, 1)[0] / len(chain.slots)
    assert setup.tuned is not None
    np.testing.assert_allclose(summed, setup.tuned.expected[0], atol=1e-9)


def test_most_is_the_largest_count_of_the_enumeration() -> None:
    _, model = small()
    most = model.most(NARROW.with_(quote=7))
    setup = model.setup(NARROW.with_(mix={"f1": 0.3, "b5": 0.1}, quote=7), {})
    paths = every_line(setup.chains[0])
    for row, name in zip(setup.rows, setup.names, strict=True):
        best = max(sum(row[s] for s in path) for path in paths)
        assert most[name] == pytest.approx(best / len(setup.plan.slots))


def test_the_highest_worth_is_that_of_the_enumeration() -> None:
    _, model = small()
    chain = model.setup(NARROW.with_(mix={"f1": 0.3, "b5": 0.1}, quote=7), {}).chains[0]
    weights = every_line(chain)
    for seed in range(5):
        worth = np.random.default_rng(seed).normal(size=chain.tables.size)
        best = max(sum(worth[s] for s in path) for path, w in weights.items() if w > 0)
        assert chain.highest([worth]) == pytest.approx(best)


@pytest.mark.parametrize("b5", [0.02, 0.1, 0.25, 0.4])
def test_shares_proved_beyond_reach_are_those_that_tuning_never_reaches(b5: float) -> None:
    _, model = small()
    for f1 in (0.05, 0.3, 0.5, 0.7, 0.9):
        request = NARROW.with_(mix={"f1": f1, "b5": b5}, quote=7)
        setup = model._ready(model.plan(request), model.mix_of(request))
        whole = tune_setup(setup, model._learned)
        assert whole is not None
        assert model.reaches(request) == whole.reached


def test_frame_lines_are_weighed_as_the_model_says() -> None:
    """Frame notes only: every pitch sequence within leap and reach, moves on the staff times the
    pull between their degrees, the weights of pitches and of the ways to reach them.
    """
    analysis, model = small()
    wished = NARROW.with_(mix={}, quote=1000, bars=1, range=(Pitch.parse("F3"), Pitch.parse("F4")))
    setup = model.setup(wished, {})
    chain = setup.chains[0]
    ladder = [m for m in range(53, 66) if m % 12 in analysis.frame.numbers]
    moves, pulls = setup.lattice.rules.moves, setup.lattice.rules.pulls
    letters = {0: 0, 3: 2, 5: 3, 7: 4, 10: 6}  # 1 b3 4 5 b7 on the staff

    def staff(midi: int) -> int:
        return 7 * ((midi - 55) // 12) + letters[(midi - 55) % 12]

    expected = {}
    for row in product(ladder, repeat=len(chain.slots)):
        weight, before = chain.weights[0][row[0]], NONE
        for t, (a, b) in enumerate(pairwise(row), 1):
            steps = staff(b) - staff(a)
            near = abs(b - a) <= 5 and setup.plan.hand.apart(a, b) <= setup.plan.most_frets
            weight *= moves.weight(before, steps) * chain.weights[t][b] if near else 0.0
            weight *= pulls((a - 55) % 12, (b - 55) % 12)  # degrees above G
            weight *= chain.approaches[t][min(3, abs(steps))]
            before = kind_of(steps, before)
        if weight:
            expected[row] = weight
    states = setup.lattice.states
    found = {tuple(states[s].midi for s in p): w for p, w in every_line(chain).items()}
    assert found.keys() == expected.keys()
    for row, weight in expected.items():
        assert found[row] == pytest.approx(weight)


def test_long_lines_use_the_same_messages_as_short_ones() -> None:
    """Messages worked out again from checkpoints are bit for bit those kept whole."""
    _, model = small()
    setup = model.setup(LineRequest(bars=160, mix={"b5": 0.05}, phrase=0), {})
    chain = setup.chains[0]
    assert len(chain.slots) > 600
    assert len(chain._kept) < len(chain.slots) / 50
    message = chain.closing / 1.0
    for t in range(len(chain.slots) - 1, 0, -1):
        if t in (1, 77, 128, 300, 511):
            ratio = chain.message(t)[message > 0] / message[message > 0]
            assert np.ptp(ratio) <= 1e-12 * ratio.max()
        message = chain.step(t, message)


@pytest.mark.parametrize("limit", [2, 3, 4, 6])
def test_quotes_are_seen_wherever_they_stand(limit: int) -> None:
    rng = Random(5)
    source = [60 + rng.randrange(5) for _ in range(14)]
    words = {
        tuple(source[i + j + 1] - source[i + j] for j in range(limit))
        for i in range(len(source) - limit)
    }
    watch = QuoteWatch(source, limit)
    for _ in range(300):
        row = [rng.randrange(-4, 5) for _ in range(12)]
        state = 0
        for end, interval in enumerate(row, 1):
            state = watch.after(state, interval)
            quoted = tuple(row[end - limit : end]) in words if end >= limit else False
            assert (state == -1) == quoted
            if quoted:
                break


@pytest.mark.parametrize("mix", [{"b5": 0.125}, {"f1": 0.75}])
def test_strict_lines_follow_the_distribution_given_their_counts(mix: dict[str, float]) -> None:
    _, model = small()
    wished = NARROW.with_(mix=mix, quote=7, strict=True, start=None, landing=None)
    setup = model.setup(wished, {})
    strict = setup.strict[0]
    assert len(strict.sections) == 1
    counts = strict.sections[0].counts
    weights = {
        path: weight
        for path, weight in every_line(setup.chains[0]).items()
        if tuple(int(row[list(path)].sum()) for row in setup.rows) == counts
    }
    assert len(weights) > 5
    rng = Random(3)
    draws = [tuple(strict.sample(rng)) for _ in range(6_000)]
    assert chi_square(weights, draws) > 0.001


def test_strict_shares_are_hit_in_every_line() -> None:
    """Within half a note of what was asked for a note that comes alone; the counts of long
    figures to half their length, in every section alike.
    """
    _, model = demo("late-shift")
    line = model.sample(LineRequest(bars=24, mix={"b5": 0.1}, strict=True))
    count = len(line.lick.notes)
    for seed in range(1, 6):
        again = model.sample(line.request.with_(seed=seed))
        assert abs(sum(r.role == "outside" for r in again.notes) - 0.1 * count) <= 0.5


def test_strict_lines_reach_the_rarest_shares() -> None:
    """The most there can be, by a search of its own, is hit however little weight it has; a
    share beyond it is refused, as when a figure goes through an outside note that is not named.
    """
    for name, element, bars in (("late-shift", "b5", 12), ("rain-on", "f1", 8)):
        _, model = demo(name)
        wished = LineRequest(bars=bars, mix={element: 0.01}, phrase=0)
        most = model.setup(wished, {}).most(element)
        line = model.sample(wished.with_(mix={element: most}, strict=True))
        assert line.got[element] == pytest.approx(most)
    _, model = demo("feed-store")
    with pytest.raises(OptionError, match="f1 can have at most 0%"):
        model.sample(LineRequest(mix={"f1": 0.3}, strict=True))
