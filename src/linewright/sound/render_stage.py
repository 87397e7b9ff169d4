"""The players on a stage: strokes are handed out ahead of time, sound is taken span by span."""

from __future__ import annotations

from collections import defaultdict, deque
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.score.performance import Part, Performance, Stroke
from linewright.sound.string_player import Sounding, StringPlayer, Timed
from linewright.sound.voice_click import click_sound

__all__ = ["GROUPS", "Stage", "group_of"]

_Sound = NDArray[np.float32]

#: What can be made louder or softer, and its level beside the lead when all stand at 1.
GROUPS: Final = {"lead": 1.0, "band": 0.5, "click": 0.85}
#: Where the band's players sit, -1 left to 1 right, in turn; bass, lead and click in the middle.
_SEATS: Final = (-0.4, 0.4, -0.2, 0.2)


def group_of(part: Part) -> str:
    """``lead``, ``band`` or ``click``."""
    if part.voice == "click":
        return "click"
    return "lead" if part.name == "lead" else "band"


@dataclass
class _Chair:
    """One player: what is still to be played, string by string, and what sounds."""

    group: str
    player: StringPlayer | None
    left: float
    right: float
    waiting: defaultdict[int, deque[Timed]] = field(default_factory=lambda: defaultdict(deque))
    sounding: list[Sounding] = field(default_factory=list)


class Stage:
    """Plays performances put one after the other.

    Parameters
    ----------
    rate : int
    seed : int
        Of the small differences between plucks.
    """

    def __init__(self, rate: int, seed: int = 0) -> None:
        self.rate = rate
        self._seed = seed
        self._chairs: dict[tuple[str, str], _Chair] = {}

    def schedule(self, performance: Performance, origin: int) -> int:
        """Hand out a performance that begins at a sample; the sample at which it ends."""
        seconds = performance.seconds

        def sample(moment: float) -> int:
            return origin + round(moment * self.rate)

        for part in performance.parts:
            chair = self._chair(part)
            for stroke in part.strokes:
                string = stroke.string if stroke.string is not None else -1 - stroke.midi
                chair.waiting[string].append(
                    Timed(
                        stroke,
                        sample(seconds(stroke.onset)),
                        sample(seconds(stroke.end)),
                        self._which(stroke),
                    )
                )
        return sample(seconds(performance.length))

    def mix(self, low: int, high: int) -> dict[str, _Sound]:
        """The sound from sample ``low`` up to ``high`` by group; spans must follow each other."""
        count = high - low
        mixed = {group: np.zeros((count, 2), dtype=np.float32) for group in GROUPS}
        for chair in self._chairs.values():
            self._begin(chair, high)
            alone = np.zeros(count, dtype=np.float32)
            for sounding in chair.sounding:
                sounding.add_to(alone, low)
            chair.sounding = [s for s in chair.sounding if s.stop > high]
            target = mixed[chair.group]
            target[:, 0] += chair.left * alone
            target[:, 1] += chair.right * alone
        return mixed

    @property
    def silent_from(self) -> int:
        """The sample from which nothing sounds that has begun."""
        stops = [s.stop for chair in self._chairs.values() for s in chair.sounding]
        return max(stops, default=0)

    def _chair(self, part: Part) -> _Chair:
        found = self._chairs.get((part.name, part.voice))
        if found is None:
            group = group_of(part)
            seat = 0.0
            if group == "band" and part.voice != "bass":
                taken = sum(c.group == "band" and c.left != c.right for c in self._chairs.values())
                seat = _SEATS[taken % len(_SEATS)]
            angle = (seat + 1) * np.pi / 4
            found = self._chairs[part.name, part.voice] = _Chair(
                group,
                None if part.voice == "click" else StringPlayer(part.voice, self.rate),
                float(np.cos(angle)),
                float(np.sin(angle)),
            )
        return found

    def _begin(self, chair: _Chair, high: int) -> None:
        for waiting in chair.waiting.values():
            while waiting and waiting[0].start < high:
                timed = waiting.popleft()
                if chair.player is not None:
                    chair.sounding += chair.player.play(timed, waiting[0] if waiting else None)
                else:
                    knock = click_sound(self.rate, timed.stroke.attack == "accent click")
                    chair.sounding.append(Sounding(timed.start, knock, timed.stroke.strength))

    def _which(self, stroke: Stroke) -> int:
        """A number that scatters like strokes, yet is the same whenever the stroke comes again."""
        number = round(stroke.onset * 48) + 131 * (stroke.string or 0) + 977 * self._seed
        return (number * 2654435761 % 2**32) >> 11
