"""The line maker's exactness and guarantees.

    python -m benchmarks.line_exactness [NOTES]

First: on small models, 100,000 draws against brute-force enumeration by chi-square (tilted,
strict, with a figure, an outside note and a quotation limit). Then: lines from random demo licks,
progressions and settings, NOTES notes in all (1,000,000 by default), judged by a checker that shares
no code with the line maker. Uses the tests' enumeration and checker.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from random import Random

sys.path[:0] = [str(Path(__file__).parent.parent / "tests" / "lines")]

from brute import chi_square, every_line, with_echo  # noqa: E402
from checker import broken  # noqa: E402
from line_licks import demo, demo_names, small  # noqa: E402

from linewright.errors import OptionError  # noqa: E402
from linewright.lines import LineRequest, echo  # noqa: E402
from linewright.theory import Pitch  # noqa: E402

DRAWS = 100_000
PROGRESSIONS = (
    None, "12-bar blues", "ii-V-I in F", "1 4 5 6m", "rhythm changes in Bb", "waltz",
    "A7 | D7 | E7 | %", "minor blues in D",
)  # fmt: skip


def exactness() -> float:
    """Print p of each small model; the smallest."""
    _, model = small()
    narrow = LineRequest(
        bars=2, held=False, phrase=0, range=(Pitch.parse("G3"), Pitch.parse("D4")), leap=5
    )
    cases = {
        "frame, figure, outside note": narrow.with_(start="1", landing="1"),
        "tilted: f1 30 %, b5 10 %": narrow.with_(
            start="1", landing="1", mix={"f1": 0.3, "b5": 0.1}, quote=7
        ),
        "no quote past 3 notes": narrow.with_(start="1", quote=3, mix={"b5": 0.1}),
        "strict: one b5": narrow.with_(mix={"b5": 0.125}, strict=True, start="1"),
        "strict: six notes of f1": narrow.with_(mix={"f1": 0.75}, strict=True, quote=7),
    }
    worst = 1.0
    for name, wished in cases.items():
        setup = model.setup(wished, {})
        weights = every_line(setup.chains[0])
        if setup.strict:
            counts = setup.strict[0].sections[0].counts
            weights = {
                path: w
                for path, w in weights.items()
                if tuple(int(row[list(path)].sum()) for row in setup.rows) == counts
            }
        rng = Random(1)
        chain = (setup.strict or setup.chains)[0]
        draws = [tuple(chain.sample(rng)) for _ in range(DRAWS)]
        p = chi_square(weights, draws)
        worst = min(worst, p)
        print(f"{name:32} {len(weights):7} lines   p = {p:.3f}")
    return min(worst, echoes(narrow.with_(start="1", landing="1", quote=7)))


def echoes(wished: LineRequest) -> float:
    """Print p of lines whose second bar echoes the first; the smaller one."""
    _, model = small()
    worst = 1.0
    echo._CLOSE, echo._TURNS = 1e-6, 60  # as near the tilt of the definition as can be
    for name, mix in (("echo", {}), ("echo, b5 20 %", {"b5": 0.2})):
        setup = model.setup(wished.with_(mix=mix), {})
        states, heights = setup.lattice.states, setup.lattice.views[0].heights

        def follows(path: Sequence[int], states=states, heights=heights) -> float:
            midi = [states[s].midi for s in path]
            moves = [heights[b] - heights[a] for a, b in pairwise(midi)]
            weight = 8.0 if midi[0] == midi[4] else 1.0
            for one, two in zip(moves[:3], moves[4:], strict=True):
                weight *= 16.0 if one == two else 2.0 if one * two > 0 else 1.0
            return weight

        weights = with_echo(setup.chains[0], setup.rows, follows, 4)
        rng, plan = Random(1), {4: echo.Echo(4, 8, 0)}
        p = chi_square(
            weights, [tuple(setup.echoing[0].sample(plan, rng)) for _ in range(DRAWS // 4)]
        )
        worst = min(worst, p)
        print(f"{name:32} {len(weights):7} lines   p = {p:.3f}")
    return worst


def random_wish(rng: Random, name: str) -> LineRequest:
    """Any setting at all."""
    analysis, model = demo(name)
    bars = rng.randint(1, 24)
    full = sum(1 for b in analysis.lick.bars if b.number and b.is_full)
    pinned = rng.random() < 0.2 and bars > full
    return LineRequest(
        bars=bars,
        progression=rng.choice(PROGRESSIONS),
        mix=rng.choice(
            [
                None,
                {},
                {e.name: rng.random() * 0.15 for e in model.elements if not e.group},
            ]
        ),
        pins={rng.randint(1, bars - full): analysis.lick} if pinned else {},
        grid=rng.choice(["own", "eighths", "cells", "sixteenths", "quarters", "triplets"]),
        seed=rng.randrange(10**9),
        leap=rng.choice([4, 5, 7, 7, 9, 12]),
        quote=rng.choice([3, 4, 5, 5, 8]),
        phrase=rng.choice([None, 0, 2, 4]),
        held=rng.random() < 0.7,
        tempo=rng.choice([None, None, 60, 200]),
        start=rng.choice([None, None, "1", "5"]),
        landing=rng.choice([None, None, "1"]),
        follow="home",
        intensity=rng.choice([None, None, (0.4, 1.6)]),
        strict=rng.random() < 0.03 and bars <= 8,
    )


def guarantees(wanted: int) -> int:
    """Generate and check; the number of broken lines."""
    rng = Random(20)
    names = demo_names()
    notes = lines = refused = bad = 0
    began = time.perf_counter()
    while notes < wanted:
        name = rng.choice(names)
        analysis, model = demo(name)
        wished = random_wish(rng, name)
        try:
            made = [model.sample(wished)]
            for _ in range(7):
                made.append(model.again(made[-1]))
            if rng.random() < 0.3:
                held = [b for b in range(1, wished.bars + 1) if rng.random() < 0.4]
                made.append(model.resample(made[-1], held))
        except OptionError:
            refused += 1
            continue
        for line in made:
            found = broken(analysis, line, degrees=set() if wished.mix == {} else None)
            notes += len(line.notes)
            lines += 1
            if found:
                bad += 1
                print(f"broken: {name}: {wished.to_dict()}: {found[:3]}")
    seconds = time.perf_counter() - began
    print(
        f"{notes} notes in {lines} lines, {refused} wishes refused, {bad} lines broken,"
        f" {seconds:.0f} s"
    )
    return bad


def main(arguments: list[str]) -> int:
    """Run both; 1 when anything fails."""
    worst = exactness()
    bad = guarantees(int(arguments[0]) if arguments else 1_000_000)
    return int(bad > 0 or worst < 0.0005)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
