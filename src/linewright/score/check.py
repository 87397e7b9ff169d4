"""Checks of a lick's parts: they return what is wrong rather than raise."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from linewright.errors import MusicError
from linewright.score.instrument import Instrument
from linewright.score.meter import Bar
from linewright.score.note import ChordSpan, Note, bent

__all__ = ["LONGEST", "Problem", "find_problems"]

#: Longest lick in quarters, about ten thousand bars: an absurd length must not be counted through.
LONGEST: Final = 50_000


@dataclass(frozen=True, slots=True)
class Problem:
    """Something contradictory in a lick: a message, the index of the note, if one is at fault, and
    what would be accepted where the message does not say it.
    """

    message: str
    note: int | None = None
    accepted: str | None = None


def find_problems(
    notes: Sequence[Note],
    bars: Sequence[Bar],
    chords: Sequence[ChordSpan],
    instrument: Instrument | None,
) -> list[Problem]:
    """Every contradiction among a lick's parts, in order of kind and place."""
    if not bars:
        return [Problem("a lick needs at least one bar")]
    if bars[-1].end > LONGEST:
        return [
            Problem("the music is far too long", accepted=f"Up to {LONGEST:,} quarters are read")
        ]
    return [
        *_bar_problems(bars),
        *_time_problems(notes, bars[-1].end),
        *_place_problems(notes, instrument),
        *_chord_problems(chords),
    ]


def _bar_problems(bars: Sequence[Bar]) -> list[Problem]:
    found = []
    at = Fraction(0)
    for bar in bars:
        if bar.onset != at or bar.duration <= 0:
            found.append(Problem(f"bar {bar.number} does not begin where the one before it ends"))
        at = bar.end
    return found


def _time_problems(notes: Sequence[Note], end: Fraction) -> list[Problem]:
    found = []
    before: Note | None = None
    before_end = Fraction(0)
    for index, note in enumerate(notes):
        note_end = note.onset + note.duration
        if note_end > end:
            found.append(
                Problem(f"a note ends at {note_end}, past the last bar line at {end}", index)
            )
        if before is not None and not note.onset >= before_end:  # most notes pass here
            together = note.onset == before.onset
            if note.onset < before.onset or (together and note.midi > before.midi):
                found.append(Problem("notes are not in order of time, high before low", index))
            elif together and note.duration != before.duration:
                found.append(Problem("notes struck together last differently", index))
            elif together and note.string is not None and note.string == before.string:
                found.append(Problem(f"two notes at once on string {note.string}", index))
            elif not together:
                found.append(Problem("a note begins while the one before it still sounds", index))
        before, before_end = note, note_end
    return found


def _place_problems(notes: Sequence[Note], instrument: Instrument | None) -> list[Problem]:
    found = []
    for index, note in enumerate(notes):
        if note.string is None or note.fret is None or instrument is None:
            continue
        try:
            sounding = bent(instrument.midi_at(note.string, note.fret), note.bend)
        except MusicError as error:
            found.append(Problem(str(error), index))
            continue
        if note.has("harmonic"):
            continue  # a harmonic sounds a partial of the open string, not the fret
        if sounding != note.midi:
            found.append(
                Problem(
                    f"{note.pitch} does not lie at string {note.string}, fret {note.fret}"
                    f" of the {instrument.name} ({instrument.tuning})",
                    index,
                )
            )
    return found


def _chord_problems(chords: Sequence[ChordSpan]) -> list[Problem]:
    found = []
    at = None
    for span in chords:
        if span.duration <= 0 or (at is not None and span.onset < at):
            found.append(Problem(f"the chord {span.symbol or 'N.C.'} overlaps the one before it"))
        at = span.end
    return found
