"""How well each pitch, and each way to reach it, suits each slot: the lick's taste, and the first
and last note asked for.
"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from linewright.errors import MusicError, OptionError
from linewright.lines.plan import LinePlan
from linewright.lines.request import is_pitch
from linewright.lines.taste import Taste
from linewright.theory import Degree, Frame, Pitch

__all__ = ["SlotWeights"]

Vector = NDArray[np.float64]


class SlotWeights:
    """For each slot an array over MIDI numbers; slots alike share one array."""

    def __init__(self, taste: Taste, plan: LinePlan) -> None:
        self.taste, self.plan = taste, plan
        self.known: dict[object, Vector] = {}
        self.ways: dict[tuple[float, ...], Vector] = {}
        self.long = _long(plan)
        request = plan.request
        self.start = _wanted(request.start, plan.slots[0].frame, "start")
        self.landing = _wanted(request.landing, plan.slots[-1].frame, "landing")

    def __call__(self, t: int) -> Vector:
        """The weights at slot ``t``."""
        plan = self.plan
        slot, final = plan.slots[t], t == len(plan.slots) - 1
        key = (
            slot.chord, slot.frame, slot.level, slot.part, slot.arrives, slot.closes,
            final, t == 0, self._held(t),
        )  # fmt: skip
        found = self.known.get(key)
        if found is None:
            found = np.zeros(128)
            for midi in range(plan.low, plan.high + 1):
                if t == 0 and self.start is not None and midi not in self.start:
                    continue
                if final and self.landing is not None and midi not in self.landing:
                    continue
                weight = self.taste.weight(slot, midi, plan.moved, last=final, held=self._held(t))
                found[midi] = round(weight, 9)
            self.known[key] = found
        return found

    def approach(self, t: int) -> Vector:
        """The weights of the ways to reach slot ``t``."""
        slot, last = self.plan.slots[t], t == len(self.plan.slots) - 1
        row = self.taste.approach(slot, last=last, held=self._held(t))
        return self.ways.setdefault(row, np.array(row))

    def _held(self, t: int) -> bool:
        return self.plan.slots[t].duration >= self.long


def _long(plan: LinePlan) -> Fraction:
    """How long a note is that counts as held: twice the commonest, and a quarter note or more."""
    counts = Counter(slot.duration for slot in plan.slots)
    common = min(counts, key=lambda duration: (-counts[duration], duration))
    return max(Fraction(1), 2 * common)


def _wanted(text: str | None, frame: Frame, what: str) -> frozenset[int] | None:
    """MIDI numbers that a degree (any octave) or a pitch stands for."""
    if text is None:
        return None
    word = text.strip()
    if is_pitch(word):
        return frozenset({Pitch.parse(word).midi})
    try:
        number = (frame.tonic.number + Degree.parse(word).semitones) % 12
    except MusicError as error:
        raise OptionError(
            f"{text!r} as the {what} note is neither a degree nor a pitch",
            accepted="Write it as 1, b3, 5, or as G4",
        ) from error
    return frozenset(m for m in range(128) if m % 12 == number)
