"""What in a phrase speaks for a tonic: the evidence, without its weights.

Everything is read from pitch numbers, lengths and places in the bar; declared key, chords and
spelling are never looked at. Evidence is kept by pitch class; a candidate tonic turns it round
so that pitch classes become semitones above that tonic. A *strong* note stands on a bar line or
on the half (or third) of its bar; a *close* is the last strong note of bar 4, 8, 12 ...
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from linewright.score import Lick

__all__ = ["BRIEF", "PAIRS", "SINGLES", "TonicEvidence", "evidence_of", "tonic_evidence"]

#: Kinds of evidence about single pitch classes.
SINGLES: Final = (
    "length",  # share of the sounding time
    "root",  # square root of that share
    "heard",  # 1 when it sounds at all
    "downbeat",  # share of the notes on bar lines
    "first", "last", "first downbeat", "last downbeat",  # 1 for the one note's class
    "lowest", "highest", "longest",  # 1 for each class that has such a note
    "close",  # share of the closes
    "both ends",  # 1 for a class that begins and ends the phrase
    "rest on last",  # 1 for a strong last note longer than most
    "low last",  # 1 for a last note that is the lowest
    "first bar",  # share of the time in the first full bar
    "major triad", "minor triad",  # share of the bars whose time fits the triad there best
)  # fmt: skip
#: Kinds of evidence about two pitch classes.
PAIRS: Final = (
    "step",  # share of the moves from one note to the next
    "last step",  # 1 for the last move
    "downbeat step",  # share of the moves from one bar line's note to the next one's
    "together",  # 1 when both are heard; no order
    "strong step",  # share of the moves from one strong note to the next one
    "close step",  # share of the moves into closes
    "pickup step",  # 1 for the first note and the first strong one
)

#: How many of the kinds, of single classes and of pairs, a short phrase is weighed by: the rest
#: only tells something of whole tunes.
BRIEF: Final = (16, 4)

_SINGLE: Final = {kind: number for number, kind in enumerate(SINGLES)}
_PAIR: Final = {kind: number for number, kind in enumerate(PAIRS)}


@dataclass(frozen=True, slots=True)
class TonicEvidence:
    """The evidence in one phrase, as sparse entries by pitch-class number.

    Parameters
    ----------
    count : int
        Number of melody notes.
    singles : tuple of (int, int, float)
        (index in :data:`SINGLES`, pitch class, value).
    pairs : tuple of (int, int, int, float)
        (index in :data:`PAIRS`, first and second pitch class, value).
    time, share, downbeat : tuple of 12 floats
        Share of the time, of the notes and of the notes on bar lines.
    """

    count: int
    singles: tuple[tuple[int, int, float], ...]
    pairs: tuple[tuple[int, int, int, float], ...]
    time: tuple[float, ...]
    share: tuple[float, ...]
    downbeat: tuple[float, ...]


def tonic_evidence(lick: Lick, *, every: bool = True) -> TonicEvidence:
    """Gather the evidence of a lick's melody (the highest note of each double stop).

    Without ``every``, only the :data:`BRIEF` kinds.
    """
    grid, bars = lick.grid, lick.bars
    tune = grid.melody
    return evidence_of(
        [grid.midis[i] for i in tune],
        [grid.ends[i] - grid.onsets[i] for i in tune],
        [bars[grid.bars[i]].number for i in tune],
        [grid.levels[i] for i in tune],
        every=every,
    )


def evidence_of(
    pitches: Sequence[int],
    lengths: Sequence[int],
    numbers: Sequence[int],
    levels: Sequence[int],
    *,
    every: bool = True,
) -> TonicEvidence:
    """Gather the evidence of a melody.

    Parameters
    ----------
    pitches : sequence of int
        MIDI numbers in order.
    lengths : sequence of int
        Lengths, in any unit of time.
    numbers : sequence of int
        Number of the bar each note begins in; 0 is a pickup.
    levels : sequence of int
        Metrical weight of each onset (:meth:`linewright.score.Meter.weight`).
    every : bool
        Whether more than the :data:`BRIEF` kinds are wanted.
    """
    if not pitches:
        nothing = (0.0,) * 12
        return TonicEvidence(0, (), (), nothing, nothing, nothing)
    classes = [pitch % 12 for pitch in pitches]
    strong = [i for i, level in enumerate(levels) if level >= -1]
    downbeats = [pc for pc, level in zip(classes, levels, strict=True) if level == 0]
    closes = {numbers[i]: i for i in strong if numbers[i] and numbers[i] % 4 == 0}
    time, down = _shares(classes, lengths), _number_shares(downbeats)
    heard = sorted(time)
    singles = [
        *_entries("length", time),
        *_entries("root", {pc: math.sqrt(value) for pc, value in time.items()}),
        *_ones("heard", time),
        *_entries("downbeat", down),
        *_entries("close", _number_shares([classes[i] for i in closes.values()])),
        *_ends(pitches, classes, lengths, levels),
    ]
    if downbeats:
        singles.append((_SINGLE["first downbeat"], downbeats[0], 1.0))
        singles.append((_SINGLE["last downbeat"], downbeats[-1], 1.0))
    pairs = [*_moves("step", classes), *_moves("downbeat step", downbeats)]
    together = _PAIR["together"]
    pairs += [(together, a, b, 1.0) for i, a in enumerate(heard) for b in heard[i + 1 :]]
    if len(classes) > 1:
        pairs.append((_PAIR["last step"], classes[-2], classes[-1], 1.0))
    first_bar = next((number for number in numbers if number), 0)
    singles += _time_in("first bar", first_bar, classes, lengths, numbers)
    if every:
        singles += _triads(classes, lengths, numbers, levels)
        pairs += _strong_pairs(classes, strong, [i for i in closes.values() if i])
    return TonicEvidence(
        len(pitches),
        tuple(singles),
        tuple(pairs),
        tuple([time.get(pc, 0.0) for pc in range(12)]),
        tuple([classes.count(pc) / len(classes) for pc in range(12)]),
        tuple([down.get(pc, 0.0) for pc in range(12)]),
    )


_Single = tuple[int, int, float]


def _ends(
    pitches: Sequence[int], classes: Sequence[int], lengths: Sequence[int], levels: Sequence[int]
) -> Iterator[_Single]:
    """How the phrase begins and ends, and its outermost notes."""
    first, last = classes[0], classes[-1]
    low, high, long = min(pitches), max(pitches), max(lengths)
    middle = sorted(lengths)[len(lengths) // 2]
    longest = [pc for pc, length in zip(classes, lengths, strict=True) if length == long]
    yield _SINGLE["first"], first, 1.0
    yield _SINGLE["last"], last, 1.0
    yield _SINGLE["lowest"], low % 12, 1.0
    yield _SINGLE["highest"], high % 12, 1.0
    yield from _ones("longest", dict.fromkeys(longest))
    if first == last and len(pitches) > 1:
        yield _SINGLE["both ends"], last, 1.0
    if levels[-1] >= -1 and lengths[-1] > middle:
        yield _SINGLE["rest on last"], last, 1.0
    if pitches[-1] == low < high:
        yield _SINGLE["low last"], last, 1.0


def _triads(
    classes: Sequence[int], lengths: Sequence[int], numbers: Sequence[int], levels: Sequence[int]
) -> Iterator[_Single]:
    """The best major or minor triad of each full bar."""
    stressed: dict[int, list[float]] = {}
    for pc, length, number, level in zip(classes, lengths, numbers, levels, strict=True):
        weight = 1.5 if level == 0 else 1.2 if level >= -1 else 1.0
        stressed.setdefault(number, [0.0] * 12)[pc] += length * weight
    full = [number for number in stressed if number] or [0]
    found: dict[tuple[str, int], float] = {}
    for number in full:
        for triad, share in _best_triads(stressed[number]):
            found[triad] = found.get(triad, 0.0) + share / len(full)
    for (kind, root), value in found.items():
        yield _SINGLE[kind], root, value


def _best_triads(sums: Sequence[float]) -> list[tuple[tuple[str, int], float]]:
    """The triad that the time fits best, its root a little ahead; equal ones share it."""
    fits: dict[tuple[str, int], float] = {}
    for root in range(12):
        outer = 1.1 * sums[root] + sums[root - 5]
        fits["major triad", root] = outer + sums[root - 8]
        fits["minor triad", root] = outer + sums[root - 9]
    top = max(fits.values()) * (1 - 1e-9)
    best = [triad for triad, fit in fits.items() if fit >= top]
    return [(triad, 1 / len(best)) for triad in best]


def _time_in(
    kind: str, bar: int, classes: Sequence[int], lengths: Sequence[int], numbers: Sequence[int]
) -> Iterator[_Single]:
    own = [i for i, number in enumerate(numbers) if number == bar]
    yield from _entries(kind, _shares([classes[i] for i in own], [lengths[i] for i in own]))


def _strong_pairs(
    classes: Sequence[int], strong: Sequence[int], closes: Sequence[int]
) -> Iterator[tuple[int, int, int, float]]:
    yield from _moves("strong step", [classes[i] for i in strong])
    for (a, b), times in Counter((classes[i - 1], classes[i]) for i in closes).items():
        yield _PAIR["close step"], a, b, times / len(closes)
    if strong:
        yield _PAIR["pickup step"], classes[0], classes[strong[0]], 1.0


def _moves(kind: str, run: Sequence[int]) -> Iterator[tuple[int, int, int, float]]:
    for (a, b), times in Counter(pairwise(run)).items():
        yield _PAIR[kind], a, b, times / (len(run) - 1)


def _entries(kind: str, values: dict[int, float]) -> Iterator[_Single]:
    number = _SINGLE[kind]
    for pc, value in values.items():
        yield number, pc, value


def _ones(kind: str, classes: Iterable[int]) -> Iterator[_Single]:
    number = _SINGLE[kind]
    for pc in classes:
        yield number, pc, 1.0


def _number_shares(classes: Sequence[int]) -> dict[int, float]:
    return {pc: times / len(classes) for pc, times in Counter(classes).items()}


def _shares(classes: Sequence[int], values: Sequence[float]) -> dict[int, float]:
    sums: dict[int, float] = {}
    for pc, value in zip(classes, values, strict=True):
        sums[pc] = sums.get(pc, 0.0) + value
    whole = sum(sums.values())
    return {pc: value / whole for pc, value in sums.items()}
