"""Rules of a step as a teacher sets them: values of ``Done`` replaced, checked, and said again.

The music of the step stays as it is; only what counts as done changes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, Final

from linewright.analysis.prose import capital, interval, times
from linewright.errors import OptionError
from linewright.practice.model import Done
from linewright.practice.sheet import PlanSheet, StepSheet
from linewright.practice.statement import done_rules, say_done

__all__ = [
    "MOST_TIMES",
    "SHARES",
    "TOLERANCES",
    "change_words",
    "changed_sheet",
    "checked_changes",
    "merged_changes",
    "said_of",
]

#: What may be changed: whether it is a whole number, the least and the most, and what it is called.
TOLERANCES: Final[dict[str, tuple[bool, float, float, str]]] = {
    "bpm": (True, 20, 400, "the tempo"),
    "bars": (True, 1, 64, "bars without a stop"),
    "takes": (True, 1, 10, "takes in a row"),
    "mean_ms": (False, 5, 250, "the mean distance from the click"),
    "spread_ms": (False, 5, 250, "the spread"),
    "slips": (False, 0, 0.5, "the share of slips"),
    "leap": (True, 1, 36, "the largest leap"),
    "chord_tones": (False, 0, 1, "the share of chord changes met"),
    "alike": (False, 0.1, 1, "the share of bars that may be one bar"),
    "quoted": (True, 2, 200, "notes running that may be the lick's"),
}
#: How often each has to come: figures by tag, outside notes by degree.
_TIMES: Final = ("figures", "uses")
MOST_TIMES: Final = 64
#: Rules that are shares, 0 to 1.
SHARES: Final = ("slips", "chord_tones", "alike")
_BY_TEACHER: Final = "Set by the teacher."


def checked_changes(done: Done, changes: Mapping[str, Any]) -> dict[str, Any]:
    """Changes as they may be made of some rules; OptionError for any other.

    Parameters
    ----------
    done : Done
    changes : mapping
        New values by the name of the field; ``figures`` and ``uses`` map a tag or degree of the
        step to the times it has to come. ``chord_tones`` may be None: chords do not count.
    """
    if not changes:
        raise OptionError("no rule is changed", accepted=f"Give one of {', '.join(TOLERANCES)}")
    return {name: _checked(done, name, value) for name, value in changes.items()}


def _checked(done: Done, name: str, value: Any) -> Any:
    if name in _TIMES:
        return _times(done, name, value)
    if name not in TOLERANCES:
        raise OptionError(
            f"there is no rule {name!r:.40} to change",
            accepted=f"Use {', '.join((*TOLERANCES, *_TIMES))}",
        )
    whole, low, high, title = TOLERANCES[name]
    if name == "chord_tones" and value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise OptionError(
            f"{name}: {value!r:.40} is no number", accepted=f"Use {low:g} to {high:g}"
        )
    if not low <= value <= high or (whole and value != int(value)):
        kind = "whole numbers from " if whole else ""
        raise OptionError(f"{title} cannot be {value:g}", accepted=f"Use {kind}{low:g} to {high:g}")
    return int(value) if whole else float(value)


def _times(done: Done, name: str, value: Any) -> dict[str, int]:
    known = {rule.tag for rule in done.figures}
    if name == "uses":
        known = {rule.degree for rule in done.uses}
    if not isinstance(value, Mapping) or not value:
        raise OptionError(
            f"{name} holds no times", accepted='Give times by tag or degree, as {"f1": 2}'
        )
    for key, often in value.items():
        if key not in known:
            raise OptionError(
                f"this step asks for no {key!r:.40}",
                accepted=f"Use {', '.join(sorted(known))}" if known else "It asks for none",
            )
        if isinstance(often, bool) or not isinstance(often, int) or not 0 <= often <= MOST_TIMES:
            raise OptionError(
                f"{key} cannot come {often!r:.20} times", accepted=f"Use 0 to {MOST_TIMES}"
            )
    return dict(value)


def merged_changes(changes: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
    """Changes made one after the other as one; of a figure or outside note the last times count."""
    made: dict[str, Any] = {}
    for change in changes:
        for name, value in change.items():
            made[name] = {**made.get(name, {}), **value} if name in _TIMES else value
    return made


def changed_sheet(sheet: PlanSheet, step: int, changes: Mapping[str, Any]) -> PlanSheet:
    """A plan with the rules of one step changed and stated anew.

    ``changes`` are as :func:`checked_changes` gives them; what they say of a figure or an outside
    note that the step does not ask for (any more) is passed over. The ladder of tempos ends at the
    step's tempo.
    """
    if not 1 <= step <= len(sheet.steps):
        raise OptionError(f"there is no step {step}", accepted=f"Use 1 to {len(sheet.steps)}")
    old = sheet.steps[step - 1]
    new = _changed(old, changes, sheet)
    return replace(sheet, steps=(*sheet.steps[: step - 1], new, *sheet.steps[step:]))


def _changed(old: StepSheet, changes: Mapping[str, Any], sheet: PlanSheet) -> StepSheet:
    plain = {
        name: value
        for name, value in changes.items()
        if name not in _TIMES and value != getattr(old.done, name)
    }
    if plain.keys() & {"mean_ms", "spread_ms"}:
        plain["timing_source"] = _BY_TEACHER
    figures, uses = changes.get("figures", {}), changes.get("uses", {})
    done = replace(
        old.done,
        **plain,
        figures=tuple(
            replace(rule, times=figures.get(rule.tag, rule.times))
            for rule in old.done.figures
            if figures.get(rule.tag, rule.times)
        ),
        uses=tuple(
            replace(rule, times=uses.get(rule.degree, rule.times)) for rule in old.done.uses
        ),
    )
    done = replace(done, statement=say_done(done, sheet.beat))
    ladder = old.tempo_ladder
    if done.bpm != old.done.bpm:
        ladder = (*(tempo for tempo in ladder if tempo < done.bpm), done.bpm)
    return replace(old, done=done, tempo_ladder=ladder, rules=done_rules(done, sheet.beat))


def change_words(before: Done, after: Done) -> tuple[str, ...]:
    """What differs between two sets of rules, a sentence each."""
    said = []
    for name, (_, _, _, title) in TOLERANCES.items():
        old, new = getattr(before, name), getattr(after, name)
        if old != new:
            said.append(f"{capital(title)}: {said_of(name, new)} instead of {said_of(name, old)}.")
    figures = {rule.tag: rule.times for rule in after.figures}
    for rule in before.figures:
        if figures.get(rule.tag, 0) != rule.times:
            new, old = times(figures.get(rule.tag, 0)), times(rule.times)
            said.append(f"The {rule.kind} ({rule.tag}): {new} instead of {old}.")
    uses = {use.degree: use.times for use in after.uses}
    for degree, wanted in {use.degree: use.times for use in before.uses}.items():
        if uses.get(degree, 0) != wanted:
            said.append(f"The {degree}: {times(uses.get(degree, 0))} instead of {times(wanted)}.")
    return tuple(said)


def said_of(name: str, value: float | None) -> str:
    """A value of a rule as people say it, with its unit."""
    if value is None:
        return "not asked"
    if name.endswith("_ms"):
        return f"{value:g} ms"
    if name in SHARES:
        return f"{100 * value:g} %"
    return interval(int(value)) if name == "leap" else f"{value:g}"
