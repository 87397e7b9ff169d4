"""Slurs in made lines: hammer-ons, pull-offs and slides where the lick has them.

A slur is learned as an outside note's usage is: from one degree to another by the same interval,
on the same part of the beat (on a beat, or between beats), where at least half of the lick's
moves of that kind are slurred. It is written where both notes lie on one string and the hand can
play it: a hammer-on to a higher fret, a pull-off to a lower one, a slide between two stopped ones.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from linewright.analysis import Analysis
from linewright.fretboard import reach_of
from linewright.lines.line import LineNote
from linewright.score import Instrument, Mark, Note

__all__ = ["SLURS", "can_slur", "learned_slurs", "with_slurs"]

#: Marks that this is about.
SLURS: Final = ("hammer-on", "pull-off", "slide")
#: (degree before, degree, rise in semitones, whether on a beat)
Move = tuple[str, str, int, bool]


def learned_slurs(analysis: Analysis) -> dict[Move, str]:
    """The lick's moves that are mostly slurred, and by what."""
    lick = analysis.lick
    moves: Counter[Move] = Counter()
    slurs: dict[Move, Counter[str]] = {}
    for a, b in itertools.pairwise(lick.melody):
        before, note = lick.notes[a], lick.notes[b]
        bar = lick.bar_at(note.onset)
        move = (
            str(analysis.notes[a].degree),
            str(analysis.notes[b].degree),
            note.midi - before.midi,
            bar.meter.beat_at(bar.offset(note.onset))[1] == 0,
        )
        moves[move] += 1
        name = next((mark.name for mark in note.marks if mark.name in SLURS), None)
        if name is not None:
            slurs.setdefault(move, Counter())[name] += 1
    return {
        move: max(sorted(names), key=lambda name: names[name])
        for move, names in slurs.items()
        if 2 * names.total() >= moves[move]
    }


def can_slur(name: str, before: Note, note: Note, instrument: Instrument) -> bool:
    """Whether a slur from one note to the next can be played: one string, frets that allow it."""
    if before.string != note.string or before.fret is None or note.fret is None:
        return False
    if name == "slide":
        return before.fret > 0 and note.fret > 0 and before.fret != note.fret
    rises = note.fret > before.fret
    if rises != (name == "hammer-on") or note.fret == before.fret:
        return False
    stopped = min(before.fret, note.fret) > 0
    return not stopped or abs(note.fret - before.fret) <= reach_of(instrument)


def with_slurs(
    learned: Mapping[Move, str],
    notes: list[Note],
    reasons: Sequence[LineNote],
    melody: Sequence[tuple[int, bool, bool]],
    instrument: Instrument,
) -> list[Note]:
    """The notes of a line with its slurs.

    Parameters
    ----------
    learned : mapping
        As :func:`learned_slurs` gives it.
    notes, reasons
        Of the line.
    melody : sequence of (int, bool, bool)
        For each moment with one note: its index, whether it is on a beat, whether it is kept.
        A kept note keeps its slur only while the note before it allows it.
    """
    found = list(notes)
    for (a, _, kept_before), (b, on_beat, kept) in itertools.pairwise(melody):
        before, note = notes[a], notes[b]
        if kept:
            slur = next((mark for mark in note.marks if mark.kind.joins), None)
            if (
                slur is not None
                and not kept_before
                and (slur.name not in SLURS or not can_slur(slur.name, before, note, instrument))
            ):
                found[b] = replace(note, marks=tuple(m for m in note.marks if m is not slur))
            continue
        if before.end != note.onset:
            continue
        move = (reasons[a].degree, reasons[b].degree, note.midi - before.midi, on_beat)
        name = learned.get(move)
        if name is not None and can_slur(name, before, note, instrument):
            found[b] = replace(note, marks=(*note.marks, Mark(name)))
    return found
