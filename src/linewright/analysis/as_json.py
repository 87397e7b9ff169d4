"""The Analysis as plain data for ``--json``, the JSON API and anything that reads them.

Fractions are strings ("1/2"), degrees and pitches are their names; the keys are documented in
docs/analysis.md.
"""

from __future__ import annotations

from typing import Any

from linewright.analysis.facts import OutsideNote
from linewright.analysis.hand import Hand
from linewright.analysis.harmony import Harmony
from linewright.analysis.model import Analysis
from linewright.analysis.readings import Reading
from linewright.analysis.rhythm import Rhythm
from linewright.analysis.spans import Span
from linewright.analysis.usage import Usage
from linewright.score import note_outline, outline
from linewright.theory import Frame

__all__ = ["analysis_to_dict"]


def analysis_to_dict(analysis: Analysis) -> dict[str, Any]:
    """The whole analysis as JSON-ready data."""
    return {
        "tonic": analysis.tonic.name,
        "tonic_source": analysis.tonic_source,
        "tonic_reason": analysis.tonic_reason,
        "frame": _frame(analysis.frame),
        "colour": analysis.colour.name if analysis.colour else None,
        "frame_name": analysis.frame_name,
        "verdict": analysis.verdict,
        "readings": [_reading(r) for r in analysis.readings],
        "outside_notes": [_outside(n) for n in analysis.outside_notes],
        "figures": [figure.to_dict() for figure in analysis.figures],
        "motion": analysis.motion.to_dict(),
        "spans": [_span(span) for span in analysis.spans],
        "usage": [_usage(usage) for usage in analysis.usage],
        "rhythm": _rhythm(analysis.rhythm),
        "harmony": _harmony(analysis.harmony),
        "hand": _hand(analysis.hand),
        "lick": _lick(analysis),
    }


def _frame(frame: Frame | None) -> dict[str, Any] | None:
    if frame is None:
        return None
    return {
        "tonic": frame.tonic.name,
        "name": frame.collection.name,
        "degrees": [d.name for d in frame.collection.degrees],
        "notes": list(frame.names),
    }


def _reading(reading: Reading) -> dict[str, Any]:
    return {
        "tonic": reading.frame.tonic.name,
        "name": reading.frame.collection.name,
        "verdict": reading.verdict,
        "reason": reading.reason,
        "heard": [d.name for d in reading.heard],
        "unheard": [d.name for d in reading.unheard],
        "outside": list(reading.outside),
        "score": reading.score,
    }


def _outside(note: OutsideNote) -> dict[str, Any]:
    return {
        "index": note.index,
        "degree": note.degree.name,
        "chord_degree": note.chord_degree.name if note.chord_degree else None,
        "function": note.function,
        "reason": note.reason,
        "weight": round(note.weight, 4),
    }


def _span(span: Span) -> dict[str, Any]:
    return {
        "first": span.first,
        "last": span.last,
        "frame": _frame(span.frame),
        "chord": span.chord.text if span.chord else None,
    }


def _usage(usage: Usage) -> dict[str, Any]:
    return {
        "degree": usage.degree.name,
        "notes": list(usage.notes),
        "before": dict(usage.before),
        "after": dict(usage.after),
        "on_beat": usage.on_beat,
        "off_beat": usage.off_beat,
        "same_string": usage.same_string,
        "joined": usage.joined,
        "facts": list(usage.facts),
    }


def _rhythm(rhythm: Rhythm) -> dict[str, Any]:
    return {
        "subdivision": rhythm.subdivision,
        "common": str(rhythm.common),
        "steadiness": round(rhythm.steadiness, 3),
        "is_stream": rhythm.is_stream,
        "density": round(rhythm.density, 3),
        "rests": rhythm.rests,
        "syncopation": rhythm.syncopation,
        "syncopated": list(rhythm.syncopated),
        "heard": list(rhythm.heard),
        "swing": str(rhythm.swing) if rhythm.swing is not None else None,
        "cells": [
            {"lengths": [str(x) for x in cell.lengths], "onsets": [str(x) for x in cell.onsets]}
            for cell in rhythm.cells
        ],
        "displaced": [
            {"bar": early, "again": late, "by": str(move)} for early, late, move in rhythm.displaced
        ],
    }


def _harmony(harmony: Harmony) -> dict[str, Any]:
    return {
        "relations": [
            {"index": r.index, "chord": r.chord.text, "role": r.role, "name": r.name}
            for r in harmony.relations
        ],
        "changes": [
            {
                "before": c.before.text,
                "after": c.after.text,
                "last": c.last,
                "first": c.first,
                "semitones": c.semitones,
                "lands": c.lands,
                "role": c.role,
                "held": c.held,
            }
            for c in harmony.changes
        ],
        "chord_tones": _share(harmony.chord_tones),
        "strong_chord_tones": _share(harmony.strong_chord_tones),
    }


def _share(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def _hand(hand: Hand | None) -> dict[str, Any] | None:
    if hand is None:
        return None
    return {
        "windows": [{"first": w.first, "last": w.last, "fret": w.fret} for w in hand.windows],
        "open_strings": hand.open_strings,
        "lowest_fret": hand.lowest_fret,
        "highest_fret": hand.highest_fret,
        "strokes": list(hand.strokes),
        "crossings": [{"note": c.note, "strings": c.strings, "way": c.way} for c in hand.crossings],
        "marks": dict(hand.marks),
        "hardest": hand.hardest,
        "why": hand.why,
        "seconds": _share(hand.seconds),
    }


def _lick(analysis: Analysis) -> dict[str, Any]:
    lick = analysis.lick
    return {
        **outline(lick),
        "pickup": str(lick.pickup),
        "style": lick.style,
        "remarks": list(lick.remarks),
        "notes": [_note(index, analysis) for index in range(len(lick.notes))],
    }


def _note(index: int, analysis: Analysis) -> dict[str, Any]:
    fact = analysis.notes[index]
    return {
        **note_outline(analysis.lick, index),
        "degree": fact.degree.name,
        "chord": fact.chord.text if fact.chord else None,
        "chord_degree": fact.chord_degree.name if fact.chord_degree else None,
        "outside": fact.is_outside,
    }
