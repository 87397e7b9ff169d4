"""A verdict as text: the rules as a table, the words, what to work on."""

from __future__ import annotations

import textwrap
from typing import Final

from linewright.practice import StepSheet
from linewright.practice.takes import RuleResult
from linewright.services.rule_words import allowed, measured
from linewright.services.taking import Judged

__all__ = ["verdict_text"]

_STATES: Final = {True: "pass", False: "not yet", None: "open"}
_WIDTH: Final = 88
_MOST_BARS: Final = 6


def verdict_text(judged: Judged, step: StepSheet) -> str:
    """To be read in a terminal."""
    verdict = judged.verdict
    head = {True: "Done", False: "Not yet", None: "Not judged"}[verdict.passed]
    timing = verdict.take.timing
    lines = [
        f"Step {step.number}. {step.title}: {head}",
        f"{len(verdict.take.notes)} notes at {float(verdict.take.bpm):g};"
        f" the tempo kept was {timing.bpm:.1f}.",
        "",
        *_table(verdict.rules),
        "",
        *_wrapped(verdict.words),
    ]
    if verdict.work_on:
        lines += ["", *_wrapped(f"Work on this next. {verdict.work_on}")]
    if verdict.suggestion:
        lines += _wrapped(verdict.suggestion)
    lines += [line for warning in judged.warnings for line in _wrapped(f"Note: {warning}")]
    return "\n".join(lines)


def _table(rules: tuple[RuleResult, ...]) -> list[str]:
    rows = [("Rule", "Measured", "Allowed", "", "Where")]
    rows += [
        (
            rule.title,
            measured(rule.key, rule.value, rule.limit, rule.unit, passed=rule.passed),
            allowed(rule.key, rule.limit, rule.unit),
            _STATES[rule.passed],
            _where(rule),
        )
        for rule in rules
    ]
    widths = [max(len(row[k]) for row in rows) for k in range(4)]
    return [
        "  ".join([cell.ljust(width) for cell, width in zip(row[:4], widths, strict=True)] + [row[4]])
        .rstrip()
        for row in rows
    ]  # fmt: skip


def _where(rule: RuleResult) -> str:
    if rule.passed is not False or not rule.bars:
        return ""
    bars = list(dict.fromkeys(rule.bars))
    said = ", ".join(map(str, bars[:_MOST_BARS])) + (" …" if len(bars) > _MOST_BARS else "")
    return f"bar {said}" if len(bars) == 1 else f"bars {said}"


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, _WIDTH)
