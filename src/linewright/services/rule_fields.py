"""The rules of a step as a teacher reads and writes them on a page: each with its unit, what it
means, the value the plan was given with, and where that value is from.

Where it is from: no study sets limits for practising improvisation, so every default is
Linewright's own, after common practice; the two of timing name a published study for scale.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Final

from linewright.analysis.prose import interval, times
from linewright.errors import OptionError
from linewright.practice import StepSheet, beat_name
from linewright.practice.levels import TIMING_SOURCE
from linewright.practice.tolerance import MOST_TIMES, SHARES, TOLERANCES, said_of
from linewright.services.practising import KeptPlan
from linewright.services.taking import step_of
from linewright.services.tolerances import ChangedRule, changed_rules, value_of

__all__ = [
    "GROUPS",
    "ChangeNote",
    "RuleField",
    "changes_typed",
    "differ",
    "fields_for_all",
    "fields_of",
    "notes_on",
]

_LEVEL: Final = "the plan's level; common practice"
_LICK: Final = "the lick: half as often as in the lines made for this step"
_MAY_COME: Final = "the lick: it may come, and need not"
_OWN: Final = "Linewright's own limit, after common practice"
#: Name -> group, label, unit, what it means, where the default is from.
_WORDS: Final[dict[str, tuple[str, str, str, str, str]]] = {
    "bpm": (
        "Time", "Tempo", "", "The tempo that counts. The ladder of tempos ends here.",
        "the plan's level, a share of the lick's own tempo; common practice",
    ),
    "bars": ("Time", "Bars without a stop", "bars", "How long the player keeps going.", _LEVEL),
    "takes": (
        "Time", "Takes in a row", "takes", "How many passed takes, one after the other, close the"
        " step.", "common practice: once may be luck",
    ),
    "mean_ms": (
        "Time", "On the click", "ms", "How early or late the notes may be on average.",
        TIMING_SOURCE,
    ),
    "spread_ms": (
        "Time", "Steady", "ms", "How far the notes may scatter about the player's own average"
        " (standard deviation).", TIMING_SOURCE,
    ),
    "slips": (
        "Notes", "Slips", "% of the notes", "How many notes, leaps and usages may go wrong.",
        _LEVEL,
    ),
    "leap": (
        "Notes", "Largest leap", "", "A move larger than this breaks the rule, inside a phrase.",
        "the plan's level, or the lick's own material where that leaps further; common practice",
    ),
    "chord_tones": (
        "Notes", "Landing on the chords", "% of the changes", "At how many of the chord changes the"
        " player has to play a note of the new chord. Left empty, chords do not count.", _LEVEL,
    ),
    "alike": (
        "Variety", "The same bar again", "% of the bars", "How much of a take one bar may make up.",
        _OWN,
    ),
    "quoted": (
        "Variety", "The lick itself", "notes running", "How many notes running may be the lick's"
        " own.", _OWN,
    ),
}  # fmt: skip
#: Fields of ``Done`` -> key of the verdict's rule that holds a take against them.
_KEYS: Final = {
    "bpm": "tempo", "bars": "flow", "mean_ms": "mean", "spread_ms": "spread", "slips": "notes",
    "leap": "leap", "chord_tones": "chords", "alike": "variety", "quoted": "quote",
}  # fmt: skip
#: In the order a page shows them.
GROUPS: Final = ("Time", "Notes", "The lick's own material", "Variety")
#: What can be said of all steps at once: a tempo, a length, a leap are each step's own.
_FOR_ALL: Final = ("takes", "mean_ms", "spread_ms", "slips", "chord_tones", "alike", "quoted")


@dataclass(frozen=True)
class RuleField:
    """One rule to be set.

    Parameters
    ----------
    name : str
        The field of ``Done``, with a tag or degree behind a space for figures and outside notes.
    group, label, unit, words : str
    value, own : str
        As it stands and as the plan was given, as typed; empty for chords that do not count, and
        for a rule of all steps that differs between them.
    own_words, source : str
        The default as people say it, and where it is from.
    low, high : str
        The least and the most, as typed.
    whole : bool
    options : tuple of (str, str)
        What can be chosen, where it is not typed.
    changed : ChangedRule or None
        Who set it, where it is not the plan's own.
    """

    name: str
    group: str
    label: str
    unit: str
    words: str
    value: str
    own: str
    own_words: str
    source: str
    low: str
    high: str
    whole: bool
    options: tuple[tuple[str, str], ...] = ()
    changed: ChangedRule | None = None

    @property
    def accepts(self) -> str:
        """What may be typed, in words."""
        return f"{'a whole number from ' if self.whole else ''}{self.low} to {self.high}"

    def typed(self, text: str) -> RuleField:
        """The same with what somebody typed in it."""
        return replace(self, value=text)


def fields_of(plan: KeptPlan, step: int) -> tuple[RuleField, ...]:
    """The rules of one step."""
    now_, given = step_of(plan.sheet, step), step_of(plan.as_given, step)
    changed = {(rule.name, rule.key): rule for rule in changed_rules(plan, step)}
    found = []
    for name in _WORDS:
        value, own = value_of(now_.done, name), value_of(given.done, name)
        if name == "chord_tones" and value is None and own is None:
            continue  # the step asks for no chords
        made = _field(name, value, own, changed.get((name, "")))
        found.append(made if name != "bpm" else replace(made, unit=_tempo_unit(plan)))
    material = _material(now_, given, changed)
    return tuple(sorted((*found, *material), key=lambda field: GROUPS.index(field.group)))


def fields_for_all(plan: KeptPlan) -> tuple[RuleField, ...]:
    """The rules that may be set for all steps at once; an empty one leaves each step its own."""
    found = []
    for name in _FOR_ALL:
        values = [value_of(step.done, name) for step in plan.as_given.steps]
        owns = sorted({value for value in values if value is not None})
        if not owns:
            continue
        made = _field(name, owns[0], owns[0], None)
        said = " to ".join(dict.fromkeys((said_of(name, owns[0]), said_of(name, owns[-1]))))
        words = made.words.replace(" Left empty, chords do not count.", "")
        found.append(replace(made, value="", own="", own_words=said, words=words))
    return tuple(found)


def changes_typed(
    fields: tuple[RuleField, ...], typed: Mapping[str, str], *, all_steps: bool = False
) -> dict[str, Any]:
    """What differs between what was typed and what stands, as ``change_rules`` takes it.

    Raises
    ------
    OptionError
        For what is no number, or when nothing differs.
    """
    made: dict[str, Any] = {}
    for field in fields:
        text = typed.get(field.name, field.value).strip().replace(",", ".").rstrip("% ")
        if text == field.value or (all_steps and not text):
            continue
        name, _, key = field.name.partition(" ")
        value = None if not text and name == "chord_tones" else _number(field, text)
        if value is not None and _as_typed(name, value) == field.value:
            continue
        if key:
            made.setdefault(name, {})[key] = value
        else:
            made[name] = value
    if not made:
        raise OptionError("no rule is changed yet", accepted="Change a value, then save")
    return made


@dataclass(frozen=True)
class ChangeNote:
    """A rule a teacher changed, to be read: what it is called, its value and the plan's own in
    words, and the key of the verdict's rule it belongs to (empty when it has none).
    """

    label: str
    value: str
    own: str
    by: str
    at: datetime
    key: str

    def is_about(self, key: str) -> bool:
        """Whether it belongs to the verdict's rule of that key."""
        if not self.key.startswith("often "):
            return key == self.key
        kind, _, degree = self.key.partition(" ")
        said, _, way = key.partition(" ")
        return said == kind and degree in (way, *way.split("-")[1:2])


