"""Bars that echo earlier bars: against enumeration, and the mix they must not change."""

from __future__ import annotations

from itertools import pairwise
from random import Random

import numpy as np
import pytest
from brute import chi_square, with_echo
from checker import broken
from line_licks import demo, small

from linewright.analysis.figures.views import frame_steps
from linewright.lines import LineRequest, echo
from linewright.lines.echo import Echo, bars_to_echo, draw_echoes, echo_rate
from linewright.theory import Pitch

NARROW = LineRequest(
    bars=2, held=False, phrase=0, range=(Pitch.parse("G3"), Pitch.parse("D4")), leap=5,
    start="1", landing="1", quote=7,
)  # fmt: skip


@pytest.mark.parametrize("mix", [{}, {"b5": 0.2}], ids=["frame alone", "an outside note"])
def test_echoes_are_drawn_as_they_are_defined(
    mix: dict[str, float], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each move of the second bar weighed 16 when it is the same as in the first, 2 when it goes
    the same way; the first note 8 when it is the first bar's.
    """
    monkeypatch.setattr(echo, "_CLOSE", 1e-6)  # as near the tilt of the definition as can be
    monkeypatch.setattr(echo, "_TURNS", 60)
    _, model = small()
    setup = model.setup(NARROW.with_(mix=mix), {})
    chain = setup.chains[0]
    states, heights = setup.lattice.states, setup.lattice.views[0].heights

    def moves(path: tuple[int, ...]) -> list[int]:
        return [heights[b] - heights[a] for a, b in pairwise(states[s].midi for s in path)]

    def follows(path: tuple[int, ...]) -> float:
        weight = 8.0 if states[path[0]].midi == states[path[4]].midi else 1.0
        for one, two in zip(moves(path[:4]), moves(path[4:]), strict=True):
            weight *= 16.0 if one == two else 2.0 if one * two > 0 else 1.0
        return weight

    weights = with_echo(chain, setup.rows, follows, 4)
    rng = Random(5)
    plan = {4: Echo(4, 8, 0)}
    draws = [tuple(setup.echoing[0].sample(plan, rng)) for _ in range(6_000)]
    assert chi_square(weights, draws) > 0.001


def test_what_is_expected_after_a_note_adds_up_to_what_is_expected_of_the_line() -> None:
    _, model = demo("late-shift")
    setup = model.setup(LineRequest(bars=12, mix={"f1": 0.2, "b5": 0.05}), {})
    chain, echoing = setup.chains[0], setup.echoing[0]
    first = chain.forward()[0] * chain.message(0)
    total = (setup.rows + echoing.after[0]) @ (first / first.sum())
    np.testing.assert_allclose(total, chain.expected(setup.rows, 1)[0], rtol=1e-9)


def test_bars_echo_as_often_as_asked() -> None:
    """All bars but the first have a bar of their rhythm, or of the beginning of it, before them."""
    _, model = demo("ferry-road")
    setup = model.setup(LineRequest(bars=16, phrase=0, grid="eighths"), {})
    slots = setup.chains[0].slots
    rng = Random(2)
    drawn = [draw_echoes(bars_to_echo(slots), 0.4, rng) for _ in range(500)]
    assert sum(map(len, drawn)) / 500 == pytest.approx(0.4 * 15, abs=0.35)
    for one_echo in drawn[0].values():
        one = [s.onset - slots[one_echo.first].onset for s in slots[one_echo.first : one_echo.end]]
        size = one_echo.end - one_echo.first
        two = slots[one_echo.source : one_echo.source + size]
        assert one == [s.onset - slots[one_echo.source].onset for s in two]


def test_a_lick_whose_bars_come_back_teaches_more_echoes() -> None:
    same, _ = small("G3 Bb3 C4 D4 G3 Bb3 C4 D4 G3 Bb3 C4 D4 G3 Bb3 C4 D4")
    other, _ = small("G3 Bb3 C4 D4 F4 D4 G4 C4 F3 D4 Bb3 G3 C4 D4 C4 G3")
    assert echo_rate(same) > 0.5 > 0.36 > echo_rate(other)


def test_lines_bring_bars_back(monkeypatch: pytest.MonkeyPatch) -> None:
    """More bars follow an earlier bar's moves than in lines without echoes, and nothing is broken."""
    analysis, model = demo("lantern")
    # Without figures, which bring moves back as well.
    wished = LineRequest(bars=16, grid="eighths", mix=dict.fromkeys(model.natural_mix, 0.0))
    setup = model.setup(wished, {})

    def share(rate: float) -> float:
        monkeypatch.setattr(setup, "echoes", rate)  # the setup is kept for others
        alike = count = 0
        for seed in range(25):
            line = model.sample(wished.with_(seed=seed))
            assert not broken(analysis, line)
            rows = []
            for bar in line.lick.bars:
                inside = [n.midi for n in line.lick.notes if bar.onset <= n.onset < bar.end]
                heights = frame_steps(analysis.frame, inside)
                rows.append([b - a for a, b in pairwise(heights)][:4])
            alike += sum(row in rows[:k] for k, row in enumerate(rows) if k)
            count += len(rows) - 1
        return alike / count

    rate = setup.echoes
    without = share(0.0)
    assert 0 < 1.5 * without < share(rate)
