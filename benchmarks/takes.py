"""Verdicts on takes whose truth is known: ``python -m benchmarks.takes [TAKES] [SEED]``.

Each take is a line made for a step (its labels, not the judge, say that it is fair), played with a
player's scatter, and then left alone or broken in exactly one rule by a stated margin. Right means:
a fair take passes; a broken one does not, the rule broken comes first and, where it has a place, a
bar that was broken is named. Timing truth: mean, spread, drift and swing put in against those found.
"""

from __future__ import annotations

import itertools
import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random
from statistics import fmean, stdev

from linewright.analysis import analyze
from linewright.errors import LinewrightError
from linewright.lines import Line, LineModel, line_model
from linewright.practice import Step, make_plan
from linewright.practice.chord_drills import landing_share
from linewright.practice.takes import Terms, Verdict, judge, terms_of
from linewright.score import PlayedNote
from linewright.services.demo_library import demo_licks
from linewright.theory import Degree, PitchClass

START = 2.0
SCATTER_MS = 6.0


@dataclass
class Made:
    """A fair take before it is played: notes as (slot, length, midi) and what they must not touch."""

    step: Step
    terms: Terms
    line: Line
    notes: list[tuple[Fraction, Fraction, int]]
    model: LineModel
    bound: set[int]  # notes in figures, beside outside notes, at chord changes

    @property
    def quarter_s(self) -> float:
        return float(60 / (self.terms.done.bpm * self.terms.ground.beat))


@dataclass
class Take:
    rule: str  # '' for a fair one
    bars: set[int]
    verdict: Verdict | None
    words: str = ""


# -- fair takes ------------------------------------------------------------------------------
def fair(step: Step, terms: Terms, model: LineModel, rng: Random) -> Made | None:
    """A line long enough for the step whose labels meet its rules."""
    done = step.done
    for _ in range(6):
        request = step.examples[0].request.with_(
            bars=done.bars, seed=rng.getrandbits(30), pins={}, strict=False
        )
        try:
            line = model.sample(request)
        except LinewrightError:
            return None
        if labels_meet(line, step):
            tune = line.lick.melody
            notes = [(n.onset, n.duration, n.midi) for n in (line.lick.notes[k] for k in tune)]
            return Made(step, terms, line, notes, model, bound_notes(line, terms))
    return None


def labels_meet(line: Line, step: Step) -> bool:
    done = step.done
    for rule in done.figures:
        starts = sum(
            1
            for before, note in zip((None, *line.notes), line.notes, strict=False)
            if note.figure == rule.tag
            and note.cell == 1
            and (before is None or before.figure != rule.tag or before.cell != 1)
        )
        if starts < max(1, round(rule.times * done.bars / rule.bars)):
            return False
    for use in done.uses:
        if not use.times:
            continue
        count = sum(
            n.use is not None
            and n.use.degree == use.degree
            and n.use.rise_in == use.rise_in
            and n.use.rise_out == use.rise_out
            and n.use.on_beat == use.on_beat
            for n in line.notes
        )
        if count < max(1, round(use.times * done.bars / use.bars)):
            return False
    if done.chord_tones is not None and landing_share(line) < done.chord_tones:
        return False
    bars = Counter(
        tuple((n.onset - b.onset, n.midi) for n in line.lick.notes if b.onset <= n.onset < b.end)
        for b in line.lick.bars
    )
    return bars.most_common(1)[0][1] <= max(2, done.alike * len(line.lick.bars))


def bound_notes(line: Line, terms: Terms) -> set[int]:
    bound: set[int] = set()
    notes = [line.lick.notes[k] for k in line.lick.melody]
    for k, label in enumerate(line.notes):
        if label.figure or label.role == "outside":
            bound |= {k - 1, k, k + 1}
    changes = {span.onset for span in line.lick.chords}
    for k, note in enumerate(notes):
        if any(at - 1 <= note.onset <= at + 1 for at in changes) and terms.done.chord_tones:
            bound.add(k)
    return bound | {0, len(notes) - 1}


def play(
    made: Made,
    rng: Random,
    *,
    mean_ms: float = 0.0,
    spread_ms: float = SCATTER_MS,
    drift_ms: float = 0.0,
    swing: float | None = None,
    drawn: list[float] | None = None,
) -> list[PlayedNote]:
    """Heard notes of a take."""
    quarter = made.quarter_s
    last = float(made.notes[-1][0]) or 1.0
    ratio = swing if swing is not None else made.terms.ground.swing
    heard = []
    before = 0.0
    for onset, length, midi in made.notes:
        at = float(onset)
        if ratio and onset % 1 == Fraction(1, 2) and made.terms.ground.meter.beat == 1:
            at = float(onset - Fraction(1, 2)) + float(ratio) / (float(ratio) + 1)
        scatter = rng.gauss(0, spread_ms / 1000)
        if drawn is not None:
            drawn.append(1000 * scatter)
        time = START + at * quarter + scatter + mean_ms / 1000
        time += drift_ms / 1000 * (float(onset) / last - 0.5)
        time = max(time, before + 0.02)
        before = time
        heard.append(PlayedNote(time, time + 0.9 * float(length) * quarter, midi, confidence=0.95))
    return heard


