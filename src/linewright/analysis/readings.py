"""The readings of a lick: every candidate frame worth listing, with its evidence and its reason.

They are worked out when asked for, from the :class:`Case` that the analysis keeps, and each reading
writes its evidence out when that is asked for: a caller who wants the frame does not pay for the
argument against its rivals.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from typing import Final, Literal

from linewright.analysis.frame import (
    Evidence,
    bit_set,
    candidates,
    confusions,
    is_usual,
    turned,
)
from linewright.analysis.prose import count, frame_words, join_words
from linewright.analysis.ranking import PITCH_CLASSES, Ranked
from linewright.analysis.reasons import (
    Heard,
    chosen_reason,
    foreign_reason,
    open_reason,
    possible_reason,
    rejected_reason,
    twin_reason,
)
from linewright.analysis.weighing import Weighing
from linewright.theory import Colour, Degree, Frame, PitchClass, spell_midi

__all__ = ["Case", "Reading", "Verdict", "frame_on", "list_readings", "say_verdict"]

Verdict = Literal["chosen", "possible", "ruled out"]

#: Readings listed on other tonics, and the bits within which a rival stays possible.
_OTHER_TONICS: Final = 12
_POSSIBLE_BITS: Final = 2.0


@dataclass(frozen=True, slots=True)
class Case:
    """What the readings of one analysis are argued from.

    ``tonic`` is home, ``frame`` the chosen frame (None when nothing fits), ``winner`` its place in
    the ``weighing``, ``colour`` the named scale it is part of.
    """

    heard: Heard
    found: Evidence
    weighing: Weighing
    tonic: PitchClass
    frame: Frame | None
    colour: Colour | None
    winner: Ranked | None

    def outside(self, frame: Frame) -> tuple[int, ...]:
        """Indexes of the notes that a frame leaves outside."""
        inside = bit_set(frame.numbers)
        return tuple([i for i in self.heard.pitched if not inside >> self.heard.midis[i] % 12 & 1])


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """One candidate frame with its evidence.

    Parameters
    ----------
    frame : Frame
    verdict : str
        ``chosen``, ``possible`` or ``ruled out``.
    score : float
        Description length in bits of the lick under this frame; lower is better.
    case : Case
        What it is argued from.
    """

    frame: Frame
    verdict: Verdict
    score: float
    case: Case = field(repr=False)

    @property
    def heard(self) -> tuple[Degree, ...]:
        """Degrees of the frame that sound in the lick."""
        return tuple(d for d in self.frame.collection.degrees if self._sounds(d))

    @property
    def unheard(self) -> tuple[Degree, ...]:
        """Degrees of the frame that do not."""
        return tuple(d for d in self.frame.collection.degrees if not self._sounds(d))

    @property
    def outside(self) -> tuple[int, ...]:
        """Indexes of the notes this frame leaves outside."""
        return self.case.outside(self.frame)

    @property
    def reason(self) -> str:
        """One sentence a teacher would accept, without a full stop."""
        case, one = self.case, self.frame
        if self.verdict == "chosen":
            return chosen_reason(case.heard, one, case.colour, self.outside)
        if one.tonic.number != case.tonic.number:
            return foreign_reason(case.heard, one, case.frame, case.tonic, self.outside)
        if self.verdict == "possible" and case.frame is not None:
            if not case.found.sounding & bit_set(one.numbers ^ case.frame.numbers):
                return twin_reason(one, case.frame)
            return possible_reason(case.heard, one, case.frame)
        if self.verdict == "possible":
            return open_reason(one, self.unheard)
        return rejected_reason(case.heard, one, case.frame)

    def _sounds(self, degree: Degree) -> int:
        return self.case.found.sounding >> (self.frame.tonic.number + degree.semitones) % 12 & 1

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Reading):
            return NotImplemented
        return self is other or (
            (self.frame, self.verdict, self.score) == (other.frame, other.verdict, other.score)
            and (self.heard, self.outside) == (other.heard, other.outside)
            and self.reason == other.reason
        )

    def __hash__(self) -> int:
        return hash((self.frame, self.verdict, self.score))


def list_readings(case: Case) -> tuple[Reading, ...]:
    """Every collection on home and the cheapest few on other tonics: the chosen one, the possible
    ones, those ruled out, each cheapest first.
    """
    home, winner, sounding = case.tonic, case.winner, case.found.sounding
    away = case.weighing.away(home.number, _OTHER_TONICS)
    if winner is not None and winner[1] != home.number and winner not in away:
        away.append(winner)
    listed = sorted([*case.weighing.on(home.number), *away])

    names = case.heard.names | {home.number: home}
    frame_leaves = sounding & ~bit_set(case.frame.numbers) if case.frame else 0
    groups: dict[Verdict, list[Reading]] = {"chosen": [], "possible": [], "ruled out": []}
    for item in listed:
        bits, number, place = item
        verdict: Verdict = "ruled out"
        if winner is None and number == home.number and _holds_all(case, item):
            verdict = "possible"
        elif item == winner:
            verdict = "chosen"
        elif winner is not None and number == home.number and _is_twin(case, place):
            verdict = "possible"
        elif winner is not None and number == home.number and bits - winner[0] < _POSSIBLE_BITS:
            # It stays in the running when it explains all that the frame does, and more, by heard
            # notes that tell it from its equals.
            leaves = sounding & ~PITCH_CLASSES[number][place]
            explains_more = leaves != frame_leaves and not leaves & ~frame_leaves
            heard = turned(sounding, number)
            if explains_more and not confusions(candidates[place].collection, heard):
                verdict = "possible"
        tonic = names.get(number) or spell_midi(60 + number).pitch_class
        one = frame_on(tonic.step, tonic.alter, place)
        groups[verdict].append(Reading(one, verdict, round(bits, 3), case))
    return (*groups["chosen"], *groups["possible"], *groups["ruled out"])


def _is_twin(case: Case, place: int) -> bool:
    """Whether a frame differs from the chosen one only in degrees that neither has heard.

    Both are of one size and explain the same notes: natural and harmonic minor without a 7.
    """
    if case.winner is None:
        return False
    one, other = candidates[case.winner[2]].degrees, candidates[place].degrees
    heard = turned(case.found.sounding, case.winner[1])
    return one.bit_count() == other.bit_count() and not heard & (one ^ other)


def _holds_all(case: Case, item: Ranked) -> bool:
    """Whether a frame of a usual kind leaves no note outside."""
    _, number, place = item
    left = case.found.sounding & ~PITCH_CLASSES[number][place]
    return not left and is_usual(candidates[place].collection)


@cache  # at most one for each collection on each of 49 names
def frame_on(step: str, alter: int, number: int) -> Frame:
    """The frame of a candidate (by its place in ``candidates``) on a tonic by name."""
    return Frame(PitchClass(step, alter), candidates[number].collection)


def say_verdict(case: Case) -> str:
    """One sentence: the frame and why, or that nothing fits and why."""
    heard, frame, colour = case.heard, case.frame, case.colour
    if frame is not None:
        name = frame_words(frame) if colour is None else f"{frame.name} with the {colour.added}"
        return f"It hangs on {name}: {chosen_reason(heard, frame, colour, case.outside(frame))}."
    names = list(dict.fromkeys(d.name for d in sorted(heard.degrees, key=lambda d: d.semitones)))
    if len(names) < 3:
        return (
            f"Nothing can be named: only {join_words(names)} of {case.tonic}"
            f" {'is' if len(names) == 1 else 'are'} heard, and many scales hold"
            f" {'it' if len(names) == 1 else 'them'}."
        )
    open_ones = [item[2] for item in case.weighing.on(case.tonic.number) if _holds_all(case, item)]
    if len(open_ones) > 1:
        fits = [candidates[place].collection.name for place in open_ones]
        more = " and others" if len(fits) > 3 else ""
        shown = join_words(fits[:3]) if not more else ", ".join(fits[:3])
        return (
            f"Too little is heard to tell: {join_words(names)} of {case.tonic} belong to"
            f" {shown}{more} alike."
        )
    played = f"against {case.tonic} it plays {join_words(names)}"
    if len(names) > 8:
        played = f"it plays {count(len(names))} of the twelve notes"
    return (
        f"Nothing fits: {played}, and no plain scale or"
        " arpeggio explains enough of that to be named."
    )
