"""A verdict as text: the rules as a table, the words, what to work on."""

from __future__ import annotations

import textwrap
from typing import Final

from linewright.practice import StepSheet
from linewright.practice.takes import RuleResult
from linewright.services.taking import Judged

__all__ = ["verdict_text"]

_STATES: Final = {True: "pass", False: "not yet", None: "open"}
#: Rules of which there has to be at least so much; of the others there may be at most so much.
_LEAST: Final = ("tempo", "flow", "figure", "often", "chords")
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
        (rule.title, _measured(rule), _allowed(rule), _STATES[rule.passed], _where(rule))
        for rule in rules
    ]
    widths = [max(len(row[k]) for row in rows) for k in range(4)]
    return [
        "  ".join([cell.ljust(width) for cell, width in zip(row[:4], widths, strict=True)] + [row[4]])
        .rstrip()
        for row in rows
    ]  # fmt: skip


def _measured(rule: RuleResult) -> str:
    return "-" if rule.value is None else _amount(rule.value, rule.unit)


def _allowed(rule: RuleResult) -> str:
    if rule.limit is None:
        return "-"
    bound = "at least" if rule.key.split(" ")[0] in _LEAST else "at most"
    return f"{bound} {_amount(rule.limit, rule.unit)}"


def _amount(value: float, unit: str) -> str:
    if unit.startswith("share"):
        return f"{100 * value:.0f} %"
    if unit == "ms":
        return f"{value:.0f} ms"
    return f"{round(value, 1):g} {unit}".strip()


def _where(rule: RuleResult) -> str:
    if rule.passed is not False or not rule.bars:
        return ""
    bars = list(dict.fromkeys(rule.bars))
    said = ", ".join(map(str, bars[:_MOST_BARS])) + (" …" if len(bars) > _MOST_BARS else "")
    return f"bar {said}" if len(bars) == 1 else f"bars {said}"


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, _WIDTH)
