"""Ways to break one rule of a fair take by a stated margin, for benchmarks/takes.py."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from random import Random

from benchmarks.takes_fair import Made, play
from linewright.errors import LinewrightError
from linewright.practice.chord_drills import landing_share
from linewright.score import PlayedNote
from linewright.theory import Degree, PitchClass

Broken = tuple[list[PlayedNote], set[int]]
Breaker = Callable[[Made, Random], "Broken | None"]


def bar_of(made: Made, k: int) -> int:
    return int(made.notes[k][0] // made.terms.ground.meter.length) + 1


def allowed(made: Made, k: int) -> set[int]:
    chord = made.line.lick.chord_at(made.notes[k][0])
    only = made.terms.done.only
    item = next((i for i in only if i.over == (str(chord) if chord else None)), None)
    item = item or next((i for i in only if i.over is None), only[0])
    tonic = PitchClass.parse(item.tonic).number
    return {(tonic + Degree.parse(d).semitones) % 12 for d in item.degrees}


def outside(made: Made) -> set[int]:
    tonic = PitchClass.parse(made.terms.done.only[0].tonic).number
    return {(tonic + Degree.parse(u.degree).semitones) % 12 for u in made.terms.done.uses}


def break_notes(made: Made, rng: Random) -> Broken | None:
    """Wrong notes: three more than the slips allowed, each a half step from the right one."""
    wanted = int(made.terms.done.slips * len(made.notes)) + 3
    free = [k for k in range(len(made.notes)) if k not in made.bound]
    rng.shuffle(free)
    changed: dict[int, int] = {}
    for k in free:
        if any(abs(k - other) < 2 for other in changed):
            continue
        for by in (1, -1):
            midi = made.notes[k][2] + by
            wrong = midi % 12 not in allowed(made, k) | outside(made)
            beside = [made.notes[j][2] for j in (k - 1, k + 1)]
            if wrong and all(abs(midi - b) <= made.terms.done.leap for b in beside):
                changed[k] = midi
                break
        if len(changed) == wanted:
            break
    if len(changed) < wanted:
        return None
    notes = [(on, d, changed.get(k, midi)) for k, (on, d, midi) in enumerate(made.notes)]
    return play(replace_notes(made, notes), rng), {bar_of(made, k) for k in changed}


def replace_notes(made: Made, notes) -> Made:
    return replace(made, notes=notes)


def break_leap(made: Made, rng: Random) -> Broken | None:
    """Leaps of at least an octave less the limit: stretches moved by an octave."""
    count = int(made.terms.done.slips * len(made.notes)) + 2
    runs = -(-count // 2)
    free = [
        k for k in range(2, len(made.notes) - 6) if {k - 1, k, k + 3, k + 4}.isdisjoint(made.bound)
    ]
    rng.shuffle(free)
    taken: list[int] = []
    for k in free:
        small = all(
            abs(made.notes[a + 1][2] - made.notes[a][2]) <= 12 - made.terms.done.leap - 1
            for a in (k - 1, k + 3)
        )
        if small and all(abs(k - other) > 8 for other in taken):
            taken.append(k)
        if len(taken) == runs:
            break
    if len(taken) < runs:
        return None
    up = {j for k in taken for j in range(k, k + 4)}
    notes = [(on, d, m + 12 * (k in up)) for k, (on, d, m) in enumerate(made.notes)]
    bars = {bar_of(made, k) for k in taken} | {bar_of(made, k + 4) for k in taken}
    return play(replace_notes(made, notes), rng), bars


def break_flow(made: Made, rng: Random) -> Broken | None:
    """A stop of three beats and more somewhere in the middle, not beside an outside note."""
    size = made.terms.ground.meter.length
    bars = made.terms.done.bars
    gap = max(Fraction(3), 2 * made.terms.ground.meter.beat) + Fraction(1, 2)
    middles = sorted(range(1, bars), key=lambda bar: abs(bar - bars / 2))
    for bar in middles:
        start = bar * size - gap / 2
        cut = [k for k, n in enumerate(made.notes) if start <= n[0] < start + gap]
        if not cut or {cut[0] - 1, cut[-1] + 1} & made.bound:
            continue
        notes = [n for n in made.notes if not start <= n[0] < start + gap]
        trimmed = [(on, min(d, start - on) if on < start < on + d else d, m) for on, d, m in notes]
        stop = max(on for on, _, _ in trimmed if on < start)
        where = {int(stop // size) + 1, int(start // size) + 1}
        return play(replace_notes(made, trimmed), rng), where
    return None


def break_spread(made: Made, rng: Random) -> Broken | None:
    """Scatter one and a half times what is allowed."""
    return play(made, rng, spread_ms=1.5 * made.terms.done.spread_ms), set()


def break_mean(made: Made, rng: Random) -> Broken | None:
    """Early or late by one and a half times what is allowed."""
    sign = rng.choice((1, -1))
    return play(made, rng, mean_ms=sign * 1.5 * made.terms.done.mean_ms), set()


def break_drift(made: Made, rng: Random) -> Broken | None:
    """An end one slot and a quarter of the time allowed behind or ahead of the beginning."""
    slot = 1000 * float(made.terms.ground.unit) * made.quarter_s
    limit = max(slot / 2, 2 * made.terms.done.mean_ms)
    return play(made, rng, drift_ms=rng.choice((1, -1)) * 1.5 * limit), set()


def break_use(made: Made, rng: Random) -> Broken | None:
    """An outside note of the step three times between other neighbours than the lick's."""
    if not made.terms.done.uses:
        return None
    free = [k for k in range(1, len(made.notes) - 1) if k not in made.bound]
    rng.shuffle(free)
    known = {(u.rise_in, u.rise_out) for u in made.terms.done.uses}
    changed: dict[int, int] = {}
    for k in free:
        if any(abs(k - other) < 2 for other in changed):
            continue
        for by in (1, -1, 2, -2):
            midi = made.notes[k][2] + by
            a, b = made.notes[k - 1][2], made.notes[k + 1][2]
            small = max(abs(midi - a), abs(midi - b)) <= made.terms.done.leap
            if (
                midi % 12 in outside(made) - allowed(made, k)
                and small
                and (midi - a, b - midi) not in known
            ):
                changed[k] = midi
                break
        if len(changed) == 3:
            break
    if len(changed) < 3:
        return None
    notes = [(on, d, changed.get(k, m)) for k, (on, d, m) in enumerate(made.notes)]
    return play(replace_notes(made, notes), rng), {bar_of(made, k) for k in changed}


