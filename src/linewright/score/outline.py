"""A lick's plain facts as JSON values: what analysis, lines and plans all print of it.

Not a file format (see formats/lickjson.py): fractions are strings, names are for reading.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from linewright.score.lick import Lick

__all__ = ["note_outline", "outline"]


def outline(lick: Lick) -> dict[str, Any]:
    """Title, meter, tempo, key, instrument and chords of a lick; its notes are apart."""
    tempo, instrument = lick.tempo, lick.instrument
    return {
        "title": lick.title,
        "meter": lick.meter.text,
        "tempo": _number(tempo.bpm) if tempo else None,
        "tempo_beat": str(tempo.beat) if tempo else None,
        "key": lick.key.name if lick.key else None,
        "instrument": instrument.name if instrument else None,
        "tuning": instrument.tuning if instrument else None,
        "capo": instrument.capo if instrument else None,
        "swing": str(lick.swing) if lick.swing is not None else None,
        "bars": len(lick.bars),
        "chords": [
            {
                "onset": str(span.onset),
                "duration": str(span.duration),
                "symbol": span.symbol.text if span.symbol else "N.C.",
            }
            for span in lick.chords
        ],
    }


def note_outline(lick: Lick, index: int) -> dict[str, Any]:
    """One note: time, bar, pitch, place and marks."""
    note = lick.notes[index]
    return {
        "index": index,
        "onset": str(note.onset),
        "duration": str(note.duration),
        "bar": lick.bars[lick.grid.bars[index]].number,
        "pitch": note.pitch.name,
        "midi": note.midi,
        "string": note.string,
        "fret": note.fret,
        "marks": [str(mark) for mark in note.marks],
    }


def _number(value: Fraction) -> int | float:
    return int(value) if value == int(value) else float(value)
