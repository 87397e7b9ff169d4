"""Progress through a plan: what is held back, what a teacher may override."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewright.errors import OptionError
from linewright.practice import Progress

MARKS = st.lists(
    st.tuples(st.integers(1, 6), st.booleans(), st.sampled_from([None, "Ms. Alder"])), max_size=20
)


def test_a_step_not_done_holds_the_next_back() -> None:
    at = Progress.start(3)
    assert at.can_start(1)
    assert not at.can_start(2)
    with pytest.raises(OptionError, match="step 2 is held back by step 1"):
        at.mark(2, True)
    later = at.mark(1, True)
    assert later.can_start(2)
    assert not later.can_start(3)
    assert not at.can_start(2)  # the value before is as it was


def test_a_step_taken_back_holds_again() -> None:
    at = Progress.start(2).mark(1, True).mark(1, False)
    assert not at.can_start(2)
    assert at.current == 1


def test_a_teacher_may_override() -> None:
    at = Progress.start(3).mark(1, False, override_by="Ms. Alder")
    assert at.can_start(2)
    assert not at.is_done(1)
    jumped = Progress.start(3).mark(2, True, override_by="Ms. Alder")
    assert jumped.is_done(2)
    assert not jumped.can_start(3)  # step 1 still stands open
    with pytest.raises(OptionError, match="without a name"):
        Progress.start(3).mark(1, False, override_by=" ")


def test_a_whole_plan() -> None:
    at = Progress.start(2).mark(1, True).mark(2, True)
    assert at.is_done(1)
    assert at.is_done(2)
    assert at.current is None


@pytest.mark.parametrize("step", [0, -1, 4])
def test_no_such_step(step: int) -> None:
    with pytest.raises(OptionError, match="there is no step"):
        Progress.start(3).can_start(step)


@given(MARKS)
def test_laws(marks: list[tuple[int, bool, str | None]]) -> None:
    at = Progress.start(6)
    said: dict[int, tuple[bool, str | None]] = {}
    for step, done, teacher in marks:
        opened = all(said.get(k, (False, None)) != (False, None) for k in range(1, step))
        assert at.can_start(step) == opened
        if done and teacher is None and not opened:
            with pytest.raises(OptionError):
                at.mark(step, done, teacher)
            continue
        at = at.mark(step, done, teacher)
        said[step] = (done, teacher)
    for step in range(1, 7):
        assert at.is_done(step) == said.get(step, (False, None))[0]
    opened = [said.get(step, (False, None)) != (False, None) for step in range(1, 7)]
    assert at.current == (opened.index(False) + 1 if False in opened else None)
