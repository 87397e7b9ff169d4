"""Use case: a teacher changes what counts as done in a step, for one student's plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from linewright.practice.tolerance import TOLERANCES, change_words
from linewright.services.clock import now as clock
from linewright.services.practising import KeptPlan
from linewright.services.shelf import Library
from linewright.services.taking import step_of
from linewright.store.take_records import RuleChange

__all__ = ["TOLERANCES", "RuleChange", "StepRules", "change_rules", "rules_of", "undo_rules"]


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
    plan = library.plans.change_rules(plan_id, step, changes, by=by, now=now or clock())
    return rules_of(plan, step)


def undo_rules(
    library: Library, plan_id: int, *, now: datetime | None = None
) -> tuple[StepRules, RuleChange]:
    """Take the last change of a plan's rules back."""
    plan, taken = library.plans.undo_rules(plan_id, now=now or clock())
    return rules_of(plan, taken.step), taken
