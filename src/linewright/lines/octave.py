"""The octave in which a lick lies on an instrument: the one asked for, the best or the nearest."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from linewright.errors import MusicError, OptionError
from linewright.fretboard import fingering_cost, places
from linewright.score import Instrument, Lick
from linewright.theory import Interval

__all__ = ["in_octave", "placeless"]

_MOST_OCTAVES: Final = 3


def placeless(lick: Lick) -> Lick:
    """A lick without its strings, frets and instrument."""
    notes = tuple(replace(n, string=None, fret=None) for n in lick.notes)
    return lick.with_(notes=notes, instrument=None)


def in_octave(
    lick: Lick, instrument: Instrument, octaves: int | None, best: bool
) -> tuple[Lick, str]:
    """The lick in the octave asked for, else in the ``best`` or the nearest one that the
    instrument has, with words for it when that is another; as it is when it has none.
    """
    if octaves is not None and abs(octaves) > _MOST_OCTAVES:
        raise OptionError(f"{octaves} octaves", accepted=f"Use up to {_MOST_OCTAVES} up or down")
    held = [note.midi - int(note.bend) for note in lick.notes]
    found: list[tuple[float, int, Lick]] = []
    for by in (0, 1, -1, 2, -2, 3, -3) if octaves is None else (octaves,):
        if not all(places(midi + 12 * by, instrument) for midi in held):
            continue
        there = lick.transpose(Interval(7 * by, 12 * by)) if by else lick
        try:
            cost = fingering_cost(placeless(there).with_(instrument=instrument)) if best else 0.0
        except MusicError:  # double stops that no hand holds there
            continue
        found.append((cost, by, there))
    if not found:
        if octaves is None:
            return lick, ""
        raise OptionError(
            f"the {instrument.name} ({instrument.tuning}) has not all its notes {_register(octaves)}",
            accepted="Ask for another octave, key or instrument",
        )
    _, by, there = min(found, key=lambda one: one[0])
    why = "" if octaves is not None else ", where it lies best" if best else ", to be in range"
    return there, f"{_register(by)}{why}" if by else ""


def _register(octaves: int) -> str:
    """``an octave lower``, ``two octaves higher``."""
    if not octaves:
        return "in its own octave"
    number = ("an octave", "two octaves", "three octaves")[abs(octaves) - 1]
    return f"{number} {'higher' if octaves > 0 else 'lower'}"
