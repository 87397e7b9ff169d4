"""Planted figures: are the cells found that were put there, and none where there are none?

Run ``python -m benchmarks.planted_figures [phrases per setting] [seed]``.

1. Cells of 4 to 8 notes are planted two to five times in random phrases, moved by frame steps,
   changed and with other notes between, and what is found is scored with mir_eval.pattern
   (the MIREX measures of discovered themes: establishment, occurrence at .75 and .5, and
   three-layer F1). Beside it stands our own plain COSIATEC (:mod:`benchmarks.cosiatec`) on the
   same notes, on semitones and on frame steps, with patterns of at least 2, 3 or 4 notes; the
   best of those six in each cell is the figure to beat.
2. Phrases without a plan (random walks with several habits, notes drawn at random; even,
   free, cell-wise and periodic rhythms; 6 to 64 notes) must have no figure in 95 %.
3. Speed, and the exponent of its growth up to 10,000 notes.
"""

from __future__ import annotations

import math
import random
import sys
import time
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

import mir_eval
import numpy as np

from benchmarks.cosiatec import cosiatec
from linewright.analysis.figures import find_figures
from linewright.analysis.figures.views import frame_steps
from linewright.score import Lick, Meter, Note, bars_for
from linewright.theory import Frame, PitchClass, collection, spell_midi

F = Fraction
FRAMES = ("minor pentatonic", "major pentatonic", "major", "dorian", "mixolydian", "harmonic minor")
Patterns = list[list[list[tuple[float, int]]]]
MEASURES = ("establishment", "occurrence .75", "occurrence .5", "three-layer")
#: size of move 0..5 in frame steps, chance of keeping the direction after a step
HABITS = {
    "plain walk": ((0.10, 0.52, 0.20, 0.09, 0.05, 0.04), 0.50),
    "walk with inertia": ((0.08, 0.58, 0.20, 0.07, 0.04, 0.03), 0.65),
    "all steps": ((0.10, 0.80, 0.10, 0.00, 0.00, 0.00), 0.50),
    "leaping": ((0.05, 0.30, 0.25, 0.20, 0.10, 0.10), 0.45),
    "notes at random": None,
}
RHYTHMS = ("even", "free", "cells", "periodic")
LENGTHS = (6, 8, 12, 16, 24, 32, 48, 64)


# -- phrases -------------------------------------------------------------------------------
def lick_from(steps: list[int], durations: list[Fraction], frame: Frame) -> Lick:
    """A lick whose notes are frame steps above the tonic below middle C."""
    ladder = frame.collection.semitones
    notes, at = [], F(0)
    for step, duration in zip(steps, durations, strict=True):
        octave, rung = divmod(step, len(ladder))
        midi = 48 + frame.tonic.number + 12 * octave + ladder[rung]
        notes.append(Note(at, duration, spell_midi(midi, frame.tonic.fifths)))
        at += duration
    return Lick(tuple(notes), bars_for(Meter.parse("4/4"), at))


def walk(rng: random.Random, count: int, habit: str = "plain walk", top: int = 12) -> list[int]:
    """A random walk over frame steps 0 to ``top``."""
    kept = HABITS[habit]
    if kept is None:
        return [rng.randint(0, top) for _ in range(count)]
    sizes, inertia = kept
    out, way, size = [rng.randint(0, top)], rng.choice((-1, 1)), 1
    while len(out) < count:
        keep = inertia if size <= 1 else 0.35
        size = rng.choices(range(6), sizes)[0]
        way = way if rng.random() < keep else -way
        if not 0 <= out[-1] + way * size <= top:
            way = -way
        out.append(min(top, max(0, out[-1] + way * size)))
    return out


def rhythm(rng: random.Random, count: int, kind: str) -> list[Fraction]:
    """Durations in quarters."""
    if kind == "even":
        return [F(1, 2)] * count
    if kind == "free":
        return [rng.choices((F(1, 4), F(1, 2), F(1)), (3, 5, 2))[0] for _ in range(count)]
    cells = [(4,), (2, 2), (1, 1, 2), (2, 1, 1), (3, 1), (1, 1, 1, 1)]
    if kind == "periodic":
        cells = [rng.choice(((2, 1, 1), (3, 1), (2, 2, 1, 1, 2), (4, 2, 2)))]
    out: list[Fraction] = []
    while len(out) < count:
        out += [F(part, 4) for part in rng.choice(cells)]
    return out[:count]


@dataclass(frozen=True)
class Setting:
    """How cells are planted: moves in frame steps, share of changed copies, notes between."""

    name: str
    shifts: tuple[int, ...]
    changed: float
    new_rhythm: float
    between: tuple[int, int]


