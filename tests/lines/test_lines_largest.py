"""The largest way from each state, against a plain loop."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from linewright.lines.largest import Largest


@given(st.lists(st.integers(0, 6)), st.integers(1, 3), st.randoms(use_true_random=False))
def test_the_largest_of_each_state_is_that_of_a_plain_loop(begin, columns, random) -> None:
    begin = sorted(begin)
    values = [[random.choice([-np.inf, random.random()]) for _ in range(columns)] for _ in begin]
    largest = Largest(np.array(begin, dtype=np.intp))
    laid = np.array(values, dtype=float).reshape(len(begin), columns)[largest.rows]
    found = dict(zip(largest.states.tolist(), largest(laid).tolist(), strict=True))
    assert found == {
        state: [
            max(row[k] for a, row in zip(begin, values, strict=True) if a == state)
            for k in range(columns)
        ]
        for state in set(begin)
    }
