"""The moments of a line: where its notes fall, over which chord and frame."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from random import Random
from typing import Final

from linewright.errors import OptionError
from linewright.score import Lick, Meter, Note
from linewright.theory import ChordSymbol, Frame

__all__ = ["UNITS", "Slot", "bar_rhythms", "choose", "steady_bar"]

Rhythm = tuple[tuple[Fraction, Fraction], ...]

#: Grid name -> its note, in quarters.
UNITS: Final = {
    "eighths": Fraction(1, 2),
    "quarters": Fraction(1),
    "triplets": Fraction(1, 3),
    "sixteenths": Fraction(1, 4),
}


@dataclass(frozen=True, slots=True)
class Slot:
    """One note to be: its time, and what it stands over.

    ``part`` is how far into its beat it begins (0 on the beat, 1/2 half way), ``level`` the
    meter's weight there (0 the bar line), ``arrives`` whether it is the first over a new chord,
    ``closes`` whether it ends a phrase. ``pinned`` is the note kept there, if any.
    """

    onset: Fraction
    duration: Fraction
    bar: int
    part: Fraction
    level: int
    chord: ChordSymbol | None
    frame: Frame
    arrives: bool
    closes: bool
    pinned: Note | None = None

    @property
    def on_beat(self) -> bool:
        """Whether the note begins on a beat."""
        return self.part == 0


@lru_cache(maxsize=512)
def steady_bar(meter: Meter, grid: str, close: str) -> Rhythm:
    """(offset, duration) of a bar of steady notes; ``close`` is ``''``, ``breath`` (the last beat
    is one note; where notes are as long as beats, the last two) or ``held`` (a long last note from the middle of the bar).
    """
    unit, length = UNITS[grid], meter.length
    if any(beat % unit for beat in meter.beats):
        raise OptionError(
            f"the beats of {meter} do not divide into {grid}", accepted="Use eighths or cells"
        )
    beats = meter.beat_onsets
    last = length
    if close == "held":
        last = beats[len(beats) // 2]
    elif close == "breath":
        last = beats[-1]
        if unit >= length - last and len(beats) > 2:
            last = beats[-2]
    count = int(-(-last // unit))
    notes = [(unit * k, unit) for k in range(count)]
    if last < length:
        if notes and notes[-1][0] + unit > last:
            notes[-1] = (notes[-1][0], last - notes[-1][0])
        notes.append((last, length - last))
    return tuple(notes)


def bar_rhythms(lick: Lick) -> tuple[Rhythm, ...]:
    """(offset, duration) of the notes of each full bar of a lick; ties are cut at bar lines."""
    found: list[Rhythm] = []
    melody = [lick.notes[index] for index in lick.melody]
    for bar in lick.bars:
        if not bar.is_full or bar.meter != lick.meter:
            continue
        inside = tuple(
            (n.onset - bar.onset, min(n.end, bar.end) - n.onset)
            for n in melody
            if bar.onset <= n.onset < bar.end
        )
        if inside:
            found.append(inside)
    return tuple(found)


def choose(rhythms: Sequence[Rhythm], rng: Random, *, closes: bool) -> Rhythm:
    """One of the lick's bar rhythms, each as likely as it is often heard; its last bar's (or the
    one with the longest last note) where a phrase closes.
    """
    if closes:
        longest = max(r[-1][1] for r in rhythms)
        ends = [r for r in rhythms if r[-1][1] == longest]
        if rhythms[-1][-1][1] * 2 >= longest:
            ends.append(rhythms[-1])
        return ends[int(rng.random() * len(ends))]
    return rhythms[int(rng.random() * len(rhythms))]
