"""Short phrases written as words, for tests: ``G4 Bb4:1 r:1/2``."""

from __future__ import annotations

from fractions import Fraction

from linewright.score import ChordSpan, Lick, Meter, Note, bars_for
from linewright.theory import ChordSymbol, Key, Pitch


def phrase(
    text: str,
    *,
    chords: str = "",
    key: str | None = None,
    meter: str = "4/4",
    step: str = "1/2",
    spelled: bool = True,
) -> Lick:
    """A lick from ``pitch[:quarters]`` words; ``r`` rests; ``chords`` share the time equally."""
    at = Fraction(0)
    notes = []
    for word in text.split():
        name, _, length = word.partition(":")
        duration = Fraction(length or step)
        if name != "r":
            notes.append(Note(at, duration, Pitch.parse(name)))
        at += duration
    bars = bars_for(Meter.parse(meter), at, key=Key.parse(key) if key else None)
    symbols = chords.split()
    share = bars[-1].end / len(symbols) if symbols else Fraction(0)
    spans = tuple(
        ChordSpan(i * share, share, ChordSymbol.parse(symbol)) for i, symbol in enumerate(symbols)
    )
    return Lick(tuple(notes), bars, spans, spelled=spelled)
