"""How well each pitch suits each slot: the lick's taste, and the first and last note asked for."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from linewright.errors import MusicError, OptionError
from linewright.lines.plan import LinePlan
from linewright.lines.taste import Taste
from linewright.theory import Degree, Frame, Pitch

__all__ = ["SlotWeights"]

Vector = NDArray[np.float64]


class SlotWeights:
    """For each slot an array over MIDI numbers; slots alike share one array."""

    def __init__(self, taste: Taste, plan: LinePlan) -> None:
        self.taste, self.plan = taste, plan
        self.known: dict[object, Vector] = {}
        request = plan.request
        self.start = _wanted(request.start, plan.slots[0].frame, "start")
        self.landing = _wanted(request.landing, plan.slots[-1].frame, "landing")

    def __call__(self, t: int) -> Vector:
        """The weights at slot ``t``."""
        plan = self.plan
        slot, final = plan.slots[t], t == len(plan.slots) - 1
        key = (
            slot.chord, slot.frame, slot.level, slot.part, slot.arrives, slot.closes,
            final, t == 0,
        )  # fmt: skip
        found = self.known.get(key)
        if found is None:
            found = np.zeros(128)
            for midi in range(plan.low, plan.high + 1):
                if t == 0 and self.start is not None and midi not in self.start:
                    continue
                if final and self.landing is not None and midi not in self.landing:
                    continue
                found[midi] = round(self.taste.weight(slot, midi, plan.moved, last=final), 9)
            self.known[key] = found
        return found


def _wanted(text: str | None, frame: Frame, what: str) -> frozenset[int] | None:
    """MIDI numbers that a degree (any octave) or a pitch stands for."""
    if text is None:
        return None
    word = text.strip()
    if word[:1].upper() in "ABCDEFG" and word[-1:].isdigit():
        return frozenset({Pitch.parse(word).midi})
    try:
        number = (frame.tonic.number + Degree.parse(word).semitones) % 12
    except MusicError as error:
        raise OptionError(
            f"{text!r} as the {what} note is neither a degree nor a pitch",
            accepted="Write it as 1, b3, 5, or as G4",
        ) from error
    return frozenset(m for m in range(128) if m % 12 == number)
