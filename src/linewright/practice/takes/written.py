"""A take written down: a lick of its own, with string and fret, under the chords it was played
over.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Final

from linewright.analysis import analyze
from linewright.errors import MusicError, TakeError
from linewright.fretboard import finger
from linewright.practice.takes.model import Ground, PlacedNote, Take, Terms
from linewright.practice.takes.place import place_notes
from linewright.score import ChordSpan, Lick, Note, PlayedNote, Tempo, bars_for
from linewright.theory import spell_midi

__all__ = ["MOST_GAP", "write_down"]

#: Quarters from one onset to the next after which a player has stopped (ours: a half note, so
#: that a phrase may breathe).
MOST_GAP: Final = Fraction(2)
_LEAST_REST: Final = Fraction(1)  # a shorter hole is a detached note, not a rest
_MOST_NOTES: Final = 20_000


def write_down(
    heard: Sequence[PlayedNote], terms: Terms, bpm: Fraction | int, start_s: float | None = None
) -> Take:
    """Place what was heard on the grid and write it as a lick.

    Parameters
    ----------
    heard : sequence of PlayedNote
    terms : Terms
    bpm : Fraction or int
        Tempo of the click, in the step's beat.
    start_s : float, optional
        Where beat 1 of bar 1 falls in the recording, the recording's delay included; notes up
        to an eighth before it belong to bar 1.

    Raises
    ------
    TakeError
        When nothing can be placed: no notes, or none after the count-in.
    """
    ground = terms.ground
    quarter_bpm = Fraction(bpm) * ground.beat
    first = start_s - float(30 / quarter_bpm) if start_s is not None else 0.0
    ordered = sorted(
        (note for note in heard if note.onset_s >= first), key=lambda note: note.onset_s
    )
    if not ordered:
        raise TakeError(
            "no notes were heard" if not heard else "no notes were heard after the count-in",
            accepted="Play one note at a time, close to the microphone, and record again",
        )
    if len(ordered) > _MOST_NOTES:
        raise TakeError(f"{len(ordered)} notes are too many for one take", accepted="Ten minutes")
    placed, timing = place_notes(ordered, ground, quarter_bpm, start_s)
    # Bars count from the click; a take that begins later begins with a rest.
    placed = tuple(note for note in placed if note.onset >= 0)
    if not placed:
        raise TakeError("no notes were heard after the count-in", accepted="Begin after the click")
    lick = _lick(placed, terms, quarter_bpm)
    return Take(placed, lick, timing, _flow(placed, lick), Fraction(bpm))


def _lick(placed: Sequence[PlacedNote], terms: Terms, quarter_bpm: Fraction) -> Lick:
    ground = terms.ground
    notes = []
    for note, after in itertools.zip_longest(placed, placed[1:]):
        ends = _end(note, ground.unit, quarter_bpm)
        if after is not None:
            ends = after.onset if after.onset - ends < _LEAST_REST else ends
            ends = min(ends, after.onset)
        notes.append(Note(note.onset, ends - note.onset, spell_midi(note.heard.midi)))
    last = notes[-1].end
    size = ground.meter.length
    length = -(-last // size) * size
    raw = Lick(
        tuple(notes),
        bars_for(ground.meter, length, key=terms.analysis.lick.key),
        _round(ground, length),
        title="Take",
        tempo=Tempo(quarter_bpm / ground.beat, ground.beat),
        swing=ground.swing,
        spelled=False,
    )
    spelled = analyze(raw, tonic=terms.analysis.tonic).lick
    return _placed(spelled, terms)


def _end(note: PlacedNote, unit: Fraction, quarter_bpm: Fraction) -> Fraction:
    held = Fraction(note.heard.offset_s - note.heard.onset_s).limit_denominator(10_000)
    slots = max(1, round(held * quarter_bpm / 60 / unit))
    return note.onset + slots * unit


def _placed(lick: Lick, terms: Terms) -> Lick:
    """With strings and frets where the step has them, for a recording does not tell and the player
    reads the step; the others near those. As it was heard where the instrument has not
    every note.
    """
    places = {midi: (string, fret) for midi, string, fret in terms.places}
    notes = tuple(
        replace(note, string=places[note.midi][0], fret=places[note.midi][1])
        if note.midi in places else note
        for note in lick.notes
    )  # fmt: skip
    try:
        return finger(replace(lick, notes=notes), terms.analysis.lick.instrument)
    except MusicError:
        return replace(lick, instrument=None)


def _round(ground: Ground, length: Fraction) -> tuple[ChordSpan, ...]:
    """The round of chords, as often as the take lasts."""
    spans: list[ChordSpan] = []
    for turn in itertools.count():
        start = turn * ground.length
        if start >= length or not ground.chords:
            return tuple(spans)
        for span in ground.chords:
            if start + span.onset < length:
                end = min(start + span.end, length)
                spans.append(ChordSpan(start + span.onset, end - start - span.onset, span.symbol))
    return tuple(spans)


def _flow(placed: Sequence[PlacedNote], lick: Lick) -> tuple[Fraction, Fraction]:
    """The longest stretch in which no onset is more than a breath from the one before."""
    best = (Fraction(0), Fraction(0))
    start = placed[0].onset
    for k, note in enumerate(placed):
        is_last = k + 1 == len(placed)
        if is_last or placed[k + 1].onset - note.onset > MOST_GAP:
            end = min(lick.notes[k].end, note.onset + MOST_GAP)
            if end - start > best[1] - best[0]:
                best = (start, end)
            if not is_last:
                start = placed[k + 1].onset
    return best