def break_variety(made: Made, rng: Random) -> Broken | None:
    """One bar in three of every four."""
    size, bars = made.terms.ground.meter.length, made.terms.done.bars
    if made.terms.done.figures or any(u.times for u in made.terms.done.uses):
        return None
    if bars < 4 or made.terms.done.chord_tones is not None or len(made.terms.done.only) > 1:
        return None
    pick = rng.randrange(bars)
    own = [
        (on - pick * size, d, m) for on, d, m in made.notes if pick * size <= on < (pick + 1) * size
    ]
    if abs(own[-1][2] - own[0][2]) > made.terms.done.leap:
        return None
    if any(on + d > size for on, d, m in own) or len(own) < 4:
        return None
    notes = []
    for bar in range(bars):
        if bar % 4 == 3:
            notes += [n for n in made.notes if bar * size <= n[0] < (bar + 1) * size]
        else:
            notes += [(on + bar * size, d, m) for on, d, m in own]
    for a, b in itertools.pairwise(notes):
        if abs(a[2] - b[2]) > made.terms.done.leap:
            return None
    inside = all(m % 12 in allowed(made, 0) for _, _, m in notes)
    return (play(replace_notes(made, notes), rng), set()) if inside else None


def break_often(made: Made, rng: Random) -> Broken | None:
    """The outside note of the step left out."""
    wanted = [u for u in made.terms.done.uses if u.times]
    if not wanted or made.terms.done.figures:
        return None
    return other_line(made, rng, {})


def break_figure(made: Made, rng: Random) -> Broken | None:
    """The figure of the step left out; not of a plain run, which any line has by chance."""
    if any("run" in rule.kind for rule in made.terms.done.figures):
        return None
    if len(made.terms.done.figures) != 1 or any(u.times for u in made.terms.done.uses):
        return None
    return other_line(made, rng, {})


def other_line(made: Made, rng: Random, mix: dict[str, float]) -> Broken | None:
    model = made.model
    request = made.line.request.with_(mix=mix, seed=rng.getrandbits(30))
    try:
        line = model.sample(request)
    except LinewrightError:
        return None
    notes = [(n.onset, n.duration, n.midi) for n in (line.lick.notes[k] for k in line.lick.melody)]
    return play(replace_notes(made, notes), rng), set()


def break_quote(made: Made, rng: Random) -> Broken | None:
    """The lick itself in the middle."""
    lick = made.terms.analysis.lick
    full = [bar for bar in lick.bars if bar.number and bar.is_full and bar.meter == lick.meter]
    if not full or made.terms.done.bars < len(full) + 2 or len(lick.melody) < 12:
        return None
    if any(u.times for u in made.terms.done.uses) or made.terms.done.figures:
        return None
    model = made.model
    try:
        line = model.sample(
            made.line.request.with_(
                pins={2: lick.slice(full[0].number, full[-1].number)}, seed=rng.getrandbits(30)
            )
        )
    except LinewrightError:
        return None
    notes = [(n.onset, n.duration, n.midi) for n in (line.lick.notes[k] for k in line.lick.melody)]
    changed = replace_notes(made, notes)
    outside_uses = [u for u in line.notes if u.role == "outside"]
    if outside_uses or any(n[0] % made.terms.ground.unit for n in notes):
        return None  # the lick itself would break other rules of this step
    if made.terms.done.chord_tones and landing_share(line) < made.terms.done.chord_tones:
        return None
    if any(b[0] - a[0] > 2 for a, b in itertools.pairwise(notes)):
        return None
    for a, b in itertools.pairwise(notes):
        if abs(a[2] - b[2]) > made.terms.done.leap:
            return None
    return play(changed, rng), set()


BREAKERS: dict[str, Breaker] = {
    "notes": break_notes, "leap": break_leap, "flow": break_flow, "spread": break_spread,
    "mean": break_mean, "drift": break_drift, "use": break_use, "variety": break_variety,
    "often": break_often, "figure": break_figure, "quote": break_quote,
}  # fmt: skip
