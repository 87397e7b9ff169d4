"""A plan as it is kept: nothing lost, nothing read that is damaged."""

from __future__ import annotations

import contextlib
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from demo_plans import CASES, lick, plan
from linewright.errors import ReadError
from linewright.practice import (
    LEVELS,
    PlanSheet,
    done_from_dict,
    make_plan,
    plan_to_dict,
    sheet_from_dict,
    sheet_of,
    sheet_to_dict,
)
from linewright.services.bring import bring_in
from linewright.web.render import sentence
from samples import PORCH

pytestmark = pytest.mark.xdist_group("plans")

PLANS = [(*case, "week") for case in CASES] + [("12", level, "month") for level in LEVELS]


@pytest.fixture(scope="module")
def sheet() -> PlanSheet:
    brought = bring_in(PORCH.encode())
    return sheet_of(make_plan(brought.analysis), brought.lick)


@pytest.mark.parametrize(("name", "level", "length"), PLANS)
def test_every_demo_plan_comes_back_whole_through_json(name: str, level: str, length: str) -> None:
    made = plan(name, level, length)
    kept = sheet_of(made, lick(name))
    again = sheet_from_dict(json.loads(json.dumps(sheet_to_dict(kept))))
    assert again == kept
    for step, own in zip(again.steps, made.steps, strict=True):
        assert step.done == own.done
        assert [p.lick for p in step.examples] == [line.lick for line in own.examples]


def test_rules_are_the_statement_one_by_one(sheet: PlanSheet) -> None:
    for step in sheet.steps:
        joined = "; ".join(rule.rstrip(".") for rule in step.rules) + "."
        assert joined.lower() == step.done.statement.lower()


def test_a_rule_that_begins_with_a_degree_is_not_given_a_capital() -> None:
    """b3 with a capital would be a note, the B in the third octave."""
    kept = sheet_of(plan("12"), lick("12"))  # its outside note is the 3, from the b3
    rules = [rule for step in kept.steps for rule in step.rules]
    assert any(rule.startswith("b3-3") for rule in rules)
    assert not any(rule[0] == "B" and rule[1].isdigit() for rule in rules)
    assert sentence("b3-3-1 once") == "b3-3-1 once."
    assert sentence("bars 1 and 2") == "Bars 1 and 2."


def test_outside_notes_are_marked_where_they_stand(sheet: PlanSheet) -> None:
    step = next(s for s in sheet.steps if s.key == "outside b5")
    for piece in step.drills:
        assert piece.outside
        for index, degree in piece.outside:
            assert degree == "b5"
            assert piece.lick.notes[index].midi % 12 == 1  # a diminished fifth above G is Db
    first = next(s for s in sheet.steps if s.key == "frame")
    assert all(not piece.outside for piece in first.pieces)


def test_the_rules_of_a_step_can_be_read_alone(sheet: PlanSheet) -> None:
    data = sheet_to_dict(sheet)
    assert done_from_dict(data["steps"][2]["done"]) == sheet.steps[2].done
    with pytest.raises(ReadError, match="damaged"):
        done_from_dict({"bpm": 90})
    with pytest.raises(ReadError, match="damaged"):
        done_from_dict(None)


def test_what_is_no_plan_is_refused(sheet: PlanSheet) -> None:
    for wrong in (None, [], "x", {}, {"plan": 2}, plan_to_dict):
        with pytest.raises(ReadError, match="not a practice plan"):
            sheet_from_dict(wrong)


def _paths(value, path=()):
    yield path
    items = (
        value.items()
        if isinstance(value, dict)
        else enumerate(value)
        if isinstance(value, list)
        else ()
    )
    for key, inner in items:
        if len(path) < 5 and (not isinstance(key, int) or key < 2):
            yield from _paths(inner, (*path, key))


@pytest.fixture(scope="module")
def places(sheet: PlanSheet) -> list[tuple]:
    return [path for path in _paths(sheet_to_dict(sheet)) if path]


@settings(max_examples=40)
@given(data=st.data())
def test_damage_anywhere_is_one_clear_error_or_none(sheet: PlanSheet, places, data) -> None:
    document = sheet_to_dict(sheet)  # a new one each time: what is damaged here stays here
    path = data.draw(st.sampled_from(places))
    holder = document
    for key in path[:-1]:
        holder = holder[key]
    holder[path[-1]] = data.draw(st.sampled_from([None, -1, "x", [], {}, 1e300, [[]], True]))
    with contextlib.suppress(ReadError):
        sheet_from_dict(document)
