"""When to play a finished step again: held against the fsrs library's own arithmetic."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import fsrs
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewright.errors import OptionError
from linewright.practice.review import Played, review

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
GRADES = ("not yet", "just", "clean", "easy")


def test_nothing_is_due_before_the_step_was_done():
    assert review([]) is None
    assert review([Played(NOON, "not yet")]) is None


def test_a_first_clean_take_comes_back_after_the_published_initial_stability():
    # FSRS-6, published default weights: initial stability of "good" is 2.3065 days, of "easy"
    # 8.2956; at the usual retention of 0.9 the interval is the stability, in whole days.
    assert review([Played(NOON, "clean")]).days == pytest.approx(2)
    assert review([Played(NOON, "easy")]).days == pytest.approx(8)


def test_each_clean_return_puts_the_next_further_off_and_a_failed_one_brings_it_near():
    takes = [Played(NOON, "clean")]
    gaps = []
    for _ in range(5):
        found = review(takes)
        gaps.append(found.days)
        takes.append(Played(found.due, "clean"))
    assert gaps == sorted(gaps)
    assert gaps[-1] > 4 * gaps[0]
    failed = [*takes, Played(takes[-1].at + timedelta(days=1), "not yet")]
    assert review(failed).days < review(takes).days


@given(st.lists(st.tuples(st.integers(0, 40), st.sampled_from(GRADES)), max_size=12))
def test_the_due_day_is_the_librarys_and_within_four_months(steps):
    at, takes = NOON, []
    for days, grade in steps:
        at += timedelta(days=days)
        takes.append(Played(at, grade))
    found = review(takes)
    if found is not None:
        assert 0 < found.days <= 121
        ratings = {"not yet": 1, "just": 2, "clean": 3, "easy": 4}
        grades = [take.grade for take in takes]
        first = next(k for k, grade in enumerate(grades) if grade != "not yet")
        card = fsrs.Card(card_id=7, due=takes[first].at)
        scheduler = fsrs.Scheduler(
            learning_steps=(), relearning_steps=(), maximum_interval=120, enable_fuzzing=False
        )
        for take in takes[first:]:
            card, _ = scheduler.review_card(card, fsrs.Rating(ratings[take.grade]), take.at)
        assert found.due == card.due


def test_takes_out_of_order_or_without_zone_are_refused():
    with pytest.raises(OptionError, match="order"):
        review([Played(NOON, "clean"), Played(NOON - timedelta(days=1), "clean")])
    with pytest.raises(OptionError, match="zone"):
        review([Played(NOON.replace(tzinfo=None), "clean")])
