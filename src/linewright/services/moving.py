"""The lick itself, moved: the use case behind the command, the page and the JSON API."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from functools import lru_cache
from typing import Any, Final

from linewright.analysis import Analysis
from linewright.errors import OptionError
from linewright.fretboard import parse_instrument
from linewright.lines import Moved, moved
from linewright.score import Instrument, Lick, note_outline, outline
from linewright.services.bring import BroughtIn, made_of
from linewright.services.shelf import About, Kept, Library, keep
from linewright.theory import Degree

__all__ = ["ChangeView", "MoveWishes", "changes_of", "keep_moved", "move_lick", "moved_dict"]

_LONGEST: Final = 80


@dataclass(frozen=True)
class MoveWishes:
    """Where a lick is to be moved, as it is written; what is empty stays as it is.

    Parameters
    ----------
    key : str
        As ``C`` or ``F# minor``; its tonic is where the lick's home goes.
    quality : str
        ``major``, ``dominant`` or ``minor``.
    position : int or None
        Fret the index finger lies over.
    instrument, tuning : str
        A name, or a tuning by name or by its strings, low to high.
    capo : int
    by_beats : str
        Beats later, or with a minus earlier: ``1``, ``-1/2``, ``0.5``.
    open_strings : bool or None
        With open strings, without, or as it comes.
    octaves : int or None
        Octaves up, or with a minus down; None leaves it where it lies best.
    """

    key: str = ""
    quality: str = ""
    position: int | None = None
    instrument: str = ""
    tuning: str = ""
    capo: int = 0
    by_beats: str = ""
    open_strings: bool | None = None
    octaves: int | None = None

    def __post_init__(self) -> None:
        for name in ("key", "quality", "instrument", "tuning", "by_beats"):
            if len(getattr(self, name)) > _LONGEST:
                raise OptionError(
                    f"the {name.replace('_', ' ')} is too long to read",
                    accepted=f"Use up to {_LONGEST} characters",
                )

    @property
    def any(self) -> bool:
        """Whether anything is asked."""
        return self != MoveWishes()


@dataclass(frozen=True)
class ChangeView:
    """A note that is another degree now: where, what it was, what it is, why."""

    index: int
    place: str
    before: str
    after: str
    why: str


def move_lick(analysis: Analysis, wishes: MoveWishes) -> Moved:
    """Move a lick; OptionError or MusicError says what it cannot do and what is accepted."""
    lick = analysis.lick
    return moved(
        analysis,
        key=wishes.key.strip() or None,
        quality=wishes.quality.strip() or None,
        instrument=_instrument(lick, wishes),
        position=wishes.position,
        later=_later(lick, wishes.by_beats.strip()),
        open_strings=wishes.open_strings,
        octaves=wishes.octaves,
    )


def _instrument(lick: Lick, wishes: MoveWishes) -> Instrument | None:
    """The instrument asked for; a tuning or capo alone is the lick's own instrument's."""
    name, tuning = wishes.instrument.strip(), wishes.tuning.strip()
    if not (name or tuning or wishes.capo):
        return None
    own = lick.instrument.name if lick.instrument else None
    return parse_instrument(name or own, tuning or None, wishes.capo)


def _later(lick: Lick, text: str) -> Fraction | None:
    if not text:
        return None
    match = re.fullmatch(r"([+-]?)(\d{1,3}(?:/[1-9]\d?|\.\d{1,3})?)", text, re.ASCII)
    if match is None:
        raise OptionError(
            f"{text!r:.40} is no number of beats", accepted="Write it as 1, -1 or 1/2"
        )
    beats = Fraction(match[2]) * (-1 if match[1] == "-" else 1)
    return beats * lick.meter.beat or None


def changes_of(analysis: Analysis, done: Moved) -> tuple[ChangeView, ...]:
    """The changes of a moved lick with their places and notes in words, in the key it is in now."""
    return tuple(
        ChangeView(
            change.index,
            analysis.lick.place(analysis.lick.notes[change.index].onset),
            f"{change.before} ({Degree.parse(change.before).above(done.tonic).name})",
            f"{change.after} ({done.lick.notes[change.index].pitch.pitch_class.name})",
            change.why,
        )
        for change in done.changes
    )


def moved_dict(done: Moved) -> dict[str, Any]:
    """A moved lick as JSON values: a lick with ``notes``, what was done, and what changed."""
    lick = done.lick
    notes = [note_outline(lick, index) for index in range(len(lick.notes))]
    return {**outline(lick), "notes": notes, **done.to_dict()}


@lru_cache(maxsize=64)
def moved_analysis(lick: Lick, tonic: str) -> Analysis:
    """What a moved lick is made of, against the tonic it was moved to."""
    return made_of(lick, tonic)


def keep_moved(
    library: Library,
    analysis: Analysis,
    wishes: MoveWishes,
    title: str | None = None,
    *,
    again: bool = True,
    now: datetime | None = None,
) -> Kept:
    """Move a lick and put it into the library as a lick of its own, tagged ``moved``; AlreadyKept
    when it is there and not to be kept ``again``.
    """
    done = move_lick(analysis, wishes)
    lick = done.lick.with_(
        title=f"{done.lick.title}, {done.words[0]}",
        tags=tuple(dict.fromkeys((*done.lick.tags, "moved"))),
        source=f"{analysis.lick.title}, {'; '.join(done.words)}"[:500],
    )
    found = made_of(lick)
    given = None if found.tonic.number == done.tonic.number else done.tonic.name
    brought = BroughtIn(lick, made_of(lick, given), given)
    return keep(library, brought, About(title=title), again=again, now=now)
