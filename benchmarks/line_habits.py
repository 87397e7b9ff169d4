"""What real tunes do: what lines go by before the lick is heard.

    python -m benchmarks.line_habits

Counted over the tunes of music21's Aird's and Essen collections that run in steady eighths or
sixteenths. Tunes that share more than a quarter of their words of eight intervals with one tune
of O'Neill's or Ryan's, on which ``benchmarks.line_music`` measures, are left out. First, of the
first 16 bars, how many have the rhythm of an earlier bar and at least seven tenths of its moves in
scale steps, how many bars before it stood, and how many of the moves are the same
(``lines/echo.py``). Then the tables of ``lines/habits.py``, from Aird's alone, since songs repeat notes
for their syllables: the next move after each kind of move; the share of each degree; and how often
a melody goes from each degree to each, over what its moves alone would say, twenty times of
each pair as the moves say added.
"""

from __future__ import annotations

import sys
from collections import Counter, defaultdict
from fractions import Fraction
from itertools import pairwise

from benchmarks.tonic_data import load
from linewright.lines.habits import WIDEST
from linewright.lines.moves import KINDS, NONE, kind_of
from linewright.score import Lick

TESTED = ("O'Neill's", "Ryan's")
TAUGHT = ("Aird's", "Essen and Nottingham")
METERS = ("4/4", "2/2", "6/8", "2/4")
UNITS = (Fraction(1, 2), Fraction(1, 4))
STEADY, ALIKE, ECHO, BARS = 0.65, 0.25, 0.7, 16


def taught(groups: tuple[str, ...] = TAUGHT) -> list[Lick]:
    """The tunes to count in."""
    tunes = load()
    heard: dict[tuple[int, ...], list[tuple[str, int]]] = defaultdict(list)
    for group in TESTED:
        for number, tune in enumerate(tunes[group]):
            for shingle in tune.shingles:
                heard[shingle].append((group, number))
    found = []
    for group in groups:
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


def tables(licks: list[Lick]) -> str:
    """The tables of ``lines/habits.py``."""
    rows: dict[int, Counter[int]] = defaultdict(Counter)
    tunes = []
    for lick in licks:
        notes = [lick.notes[i] for i in lick.melody]
        tonic = "CDEFGAB".index(lick.key.tonic.step)
        places = [n.pitch.octave * 7 + "CDEFGAB".index(n.pitch.step) - tonic for n in notes]
        above = Counter((n.midi - lick.key.tonic.number) % 12 for n in notes)
        tunes.append(("major" if above[4] >= above[3] else "minor", places))
        before = NONE
        for a, b in pairwise(places):
            rows[before][b - a] += 1
            before = kind_of(b - a, before)
    shares: dict[str, Counter[int]] = {"major": Counter(), "minor": Counter()}
    came: dict[str, Counter[tuple[int, int]]] = {"major": Counter(), "minor": Counter()}
    due: dict[str, Counter[tuple[int, int]]] = {"major": Counter(), "minor": Counter()}
    for third, places in tunes:
        shares[third].update(place % 7 for place in places)
        before = NONE
        for a, b in pairwise(places):
            came[third][a % 7, b % 7] += 1
            total = rows[before].total()
            for steps, count in rows[before].items():
                due[third][a % 7, (a + steps) % 7] += count / total
            before = kind_of(b - a, before)
    said = ["MOVES"]
    for kind in range(KINDS):
        total = rows[kind].total()
        said.append(
            str([round(1000 * rows[kind][k] / total, 1) for k in range(-WIDEST, WIDEST + 1)])
        )
    for third, counts in shares.items():
        said.append(f"SHARES {third}")
        said.append(str([round(counts[k] / counts.total(), 3) for k in range(7)]))
    for third, pairs in came.items():
        said.append(f"PULLS {third}")
        for a in range(7):
            row = [(pairs[a, b] + 20) / (due[third][a, b] + 20) for b in range(7)]
            said.append(str([round(x, 2) for x in row]))
    return "\n".join(said)


def echoes(licks: list[Lick]) -> tuple[int, Counter[int], Counter[int], float]:
    """Bars counted, echoes by how many bars before, bars that have one so many before, and the mean
    share of moves that echoes keep.
    """
    count, lags, there, kept = 0, Counter[int](), Counter[int](), 0.0
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
            there.update(range(1, number + 1))
            best, lag = 0.0, 0
            for other in range(number - 1, -1, -1):
                if rows[other][0] == rhythm:
                    same = sum(x == y for x, y in zip(moves, rows[other][1], strict=True))
                    if same / len(moves) > best:
                        best, lag = same / len(moves), number - other
            if best >= ECHO:
                lags[lag] += 1
                kept += best
    return count, lags, there, kept / max(1, sum(lags.values()))


def repeats(licks: list[Lick]) -> tuple[int, float]:
    """Tunes whose first four bars repeat no note, and the share of their later moves that do."""
    tunes = again = count = 0
    for lick in licks:
        fifth = next((bar.onset for bar in lick.bars if bar.number == 5), None)
        melody = [lick.notes[i] for i in lick.melody]
        if fifth is None or any(a.midi == b.midi for a, b in pairwise(melody) if b.onset < fifth):
            continue
        tunes += 1
        later = [n.midi for n in melody if n.onset >= fifth]
        again += sum(a == b for a, b in pairwise(later))
        count += max(0, len(later) - 1)
    return tunes, again / max(1, count)


def main() -> int:
    """Count and print."""
    licks = taught()
    print(f"{len(licks)} tunes")
    count, lags, there, kept = echoes(licks)
    print(
        f"{count} bars, {sum(lags.values()) / count:.3f} echo an earlier one ({kept:.2f} of its moves)"
    )
    for lag, times in lags.most_common(8):
        print(f"  {lag} bars before: {times / there[lag]:.3f} of the bars that have one")
    aird = taught(("Aird's",))
    print(f"{len(aird)} tunes of Aird's")
    print(
        "{} of them repeat no note in four bars, and {:.1%} of their moves after".format(
            *repeats(aird)
        )
    )
    print(tables(aird))
    return 0


if __name__ == "__main__":
    sys.exit(main())
