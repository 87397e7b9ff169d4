"""The steps laid out over days: new ones one after the other, old ones kept warm, days of rest."""

from __future__ import annotations

from collections.abc import Sequence

from linewright.practice.levels import Level
from linewright.practice.model import Day, Step, Work

__all__ = ["CAUTIONS", "make_schedule"]

#: Common practice; the rest of five minutes in every half hour is what schools of music advise.
CAUTIONS = (
    "Short and often is better than long and seldom: put the instrument down for five minutes"
    " in every half hour.",
    "Begin slowly and with warm hands. Stop at once when something hurts, tingles or goes numb;"
    " do not play through pain.",
    "Keep headphones and backing low: you should hear your own strings over them and still"
    " understand someone who speaks to you.",
    "Your teacher's judgement goes before this plan. With pain that comes back, or ringing ears,"
    " see a clinician.",
)
#: Days of a week without practice.
_REST = frozenset({4, 7})


def make_schedule(steps: Sequence[Step], level: Level, days: int) -> tuple[Day, ...]:
    """Days of work and rest.

    Each step begins after the one before it had its day; with more steps than the days can hold
    (``a_day`` new ones at most), the schedule goes as far as it can and says so.
    """
    rest = _REST if level.name != "fluent" else frozenset({7})
    work_days = [day for day in range(1, days + 1) if (day - 1) % 7 + 1 not in rest]
    last = len(work_days)
    reach = min(len(steps), last * level.a_day)
    made: list[Day] = []
    at = begun = 0
    for day in range(1, days + 1):
        if day not in work_days:
            made.append(Day(day, (), "Rest. Listen to the lick, sing it, leave the hands alone."))
            continue
        at += 1
        upto = max(begun, -(-reach * at // last))
        fresh = list(range(begun + 1, upto + 1)) or [max(1, begun)]
        old = list(range(fresh[0] - 1, 0, -1))[: max(1, level.a_day)]
        begun = upto
        made.append(_day(day, steps, level, fresh, old, upto > fresh[0] - 1, at == last))
    return tuple(made)


def _day(
    number: int, steps: Sequence[Step], level: Level, fresh: list[int], old: list[int],
    has_new: bool, is_last: bool,
) -> Day:  # fmt: skip
    """Two thirds of the time for the day's own steps, a third for those before."""
    chosen = fresh[: level.a_day] if len(fresh) > level.a_day else fresh
    part = level.minutes // 3 if old else 0
    own = max(1, (level.minutes - part) // len(chosen))
    work = [Work(k, max(1, part // len(old)), _tempos(steps[k - 1], True), False) for k in old]
    work += [Work(k, own, _tempos(steps[k - 1], False), has_new) for k in chosen]
    names = " and ".join(f"step {k}" for k in chosen)
    words = f"Warm up with what you know, then {'begin' if has_new else 'stay with'} {names}."
    if old == []:
        words = f"{'Begin' if has_new else 'Stay with'} {names}."
    left = len(steps) - max(chosen)
    if is_last and left > 0:
        words += f" {left} more {'step waits' if left == 1 else 'steps wait'}: go on next time."
    return Day(number, tuple(work), words)


def _tempos(step: Step, is_old: bool) -> tuple[int, int]:
    ladder = step.tempo_ladder
    return (ladder[-2] if is_old and len(ladder) > 1 else ladder[0]), ladder[-1]
