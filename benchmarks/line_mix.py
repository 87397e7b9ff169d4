"""Shares asked against shares got over 10,000 notes, at 20 settings.

    python -m benchmarks.line_mix

Prints asked and got for each setting, the share the model expects (exact, by the forward and
backward pass) and the standard error that so many lines leave by chance: a figure comes 16
notes at a time, so 10,000 notes hold only a few hundred of it. The last five settings are strict.
"""

from __future__ import annotations

import sys
from importlib.resources import files
from random import Random

from linewright.analysis import analyze
from linewright.errors import OptionError
from linewright.formats import read_bytes
from linewright.lines import LineModel, LineRequest, line_model

NOTES = 10_000
SETTINGS = 20
STRICT = 5
TARGET = 0.02


def models() -> list[tuple[str, LineModel]]:
    """Models of the demo licks that teach something besides their frame."""
    found = []
    folder = files("linewright.services") / "demo"
    for item in sorted(folder.iterdir(), key=lambda f: f.name):
        if item.name.endswith(".tab"):
            analysis = analyze(read_bytes(item.read_bytes(), item.name))
            model = line_model(analysis)
            if model.elements:
                found.append((analysis.lick.title, model))
    return found


def setting(rng: Random, model: LineModel) -> LineRequest | None:
    """A random wish within what can be: up to 0.7 of the most for one to three elements."""
    wished = LineRequest(
        bars=16,
        seed=rng.randrange(10**6),
        progression=rng.choice([None, None, "12-bar blues", "1 4 5 1"]),
        grid=rng.choice(["eighths", "eighths", "cells"]),
        leap=rng.choice([7, 7, 9]),
    )
    most = {k: v for k, v in model.most(wished).items() if v > 0.03}
    names = [e.name for e in model.elements if not e.group and e.name in most]
    if not names:
        return None
    chosen = rng.sample(names, min(len(names), rng.randint(1, 3)))
    return wished.with_(
        mix={n: round(most[n] * rng.uniform(0.05, 0.7) / len(chosen), 3) for n in chosen}
    )


def measure(model: LineModel, wished: LineRequest) -> dict[str, tuple[float, float]]:
    """Share of each element over NOTES notes, and its standard error from line to line."""
    lines, notes, seed = [], 0, wished.seed
    while notes < NOTES:
        line = model.sample(wished.with_(seed=seed))
        lines.append(line)
        notes += len(line.notes)
        seed += 1
    found = {}
    for name in wished.mix or {}:
        counts = [line.got[name] * len(line.notes) for line in lines]
        share = sum(counts) / notes
        spread = sum((c - share * len(x.notes)) ** 2 for c, x in zip(counts, lines, strict=True))
        found[name] = (share, spread**0.5 / notes)
    return found


def main() -> int:
    """Measure and print; 1 when a share misses by more than the target."""
    rng = Random(4)
    known = models()
    misses: list[float] = []
    errors: list[float] = []
    model_misses: list[float] = []
    while len(misses) < SETTINGS:
        title, model = known[rng.randrange(len(known))]
        wished = setting(rng, model)
        if wished is None:
            continue
        if len(misses) >= SETTINGS - STRICT:
            wished = wished.with_(strict=True, grid="eighths")
        try:
            got = measure(model, wished)
        except OptionError as error:
            print(f"      refused: {title}: {error}")
            continue
        mix = wished.mix or {}
        tuned = None if wished.strict else model.setup(wished, {}).tuned
        if tuned is not None:
            model_misses += [
                abs(float(share) - mix[name])
                for name, share in zip(mix, tuned.expected[0], strict=True)
            ]
        errors.append(max(error for _, error in got.values()))
        misses.append(max(abs(got[name][0] - share) for name, share in mix.items()))
        shares = ", ".join(
            f"{name} {mix[name]:.3f} -> {got[name][0]:.3f} (s.e. {got[name][1]:.3f})"
            for name in mix
        )
        kind = "strict" if wished.strict else wished.grid
        print(f"{len(misses):4}  {misses[-1]:.4f}  {title} ({kind}): {shares}")
    inside = sum(m <= TARGET for m in misses)
    excused = sum(m <= max(TARGET, 2 * e) for m, e in zip(misses, errors, strict=True))
    print(f"{inside} of {SETTINGS} settings within {TARGET * 100:.0f} points, {excused} with")
    print(f"two standard errors allowed; largest difference {max(misses) * 100:.2f} points")
    print(f"the model's own expectation is off by at most {max(model_misses) * 100:.2f} points")
    return int(excused < SETTINGS)


if __name__ == "__main__":
    sys.exit(main())
