"""Use case: a teacher changes what counts as done in a step, or in all steps, of one student's plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from linewright.practice.model import Done
from linewright.practice.tolerance import TOLERANCES, change_words
from linewright.services.clock import now as clock
from linewright.services.practising import KeptPlan
from linewright.services.shelf import Library
from linewright.services.taking import step_of
from linewright.store.take_records import ChangedRule, RuleChange

__all__ = [
    "TOLERANCES",
    "ChangedRule",
    "RuleChange",
    "StepRules",
    "change_all_rules",
    "change_rules",
    "changed_rules",
    "rules_as_given",
    "rules_of",
    "undo_rules",
    "value_of",
]


@dataclass(frozen=True)
class StepRules:
    """The rules of a step as they stand, what was changed, and what that means in sentences."""

    plan: KeptPlan
    step: int
    changes: tuple[RuleChange, ...]
    words: tuple[str, ...]


def rules_of(plan: KeptPlan, step: int) -> StepRules:
    """The rules of a step, with what a teacher changed since the plan was given."""
    now_, before = step_of(plan.sheet, step).done, step_of(plan.as_given, step).done
    return StepRules(plan, step, plan.changes_of(step), change_words(before, now_))


def change_rules(
    library: Library,
    plan_id: int,
    step: int,
    changes: Mapping[str, Any],
    *,
    by: str,
    now: datetime | None = None,
) -> StepRules:
    """Change rules of a step by name (see :data:`TOLERANCES`); undone by :func:`undo_rules`."""
    plan = library.plans.change_rules(plan_id, {step: changes}, by=by, now=now or clock())
    return rules_of(plan, step)


def change_all_rules(
    library: Library,
    plan_id: int,
    changes: Mapping[str, Any],
    *,
    by: str,
    now: datetime | None = None,
) -> KeptPlan:
    """Change the same rules in every step of a plan at once, where they are not so already;
    ``chord_tones`` only where a step asks for chords.
    """
    plan = library.plans.get(plan_id)
    wanted = {
        step.number: {
            name: value
            for name, value in changes.items()
            if name not in TOLERANCES
            or (value_of(step.done, name) != value and _is_asked(plan, step.number, name))
        }
        for step in plan.sheet.steps
    }
    made = {number: own for number, own in wanted.items() if own} or {1: {}}
    return library.plans.change_rules(plan_id, made, by=by, now=now or clock())


def _is_asked(plan: KeptPlan, step: int, name: str) -> bool:
    given = value_of(step_of(plan.as_given, step).done, name)
    return name != "chord_tones" or given is not None


def rules_as_given(
    library: Library,
    plan_id: int,
    step: int | None = None,
    *,
    by: str,
    now: datetime | None = None,
) -> KeptPlan:
    """Go back to the rules the plan was given with, in one step or (None) in all; a change like
    any other, so that it can be undone.
    """
    plan = library.plans.get(plan_id)
    numbers = [step] if step is not None else [s.number for s in plan.sheet.steps]
    made: dict[int, dict[str, Any]] = {}
    for number in numbers:
        for rule in changed_rules(plan, number):
            own = made.setdefault(number, {})
            if rule.key:
                own.setdefault(rule.name, {})[rule.key] = rule.own
            else:
                own[rule.name] = rule.own
    return library.plans.change_rules(plan_id, made or {numbers[0]: {}}, by=by, now=now or clock())


def undo_rules(
    library: Library, plan_id: int, step: int | None = None, *, now: datetime | None = None
) -> tuple[StepRules, tuple[RuleChange, ...]]:
    """Take the last change of a plan's rules back, of one step when it is named."""
    plan, taken = library.plans.undo_rules(plan_id, step, now=now or clock())
    return rules_of(plan, taken[-1].step), taken


def changed_rules(plan: KeptPlan, step: int) -> tuple[ChangedRule, ...]:
    """The rules of a step that are not those the plan was given with, and who set each."""
    done, given = step_of(plan.sheet, step).done, step_of(plan.as_given, step).done
    found: dict[tuple[str, str], ChangedRule] = {}
    for change in plan.changes_of(step):
        for name, value in change.changes.items():
            for key in value if isinstance(value, Mapping) else ("",):
                now_, own = value_of(done, name, key), value_of(given, name, key)
                found.pop((name, key), None)
                if now_ != own:
                    found[name, key] = ChangedRule(name, key, now_, own, change.by, change.at)
    return tuple(found.values())


def value_of(done: Done, name: str, key: str = "") -> float | None:
    """A rule's value: of a field by its name, or the times of a figure or outside note (0 when it
    need not come).
    """
    if name == "figures":
        return next((rule.times for rule in done.figures if rule.tag == key), 0)
    if name == "uses":
        return next((use.times for use in done.uses if use.degree == key), 0)
    value: float | None = getattr(done, name)
    return value
