"""Giving plans and saying where students stand."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from linewright.errors import NotFound, OptionError
from linewright.page.signs import musical
from linewright.services.bring import bring_in
from linewright.services.plan_view import pieces_of, standing_of, steps_of
from linewright.services.practising import (
    by_student,
    give_plan,
    mark_step,
    student_named,
    undo_mark,
)
from linewright.services.shelf import keep

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


def later(hours: float) -> datetime:
    return NOON + timedelta(hours=hours)


@pytest.fixture
def given(library, porch):
    return give_plan(library, porch.id, student="Ada", now=NOON)


def test_one_name_is_one_student(library, porch):
    first = student_named(library, "Ada Lane", now=NOON)
    assert student_named(library, " ada  LANE ", now=later(1)) == first
    plan = give_plan(library, porch.id, student="ada lane", now=NOON)
    assert plan.entry.student.id == first.id
    with pytest.raises(OptionError, match="whose plan"):
        give_plan(library, porch.id, student=" ", now=NOON)


def test_a_plan_stays_as_it_was_given_when_the_lick_is_changed(library, porch, given):
    library.rename(porch.id, "Gate step", now=later(1))
    again = library.plans.get(given.id)
    assert again.sheet == given.sheet
    assert again.sheet.lick.title == "Porch step"


def test_no_plan_is_given_where_none_can_be_made(library):
    text = "X:1\nT:Steps\nM:4/4\nL:1/8\nK:C\nC^CD^DE F^FG|^GA^ABc2z2|"
    kept = keep(library, bring_in(text.encode()))
    with pytest.raises(OptionError, match="no line can be made"):
        give_plan(library, kept.id, student="Ada", now=NOON)
    assert library.plans.students() == ()
    with pytest.raises(NotFound):
        give_plan(library, 99, student="Ada", now=NOON)


def test_each_step_says_where_the_player_stands(library, given):
    def states():
        entry = library.plans.entry(given.id)
        return [view.state for view in steps_of(given.sheet, entry)]

    count = len(given.sheet.steps)
    assert states() == ["open"] + ["held"] * (count - 1)
    mark_step(library, given.id, 1, "not yet", now=later(1))
    assert states()[:2] == ["not yet", "held"]
    mark_step(library, given.id, 1, "opened", by="the teacher", now=later(2))
    assert states()[:3] == ["opened", "open", "held"]
    mark_step(library, given.id, 2, "done", now=later(3))
    assert states()[:4] == ["opened", "done", "open", "held"]
    standing = standing_of(library.plans.entry(given.id))
    assert (standing.done, standing.opened, standing.at) == (1, 1, 3)
    undo_mark(library, given.id, now=later(4))
    undo_mark(library, given.id, now=later(5))
    assert states()[:2] == ["not yet", "held"]
    for number in range(1, count + 1):
        mark_step(library, given.id, number, "done", now=later(5 + number))
    assert set(states()) == {"done"}
    assert standing_of(library.plans.entry(given.id)).at is None


def test_students_see_the_last_touched_plan_first(library, porch, given):
    second = give_plan(library, porch.id, student="Ada", level="beginner", now=later(1))
    give_plan(library, porch.id, student="Bo", now=later(2))
    (ada, plans), (bo, _) = by_student(library)
    assert (ada.name, bo.name) == ("Ada", "Bo")
    assert [s.entry.id for s in plans] == [second.id, given.id]
    mark_step(library, given.id, 1, "not yet", now=later(3))
    assert [s.entry.id for s in by_student(library)[0][1]] == [given.id, second.id]


def test_the_music_of_a_step_is_engraved_with_its_reasons(given):
    step = next(s for s in given.sheet.steps if s.key == "outside b5")
    drills, examples = pieces_of(step)
    assert [piece.title for piece in drills] == [d.title for d in step.drills]
    assert len(examples) == 3
    for shown in (*drills, *examples):
        assert shown.problem is None
        assert shown.wide.count('class="note') > 0
        assert "outside" in shown.wide
    for shown, piece in zip(examples, step.examples, strict=True):
        assert musical(piece.reasons[0])[:20].lower() in shown.wide.lower()
