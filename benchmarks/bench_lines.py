"""Making lines: speed, and beside it a solver and plain rejection under the same hard wishes.

The references make one line of 32 bars: OR-Tools CP-SAT (one variable a note, table constraints
for leap and reach, forbidden words for quotation, first and last note fixed, seeded) and a
first-order Markov chain on the lick's own moves, outside notes among them, drawn again until a
line meets every wish (given up after GIVE_UP seconds: its row then says what it at least took).
The solver keeps to frame notes, which is less than is asked of us.
"""

from __future__ import annotations

import itertools
import time
from collections import Counter, defaultdict
from importlib.resources import files
from random import Random
from statistics import median

from linewright.analysis import Analysis, analyze
from linewright.formats import read_bytes
from linewright.lines import LineModel, LineRequest, line_model

GIVE_UP = 20.0
LICK = "12-feed-store-shuffle.tab"
WISH = LineRequest(bars=32, mix={"3": 0.05}, start="1", landing="1", phrase=0)


def read() -> Analysis:
    """Analysis of the lick the lines are made from, fully worked out."""
    data = (files("linewright.services") / "demo" / LICK).read_bytes()
    analysis = analyze(read_bytes(data, LICK))
    line_model(analysis).sample(LineRequest(bars=1))  # the analysis is lazy; so is numpy
    return analysis


def seconds(call, repeats: int) -> float:
    """Median wall time."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return median(times)


def rejection(model: LineModel, wish: LineRequest) -> float:
    """Seconds until a first-order Markov chain happens to meet the wishes."""
    setup = model.setup(wish, {})
    rules, plan = setup.lattice.rules, setup.plan
    source = [n.midi for n in model.analysis.lick.notes]
    inside = setup.lattice.views[0].inside
    counts: dict[int, Counter[int]] = defaultdict(Counter)
    for a, b in itertools.pairwise(source):
        counts[a][b] += 1
    ladder = [m for m in range(plan.low, plan.high + 1) if m in inside or m in source]
    for a in ladder:  # every move within the leap stays possible
        for b in ladder:
            if abs(a - b) <= wish.leap:
                counts[a][b] += 0.5
    rng, size = Random(1), len(plan.slots)

    def learned(t: int, row: list[int]) -> bool:
        """Whether an outside note is used as the lick uses it."""
        slot = plan.slots[t]
        return 0 < t < size - 1 and any(
            (row[t] - plan.home.tonic.number) % 12 == use.above
            and row[t] - row[t - 1] == use.rise_in
            and row[t + 1] - row[t] == use.rise_out
            and slot.on_beat == use.on_beat
            and (not use.in_chord or (slot.chord and row[t] % 12 in slot.chord.numbers))
            for use in model.uses
        )

    tonic = plan.home.tonic.number
    starts = [m for m in ladder if m % 12 == tonic]
    start = time.perf_counter()
    while time.perf_counter() - start < GIVE_UP:
        row = [rng.choice(starts)]
        for _ in range(size - 1):
            options = counts[row[-1]]
            row.append(rng.choices(list(options), list(options.values()))[0])
        quote = 0
        fine = row[-1] % 12 == tonic
        for a, b in itertools.pairwise(row):
            if not fine:
                break
            quote = rules.watch.after(quote, b - a)
            fine = quote >= 0 and setup.lattice.reachable(a, b)
        if fine and all(learned(t, row) for t in range(size) if row[t] not in inside):
            break
    return time.perf_counter() - start


def solver(model: LineModel, wish: LineRequest) -> float | None:
    """Seconds for CP-SAT to find one line; None without OR-Tools."""
    try:
        from ortools.sat.python import cp_model
    except ImportError:
        return None
    setup = model.setup(wish, {})
    plan, inside = setup.plan, setup.lattice.views[0].inside
    start = time.perf_counter()
    problem = cp_model.CpModel()
    ladder = [m for m in range(plan.low, plan.high + 1) if m in inside]
    pairs = [(a, b, b - a) for a in ladder for b in ladder if setup.lattice.reachable(a, b)]
    domain = cp_model.Domain.from_values(ladder)
    notes = [problem.new_int_var_from_domain(domain, f"n{t}") for t in range(len(plan.slots))]
    moves = [problem.new_int_var(-24, 24, f"m{t}") for t in range(1, len(notes))]
    for t, move in enumerate(moves):
        problem.add_allowed_assignments([notes[t], notes[t + 1], move], pairs)
    source = [model.analysis.lick.notes[i].midi for i in model.analysis.lick.melody]
    rows = [b - a for a, b in itertools.pairwise(source)]
    words = {tuple(rows[i : i + wish.quote]) for i in range(len(rows) - wish.quote + 1)}
    for t in range(len(moves) - wish.quote + 1):
        problem.add_forbidden_assignments(moves[t : t + wish.quote], sorted(words))
    home = [(m,) for m in ladder if m % 12 == plan.home.tonic.number]
    problem.add_allowed_assignments([notes[0]], home)
    problem.add_allowed_assignments([notes[-1]], home)
    engine = cp_model.CpSolver()
    engine.parameters.random_seed = 1
    engine.parameters.randomize_search = True
    engine.parameters.num_workers = 1
    engine.parameters.max_time_in_seconds = 120
    status = engine.solve(problem)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        raise RuntimeError("the solver found no line")
    return time.perf_counter() - start


def run() -> list[tuple[str, float | None, float | None, float | None, str]]:
    """Rows of (what, ours, reference, ratio, target)."""
    analysis = read()
    twelve = LineRequest(bars=12, progression="12-bar blues")

    def fresh() -> None:
        line_model(analysis).sample(twelve)

    first = seconds(fresh, 9)
    model = line_model(analysis)
    model.sample(twelve)
    seeds = iter(range(1, 1000))
    further = seconds(lambda: model.sample(twelve.with_(seed=next(seeds))), 30)
    sliders = iter(range(1, 1000))

    def slide() -> None:
        share = 0.1 + next(sliders) / 1000
        model.sample(LineRequest(bars=16, mix={"f1": share, "f2": 0.25, "3": 0.08}))

    moved = seconds(slide, 9)
    short = seconds(lambda: line_model(analysis).sample(twelve.with_(bars=100)), 3)
    long = seconds(lambda: line_model(analysis).sample(twelve.with_(bars=1000)), 1)
    ours = seconds(lambda: line_model(analysis).sample(WISH), 5)
    again = line_model(analysis)
    rejected = rejection(again, WISH)
    solved = solver(again, WISH)
    rows: list[tuple[str, float | None, float | None, float | None, str]] = [
        ("model and 12 bars of eighths, shares tuned (ms)", first * 1e3, None, None, "< 150 ms"),
        ("each further 12 bars, another seed (ms)", further * 1e3, None, None, "< 30 ms"),
        ("16 bars with a share changed (ms)", moved * 1e3, None, None, "< 300 ms"),
        ("1,000 bars / 100 bars (s)", long, short, long / short, "about 10 (linear)"),
        (
            f"32 bars / Markov with rejection, given up at {GIVE_UP:g} s (ms)",
            ours * 1e3, rejected * 1e3, rejected / ours, ">= 10 x",
        ),
    ]  # fmt: skip
    if solved is not None:
        rows.append(
            ("32 bars / OR-Tools CP-SAT (ms)", ours * 1e3, solved * 1e3, solved / ours, ">= 10 x")
        )
    return rows
