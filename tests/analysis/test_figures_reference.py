"""The reference of the benchmark, plain COSIATEC, on sets small enough to work by hand."""

from __future__ import annotations

from fractions import Fraction

from benchmarks.cosiatec import classes, cosiatec, maximal_patterns

F = Fraction
#: The six points used to explain SIA in Meredith, Lemström and Wiggins (2002); recalled from
#: memory, the results below worked by hand.
SIX = [(F(1), 1), (F(1), 3), (F(2), 1), (F(2), 2), (F(2), 3), (F(3), 2)]


def test_maximal_translatable_patterns() -> None:
    patterns = {frozenset(p) for p in maximal_patterns(SIX)}
    # (1, 0) takes (1,1), (1,3) and (2,2) to (2,1), (2,3) and (3,2), and nothing else.
    assert frozenset({(F(1), 1), (F(1), 3), (F(2), 2)}) in patterns
    # (1, 1) takes (1,1) to (2,2) and (2,1) to (3,2).
    assert frozenset({(F(1), 1), (F(2), 1)}) in patterns


def test_best_class_covers_the_six_points() -> None:
    """Three points said twice: 6 covered by 3 + 1 numbers, a ratio of 1.5, the best there is."""
    best = cosiatec(SIX)[0]
    assert best.pattern == ((F(1), 1), (F(1), 3), (F(2), 2))
    assert best.vectors == ((F(0), 0), (F(1), 0))
    assert best.covered == frozenset(SIX)


def test_classes_hold_every_translation() -> None:
    row = [(F(k), 0) for k in range(4)]
    pairs = [tec for tec in classes(row) if len(tec.pattern) == 2]
    assert any(len(tec.vectors) == 3 for tec in pairs)
