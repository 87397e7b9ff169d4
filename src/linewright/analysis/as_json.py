"""The Analysis as plain data for ``--json``, the JSON API and anything that reads them.

Fractions are strings ("1/2"), degrees and pitches are their names; the keys are documented in
docs/analysis.md.
"""

from __future__ import annotations

from typing import Any

from linewright.analysis.model import Analysis, OutsideNote, Reading
from linewright.score import Lick, Note
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


def _lick(analysis: Analysis) -> dict[str, Any]:
    lick: Lick = analysis.lick
    tempo = lick.tempo
    return {
        "title": lick.title,
        "meter": lick.meter.text,
        "tempo": _number(tempo.bpm) if tempo else None,
        "tempo_beat": str(tempo.beat) if tempo else None,
        "key": lick.key.name if lick.key else None,
        "pickup": str(lick.pickup),
        "instrument": lick.instrument.name if lick.instrument else None,
        "tuning": lick.instrument.tuning if lick.instrument else None,
        "capo": lick.instrument.capo if lick.instrument else None,
        "style": lick.style,
        "remarks": list(lick.remarks),
        "chords": [
            {
                "onset": str(span.onset),
                "duration": str(span.duration),
                "symbol": span.symbol.text if span.symbol else "N.C.",
            }
            for span in lick.chords
        ],
        "notes": [_note(index, note, analysis) for index, note in enumerate(lick.notes)],
    }


def _number(value: Any) -> int | float:
    return int(value) if value == int(value) else float(value)


def _note(index: int, note: Note, analysis: Analysis) -> dict[str, Any]:
    fact = analysis.notes[index]
    bar = analysis.lick.bar_at(note.onset)
    return {
        "index": index,
        "onset": str(note.onset),
        "duration": str(note.duration),
        "bar": bar.number,
        "pitch": note.pitch.name,
        "midi": note.midi,
        "string": note.string,
        "fret": note.fret,
        "marks": [str(mark) for mark in note.marks],
        "degree": fact.degree.name,
        "chord": fact.chord.text if fact.chord else None,
        "chord_degree": fact.chord_degree.name if fact.chord_degree else None,
        "outside": fact.is_outside,
    }
