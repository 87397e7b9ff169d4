"""Analysis of a 2-bar and a 4-bar lick, against music21's key analysis on the same notes."""

from __future__ import annotations

import time
from collections.abc import Callable
from fractions import Fraction
from statistics import median

from linewright.analysis import analyze
from linewright.analysis.as_json import analysis_to_dict
from linewright.fretboard import finger, instrument
from linewright.score import ChordSpan, Lick, Meter, Note, bars_for
from linewright.theory import ChordSymbol, Key, Pitch

TWO_BARS = "G4 Bb4 C5 Db5 C5 Bb4 G4 F4 D4 F4 G4 Bb4 C5 Bb4 G4 F4"
FOUR_BARS = TWO_BARS + " D4 F4 A4 C5 B4 A4 G4 F4 E4 G4 B4 D5 C5 Bb4 A4 G4"


def lick(text: str) -> Lick:
    """Even eighths from pitch names, in G, on a guitar, over G7."""
    half = Fraction(1, 2)
    notes = tuple(Note(i * half, half, Pitch.parse(p)) for i, p in enumerate(text.split()))
    length = half * len(notes)
    chord = ChordSpan(Fraction(0), length, ChordSymbol.parse("G7"))
    made = Lick(notes, bars_for(Meter(4, 4), length, key=Key.parse("G")), (chord,))
    return finger(made, instrument("guitar"))


def milliseconds(call: Callable[[], object], repeats: int) -> float:
    """Median wall time of a call in milliseconds, after one warm-up."""
    call()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        times.append((time.perf_counter() - start) * 1000)
    return median(times)


def run() -> list[tuple[str, float | None, float | None, float | None, str]]:
    """Rows of (what, ours, reference, ratio, target)."""
    import music21

    two, four = lick(TWO_BARS), lick(FOUR_BARS)
    stream = music21.stream.Stream()
    for note in two.notes:
        stream.append(music21.note.Note(note.midi, quarterLength=note.duration))
    ours = milliseconds(lambda: analyze(two), 50)
    whole = milliseconds(lambda: analysis_to_dict(analyze(two)), 30)
    theirs = milliseconds(lambda: stream.analyze("key"), 10)
    full = milliseconds(lambda: analysis_to_dict(analyze(four)), 30)
    return [
        (
            "analysis of a 2-bar lick (ms) / music21 key analysis",
            ours,
            theirs,
            theirs / ours,
            "< 5 ms, >= 50 x",
        ),
        ("the same with figures, rhythm, chords, hand, as JSON (ms)", whole, None, None, ""),
        ("full analysis of a 4-bar lick as JSON (ms)", full, None, None, "< 20 ms"),
    ]