SETTINGS = (
    Setting("repeated", (0,), 0.0, 0.0, (2, 7)),
    Setting("moved", (-3, -2, -1, 0, 1, 2, 3), 0.0, 0.0, (2, 7)),
    Setting("in a row", (-1, 1, -2, 2), 0.0, 0.0, (0, 0)),
    Setting("varied", (0, 0, -2, -1, 1, 2), 0.4, 0.0, (2, 7)),
    Setting("noisy", (0, 0, -2, -1, 1, 2), 0.4, 0.25, (3, 9)),
)


def planted(rng: random.Random, setting: Setting) -> tuple[Lick, Frame, Patterns]:
    """A phrase with one or two planted cells, and where they stand."""
    frame = Frame(PitchClass(rng.choice("CDFGA")), collection(rng.choice(FRAMES)))
    style = rng.choice(RHYTHMS)
    steps: list[int] = walk(rng, rng.randint(0, 5)) if rng.random() < 0.7 else []
    times = rhythm(rng, len(steps), style)
    spans: list[list[tuple[int, int]]] = []
    for _ in range(rng.choice((1, 1, 2))):
        length = rng.randint(4, 8)
        cell = [s + 3 for s in walk(rng, length, rng.choice(("plain walk", "leaping")), 8)]
        beat = rhythm(rng, length, style)
        shift, where = 0, []
        steady = rng.choice([s for s in setting.shifts if s] or [0])
        for copy in range(rng.randint(2, 5)):
            if copy:
                shift += steady if setting.between == (0, 0) else 0
                shift = shift if setting.between == (0, 0) else rng.choice(setting.shifts)
            notes = [s + shift for s in cell]
            own = list(beat)
            if copy and rng.random() < setting.changed:
                place = rng.choice((length - 1, rng.randrange(1, length)))
                notes[place] += rng.choice((-2, -1, 1, 2))
            if copy and rng.random() < setting.new_rhythm:
                own = rhythm(rng, length, "free")
            where.append((len(steps), len(steps) + length))
            steps += notes
            times += own
            gap = rng.randint(*setting.between)
            if gap:
                steps += walk(rng, gap)
                times += rhythm(rng, gap, style)
        spans.append(where)
        tail = rng.randint(1, 4)
        steps += walk(rng, tail)
        times += rhythm(rng, tail, style)
    low = min(steps)
    lick = lick_from([s - low for s in steps], times, frame)
    return lick, frame, [[occurrence(lick, a, b) for a, b in where] for where in spans]


def occurrence(lick: Lick, first: int, end: int) -> list[tuple[float, int]]:
    return [(float(note.onset), note.midi) for note in lick.notes[first:end]]


# -- finders -------------------------------------------------------------------------------
def ours(lick: Lick, frame: Frame) -> Patterns:
    return [
        [occurrence(lick, a, b + 1) for a, b in figure.occurrences]
        for figure in find_figures(lick, frame)
        if len(figure.occurrences) > 1
    ]


def reference(pitch: str, smallest: int) -> Callable[[Lick, Frame], Patterns]:
    def find(lick: Lick, frame: Frame) -> Patterns:
        return [tec for tec in all_classes(lick, frame, pitch) if len(tec[0]) >= smallest]

    return find


@cache
def all_classes(lick: Lick, frame: Frame, pitch: str) -> Patterns:
    midi = [note.midi for note in lick.notes]
    rows = midi if pitch == "semitones" else frame_steps(frame, midi)
    back = {(n.onset, row): n.midi for n, row in zip(lick.notes, rows, strict=True)}
    return [
        [[(float(p[0]), back[p]) for p in occurrence] for occurrence in tec.occurrences]
        for tec in cosiatec(back)
    ]


def scores(wanted: Patterns, found: Patterns) -> list[float]:
    if not found:
        return [0.0] * len(MEASURES)
    return [
        mir_eval.pattern.establishment_FPR(wanted, found)[0],
        mir_eval.pattern.occurrence_FPR(wanted, found, thres=0.75)[0],
        mir_eval.pattern.occurrence_FPR(wanted, found, thres=0.5)[0],
        mir_eval.pattern.three_layer_FPR(wanted, found)[0],
    ]


