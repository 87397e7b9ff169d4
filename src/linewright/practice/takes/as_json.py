"""A verdict as JSON values; the keys are documented in docs/takes.md."""

from __future__ import annotations

from typing import Any

from linewright.practice.takes.model import PlacedNote, Take, Verdict
from linewright.score import note_outline, outline

__all__ = ["verdict_to_dict"]


def verdict_to_dict(verdict: Verdict) -> dict[str, Any]:
    """Everything a verdict says, the take as a lick included."""
    take = verdict.take
    timing = take.timing
    return {
        "passed": verdict.passed,
        "words": verdict.words,
        "work_on": verdict.work_on,
        "suggestion": verdict.suggestion,
        "bpm": float(take.bpm),
        "timing": {
            "mean_ms": round(timing.mean_ms, 2) if timing.is_placed else None,
            "spread_ms": round(timing.spread_ms, 2),
            "drift_ms": round(timing.drift_ms, 2),
            "swing": round(timing.swing, 3) if timing.swing is not None else None,
            "kept_bpm": round(timing.bpm, 2),
            "placed": timing.is_placed,
            "measured": timing.count,
        },
        "rules": [rule.to_dict() for rule in verdict.rules],
        "wrong": list(verdict.wrong),
        "doubtful": list(verdict.doubtful),
        "take": {
            **outline(take.lick),
            "notes": [_note(take, index, note) for index, note in enumerate(take.notes)],
        },
    }


def _note(take: Take, index: int, note: PlacedNote) -> dict[str, Any]:
    return {
        **note_outline(take.lick, index),
        "onset_s": round(note.heard.onset_s, 4),
        "late_ms": round(note.late_ms, 1),
        "cents": round(note.heard.cents, 1),
        "confidence": round(note.heard.confidence, 3),
        "off_grid": note.off_grid,
    }
