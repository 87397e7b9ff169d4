"""Frame recovery: phrases drawn from known frames, with outside notes, read back.

A phrase of 5 to 32 eighth notes walks through a frame in steps and small skips, and up to a quarter
of its notes are outside ones used as players use them: a semitone below or above the frame note
that follows. It is read with the tonic given. A phrase counts where its distinguishing degrees are
present: no other collection in the table that is no larger holds all the frame notes heard. There
the frame must come back. Where they are not, the answer must be a collection the notes do separate,
or none, and never a wrong mode: one that claims a degree nobody played.

All 36 collections are drawn alike, rare ones as often as common ones, which is not how licks are
made: part of what is missed is the analysis preferring the plainer of two readings.

Reference: coverage, the common shortcut: the collection on the tonic that holds the largest share
of the notes, the smaller one on a tie.

Run ``python -m benchmarks.frame_recovery``.
"""

from __future__ import annotations

import random
from collections import Counter
from fractions import Fraction

from linewright.analysis import analyze
from linewright.analysis.frame import confused_with
from linewright.score import Lick, Meter, Note, bars_for
from linewright.theory import COLLECTIONS, Collection, PitchClass, spell_midi

SHARES = (0.0, 0.05, 0.1, 0.15, 0.2, 0.25)


def phrase(rng: random.Random, item: Collection, count: int, share: float) -> tuple[Lick, str]:
    """A phrase on ``item`` above a random tonic, and that tonic's name."""
    tonic = PitchClass.from_fifths(rng.randint(-4, 6))
    ladder = [midi for midi in range(48, 85) if (midi - tonic.number) % 12 in item.semitones]
    homes = [i for i, midi in enumerate(ladder) if (midi - tonic.number) % 12 == 0]
    at = rng.choice(homes[:3])
    midis: list[int] = []
    while len(midis) < count:
        left = count - len(midis)
        if left >= 2 and rng.random() < share and midis:
            goal = ladder[at]
            side = rng.choice((-1, 1))
            if (goal + side - tonic.number) % 12 not in item.semitones:
                midis.append(goal + side)
        midis.append(ladder[at])
        at += rng.choices((-2, -1, 1, 2, 3, -3), (2, 5, 5, 2, 1, 1))[0]
        at = min(len(ladder) - 2, max(1, at))
    midis = midis[:count]
    half = Fraction(1, 2)
    notes = tuple(
        Note(i * half, half, spell_midi(midi, tonic.fifths)) for i, midi in enumerate(midis)
    )
    lick = Lick(notes, bars_for(Meter(4, 4), half * count), spelled=False)
    return lick, tonic.name


def coverage(lick: Lick, tonic: PitchClass) -> str:
    """Name of the collection on ``tonic`` that covers most notes, the smallest on a tie."""
    heard = Counter((n.midi - tonic.number) % 12 for n in lick.notes)

    def key(item: Collection) -> tuple[int, int]:
        return -sum(heard[s] for s in item.semitones), len(item.semitones)

    return min(COLLECTIONS.values(), key=key).name


def _is_distinguished(item: Collection, own: frozenset[int]) -> bool:
    """Whether no other collection as small or smaller holds the frame notes heard."""
    return not any(
        other is not item
        and len(other.semitones) <= len(item.semitones)
        and own <= frozenset(other.semitones)
        for other in COLLECTIONS.values()
    )


def measure(count: int = 4000, seed: int = 1) -> dict[str, tuple[int, int, int]]:
    """Share by share: (cases, ours right, coverage right) where the frame is separated."""
    rng = random.Random(seed)
    results: dict[str, list[int]] = {}
    for _ in range(count):
        item = rng.choice(list(COLLECTIONS.values()))
        share = rng.choice(SHARES)
        lick, tonic_name = phrase(rng, item, rng.randint(5, 32), share)
        tonic = PitchClass.parse(tonic_name)
        heard = frozenset((n.midi - tonic.number) % 12 for n in lick.notes)
        own = heard & frozenset(item.semitones)
        analysis = analyze(lick, tonic)
        name = analysis.frame.collection.name if analysis.frame else "none"
        if _is_distinguished(item, own):
            row = results.setdefault(f"separated, {share:.0%} outside", [0, 0, 0])
            row[0] += 1
            row[1] += name == item.name
            row[2] += coverage(lick, tonic) == item.name
        else:
            row = results.setdefault("not separated: no mode overclaimed", [0, 0, 0])
            row[0] += 1
            got = COLLECTIONS.get(name)
            row[1] += got is None or not confused_with(got, heard)
            other = COLLECTIONS[coverage(lick, tonic)]
            row[2] += not confused_with(other, heard)
    return {key: (a, b, c) for key, (a, b, c) in sorted(results.items())}


def main() -> None:
    """Print the table."""
    print(f"{'phrases':42} {'cases':>6} {'ours':>7} {'coverage':>9}  target")
    total = [0, 0, 0]
    for key, (cases, ours, reference) in measure().items():
        print(f"{key:42} {cases:6} {ours / cases:7.1%} {reference / cases:9.1%}  95%")
        if key.startswith("separated"):
            total = [a + b for a, b in zip(total, (cases, ours, reference), strict=True)]
    print(
        f"{'separated, all':42} {total[0]:6} {total[1] / total[0]:7.1%} {total[2] / total[0]:9.1%}  95%"
    )


if __name__ == "__main__":
    main()
