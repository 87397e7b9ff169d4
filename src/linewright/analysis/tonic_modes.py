"""What speaks for a mode on a tonic: the evidence, without its weights."""

from __future__ import annotations

import math
from typing import Final

from linewright.analysis.tonic_evidence import TonicEvidence

__all__ = [
    "MODE_FACTS",
    "TONIC_MODES",
    "heard_degrees",
    "mode_facts",
]

#: The modes told apart, in the order of every row of numbers.
TONIC_MODES: Final = ("major", "minor", "dorian", "mixolydian")
#: Kinds of evidence about a mode on a tonic.
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
_OUTSIDE: Final = tuple(tuple(d for d in range(12) if d not in scale) for scale in _SCALES)
#: For each mode its own third, sixth and seventh, and the other one.
_DEGREES: Final = (
    ((4, 3), (9, 8), (11, 10)),
    ((3, 4), (8, 9), (10, 11)),
    ((3, 4), (9, 8), (10, 11)),
    ((4, 3), (9, 8), (10, 11)),
)
_FLOOR: Final = 0.02  # a share below which a degree counts as barely heard


def mode_facts(evidence: TonicEvidence, tonic: int, mode: int) -> tuple[float, ...]:
    """The :data:`MODE_FACTS` of a mode (index in :data:`TONIC_MODES`) on a tonic."""
    outside = [(tonic + d) % 12 for d in _OUTSIDE[mode]]
    time = sum([evidence.time[pc] for pc in outside])
    facts = [
        time,
        math.sqrt(time),
        1.0 if time == 0 else 0.0,
        sum([evidence.share[pc] for pc in outside]),
        sum([evidence.downbeat[pc] for pc in outside]),
        float(sum([evidence.time[pc] > 0 for pc in outside])),
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
