"""How often real tunes go on their way, and bring a bar back: what lines expect before the lick is heard.

    python -m benchmarks.line_habits

Counted over the tunes of music21's Aird's and Essen collections that run in steady eighths or
sixteenths. Tunes that share more than a quarter of their words of eight intervals with one tune
of O'Neill's or Ryan's, on which ``benchmarks.line_music`` measures, are left out. First: after a
step, a third or a leap, the first move of its way or not, how often the next move goes on the same
way (``lines/moves.py``). Then: of the first 16 bars, how many have the rhythm of an earlier bar and at least
seven tenths of its moves in scale steps, how many bars before it stood, and how many of the moves
are the same (``lines/echo.py``).
"""

from __future__ import annotations

import sys
from collections import Counter, defaultdict
from fractions import Fraction
from itertools import pairwise

from benchmarks.tonic_data import load
from linewright.score import Lick

TESTED = ("O'Neill's", "Ryan's")
TAUGHT = ("Aird's", "Essen and Nottingham")
METERS = ("4/4", "2/2", "6/8", "2/4")
UNITS = (Fraction(1, 2), Fraction(1, 4))
STEADY, ALIKE, ECHO, BARS = 0.65, 0.25, 0.7, 16


def taught() -> list[Lick]:
    """The tunes to count in."""
    tunes = load()
    heard: dict[tuple[int, ...], list[tuple[str, int]]] = defaultdict(list)
    for group in TESTED:
        for number, tune in enumerate(tunes[group]):
            for shingle in tune.shingles:
                heard[shingle].append((group, number))
    found = []
    for group in TAUGHT:
        for tune in tunes[group]:
            shared = Counter(other for s in tune.shingles for other in heard.get(s, ()))
            nearest = max(shared.values(), default=0) / max(1, len(tune.shingles))
            if nearest <= ALIKE and _is_steady(tune.lick):
                found.append(tune.lick)
    return found


def _is_steady(lick: Lick) -> bool:
    melody = [lick.notes[i] for i in lick.melody]
    gaps = Counter(b.onset - a.onset for a, b in pairwise(melody))
    if lick.meter.text not in METERS or not gaps:
        return False
    full = sum(1 for b in lick.bars if b.number and b.is_full and b.meter == lick.meter)
    common, count = gaps.most_common(1)[0]
    return common in UNITS and count >= STEADY * len(melody) and full >= 8


def ways(licks: list[Lick]) -> dict[tuple[int, int], list[int]]:
    """(went on, turned) after (size of a move, whether it went on itself)."""
    found: dict[tuple[int, int], list[int]] = defaultdict(lambda: [0, 0])
    for lick in licks:
        last, run = 0, 0
        for a, b in pairwise(lick.notes[i].midi for i in lick.melody):
            move = b - a
            on = move * last > 0
            if last and move:
                found[min(3, (abs(last) + 1) // 2), run][not on] += 1
            last, run = move, int(on)
    return found


def echoes(licks: list[Lick]) -> tuple[int, Counter[int], float]:
    """Bars counted, echoes by how many bars before, and the mean share of moves they keep."""
    count, lags, kept = 0, Counter[int](), 0.0
    for lick in licks:
        bars = [b for b in lick.bars if b.number and b.is_full][:BARS]
        rows = []
        for bar in bars:
            inside = [
                lick.notes[i] for i in lick.melody if bar.onset <= lick.notes[i].onset < bar.end
            ]
            places = [n.pitch.octave * 7 + "CDEFGAB".index(n.pitch.step) for n in inside]
            moves = [b - a for a, b in pairwise(places)]
            rows.append(([n.onset - bar.onset for n in inside], moves))
        for number, (rhythm, moves) in enumerate(rows):
            if not number or len(moves) < 3:
                continue
            count += 1
            best, lag = 0.0, 0
            for other in range(number - 1, -1, -1):
                if rows[other][0] == rhythm:
                    same = sum(x == y for x, y in zip(moves, rows[other][1], strict=True))
                    if same / len(moves) > best:
                        best, lag = same / len(moves), number - other
            if best >= ECHO:
                lags[lag] += 1
                kept += best
    return count, lags, kept / max(1, sum(lags.values()))


def main() -> int:
    """Count and print."""
    licks = taught()
    print(f"{len(licks)} tunes")
    for (size, run), (on, turned) in sorted(ways(licks).items()):
        name = ("", "step", "third", "leap")[size] + (", going on" if run else ", first")
        print(f"  after a {name:18} goes on {on / (on + turned):.3f} of {on + turned}")
    count, lags, kept = echoes(licks)
    print(
        f"{count} bars, {sum(lags.values()) / count:.3f} echo an earlier one ({kept:.2f} of its moves)"
    )
    for lag, times in lags.most_common(8):
        print(f"  {lag} bars before: {times / sum(lags.values()):.3f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
