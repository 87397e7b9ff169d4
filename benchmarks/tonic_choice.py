"""The settings of the tonic and mode fit beside others, within the training collections.

    python -m benchmarks.tonic_choice            every alternative below
    python -m benchmarks.tonic_choice NAME...    some of them, or some lengths (whole, 4, 2)

Where ``benchmarks.tonic_mode`` tests a collection, the others are what the fit may see. Here each
of O'Neill's, Ryan's Mammoth and Aird's is fitted alone (with the few labelled tunes of Essen and
Nottingham) and read back from another: two such pairs lie within the training collections of each
of the three. Printed for each length: surprise of the right tonic in nats, share of right tonics,
of right tonics and modes, the same averaged over the modes, and of right modes with the tonic
given, averaged over the modes; over all six pairs, every tune of a collection, majors weighted as
the minors. Then, of the pairs within each collection's training set, the sum of the four shares.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import replace
from itertools import permutations
from statistics import fmean

import numpy as np

from benchmarks.fit_tonic import (
    SETTINGS,
    Row,
    Settings,
    examples,
    fit_mode,
    fit_tonic,
    mode_scores,
    row_of,
    tonic_scores,
)
from benchmarks.tonic_data import LENGTHS, Labelled, excerpts, labelled, load, without_doubles
from linewright.analysis.tonic_evidence import BRIEF, PAIRS, SINGLES
from linewright.analysis.tonic_modes import TONIC_MODES

COLLECTIONS = ("O'Neill's", "Ryan's", "Aird's")
FEW = "Essen and Nottingham"


def _with(**changes: object) -> Callable[[Settings], Settings]:
    return lambda settings: replace(settings, **changes)


ALTERNATIVES: Mapping[str, Callable[[Settings], Settings]] = {
    "as set": lambda settings: settings,
    "majors 400": _with(majors=400),
    "majors 900": _with(majors=900),
    "brief": _with(kinds=BRIEF),
    "every kind": _with(kinds=(len(SINGLES), len(PAIRS))),
    "tonic 6": _with(tonic=6.0),
    "tonic 12": _with(tonic=12.0),
    "tonic 20": _with(tonic=20.0),
    "rare 1": _with(rare=1.0),
    "rare 1.5": _with(rare=1.5),
    "rare 2": _with(rare=2.0),
    "phrase 1": _with(phrase=1.0),
    "mode 0.1": _with(mode=0.1),
    "mode 2": _with(mode=2.0),
    "mode 5": _with(mode=5.0),
    "belief 0": _with(belief=0.0),
    "belief 0.2": _with(belief=0.2),
    "belief 0.4": _with(belief=0.4),
    "belief 0.6": _with(belief=0.6),
    "given 5": _with(given=5.0),
    "given 20": _with(given=20.0),
    "heard 10": _with(heard=10.0),
    "no table": _with(heard=None),
}


def main(names: list[str]) -> None:
    """Print the table."""
    groups = load()
    sets = {
        (a, b): without_doubles([*groups[a], *labelled(groups[FEW])], groups[b])
        for a, b in permutations(COLLECTIONS, 2)
    }
    print(f"{'':24}nats   tonic  exact  by mode  given   within the training of {COLLECTIONS}")
    lengths = [length for length in LENGTHS if str(length) in names] or LENGTHS
    wanted = [name for name in ALTERNATIVES if name in names] or list(ALTERNATIVES)
    for length in lengths:
        for name in wanted:
            change = ALTERNATIVES[name]
            settings = change(SETTINGS[length])
            scores = {
                pair: measure(kept, groups[pair[1]], length, settings)
                for pair, kept in sets.items()
            }
            figures = combined(list(scores.values()))
            each = [
                sum(combined([s for pair, s in scores.items() if held not in pair])[1:])
                for held in COLLECTIONS
            ]
            print(f"{length!s:6} {name:16}" + "  ".join(f"{x:.4f}" for x in figures)
                  + "   " + " ".join(f"{x:.3f}" for x in each), flush=True)  # fmt: skip


Score = dict[str, list[tuple[float, float]]]


def measure(
    training: list[Labelled], test: list[Labelled], length: int | str, settings: Settings
) -> Score:
    """For each kind of figure, and each mode of the exact ones, (value, weight) of each excerpt."""
    data = examples(training, length, settings)
    tonic = fit_tonic(data, settings)
    free, given = (fit_mode(data, settings, given=known) for known in (False, True))
    minors = sum(tune.mode == "minor" for tune in test)
    share = minors / sum(tune.mode == "major" for tune in test)
    rows: list[Row] = []
    asked: list[tuple[int, int, float]] = []
    for tune in test:
        spans = excerpts(tune, length, settings.excerpts)
        weight = (share if tune.mode == "major" else 1.0) / len(spans)
        rows += [row_of(tune, span) for span in spans]
        asked += [(tune.tonic, TONIC_MODES.index(tune.mode), weight)] * len(spans)
    chances = tonic_scores(rows, tonic)
    chances -= np.log(np.exp(chances).sum(axis=1, keepdims=True))
    heard = chances.argmax(axis=1)
    modes = mode_scores(rows, free).argmax(axis=1)
    known = mode_scores(rows, given).argmax(axis=1)
    made: Score = defaultdict(list)
    for i, (home, mode, weight) in enumerate(asked):
        right = heard[i] == home
        made["nats"].append((-chances[i, home], weight))
        made["tonic"].append((right, weight))
        made["exact"].append((right and modes[i] == mode, weight))
        made[f"exact {mode}"].append((right and modes[i] == mode, weight))
        made[f"given {mode}"].append((known[i] == mode, weight))
    return made


def combined(scores: list[Score]) -> tuple[float, ...]:
    """The five figures over several pairs."""

    def mean(kind: str) -> float:
        return fmean(*zip(*[entry for score in scores for entry in score[kind]], strict=True))

    by_mode = [fmean(mean(f"{kind} {mode}") for mode in range(4)) for kind in ("exact", "given")]
    return mean("nats"), mean("tonic"), mean("exact"), *by_mode


if __name__ == "__main__":
    main(sys.argv[1:])
