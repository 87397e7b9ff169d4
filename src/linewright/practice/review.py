"""When a finished step should be played again.

Each take of a finished step is a review; the days to the next one follow the FSRS model of memory
(Ye, Su and Cao 2022, "A stochastic shortest path algorithm for optimizing spaced repetition
scheduling", KDD; the fsrs library, its published weights, nothing random). The model was fitted on
cards, not on hands: the days are a suggestion, and a teacher's word goes before it.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final, Literal

from linewright.errors import OptionError
from linewright.practice.takes.model import Verdict

__all__ = ["Grade", "Played", "Review", "grade_of", "review"]

Grade = Literal["not yet", "just", "clean", "easy"]
_RATINGS: Final = {"not yet": 1, "just": 2, "clean": 3, "easy": 4}
_LONGEST_DAYS: Final = 120
_JUST: Final = 0.85  # of a limit: done, but only just
_EASY: Final = 0.5


@dataclass(frozen=True, slots=True)
class Played:
    """One take of a step: when, and how it went."""

    at: datetime
    grade: Grade


@dataclass(frozen=True, slots=True)
class Review:
    """When to play a step again, and how many days that is from its last take."""

    due: datetime
    days: float


def grade_of(verdict: Verdict) -> Grade:
    """How a take went: ``just`` when time or spread came near a limit, ``easy`` far inside."""
    if not verdict.passed:
        return "not yet"
    worst = 0.0
    for key in ("mean", "spread"):
        rule = verdict.rule(key)
        if rule is not None and rule.value is not None and rule.limit:
            worst = max(worst, abs(rule.value) / rule.limit)
    if worst > _JUST:
        return "just"
    return "easy" if worst < _EASY else "clean"


def review(takes: Sequence[Played]) -> Review | None:
    """The next review of a step, from its takes in order; None before the first that was done.

    Raises
    ------
    OptionError
        For times without a time zone or out of order.
    """
    if any(take.at.tzinfo is None for take in takes):
        raise OptionError("a take without a time zone", accepted="Give times in UTC")
    if any(a.at > b.at for a, b in itertools.pairwise(takes)):
        raise OptionError("takes out of order", accepted="Give the first one first")
    first = next((k for k, take in enumerate(takes) if take.grade != "not yet"), None)
    if first is None:
        return None
    from fsrs import Card, Rating, Scheduler  # only reviewing pays for it

    scheduler = Scheduler(
        learning_steps=(), relearning_steps=(), maximum_interval=_LONGEST_DAYS, enable_fuzzing=False
    )
    card = Card(card_id=1, due=takes[first].at)
    for take in takes[first:]:
        card, _ = scheduler.review_card(card, Rating(_RATINGS[take.grade]), take.at)
    last = takes[-1].at
    return Review(card.due, (card.due - last).total_seconds() / 86400)
