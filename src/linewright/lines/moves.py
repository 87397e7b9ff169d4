"""How a melody moves: the next move in steps of the staff, given the one before.

The size of a move is the lick's own counts of successive moves over what was counted in tunes
(:mod:`.habits`): steps are commonest, a leap turns back (the post-skip reversal of von Hippel and
Huron 2000; Narmour 1990), and thirds fall more than they rise. Whether a melody goes on its way
or turns, and how often it repeats a note, is learned apart, from all of the lick's moves after a step,
a third or a leap, since that is what tells a line with a shape from an aimless one. What was
counted weighs as much as ``PRIOR_MOVES`` moves of the lick, so a lick of one bar is not parroted and one
of eight bars speaks for itself. Weights are the model's own; they are shares, not facts.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from copy import copy
from functools import cache
from typing import Final

from linewright.analysis.figures.views import frame_steps
from linewright.lines.habits import MOVES, WIDEST
from linewright.theory import Frame

__all__ = [
    "KINDS",
    "GROUPS",
    "NONE",
    "OUTCOMES",
    "PRIOR_MOVES",
    "REPEAT",
    "MoveTable",
    "goes_to_and_fro",
    "group_of",
    "kind_of",
    "last_kind",
    "memory_after",
    "outcome_of",
    "staff_heights",
    "steps_between",
]

#: Kinds of a move: its size (1, 2, 3 or more steps), its way, and whether the move before it
#: went the same way; then a repeated note after a fall and after a rise, and no move before.
REPEAT: Final = 12
NONE: Final = 14
KINDS: Final = 15
#: What a memory (:func:`memory_after`) counts moves back in, and the most there may be in a row.
_TIMES: Final = 16
_MOST_BACK: Final = 2
PRIOR_MOVES: Final = 6
#: How many moves what was counted of going on, of repeating a note, and of the size of a move weighs
#: as much as.
_PRIOR_WAYS: Final = 1.5
_PRIOR_STILL: Final = 6
_PRIOR_SIZES: Final = 40
#: Odds of going on after two moves the same way are raised by the first, since figures, chords and the
#: rule of quotation turn a line more often than its moves alone would; after a leap lowered by the
#: second, since chords carry a leap on.
_PRESS_RUN: Final = 1.3
_PRESS_LEAP: Final = 0.75
#: Weights of repeated notes, of leaps and of falling thirds besides: without them lines have more of the
#: first two and fewer of the third than tunes have. All five were chosen on tunes that lines are not
#: measured on (``benchmarks.line_music``).
_PRESS_STILL: Final = 0.8
_PRESS_WIDE: Final = 0.6
_PRESS_THIRD: Final = 1.1
#: What a move may do (:func:`outcome_of`).
OUTCOMES: Final = 3
#: The groups of kinds whose outcomes are settled together: up and down are one.
GROUPS: Final = 7
#: Weight of a move that was never counted, where all after one kind add up to about 1.
_LEAST: Final = 0.0002


def staff_heights(frame: Frame, midi: Iterable[int]) -> list[int]:
    """Heights in half steps of the staff: a frame note on the place of its letter (even), a note
    between two frame notes just above the lower. The third of a pentatonic scale so is two steps
    from its first note, as it is on the staff. A frame with two notes of one letter counts its own
    steps.
    """
    rungs = {degree.semitones: degree.number - 1 for degree in frame.collection.degrees}
    pitches = list(midi)
    if len(set(rungs.values())) < len(rungs):
        return frame_steps(frame, pitches)
    row: list[int] = []
    for above in range(12):
        row.append(2 * rungs[above] if above in rungs else (row[-1] if row else 0) | 1)
    return [
        14 * octave + row[above]
        for octave, above in (divmod(note - frame.tonic.number, 12) for note in pitches)
    ]


def kind_of(steps: int, before: int = NONE) -> int:
    """The kind of a move of so many steps after a move of kind ``before``.

    >>> kind_of(1), kind_of(1, kind_of(2)), kind_of(0)
    (3, 9, 12)
    """
    if not steps:
        return REPEAT + (before != NONE and _rises(before))
    rises = steps > 0
    same = before < REPEAT and _rises(before) == rises
    return min(abs(steps), 3) - 1 + 3 * rises + 6 * same


def memory_after(steps: int, memory: int) -> int | None:
    """The kind of a move after a memory, with how many moves in a row have taken back the move before
    (leaps of any size counting as the same); None for the third, as in B C B C B.

    >>> memory = memory_after(-1, memory_after(1, NONE))
    >>> last_kind(memory) == kind_of(-1, kind_of(1)), memory_after(-1, memory_after(1, memory))
    (True, None)
    """
    times, before = divmod(memory, _TIMES)
    kind = kind_of(steps, before)
    if not steps or before >= REPEAT or _rises(before) == (steps > 0) or before % 3 != kind % 3:
        return kind
    return None if times == _MOST_BACK else kind + _TIMES * (times + 1)


def last_kind(memory: int) -> int:
    """The kind of the last move of a memory."""
    return memory % _TIMES


def goes_to_and_fro(midi: Sequence[int]) -> bool:
    """Whether a melody goes to and fro between two notes as in B C B C B."""
    return any(
        len(set(row[::2])) == len(set(row[1::2])) == 1 and row[0] != row[1]
        for row in (midi[i : i + 5] for i in range(len(midi) - 4))
    )


def steps_between(before: int, after: int) -> int:
    """Steps between two heights (in half steps), a half step counted away from zero.

    >>> steps_between(4, 6), steps_between(4, 5), steps_between(6, 3)
    (1, 1, -2)
    """
    change = after - before
    return (change + 1) // 2 if change > 0 else -((1 - change) // 2)


def _rises(kind: int) -> bool:
    return kind // 3 % 2 == 1 if kind < REPEAT else kind > REPEAT


class MoveTable:
    """Weight of each move (-WIDEST to WIDEST steps) after each kind of move.

    Parameters
    ----------
    moves : sequence of int
        The lick's moves between frame notes, in steps of the staff.
    ways : sequence of int
        All its moves in order, outside notes too.
    """

    def __init__(self, moves: Sequence[int], ways: Sequence[int] = ()) -> None:
        counts = [[0.0] * (2 * WIDEST + 1) for _ in range(KINDS)]
        single = [0.0] * (2 * WIDEST + 1)
        before = NONE
        for steps in moves:
            place = max(-WIDEST, min(WIDEST, steps)) + WIDEST
            counts[before][place] += 1
            single[place] += 1
            before = kind_of(steps, before)
        self._on, self._stills = _ways(ways or moves), _still(ways or moves)
        self._weights: list[list[float]] = []
        oftener = _oftener(single)
        for kind in range(KINDS):
            usual = [e * w for e, w in zip(_usual(kind), oftener, strict=True)]
            whole = sum(usual)
            row = [
                (PRIOR_MOVES * u / whole + c) * _press(k - WIDEST)
                for k, (u, c) in enumerate(zip(usual, counts[kind], strict=True))
            ]
            if kind != NONE:
                row = _parted(row, kind, self.outcomes(group_of(kind)))
            self._weights.append(row)

    def outcomes(self, group: int) -> tuple[float, float, float]:
        """How often a note is repeated, and a melody goes on its way and turns back, after a move
        of a group (:func:`group_of`).
        """
        still, on = self._stills[group == GROUPS - 1], self._on[group]
        press = _PRESS_RUN if group // 3 == 1 else 1.0
        if group in (2, 5):
            press *= _PRESS_LEAP
        on = on * press / (on * press + 1 - on)
        still *= _PRESS_STILL
        return still, (1 - still) * on, (1 - still) * (1 - on)

    def bent(self, factors: Sequence[Sequence[float]]) -> MoveTable:
        """The same table with the outcomes after each group of kinds weighed."""
        other = copy(self)
        other._weights = [
            [
                round(w * factors[group_of(kind)][outcome_of(kind, k - WIDEST)], 9)
                for k, w in enumerate(row)
            ]
            if kind != NONE
            else row
            for kind, row in enumerate(self._weights)
        ]
        return other

    def weight(self, before: int, steps: int) -> float:
        """Weight of moving ``steps`` steps after a move of kind ``before``."""
        if not -WIDEST <= steps <= WIDEST:
            return 0.0
        return self._weights[before][steps + WIDEST]


def _usual(kind: int) -> list[float]:
    row = [max(_LEAST, count / 1000) for count in MOVES[kind]]
    total = sum(row)
    return [value / total for value in row]


def _press(steps: int) -> float:
    return _PRESS_WIDE if abs(steps) > 2 else _PRESS_THIRD if steps == -2 else 1.0


def _oftener(single: Sequence[float]) -> list[float]:
    """How much oftener than is usual the lick makes each move, whatever the move before (so what was
    counted bends to the lick's own sizes: the marginal adaptation of Kneser, Peters and Klakow 1997).
    """
    usual = _usual_sizes()
    whole = _PRIOR_SIZES + sum(single) - single[WIDEST]
    found = [
        (_PRIOR_SIZES + count / share) / whole if share else 1.0
        for count, share in zip(single, usual, strict=True)
    ]
    found[WIDEST] = 1.0
    return found


@cache
def _usual_sizes() -> tuple[float, ...]:
    """The share of every move, of those that move, in a long walk by what was counted."""
    kinds = [1.0 / NONE] * NONE
    row = [0.0] * (2 * WIDEST + 1)
    for _ in range(30):
        row, after = [0.0] * (2 * WIDEST + 1), [0.0] * NONE
        for kind, share in enumerate(kinds):
            for place, weight in enumerate(_usual(kind)):
                row[place] += share * weight
                after[kind_of(place - WIDEST, kind)] += share * weight
        kinds = after
    row[WIDEST] = 0.0
    return tuple(x / sum(row) for x in row)


def group_of(kind: int) -> int:
    """0 to 2 after a step, a third, a leap that is the first of its way; 3 to 5 after one that
    goes on; 6 after a repeated note.
    """
    return GROUPS - 1 if kind >= REPEAT else kind % 3 + 3 * (kind // 6)


def outcome_of(kind: int, steps: int) -> int:
    """0 for a repeated note, 1 for going on the same way after a move of a kind, 2 for turning back."""
    if not steps:
        return 0
    return 1 if _rises(kind) == (steps > 0) else 2


def _ways(moves: Sequence[int]) -> list[float]:
    """How likely it is to go on the same way, by the group of the move before."""
    on = [_PRIOR_WAYS * _goes_on(group) for group in range(GROUPS)]
    all_ = [_PRIOR_WAYS] * GROUPS
    before = NONE
    for move in moves:
        if before != NONE and move:
            all_[group_of(before)] += 1
            on[group_of(before)] += outcome_of(before, move) == 1
        before = kind_of(move, before)
    return [o / a for o, a in zip(on, all_, strict=True)]


def _goes_on(group: int) -> float:
    """The counted share of moves that go on, up and down together."""
    sums = [0.0, 0.0, 0.0]
    for kind in range(NONE):
        if group_of(kind) == group:
            for place, count in enumerate(MOVES[kind]):
                sums[outcome_of(kind, place - WIDEST)] += count
    return sums[1] / (sums[1] + sums[2])


def _still(moves: Sequence[int]) -> tuple[float, float]:
    """How likely it is to repeat a note after a move, and after a repeated note."""
    counted = [row[WIDEST] / 1000 for row in MOVES]
    usual = (sum(counted[:REPEAT]) / REPEAT, sum(counted[REPEAT:NONE]) / (NONE - REPEAT))
    found = []
    more = 1.0
    for repeated in range(2):
        after = [b for a, b in itertools.pairwise(moves) if (a == 0) == bool(repeated)]
        still = sum(1 for move in after if not move) + _PRIOR_STILL * usual[repeated] * more
        found.append(still / (len(after) + _PRIOR_STILL))
        more = min(1.0, found[0] / usual[0])  # a lick that repeats no note does not do so twice
    return found[0], found[1]


def _parted(row: list[float], kind: int, shares: Sequence[float]) -> list[float]:
    """A row whose moves repeat, go on and turn back as often as they should; it adds up to 1."""
    outcomes = [outcome_of(kind, place - WIDEST) for place in range(len(row))]
    sums = [0.0] * OUTCOMES
    for weight, outcome in zip(row, outcomes, strict=True):
        sums[outcome] += weight
    return [round(w * shares[o] / sums[o], 9) for w, o in zip(row, outcomes, strict=True)]