# -- the three tables ----------------------------------------------------------------------
def planted_table(phrases: int, seed: int) -> bool:
    finders = {"ours": ours}
    for pitch in ("semitones", "frame steps"):
        for smallest in (2, 3, 4):
            finders[f"COSIATEC, {pitch}, {smallest}+ notes"] = reference(pitch, smallest)
    ahead = True
    overall: dict[str, list[list[float]]] = {name: [] for name in finders}
    for setting in SETTINGS:
        rng = random.Random(f"{seed} {setting.name}")
        cases = [planted(rng, setting) for _ in range(phrases)]
        rows = {
            name: [scores(wanted, find(lick, frame)) for lick, frame, wanted in cases]
            for name, find in finders.items()
        }
        for name, values in rows.items():
            overall[name] += values
        ahead &= table(f"{setting.name} ({phrases} phrases)", rows)
    return table("all settings", overall) and ahead


def table(title: str, rows: dict[str, list[list[float]]]) -> bool:
    print(f"\n{title:44}" + "".join(f"{m:>16}" for m in MEASURES))
    means = {name: np.mean(values, axis=0) for name, values in rows.items()}
    for name, mean in means.items():
        print(f"  {name:42}" + "".join(f"{value:16.3f}" for value in mean))
    best = np.max([mean for name, mean in means.items() if name != "ours"], axis=0)
    wins = means["ours"] > best
    print(
        f"  {'ahead of the best of them':42}" + "".join(f"{'yes' if w else 'NO':>16}" for w in wins)
    )
    return bool(wins.all())


def false_table(phrases: int, seed: int) -> bool:
    print(f"\nPhrases without a plan that are given a figure ({phrases} of each kind and length)")
    print(f"  {'':20}" + "".join(f"{n:>8}" for n in LENGTHS) + f"{'all':>8}")
    worst, total, count = 0.0, 0, 0
    for habit in HABITS:
        row = []
        for length in LENGTHS:
            rng = random.Random(f"{seed} {habit} {length}")
            false = 0
            for k in range(phrases):
                frame = Frame(PitchClass(rng.choice("CDFGA")), collection(rng.choice(FRAMES)))
                steps = walk(rng, length, habit, rng.choice((8, 10, 12, 14)))
                lick = lick_from(steps, rhythm(rng, length, RHYTHMS[k % 4]), frame)
                false += bool(find_figures(lick, frame))
            row.append(false / phrases)
            total, count = total + false, count + phrases
        worst = max(worst, *row)
        print(f"  {habit:20}" + "".join(f"{x:8.3f}" for x in row) + f"{np.mean(row):8.3f}")
    low, high = wilson(total, count)
    print(
        f"  all: {total} of {count} = {total / count:.4f} (95 % interval {low:.4f} to {high:.4f});"
    )
    print(f"  none in {1 - total / count:.1%}, target 95 %; worst single cell {worst:.3f}")
    return total / count <= 0.05


def wilson(hits: int, count: int) -> tuple[float, float]:
    """Wilson's score interval (1927) at 95 %."""
    z, share = 1.96, hits / count
    middle = (share + z * z / (2 * count)) / (1 + z * z / count)
    half = z * math.sqrt(share * (1 - share) / count + z * z / (4 * count**2)) / (1 + z * z / count)
    return middle - half, middle + half


def speed_table(seed: int) -> bool:
    frame = Frame(PitchClass("G"), collection("minor pentatonic"))
    rng = random.Random(seed)
    print("\nSpeed")
    sizes, times = (16, 100, 1000, 3000, 10000), []
    for size in sizes:
        lick = lick_from(walk(rng, size), rhythm(rng, size, "cells"), frame)
        best = math.inf
        for _ in range(20 if size < 1000 else 2):
            start = time.process_time()
            find_figures(lick, frame)
            best = min(best, time.process_time() - start)
        times.append(best)
        print(f"  {size:6} notes {best * 1000:10.2f} ms")
    exponent = np.polyfit(np.log(sizes[1:]), np.log(times[1:]), 1)[0]
    print(
        f"  time grows as notes to the power {exponent:.2f} (100 to 10,000 notes; n log n is 1.14)"
    )
    return times[0] < 0.005 and exponent < 1.25


def main(arguments: list[str]) -> int:
    phrases = int(arguments[0]) if arguments else 60
    seed = int(arguments[1]) if len(arguments) > 1 else 1
    warnings.filterwarnings("ignore", module="mir_eval")
    results = {
        "ahead of plain COSIATEC on every measure": planted_table(phrases, seed),
        "no false figure in 95 % of phrases without a plan": false_table(4 * phrases, seed),
        "16 notes under 5 ms, growth no faster than n log n": speed_table(seed),
    }
    print()
    for claim, holds in results.items():
        print(f"{'holds ' if holds else 'MISSED'}  {claim}")
    return 0 if all(results.values()) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
