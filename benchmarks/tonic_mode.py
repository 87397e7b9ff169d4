"""Tonic and mode from the notes, beside music21's and partitura's key finders on the same notes.

    python -m benchmarks.tonic_mode            ours and every reference
    python -m benchmarks.tonic_mode --ours     ours and plain coverage only

Tunes: music21's O'Neill's, Ryan's Mammoth, Aird's, Essen and Nottingham, labelled by K:. Every
minor, Dorian and Mixolydian tune, and of each collection as many major ones as minor (a fixed
seed); whole, and one seeded 4-bar and one 2-bar excerpt of each, beginning at any bar line.

Ours is fitted anew for each collection tested, on the other collections only, without the tunes
that share a quarter of their eight-interval runs with a test tune.

Scores: tonic; exact (tonic and mode, of four); exact averaged over the four modes; and the MIREX
weighted score of mir_eval.key, which knows major and minor only: Dorian counts there as minor and
Mixolydian as major, in the label and in the answer. The references answer major or minor, so
exact counts against them for Dorian and Mixolydian; "then coverage" keeps their tonic and takes
the mode by plain coverage instead. With the tonic given the mode is chosen among four; plain
coverage takes the mode whose scale covers most of the time, the first of major, minor, Dorian,
Mixolydian when several do. "Every major" is ours on all major tunes of the first three collections, each
weighted down so that they count as many as the minor ones: the same measure with less left to
the draw.
"""

from __future__ import annotations

import sys
import time
from collections import Counter, defaultdict
from collections.abc import Callable
from statistics import fmean

import mir_eval
import numpy as np

from benchmarks.fit_tonic import fit
from benchmarks.tonic_data import (
    LENGTHS,
    Labelled,
    Span,
    agreement,
    chosen,
    excerpts,
    labelled,
    load,
    without_doubles,
)
from linewright.analysis.tonic_model import Weights, mode_chances, tonic_chances
from linewright.analysis.tonic_modes import TONIC_MODES
from linewright.score import Lick
from linewright.theory import MODES, PitchClass

Answer = tuple[int, str]
NAMES = ("c", "c#", "d", "eb", "e", "f", "f#", "g", "ab", "a", "bb", "b")
PLAIN = {"major": "major", "mixolydian": "major", "minor": "minor", "dorian": "minor"}
SCALES = {
    "major": {0, 2, 4, 5, 7, 9, 11},
    "minor": {0, 2, 3, 5, 7, 8, 10},
    "dorian": {0, 2, 3, 5, 7, 9, 10},
    "mixolydian": {0, 2, 4, 5, 7, 9, 10},
}
WIDE = 52
REACH = {
    "whole": (0.92, 0.82, 0.76, 0.90, 0.86),
    4: (0.68, 0.61, 0.48, 0.73, 0.76),
    2: (0.59, 0.51, 0.38, 0.66, 0.69),
}


Piece = tuple[Labelled, Span]


def main(words: list[str]) -> None:
    """Print the table."""
    began = time.process_time()
    groups = load()
    tests = {group: chosen(tunes) for group, tunes in groups.items()}
    counts = {mode: sum(t.mode == mode for ts in tests.values() for t in ts) for mode in MODES}
    print("tunes:", ", ".join(f"{counts[mode]} {mode}" for mode in TONIC_MODES))
    every = {
        group: tests[group] if group == "Essen and Nottingham" else tunes
        for group, tunes in groups.items()
    }
    fits = {}
    for group, tunes in tests.items():
        others = [tune for other in groups if other != group for tune in labelled(groups[other])]
        kept = without_doubles(others, tunes)
        print(f"{group}: {len(tunes)} tested, fitted on {len(kept)} others"
              f" ({len(others) - len(kept)} left out as doubles)", flush=True)  # fmt: skip
        fits[group] = fit(kept)
    finders = {} if "--ours" in words else references()
    print(f"\n{'':{WIDE}}tonic  exact  by mode  weighted   (each mode)")
    for length in LENGTHS:
        label = length if length == "whole" else f"{length} bars"
        asked, full = pieces(tests, length), pieces(every, length)
        agreement(asked[::10])
        _row(f"{label}, ours", asked, [ours(p, fits[p[0].group]) for p in asked])
        _row(f"{label}, ours, every major", full, [ours(p, fits[p[0].group]) for p in full])
        for name, finder in finders.items():
            answers = [finder(tune.cut(span)) for tune, span in asked]
            _row(f"{label}, {name}", asked, answers)
            covered = [(a[0], coverage(p, a[0])) for a, p in zip(answers, asked, strict=True)]
            _row(f"{label}, {name}, then coverage", asked, covered)
        print(f"{label + ', reach':{WIDE}}" + "  ".join(f"{x:.2f} " for x in REACH[length][:4]))
    print(f"\n{'tonic given, by mode':{WIDE}}  ours  coverage  reach  ours, all tunes")
    for length in LENGTHS:
        asked = pieces(tests, length)
        tunes = [tune for tune, _ in asked]
        mine = [mode_on(p, p[0].tonic, fits[p[0].group], given=True) == p[0].mode for p in asked]
        plain = [coverage(p, p[0].tonic) == p[0].mode for p in asked]
        print(f"{length!s:{WIDE}} {by_mode(mine, tunes):.3f}    {by_mode(plain, tunes):.3f}"
              f"   {REACH[length][4]:.2f}   {fmean(mine):.3f}")  # fmt: skip
    print(f"\n{time.process_time() - began:.0f} s of processor time")


