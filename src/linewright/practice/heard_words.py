"""The words of a plan where no plain scale is settled: the notes heard, and no scale's name."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from linewright.lines.heard import NOTES_HEARD
from linewright.practice.model import Drill, Step

__all__ = ["heard_words", "in_heard_words"]

_NAMED: Final = rf"[A-G][#b]* {NOTES_HEARD}"
#: What a plan says of a frame, and what it says of the notes heard; the first that fits.
_WORDS: Final = tuple(
    (re.compile(said), instead)
    for said, instead in (
        (rf"Know the frame: {_NAMED}", "Know the notes heard"),
        (rf"notes of {_NAMED}", "notes heard"),
        (rf"{_NAMED} (in [^,]*), where you know {_NAMED}", r"the notes heard, moved there, \1"),
        (_NAMED, "the notes heard"),
        (r"The frame of (\S+) without", r"The same notes in \1 without"),
        (r"the frame of the new key", "the same notes in the new key"),
        (r"the frame's notes", "the notes heard"),
        (r"(two) frame notes", r"\1 of the notes heard"),
        (r"frame notes", "notes heard"),
        (r"([Ee]very other|next) note of the frame", r"\1 of the notes heard"),
        (r"each degree of the frame", "each of the notes heard"),
        (r"The frame\b", "The notes heard"),
        (r"\bthe frame\b", "the notes heard"),
    )
)


def heard_words(text: str) -> str:
    """A sentence of a plan without a frame.

    >>> heard_words("Know the frame: G notes heard in open position")
    'Know the notes heard in open position'
    >>> heard_words("Every move goes to the next note of the frame, up or down.")
    'Every move goes to the next of the notes heard, up or down.'
    """
    for said, instead in _WORDS:
        text = said.sub(instead, text)
    return text


def in_heard_words(step: Step, names: Sequence[str]) -> Step:
    """A step with all that is said of a frame said of the notes heard, which the first names."""
    purpose = heard_words(step.purpose)
    if step.key == "frame":
        purpose = purpose.replace("notes heard under", f"notes heard, {' '.join(names)}, under")
    return replace(
        step,
        title=heard_words(step.title),
        purpose=purpose,
        drills=tuple(
            Drill(
                heard_words(drill.title),
                heard_words(drill.words)[:1].upper() + heard_words(drill.words)[1:],
                drill.lick.with_(title=heard_words(drill.lick.title)),
            )
            for drill in step.drills
        ),
        if_not=tuple(map(heard_words, step.if_not)),
    )