def notes_on(changed: Iterable[ChangedRule]) -> tuple[ChangeNote, ...]:
    """What a teacher changed, to be read."""
    found = []
    for rule in changed:
        if rule.key:
            value, own = (times(int(amount or 0)) for amount in (rule.value, rule.own))
            is_figure = rule.name == "figures"
            label = f"Figure {rule.key}" if is_figure else f"The {rule.key}"
            key = f"{'figure' if is_figure else 'often'} {rule.key}"
        else:
            value, own = said_of(rule.name, rule.value), said_of(rule.name, rule.own)
            label, key = _WORDS[rule.name][1], _KEYS.get(rule.name, "")
        found.append(ChangeNote(label, value, own, rule.by, rule.at, key))
    return tuple(found)


def differ(judged_by: Iterable[ChangedRule], now_: Iterable[ChangedRule]) -> bool:
    """Whether the rules are no longer those of a verdict."""

    def values(rules: Iterable[ChangedRule]) -> set[tuple[str, str, float | None]]:
        return {(rule.name, rule.key, rule.value) for rule in rules}

    return values(judged_by) != values(now_)


# -- kernels -------------------------------------------------------------------------------
def _field(
    name: str, value: float | None, own: float | None, changed: ChangedRule | None
) -> RuleField:
    group, label, unit, words, source = _WORDS[name]
    whole, low, high, _ = TOLERANCES[name]
    options: tuple[tuple[str, str], ...] = ()
    if name == "leap":
        options = tuple(
            (str(n), f"{interval(n)} ({n} {'semitone' if n == 1 else 'semitones'})")
            for n in range(int(low), int(high) + 1)
        )
    return RuleField(
        name, group, label, unit, words, _as_typed(name, value), _as_typed(name, own),
        said_of(name, own), source, _as_typed(name, low), _as_typed(name, high), whole, options,
        changed,
    )  # fmt: skip


