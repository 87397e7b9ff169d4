"""Where the passes of a lick begin when it is played again and again, counted in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from linewright.errors import OptionError
from linewright.score import Bar, Lick, Tempo
from linewright.score.performance import Part, Stroke
from linewright.sound.band.click import count_in_length
from linewright.sound.band.parts import USUAL_BPM

__all__ = ["MOST_LOOPS", "Passes", "passes_of", "quarter_bpm_of", "repeated", "turn"]

MOST_LOOPS: Final = 100


def turn(lick: Lick) -> Fraction:
    """Quarters from the end of the last bar to the start of the next pass.

    The meter goes on: a last bar that lacks what the pickup has is followed at once (0); a
    pickup falls into the end of a full last bar where no note begins there (negative, its
    length); else the bar is filled with rest (positive).
    """
    last, whole = lick.bars[-1], lick.meter.length
    gap = -(last.duration + lick.pickup) % whole
    start = lick.length - lick.pickup
    is_free = len(lick.bars) > 1 and not any(note.onset >= start for note in lick.notes)
    if lick.pickup and last.is_full and gap == whole - lick.pickup and is_free:
        return -lick.pickup
    return gap


@dataclass(frozen=True)
class Passes:
    """Where each pass of a lick begins, in quarters from the start of the performance."""

    starts: tuple[Fraction, ...]
    length: Fraction
    count_in: Fraction

    def bars(self, lick: Lick) -> tuple[Bar, ...]:
        """The bars as they are played: pickups that fall into a last bar, and rests, included."""
        return tuple(
            replace(bar, onset=bar.onset + start)
            for start in self.starts
            for bar in lick.bars
            if bar.number or start == self.starts[0]
        )


def passes_of(lick: Lick, loops: int = 1, count_in: int = 0) -> Passes:
    """Lay out the passes of a lick after a count-in of so many bars."""
    if not 1 <= loops <= MOST_LOOPS:
        raise OptionError(f"{loops} passes", accepted=f"Use 1 to {MOST_LOOPS}")
    if not 0 <= count_in <= 4:
        raise OptionError(f"a count-in of {count_in} bars", accepted="Use 0 to 4")
    before = count_in_length(lick.bars, count_in)
    each = lick.length + turn(lick)
    starts = tuple(before + i * each for i in range(loops))
    return Passes(starts, starts[-1] + lick.length, before)


def quarter_bpm_of(lick: Lick, tempo: Fraction | None = None) -> Fraction:
    """Quarters a minute: those asked for, in the beats of the lick's own tempo or meter.

    ``tempo`` counts the beat that the lick's tempo counts, so that a jig marked by the dotted
    quarter is asked for in dotted quarters.
    """
    if tempo is None:
        return lick.tempo.quarter_bpm if lick.tempo is not None else USUAL_BPM
    beat = lick.tempo.beat if lick.tempo is not None else Fraction(1)
    return Tempo(tempo, beat).quarter_bpm


def repeated(part: Part, laid: Passes) -> Part:
    """A part played at every pass; what would sound into the next pass on its string is cut."""
    firsts = _first_on_string(part.strokes)
    strokes: list[Stroke] = []
    for start, after in zip(laid.starts, [*laid.starts[1:], None], strict=True):
        for stroke in part.strokes:
            onset, duration = stroke.onset + start, stroke.duration
            if after is not None and stroke.string in firsts:
                duration = min(duration, after + firsts[stroke.string] - onset)
            strokes.append(replace(stroke, onset=onset, duration=duration))
    strokes.sort(key=lambda s: s.onset)
    return Part(part.name, part.voice, tuple(strokes))


def _first_on_string(strokes: Sequence[Stroke]) -> dict[int | None, Fraction]:
    found: dict[int | None, Fraction] = {}
    for stroke in strokes:
        found.setdefault(stroke.string, stroke.onset)
    return found
