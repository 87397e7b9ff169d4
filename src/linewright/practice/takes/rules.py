"""Each rule of a step held against a take: a value, what is allowed, and where it broke.

Nothing heard in doubt counts against the player: such a note is left out of what can fail and
counted in what can succeed. Where the numbers come from: mean and spread are the step's (see
``timing_source``); a drift of half a slot over the take and the shares of slips are ours, after
common practice.
"""

from __future__ import annotations

from collections.abc import Sequence

from linewright.practice.takes.model import RuleResult, Take, Terms
from linewright.practice.takes.notes import NoteReading
from linewright.practice.takes.rules_content import (
    hold_chords,
    hold_figures,
    hold_often,
    hold_variety,
)
from linewright.practice.takes.rules_notes import hold_leaps, hold_notes, hold_uses
from linewright.practice.takes.rules_time import hold_flow, hold_tempo, hold_timing

__all__ = ["hold_rules"]


def hold_rules(take: Take, terms: Terms, readings: Sequence[NoteReading]) -> tuple[RuleResult, ...]:
    """Every rule of the step, in the order they are said."""
    found: list[RuleResult | None] = [hold_tempo(take, terms), hold_flow(take, terms)]
    found += hold_timing(take, terms)
    found += [hold_notes(take, terms, readings), *hold_uses(take, terms, readings)]
    found += [
        hold_leaps(take, terms),
        *hold_figures(take, terms),
        *hold_often(take, terms, readings),
    ]
    found += [hold_chords(take, terms), *hold_variety(take, terms)]
    return tuple(result for result in found if result is not None)
