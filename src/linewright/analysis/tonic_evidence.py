"""What in a phrase speaks for a tonic and for a mode: the evidence, without its weights.

Everything is read from pitch numbers, lengths and places in the bar; declared key, chords and
spelling are never looked at. Evidence is kept by pitch class; a candidate tonic turns it round
so that pitch classes become semitones above that tonic.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import Final

from linewright.score import Lick, Meter

__all__ = [
    "MODE_FACTS",
    "PAIRS",
    "SINGLES",
    "TONIC_MODES",
    "TonicEvidence",
    "heard_degrees",
    "mode_facts",
    "tonic_evidence",
]

#: The modes told apart, in the order of every row of numbers.
TONIC_MODES: Final = ("major", "minor", "dorian", "mixolydian")
#: Kinds of evidence about single pitch classes.
SINGLES: Final = (
    "length",  # share of the sounding time
    "root",  # square root of that share
    "heard",  # 1 when it sounds at all
    "downbeat",  # share of the notes on bar lines
    "first", "last", "first downbeat", "last downbeat",  # 1 for the one note's class
    "lowest", "highest", "longest",  # 1 for each class that has such a note
    "close",  # share of the last strong notes of bars 4, 8, 12 ...
    "both ends",  # 1 for a class that begins and ends the phrase
    "rest on last",  # 1 for a last note on a beat and longer than most
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
    "close step",  # share of the moves into the last strong notes of bars 4, 8, 12 ...
    "pickup step",  # 1 for the first note and the first strong one
)
#: Kinds of evidence about a mode on a known tonic.
MODE_FACTS: Final = (
    "outside time", "root of outside time", "nothing outside", "outside notes",
    "outside downbeats", "outside classes",
    *(f"{kind} of the {degree}" for degree in ("3rd", "6th", "7th")
      for kind in ("odds", "majority", "downbeat odds")),
    "minor's own 6th heard",
)  # fmt: skip

_SCALES: Final = (
    (0, 2, 4, 5, 7, 9, 11),
    (0, 2, 3, 5, 7, 8, 10),
    (0, 2, 3, 5, 7, 9, 10),
    (0, 2, 4, 5, 7, 9, 10),
)
#: For each mode its own third, sixth and seventh, and the other one.
_DEGREES: Final = (
    ((4, 3), (9, 8), (11, 10)),
    ((3, 4), (8, 9), (10, 11)),
    ((3, 4), (9, 8), (10, 11)),
    ((4, 3), (9, 8), (10, 11)),
)
_FLOOR: Final = 0.02  # a share below which a degree counts as barely heard


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

    Without ``every`` the kinds that only the fit to whole tunes weighs are left out: the triads,
    and the last three of :data:`PAIRS`.
    """
    notes = [lick.notes[i] for i in lick.melody]
    if not notes:
        nothing = (0.0,) * 12
        return TonicEvidence(0, (), (), nothing, nothing, nothing)
    pitches = [note.midi for note in notes]
    classes = [pitch % 12 for pitch in pitches]
    lengths = [note.duration for note in notes]
    numbers, levels = _places(lick, [note.onset for note in notes])
    downbeats = [pc for pc, level in zip(classes, levels, strict=True) if level == 0]
    strong = [i for i, level in enumerate(levels) if level >= -1]
    ends = {numbers[i]: i for i in strong if numbers[i] % 4 == 0}
    time = _shares(classes, [float(length) for length in lengths])
    down = _shares(downbeats, [1.0] * len(downbeats))
    close = _shares([classes[i] for i in ends.values()], [1.0] * len(ends))
    low, high, long = min(pitches), max(pitches), max(lengths)
    singles = [
        *((0, pc, value) for pc, value in time.items()),
        *((1, pc, math.sqrt(value)) for pc, value in time.items()),
        *((2, pc, 1.0) for pc in time),
        *((3, pc, value) for pc, value in down.items()),
        (4, classes[0], 1.0),
        (5, classes[-1], 1.0),
        *((6 + i, downbeats[-i], 1.0) for i in (0, 1) if downbeats),
        (8, low % 12, 1.0),
        (9, high % 12, 1.0),
        *((10, pc, 1.0) for pc in {classes[i] for i, d in enumerate(lengths) if d == long}),
        *((11, pc, value) for pc, value in close.items()),
    ]
    opening = min((number for number in numbers if number), default=0)
    begun = [i for i, number in enumerate(numbers) if number == opening]
    bar = _shares([classes[i] for i in begun], [float(lengths[i]) for i in begun])
    singles += [(15, pc, value) for pc, value in bar.items()]
    if every:
        singles += _triads(classes, lengths, numbers, levels)
    middle = sorted(lengths)[len(lengths) // 2]
    singles += [
        (kind, classes[-1], 1.0)
        for kind, holds in (
            (12, classes[0] == classes[-1] and len(notes) > 1),
            (13, levels[-1] >= -1 and lengths[-1] > middle),
            (14, pitches[-1] == low and low < high),
        )
        if holds
    ]
    pairs = _pairs(classes, downbeats, sorted(time))
    if every:
        pairs += _strong_pairs(classes, strong, [i for number, i in ends.items() if number and i])
    return TonicEvidence(
        len(notes),
        tuple(singles),
        tuple(pairs),
        tuple(time.get(pc, 0.0) for pc in range(12)),
        tuple(classes.count(pc) / len(classes) for pc in range(12)),
        tuple(down.get(pc, 0.0) for pc in range(12)),
    )


def mode_facts(evidence: TonicEvidence, tonic: int, mode: int) -> tuple[float, ...]:
    """The :data:`MODE_FACTS` of a mode (index in :data:`TONIC_MODES`) on a tonic."""
    outside = [(tonic + d) % 12 for d in range(12) if d not in _SCALES[mode]]
    time = sum(evidence.time[pc] for pc in outside)
    facts = [
        time,
        math.sqrt(time),
        1.0 if time == 0 else 0.0,
        sum(evidence.share[pc] for pc in outside),
        sum(evidence.downbeat[pc] for pc in outside),
        float(sum(evidence.time[pc] > 0 for pc in outside)),
    ]
    for own, other in _DEGREES[mode]:
        a, b = (tonic + own) % 12, (tonic + other) % 12
        mine, theirs = evidence.time[a], evidence.time[b]
        facts.append(math.log((mine + _FLOOR) / (theirs + _FLOOR)))
        facts.append(0.0 if abs(mine - theirs) < 1e-9 else math.copysign(1.0, mine - theirs))
        facts.append(math.log((evidence.downbeat[a] + _FLOOR) / (evidence.downbeat[b] + _FLOOR)))
    own_sixth = TONIC_MODES[mode] == "minor" and evidence.time[(tonic + 8) % 12] > 0
    return (*facts, 1.0 if own_sixth else 0.0)


def heard_degrees(evidence: TonicEvidence, tonic: int) -> int:
    """Which thirds, sixths and sevenths are heard over a tonic: one of 64 states.

    Each is neither (0), the lower (1), the upper (2) or both (3); third x 16 + sixth x 4 + seventh.
    """
    state = 0
    for low in (3, 8, 10):
        state *= 4
        state += evidence.time[(tonic + low) % 12] > 0
        state += 2 * (evidence.time[(tonic + low + 1) % 12] > 0)
    return state


def _triads(
    classes: list[int], lengths: Sequence[Fraction], numbers: list[int], levels: list[int]
) -> list[tuple[int, int, float]]:
    """The best major or minor triad of each full bar; equal ones share it."""
    bars: dict[int, list[float]] = {}
    for pc, length, number, level in zip(classes, lengths, numbers, levels, strict=True):
        sums = bars.setdefault(number, [0.0] * 12)
        sums[pc] += float(length) * (1.5 if level == 0 else 1.2 if level >= -1 else 1.0)
    whole = [sums for number, sums in bars.items() if number] or list(bars.values())
    found: dict[tuple[int, int], float] = {}
    for sums in whole:
        fits: dict[tuple[int, int], float] = {}
        for root in range(12):
            outer = 1.1 * sums[root] + sums[root - 5]
            fits[16, root] = outer + sums[root - 8]
            fits[17, root] = outer + sums[root - 9]
        top = max(fits.values()) * (1 - 1e-9)
        best = [triad for triad, fit in fits.items() if fit >= top]
        for triad in best:
            found[triad] = found.get(triad, 0.0) + 1 / len(best) / len(whole)
    return [(kind, root, value) for (kind, root), value in found.items()]


def _strong_pairs(
    classes: list[int], strong: list[int], ends: list[int]
) -> list[tuple[int, int, int, float]]:
    moves = Counter(pairwise(classes[i] for i in strong))
    found = [(4, a, b, times / (len(strong) - 1)) for (a, b), times in moves.items()]
    into = Counter((classes[i - 1], classes[i]) for i in ends)
    found += [(5, a, b, times / len(ends)) for (a, b), times in into.items()]
    if strong:
        found.append((6, classes[0], classes[strong[0]], 1.0))
    return found


def _pairs(
    classes: list[int], downbeats: list[int], heard: list[int]
) -> list[tuple[int, int, int, float]]:
    found: list[tuple[int, int, int, float]] = []
    for kind, run in ((0, classes), (2, downbeats)):
        moves = Counter(pairwise(run))
        found += [(kind, a, b, times / (len(run) - 1)) for (a, b), times in moves.items()]
    if len(classes) > 1:
        found.append((1, classes[-2], classes[-1], 1.0))
    found += [(3, a, b, 1.0) for i, a in enumerate(heard) for b in heard[i + 1 :]]
    return found


def _shares(classes: Sequence[int], values: Sequence[float]) -> dict[int, float]:
    sums: dict[int, float] = {}
    for pc, value in zip(classes, values, strict=True):
        sums[pc] = sums.get(pc, 0.0) + value
    whole = sum(sums.values())
    return {pc: value / whole for pc, value in sums.items()}


def _places(lick: Lick, onsets: Sequence[Fraction]) -> tuple[list[int], list[int]]:
    """Bar number and metrical level of each onset; onsets are in order."""
    numbers, levels = [], []
    place, bars = 0, lick.bars
    for onset in onsets:
        while place + 1 < len(bars) and onset >= bars[place + 1].onset:
            place += 1
        bar = bars[place]
        numbers.append(bar.number)
        levels.append(_level(bar.meter, bar.offset(onset)))
    return numbers, levels


@lru_cache(maxsize=4096)
def _level(meter: Meter, offset: Fraction) -> int:
    return meter.weight(offset)
