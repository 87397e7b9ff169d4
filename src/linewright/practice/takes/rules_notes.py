"""Rules of notes: the right ones, outside notes as the lick uses them, leaps."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from linewright.analysis.prose import interval, join_words
from linewright.practice.takes.limits import bars_of, past, slips
from linewright.practice.takes.model import RuleResult, Take, Terms
from linewright.practice.takes.notes import NoteReading
from linewright.practice.takes.say import count_of, places_of
from linewright.score import BREATH

__all__ = ["hold_leaps", "hold_notes", "hold_uses"]


def hold_notes(take: Take, terms: Terms, readings: Sequence[NoteReading]) -> RuleResult:
    """Notes that belong neither to the frame nor to the outside notes of the step."""
    sure = [k for k, note in enumerate(take.notes) if note.is_sure]
    wrong = [k for k in sure if readings[k].kind == "wrong"]
    allowed = slips(terms, len(sure))
    passed = len(wrong) <= allowed
    names = join_words(dict.fromkeys(readings[k].degree for k in wrong))
    if not wrong:
        words = "Every note belongs to the step."
    elif passed:
        words = (
            f"One slip ({names}, {places_of(take, wrong)}), which is allowed."
            if len(wrong) == 1
            else f"{count_of(len(wrong), 'slip')} ({names}), which are allowed."
        )
    else:
        words = (
            f"{count_of(len(wrong), 'note')} outside the step: the {names},"
            f" {places_of(take, wrong)}."
        )
    return RuleResult(
        "notes",
        "The right notes",
        passed,
        float(len(wrong)),
        float(allowed),
        "notes",
        words,
        tuple(wrong),
        bars_of(take, wrong),
        past(len(wrong), allowed),
    )


def hold_uses(take: Take, terms: Terms, readings: Sequence[NoteReading]) -> list[RuleResult]:
    """Outside notes of the step, used in another way than the lick does."""
    found = []
    for degree in dict.fromkeys(use.degree for use in terms.done.uses):
        places = [
            k
            for k, reading in enumerate(readings)
            if reading.degree == degree and reading.kind in ("used", "misused")
        ]
        broken = [k for k in places if readings[k].kind == "misused" and take.notes[k].is_sure]
        broken = [k for k in broken if _neighbours_sure(take, k)]
        allowed = slips(terms, len(places))
        passed = len(broken) <= allowed
        ways = join_words(
            dict.fromkeys(
                f"{u.before}-{u.degree}-{u.after}" for u in terms.done.uses if u.degree == degree
            )
        )
        if passed:
            words = (
                f"The {degree} comes only as the lick uses it."
                if places
                else (f"The {degree} was not played, so it was not misused.")
            )
        else:
            words = (
                f"The {degree} is used in another way than the lick's ({ways})"
                f" {places_of(take, broken)}."
            )
        found.append(
            RuleResult(
                f"use {degree}",
                f"The {degree} as the lick uses it",
                passed,
                float(len(broken)),
                float(allowed),
                "notes",
                words,
                tuple(broken),
                bars_of(take, broken),
                past(len(broken), allowed),
            )
        )
    return found


def _neighbours_sure(take: Take, index: int) -> bool:
    beside = [k for k in (index - 1, index + 1) if 0 <= k < len(take.notes)]
    return all(take.notes[k].is_sure for k in beside)


def hold_leaps(take: Take, terms: Terms) -> RuleResult:
    """Moves over the limit; a new phrase after a breath may begin anywhere."""
    limit = terms.done.leap
    over = []
    largest = 0
    moves = 0
    for k, (a, b) in enumerate(itertools.pairwise(take.notes), 1):
        if not (a.is_sure and b.is_sure):
            continue
        if b.onset - take.lick.notes[k - 1].end >= BREATH:
            continue  # a new phrase may begin anywhere
        moves += 1
        size = abs(b.heard.midi - a.heard.midi)
        largest = max(largest, size)
        if size > limit:
            over.append(k)
    allowed = slips(terms, moves)
    passed = len(over) <= allowed
    words = f"No leap larger than {interval(limit)}."
    if over:
        words = (
            f"{count_of(len(over), 'leap')} larger than {interval(limit)}"
            f" (the largest is {interval(largest)}), {places_of(take, over)}."
        )
    return RuleResult(
        "leap",
        "Leaps",
        passed,
        float(len(over)),
        float(allowed),
        "leaps",
        words,
        tuple(over),
        bars_of(take, over),
        past(len(over), allowed),
    )