# -- broken takes ----------------------------------------------------------------------------
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


# -- running ---------------------------------------------------------------------------------
def steps_of(seed: int, count: int = 20):
    for number, (_, brought) in enumerate(itertools.islice(demo_licks(), count)):
        for level in ("beginner", "working", "fluent"):
            try:
                analysis = analyze(brought.lick)
                plan = make_plan(analysis, level=level, seed=seed + number)
            except LinewrightError:
                continue
            model = line_model(analysis)
            for step in plan.steps:
                yield analysis, model, step


def make_takes(count: int, seed: int, licks: int = 20) -> list[Take]:
    """So many takes, a quarter of them fair, the rest broken in each rule in turn."""
    rng = Random(seed)
    pool = list(steps_of(seed, licks))
    takes: list[Take] = []
    turns = itertools.cycle(["", *BREAKERS, "", ""])
    tries = 0
    while len(takes) < count and tries < 60 * count:
        rule = next(turns)
        for _ in range(40):
            tries += 1
            analysis, model, step = rng.choice(pool)
            terms = terms_of(step, analysis)
            made = fair(step, terms, model, rng)
            if made is None:
                continue
            if rule:
                broken = BREAKERS[rule](made, rng)
                if broken is None:
                    continue
                heard, bars = broken
            else:
                heard, bars = play(made, rng), set()
            verdict = judge(heard, terms, start_s=START, ladder=step.tempo_ladder)
            takes.append(Take(rule, bars, verdict, f"{analysis.lick.title}, {step.key}"))
            break
    return takes


def is_right(take: Take) -> bool:
    verdict = take.verdict
    assert verdict is not None
    if not take.rule:
        return verdict.passed is True
    broken = [r for r in verdict.rules if r.passed is False]
    if verdict.passed is not False or not broken:
        return False
    named = verdict.rules
    first = next((r for r in named if r.passed is False and r.key.split(" ")[0] == take.rule), None)
    others = [r.key for r in broken if r.key.split(" ")[0] != take.rule]
    if first is None or others:
        return False
    return not take.bars or bool(take.bars & set(first.bars))


def main(count: int = 300, seed: int = 1) -> None:
    takes = make_takes(count, seed)
    right = sum(map(is_right, takes))
    table: dict[str, list[int]] = {}
    for take in takes:
        row = table.setdefault(take.rule or "fair", [0, 0])
        row[0] += is_right(take)
        row[1] += 1
    print(f"{len(takes)} takes, judged right {right} ({100 * right / len(takes):.1f} %; 98 asked)")
    for name, (good, all_) in table.items():
        print(f"  {name:8} {good:4} of {all_}")
    for take in takes:
        if not is_right(take):
            v = take.verdict
            print(
                "  -",
                take.rule or "fair",
                sorted(take.bars),
                take.words,
                "|",
                v.passed,
                [(r.key, r.value, r.limit, r.bars[:4]) for r in v.rules if r.passed is False],
            )
    truth(seed)


def truth(seed: int, count: int = 200) -> None:
    """Timing put in against timing found."""
    rng = Random(seed + 1)
    pool = [p for p in steps_of(seed, 8) if p[2].key == "stream"]
    means, spreads, drifts, swings = [], [], [], []
    for _ in range(count):
        analysis, model, step = rng.choice(pool)
        made = fair(step, terms_of(step, analysis), model, rng)
        if made is None:
            continue
        put = (
            rng.uniform(-40, 40),
            rng.uniform(4, 30),
            rng.uniform(-120, 120),
            rng.uniform(1.3, 2.4),
        )
        swings_here = made.terms.ground.meter.beat == 1 and made.terms.ground.unit == Fraction(1, 2)
        own = Random(rng.getrandbits(30))
        drawn: list[float] = []
        heard = play(made, own, mean_ms=put[0], spread_ms=put[1], drift_ms=put[2],
                     swing=put[3] if swings_here else None, drawn=drawn)  # fmt: skip
        got = judge(heard, made.terms, start_s=START).take.timing
        # against what was really drawn, not what it was drawn from; swung, the beats alone tell
        told = [
            d
            for d, (onset, _, _) in zip(drawn, made.notes, strict=True)
            if not swings_here or onset % 1 != Fraction(1, 2)
        ]
        means.append(abs(got.mean_ms - put[0] - fmean(told)))
        spreads.append(got.spread_ms / stdev(drawn) - 1)
        drifts.append(abs(got.drift_ms - put[2]))
        if swings_here and got.swing:
            swings.append(abs(got.swing - put[3]))
    print(f"timing truth, {len(means)} takes: mean off by {fmean(means):.2f} ms (most {max(means):.1f}),"
          f" spread by {100 * fmean(map(abs, spreads)):.1f} % (most {100 * max(map(abs, spreads)):.0f} %),"
          f" drift by {fmean(drifts):.1f} ms, swing by {fmean(swings):.3f}")  # fmt: skip


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
