"""A plan as text."""

from __future__ import annotations

from collections.abc import Callable

from linewright.practice.model import Day, Plan, Step
from linewright.practice.statement import beat_name
from linewright.score import Lick

__all__ = ["plan_words"]

#: Writes the music of a drill or a line as text.
Music = Callable[[Lick], str]


def plan_words(plan: Plan, music: Music | None = None) -> str:
    """The plan to read: steps in order, the schedule, the cautions.

    Parameters
    ----------
    plan : Plan
    music : callable, optional
        Writes a lick as text (a tab, say); without it only words are given.
    """
    lines = [
        plan.title,
        f"{plan.level}, a {plan.length}; tempos count {beat_name(plan.beat)} a minute",
        "",
        "A step that is not done holds the next one back; your teacher may decide otherwise.",
    ]
    for step in plan.steps:
        lines += ["", *_step(step, music)]
    lines += ["", "Schedule", *(f"  {line}" for day in plan.schedule for line in _day(day))]
    lines += ["", "Take care", *(f"  {caution}" for caution in plan.cautions)]
    return "\n".join(lines)


def _step(step: Step, music: Music | None) -> list[str]:
    lines = [f"Step {step.number}. {step.title}", f"  {step.purpose}"]
    for drill in step.drills:
        lines.append(f"  Drill: {drill.title}. {drill.words}")
        lines += _music(drill.lick, music)
    for number, line in enumerate(step.examples, 1):
        if music is not None:
            lines.append(f"  Example {number}:")
            lines += _music(line.lick, music)
    lines.append(f"  Tempos: {', '.join(map(str, step.tempo_ladder))}")
    lines.append(f"  Done when: {step.done.statement}")
    lines.append("  If it will not come:")
    lines += [f"    {sentence}" for sentence in step.if_not]
    return lines


def _music(lick: Lick, music: Music | None) -> list[str]:
    if music is None:
        return []
    return ["", *(f"    {row}".rstrip() for row in music(lick).strip("\n").split("\n")), ""]


def _day(day: Day) -> list[str]:
    work = "; ".join(
        f"step {w.step}, {w.minutes} min, {w.tempos[0]} to {w.tempos[1]}" for w in day.work
    )
    return [f"Day {day.number}: {day.words}", *([f"  {work}"] if work else [])]