def pieces(groups: dict[str, list[Labelled]], length: int | str) -> list[Piece]:
    """One seeded excerpt of each tune."""
    return [(tune, excerpts(tune, length)[0]) for tunes in groups.values() for tune in tunes]


def ours(piece: Piece, weights: tuple[Weights, ...]) -> Answer:
    """Our estimate, as :func:`linewright.analysis.tonic.estimate_key` makes it of a lick."""
    tune, span = piece
    chances = tonic_chances(tune.evidence(span), weights)
    tonic = max(range(12), key=lambda number: (chances[number], -number))
    return tonic, mode_on(piece, tonic, weights, given=False)


def mode_on(piece: Piece, tonic: int, weights: tuple[Weights, ...], *, given: bool) -> str:
    """The likeliest mode on a tonic."""
    tune, span = piece
    chances = mode_chances(tune.evidence(span), tonic, weights, given=given)
    return TONIC_MODES[max(range(4), key=lambda mode: chances[mode])]


def coverage(piece: Piece, tonic: int) -> str:
    """The mode whose scale covers most of the time."""
    tune, span = piece
    heard = tune.evidence(span).time
    covered = {
        mode: round(sum(heard[(tonic + degree) % 12] for degree in scale), 9)
        for mode, scale in SCALES.items()
    }
    return max(covered, key=covered.__getitem__)


def references() -> dict[str, Callable[[Lick], Answer]]:
    """music21's five weightings and partitura's three profiles, each from notes to an answer."""
    from music21 import analysis, note, stream
    from partitura.musicanalysis import estimate_key as partitura_key

    def as_stream(piece: Lick) -> stream.Stream:
        made = stream.Stream()
        for index in piece.melody:
            one = piece.notes[index]
            sounded = note.Note()
            sounded.pitch.midi = one.midi
            sounded.quarterLength = one.duration
            made.insert(one.onset, sounded)
        return made

    def by_music21(name: str) -> Callable[[Lick], Answer]:
        def find(piece: Lick) -> Answer:
            key = getattr(analysis.discrete, name)().getSolution(as_stream(piece))
            return key.tonic.pitchClass, key.mode

        return find

    def by_partitura(profile: str) -> Callable[[Lick], Answer]:
        def find(piece: Lick) -> Answer:
            rows = [
                (float(n.onset), float(n.duration), n.midi, 64, 0, f"n{i}")
                for i, n in ((i, piece.notes[i]) for i in piece.melody)
            ]
            fields = [("onset_beat", "f4"), ("duration_beat", "f4"), ("pitch", "i4"),
                      ("velocity", "i4"), ("voice", "i4"), ("id", "U16")]  # fmt: skip
            name = partitura_key(np.array(rows, dtype=fields), key_profiles=profile)
            minor = name.endswith("m")
            return PitchClass.parse(name.rstrip("m")).number, "minor" if minor else "major"

        return find

    weightings = {
        "Krumhansl": "KrumhanslSchmuckler", "Aarden": "AardenEssen", "Simple": "SimpleWeights",
        "Bellman-Budge": "BellmanBudge", "Temperley-Kostka-Payne": "TemperleyKostkaPayne",
    }  # fmt: skip
    found = {f"music21 {label}": by_music21(name) for label, name in weightings.items()}
    for profile in ("krumhansl_kessler", "temperley", "kostka_payne"):
        found[f"partitura {profile}"] = by_partitura(profile)
    return found


def by_mode(right: list[bool], tunes: list[Labelled]) -> float:
    """The share right, averaged over the modes."""
    return fmean(_each_mode(right, tunes).values())


def _each_mode(right: list[bool], tunes: list[Labelled]) -> dict[str, float]:
    weights = _weights(tunes)
    kept = defaultdict(list)
    for ok, tune, weight in zip(right, tunes, weights, strict=True):
        kept[tune.mode].append((ok, weight))
    return {mode: fmean(*zip(*kept[mode], strict=True)) for mode in TONIC_MODES}


def _weights(tunes: list[Labelled]) -> list[float]:
    """One for each tune; less for majors where there are more of them than minors."""
    counts = Counter((tune.group, tune.mode) for tune in tunes)
    return [
        counts[tune.group, "minor"] / counts[tune.group, "major"] if tune.mode == "major" else 1.0
        for tune in tunes
    ]


def _row(name: str, asked: list[Piece], answers: list[Answer]) -> None:
    tunes = [tune for tune, _ in asked]
    weights = _weights(tunes)
    pairs = list(zip(answers, tunes, strict=True))
    exact = [tonic == tune.tonic and mode == tune.mode for (tonic, mode), tune in pairs]
    weighted = [
        mir_eval.key.weighted_score(
            f"{NAMES[tune.tonic]} {PLAIN[tune.mode]}", f"{NAMES[tonic]} {PLAIN[mode]}"
        )
        for (tonic, mode), tune in pairs
    ]
    figures = (
        fmean((tonic == tune.tonic for (tonic, _), tune in pairs), weights),
        fmean(exact, weights),
        by_mode(exact, tunes),
        fmean(weighted, weights),
    )
    each = " ".join(f"{x:.2f}" for x in _each_mode(exact, tunes).values())
    print(f"{name:{WIDE}}" + "  ".join(f"{x:.3f}" for x in figures) + f"   ({each})", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
