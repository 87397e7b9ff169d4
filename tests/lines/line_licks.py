"""Small licks and the demo licks, for the line maker's tests and benchmarks."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from importlib.resources import files

from linewright.analysis import Analysis, analyze
from linewright.formats import read_bytes
from linewright.fretboard import finger, instrument
from linewright.lines import LineModel, line_model
from linewright.score import ChordSpan, Lick, Meter, Note, bars_for
from linewright.theory import ChordSymbol, Key, Pitch


@cache
def demo_names() -> tuple[str, ...]:
    folder = files("linewright.services") / "demo"
    return tuple(sorted(f.name for f in folder.iterdir() if f.name.endswith(".tab")))


@cache
def demo(name: str) -> tuple[Analysis, LineModel]:
    """The demo lick whose file name holds ``name``, and its model."""
    found = next(n for n in demo_names() if name in n)
    data = (files("linewright.services") / "demo" / found).read_bytes()
    analysis = analyze(read_bytes(data, found))
    return analysis, line_model(analysis)


def lick(
    text: str, *, chords: str = "", key: str = "C", meter: str = "4/4", step: str = "1/2"
) -> Lick:
    """Even notes from pitch names (``r`` rests, ``:n`` a length) on a guitar; chords share the time."""
    at = Fraction(0)
    notes = []
    for word in text.split():
        name, _, length = word.partition(":")
        duration = Fraction(length or step)
        if name != "r":
            notes.append(Note(at, duration, Pitch.parse(name)))
        at += duration
    bars = bars_for(Meter.parse(meter), at, key=Key.parse(key))
    symbols = chords.split()
    share = bars[-1].end / len(symbols) if symbols else Fraction(0)
    spans = tuple(ChordSpan(i * share, share, ChordSymbol.parse(s)) for i, s in enumerate(symbols))
    return finger(Lick(tuple(notes), bars, spans, title="Small lick"), instrument("guitar"))


#: A sequence (three notes up, begun a step higher each time), a run, and a b5 passing down.
SMALL = "G3 Bb3 C4 Bb3 C4 D4 C4 D4 F4 D4 Db4 C4 Bb3 C4 Db4 C4 Bb3 G3"


@cache
def small(
    text: str = SMALL, key: str = "Gm", chords: str = "G7 C7", meter: str = "2/4"
) -> tuple[Analysis, LineModel]:
    analysis = analyze(lick(text, key=key, chords=chords, meter=meter))
    return analysis, line_model(analysis)
