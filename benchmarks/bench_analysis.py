"""Speed of the analysis: one lick against music21's key analysis, a whole collection, long music.

Every call gets a lick it has never seen (equal notes, another object), so that nothing worked out
for one call is there for the next; only tables of music theory are warm. music21 analyses one
stream again and again.
"""

from __future__ import annotations

import math
import random
import time
from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import partial
from statistics import fmean, median

from benchmarks.abc_agreement import corpus
from linewright.analysis import analyze
from linewright.analysis.as_json import analysis_to_dict
from linewright.errors import ChoiceNeeded
from linewright.formats.abc import decode, read_abc, split_book
from linewright.fretboard import finger, instrument
from linewright.score import ChordSpan, Lick, Meter, Note, bars_for, bars_from_lengths
from linewright.theory import ChordSymbol, Key, Pitch

TWO_BARS = "G4 Bb4 C5 Db5 C5 Bb4 G4 F4 D4 F4 G4 Bb4 C5 Bb4 G4 F4"
FOUR_BARS = TWO_BARS + " D4 F4 A4 C5 B4 A4 G4 F4 E4 G4 B4 D5 C5 Bb4 A4 G4"
#: Numbers of notes whose cost is fitted.
LENGTHS = (625, 1250, 2500, 5000, 10000)


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


def fresh(example: Lick, call: Callable[[Lick], object], repeats: int) -> float:
    """:func:`milliseconds` of a call that is given a new lick each time."""
    made = iter([example.with_() for _ in range(repeats + 1)])
    return milliseconds(lambda: call(next(made)), repeats)


def argued(one: Lick) -> tuple[str, list[str]]:
    """The verdict and the reason of every reading."""
    found = analyze(one)
    return found.verdict, [reading.reason for reading in found.readings]


def in_full(*licks: Lick) -> int:
    """Everything the analysis says of some licks, as JSON-ready data; how many they are."""
    return len([analysis_to_dict(analyze(one)) for one in licks])


def tunes() -> list[Lick]:
    """Ryan's Mammoth Collection, repeats taken once."""
    found = []
    for path in sorted((corpus() / "ryansMammoth").glob("*.abc")):
        for tune in split_book(decode(path.read_bytes())):
            try:
                found.append(read_abc(tune.text))
            except ChoiceNeeded as choice:
                found.append(read_abc(tune.text, voice=choice.options[0]))
    return found


def medley(parts: Sequence[Lick], count: int) -> Lick:
    """Tunes end to end, cut at so many notes."""
    notes: list[Note] = []
    bars = []
    start = Fraction(0)
    for part in parts:
        notes += [Note(start + note.onset, note.duration, note.pitch) for note in part.notes]
        bars += [(bar.duration, bar.meter, bar.key) for bar in part.bars]
        start += part.length
        if len(notes) >= count:
            return Lick(tuple(notes[:count]), bars_from_lengths(bars))
    raise ValueError(f"the collection has no {count} notes")


def exponent(sizes: Sequence[float], costs: Sequence[float]) -> float:
    """Slope of log cost over log size, by least squares."""
    x, y = [math.log(size) for size in sizes], [math.log(cost) for cost in costs]
    mid_x, mid_y = fmean(x), fmean(y)
    return sum((a - mid_x) * (b - mid_y) for a, b in zip(x, y, strict=True)) / sum(
        (a - mid_x) ** 2 for a in x
    )


def processor_seconds(call: Callable[[], object]) -> float:
    """Processor time of one call in seconds."""
    start = time.process_time()
    call()
    return time.process_time() - start


def run() -> list[tuple[str, float | None, float | None, float | None, str]]:
    """Rows of (what, ours, reference, ratio, target)."""
    import music21

    two, four = lick(TWO_BARS), lick(FOUR_BARS)
    stream = music21.stream.Stream()
    for note in two.notes:
        stream.append(music21.note.Note(note.midi, quarterLength=note.duration))
    ours = fresh(two, analyze, 200)
    theirs = milliseconds(lambda: stream.analyze("key"), 30)
    reasons = fresh(two, argued, 100)
    whole = fresh(two, in_full, 30)
    full = fresh(four, in_full, 30)

    collection = tunes()
    seconds = processor_seconds(partial(in_full, *collection))
    random.Random(1882).shuffle(collection)
    costs = [processor_seconds(partial(in_full, medley(collection, n))) for n in LENGTHS]
    growth = exponent(LENGTHS, costs)
    n_log_n = exponent(LENGTHS, [n * math.log(n) for n in LENGTHS])
    return [
        (
            "2-bar lick: frame, degrees, outside notes (ms) / music21 key",
            ours,
            theirs,
            theirs / ours,
            "< 5 ms, >= 50 x",
        ),
        ("the same with the reasons of all readings (ms)", reasons, theirs, theirs / reasons, ""),
        ("the same with figures, rhythm, chords, hand, as JSON (ms)", whole, None, None, ""),
        ("full analysis of a 4-bar lick as JSON (ms)", full, None, None, "< 20 ms"),
        (
            f"full analysis of {len(collection)} tunes, Ryan's Mammoth (s)",
            seconds,
            None,
            None,
            "< 60 s on one core",
        ),
        (
            f"exponent of cost, {LENGTHS[0]} to {LENGTHS[-1]} notes / of n log n",
            growth,
            n_log_n,
            None,
            "no more than n log n",
        ),
    ]
