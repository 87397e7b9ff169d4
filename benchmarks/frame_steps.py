"""How published tunes move through their frames: the shares of moves by frame steps.

    python -m benchmarks.frame_steps

The tunes and labels of ``benchmarks.tonic_data``; each tune's frame is the mode its K: field names
(of Essen and Nottingham only those that name a mode). A move goes from one frame note to the next,
outside notes looked past. ``linewright.analysis.walk`` takes its shares from the first three rows.
"""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

from benchmarks.tonic_data import Labelled, load
from linewright.analysis.walk import STEP_SHARES
from linewright.theory import COLLECTIONS

NAMES = {"minor": "natural minor"}


def steps(tune: Labelled) -> list[int]:
    """Size of every move of a tune in frame steps."""
    semitones = COLLECTIONS[NAMES.get(tune.mode, tune.mode)].semitones
    heights = [tune.lick.notes[i].midi - tune.tonic for i in tune.lick.melody]
    rungs = [
        len(semitones) * (height // 12) + semitones.index(height % 12)
        for height in heights
        if height % 12 in semitones
    ]
    return [abs(b - a) for a, b in pairwise(rungs)]


def main() -> None:
    """Print a row for each collection and the row the walk uses."""
    print(f"{'share of moves by frame steps':42}" + "".join(f"{n:7}" for n in range(6)))
    for group, tunes in load().items():
        named = [t for t in tunes if t.mode != "major" or group != "Essen and Nottingham"]
        counts = Counter(move for tune in named for move in steps(tune))
        shares = [counts[n] / counts.total() for n in range(6)]
        print(f"{f'{group} ({len(named)} tunes)':42}" + "".join(f"{s:7.3f}" for s in shares))
    print(f"{'used':42}" + "".join(f"{s:7.3f}" for s in STEP_SHARES))


if __name__ == "__main__":
    main()
