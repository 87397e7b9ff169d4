"""A plan as JSON values; the keys are documented in docs/plan.md."""

from __future__ import annotations

from typing import Any

from linewright.practice.model import Day, Done, Drill, Plan, Step
from linewright.score import Lick, note_outline, outline

__all__ = ["day_to_dict", "done_to_dict", "plan_to_dict"]


def plan_to_dict(plan: Plan) -> dict[str, Any]:
    """The whole plan: steps with drills, examples and rules, the schedule, the cautions."""
    return {
        "title": plan.title,
        "level": plan.level,
        "length": plan.length,
        "seed": plan.seed,
        "beat": str(plan.beat),
        "steps": [_step(step) for step in plan.steps],
        "schedule": [day_to_dict(day) for day in plan.schedule],
        "cautions": list(plan.cautions),
    }


def _step(step: Step) -> dict[str, Any]:
    return {
        "number": step.number,
        "key": step.key,
        "title": step.title,
        "purpose": step.purpose,
        "drills": [_drill(drill) for drill in step.drills],
        "examples": [line.to_dict() for line in step.examples],
        "tempo_ladder": list(step.tempo_ladder),
        "done": done_to_dict(step.done),
        "if_not": list(step.if_not),
    }


def _drill(drill: Drill) -> dict[str, Any]:
    return {"title": drill.title, "words": drill.words, "lick": _lick(drill.lick)}


def _lick(lick: Lick) -> dict[str, Any]:
    """The keys of a line, without its reasons."""
    notes = [note_outline(lick, index) for index in range(len(lick.notes))]
    return {**outline(lick), "notes": notes}


def done_to_dict(done: Done) -> dict[str, Any]:
    """What counts as done."""
    return {
        "statement": done.statement,
        "bpm": done.bpm,
        "bars": done.bars,
        "takes": done.takes,
        "mean_ms": done.mean_ms,
        "spread_ms": done.spread_ms,
        "timing_source": done.timing_source,
        "only": [
            {"over": item.over, "tonic": item.tonic, "degrees": list(item.degrees)}
            for item in done.only
        ],
        "leap": done.leap,
        "figures": [
            {"tag": rule.tag, "kind": rule.kind, "times": rule.times, "bars": rule.bars}
            for rule in done.figures
        ],
        "uses": [
            {
                "degree": rule.degree, "before": rule.before, "after": rule.after,
                "rise_in": rule.rise_in, "rise_out": rule.rise_out, "on_beat": rule.on_beat,
                "over": rule.over, "times": rule.times, "bars": rule.bars,
            }
            for rule in done.uses
        ],
        "chord_tones": done.chord_tones,
        "slips": done.slips,
        "alike": done.alike,
        "quoted": done.quoted,
    }  # fmt: skip


def day_to_dict(day: Day) -> dict[str, Any]:
    """A day of the schedule."""
    return {
        "day": day.number,
        "rest": day.is_rest,
        "words": day.words,
        "work": [
            {
                "step": work.step, "minutes": work.minutes, "from_bpm": work.tempos[0],
                "to_bpm": work.tempos[1], "new": work.is_new,
            }
            for work in day.work
        ],
    }  # fmt: skip