def _material(
    now_: StepSheet, given: StepSheet, changed: Mapping[tuple[str, str], ChangedRule]
) -> list[RuleField]:
    """Figures and outside notes, and how often each has to come."""
    asked = [
        ("figures", rule.tag, f"The {rule.kind} ({rule.tag})", rule.bars)
        for rule in given.done.figures
    ]
    for degree in dict.fromkeys(use.degree for use in given.done.uses):
        uses = [use for use in given.done.uses if use.degree == degree]
        ways = ", ".join(f"{use.before}-{use.degree}-{use.after}" for use in uses)
        asked.append(("uses", degree, f"The {degree}, as in {ways}", uses[0].bars))
    found = []
    for name, key, label, bars in asked:
        value, own = (int(value_of(s.done, name, key) or 0) for s in (now_, given))
        found.append(
            RuleField(
                f"{name} {key}", GROUPS[2], label, f"times in {bars} bars",
                "How often it has to come. 0: it need not.", str(value), str(own),
                f"{times(own)} in {bars} bars", _LICK if own else _MAY_COME, "0", str(MOST_TIMES), True, (),
                changed.get((name, key)),
            )
        )  # fmt: skip
    return found


def _as_typed(name: str, value: float | None) -> str:
    if value is None:
        return ""
    return f"{100 * value:g}" if name in SHARES else f"{value:g}"


def _number(field: RuleField, text: str) -> float | int:
    name = field.name.partition(" ")[0]
    try:
        value = float(text)
    except ValueError as error:
        raise _refused(field, text) from error
    if not float(field.low) <= value <= float(field.high) or (field.whole and value != int(value)):
        raise _refused(field, text)
    if name in SHARES:
        return round(value / 100, 6)
    return int(value) if field.whole else value


def _refused(field: RuleField, text: str) -> OptionError:
    return OptionError(
        f"{text!r:.30} is not accepted", accepted=f"Use {field.accepts}", place=field.label
    )


def _tempo_unit(plan: KeptPlan) -> str:
    return f"{beat_name(plan.sheet.beat)} a minute"
