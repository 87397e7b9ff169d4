"""Verdicts on takes whose truth is known: ``python -m benchmarks.takes [TAKES] [SEED]``.

Each take is a line made for a step (its labels, not the judge, say that it is fair), played with a
player's scatter, and then left alone or broken in exactly one rule by a stated margin. Right means:
a fair take passes; a broken one does not, the rule broken comes first and, where it has a place, a
bar that was broken is named. Timing truth: mean, spread, drift and swing put in against those found.
"""

from __future__ import annotations

import itertools
import sys
from dataclasses import dataclass
from fractions import Fraction
from random import Random
from statistics import fmean, stdev

from benchmarks.takes_broken import BREAKERS
from benchmarks.takes_fair import START, fair, play
from linewright.analysis import analyze
from linewright.errors import LinewrightError
from linewright.lines import line_model
from linewright.practice import make_plan
from linewright.practice.takes import Verdict, judge, terms_of
from linewright.services.demo_library import demo_licks


@dataclass
class Take:
    rule: str  # '' for a fair one
    bars: set[int]
    verdict: Verdict | None
    words: str = ""


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
