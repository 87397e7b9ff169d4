"""Takes: what a player did, held against the rules of a step.

:func:`judge` takes heard notes (see :mod:`linewright.sound`, or a MIDI file) and the
:class:`Terms` of a step and gives a :class:`Verdict` with a value, a limit and a place for each
rule. The take is an improvisation: there is no score to follow, only the rules, the chords and
the click. See docs/takes.md.
"""

from linewright.practice.takes.as_json import verdict_to_dict
from linewright.practice.takes.judge import judge
from linewright.practice.takes.model import (
    Ground,
    PlacedNote,
    RuleResult,
    Take,
    Terms,
    Timing,
    Verdict,
)
from linewright.practice.takes.terms import terms_of

__all__ = [
    "Ground",
    "PlacedNote",
    "RuleResult",
    "Take",
    "Terms",
    "Timing",
    "Verdict",
    "judge",
    "terms_of",
    "verdict_to_dict",
]
