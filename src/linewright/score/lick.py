"""Lick: the one value that every part of Linewright passes on.

Time is in quarter notes as exact fractions from the start of the lick (the start of the
pickup where there is one). Pitch is spelled and sounds as written (no octave transposition:
a guitar's low E is E2). Ties are merged: a note is one attack with its whole duration;
writers split it again at bar lines. Notes are in order of onset, and those that start
together (a double stop) run from high to low and share one duration.
"""

from __future__ import annotations

import operator
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from math import lcm
from typing import Any

from linewright.errors import MusicError
from linewright.score.check import Problem, find_problems
from linewright.score.grid import Grid, lay_out
from linewright.score.instrument import Instrument
from linewright.score.meter import Bar, Meter, Tempo
from linewright.score.note import ChordSpan, Grace, Note
from linewright.theory import ChordSymbol, Interval, Key, Pitch, PitchClass

__all__ = ["Lick", "problems"]

#: Places in words kept at hand for one lick: more than it has notes, and an end to it.
_MOST_PLACES = 4096


@dataclass(frozen=True)
class Lick:
    """A short phrase: notes, bars, chords and what is known about it.

    Raises MusicError when the parts contradict each other: bars that leave gaps, notes outside
    the bars or overlapping, a string the instrument lacks.
    """

    notes: tuple[Note, ...]
    bars: tuple[Bar, ...]
    chords: tuple[ChordSpan, ...] = ()
    title: str = "Untitled"
    tempo: Tempo | None = None
    instrument: Instrument | None = None
    swing: Fraction | None = None  # long : short of a swung pair, 2 for triplet swing
    style: str | None = None
    source: str | None = None
    tags: tuple[str, ...] = ()
    #: Whether the source chose the spelling of pitches (not so in a tab or a MIDI file).
    spelled: bool = field(default=True, compare=False)
    #: What the reader had to decide (rhythm inferred, repeats taken once). Not part of equality.
    remarks: tuple[str, ...] = field(default=(), compare=False)

    def __post_init__(self) -> None:
        found = problems(self)
        if found:
            place = f"note {found[0].note + 1}" if found[0].note is not None else None
            raise MusicError(found[0].message, accepted=found[0].accepted, place=place)

    # -- the whole -----------------------------------------------------------------------
    @property
    def meter(self) -> Meter:
        """The meter of the first bar."""
        return self.bars[0].meter

    @property
    def key(self) -> Key | None:
        """The declared key of the first bar."""
        return self.bars[0].key

    @property
    def length(self) -> Fraction:
        """Length in quarter notes, all bars."""
        return self.bars[-1].end

    @property
    def pickup(self) -> Fraction:
        """Length of the pickup in quarter notes, 0 without one."""
        return self.bars[0].duration if self.bars[0].number == 0 else Fraction(0)

    # -- in time -------------------------------------------------------------------------
    @cached_property
    def _bar_ticks(self) -> tuple[int, list[int]]:
        return _in_ticks([bar.onset for bar in self.bars])

    def bar_at(self, onset: Fraction) -> Bar:
        """The bar that holds a moment (the last bar for anything later)."""
        return self.bars[max(0, _begun(self._bar_ticks, onset) - 1)]

    @cached_property
    def _chord_ticks(self) -> tuple[int, list[int]]:
        return _in_ticks([span.onset for span in self.chords])

    def chord_at(self, onset: Fraction) -> ChordSymbol | None:
        """The chord sounding at a moment, if any."""
        index = _begun(self._chord_ticks, onset) - 1
        if index >= 0 and onset < self.chords[index].end:
            return self.chords[index].symbol
        return None

    def place(self, onset: Fraction) -> str:
        """A moment in a player's words: ``bar 2, beat 3`` or ``bar 1, beat 2 and``."""
        key = onset.as_integer_ratio()
        said = self._places.get(key)
        if said is None:
            if len(self._places) >= _MOST_PLACES:
                self._places.clear()
            said = self._places[key] = self._place(onset)
        return said

    @cached_property
    def _places(self) -> dict[tuple[int, int], str]:
        return {}

    def _place(self, onset: Fraction) -> str:
        bar = self.bar_at(onset)
        beat, rest = bar.meter.beat_at(bar.offset(onset))
        where = "the pickup" if bar.number == 0 else f"bar {bar.number}"
        length = bar.meter.beats[beat - 1]
        if rest == 0:
            return f"{where}, beat {beat}"
        if rest * 2 == length:
            return f"{where}, the and of {beat}"
        return f"{where}, after beat {beat}"

    @cached_property
    def grid(self) -> Grid:
        """Bar, weight, beat and chord of every note, in whole ticks; worked out once."""
        return lay_out(self.notes, self.bars, self.chords)

    @property
    def melody(self) -> tuple[int, ...]:
        """Indexes of the notes that make the tune: the highest of each double stop."""
        return self.grid.melody

    # -- moved ---------------------------------------------------------------------------
    def with_(self, **changes: Any) -> Lick:
        """A copy with fields replaced (``dataclasses.replace`` as a method)."""
        return replace(self, **changes)

    def respelled(self, pitches: Sequence[Pitch]) -> Lick:
        """The lick with its pitches under other names; each must sound as the one it replaces.

        Only names change, so nothing is checked or worked out again. The same lick when no name
        changes.
        """
        notes = tuple(
            [
                note if note.pitch is pitch or note.pitch == pitch else replace(note, pitch=pitch)
                for note, pitch in zip(self.notes, pitches, strict=True)
            ]
        )
        if all(map(operator.is_, notes, self.notes)):
            return self
        if [note.pitch.midi for note in notes] != self.grid.midis:
            raise MusicError("a respelled pitch must sound the same")
        copy = object.__new__(Lick)
        copy.__dict__.update(self.__dict__, notes=notes)
        return copy

    def transpose(self, interval: Interval) -> Lick:
        """The lick moved by ``interval``, chords and keys with it; strings and frets are dropped
        since a place on the neck does not move with the pitch.
        """

        def key(old: Key | None) -> Key | None:
            if old is None:
                return None
            return _plain_key(
                old.tonic.transpose(interval),
                old.mode,
                tuple(n.transpose(interval) for n in old.added),
            )

        def chord(old: ChordSymbol | None) -> ChordSymbol | None:
            if old is None:
                return None
            bass = old.bass.transpose(interval) if old.bass else None
            return ChordSymbol(old.root.transpose(interval), old.quality, bass)

        return replace(
            self,
            notes=tuple(
                replace(
                    note,
                    pitch=note.pitch.transpose(interval),
                    string=None,
                    fret=None,
                    grace=tuple(Grace(g.pitch.transpose(interval)) for g in note.grace),
                )
                for note in self.notes
            ),
            bars=tuple(replace(bar, key=key(bar.key)) for bar in self.bars),
            chords=tuple(replace(span, symbol=chord(span.symbol)) for span in self.chords),
        )

    def slice(self, first_bar: int, last_bar: int) -> Lick:
        """Bars ``first_bar`` to ``last_bar`` (by number, both included) as a lick of its own.

        A note tied into the span from before it is left out; one that rings past it is cut.
        """
        chosen = [bar for bar in self.bars if first_bar <= bar.number <= last_bar]
        if not chosen:
            numbers = f"{self.bars[0].number} to {self.bars[-1].number}"
            raise MusicError(
                f"there are no bars {first_bar} to {last_bar}",
                accepted=f"This lick has bars {numbers}",
            )
        start, end = chosen[0].onset, chosen[-1].end
        shift = 0 if chosen[0].number == 0 else chosen[0].number - 1
        return replace(
            self,
            notes=tuple(
                replace(n, onset=n.onset - start, duration=min(n.end, end) - n.onset)
                for n in self.notes
                if start <= n.onset < end
            ),
            bars=tuple(replace(b, onset=b.onset - start, number=b.number - shift) for b in chosen),
            chords=tuple(
                ChordSpan(
                    max(c.onset, start) - start, min(c.end, end) - max(c.onset, start), c.symbol
                )
                for c in self.chords
                if c.onset < end and c.end > start
            ),
        )


def _in_ticks(moments: Sequence[Fraction]) -> tuple[int, list[int]]:
    """Moments as whole numbers of their common part of a quarter, and how many make a quarter."""
    ticks = lcm(1, *[moment.denominator for moment in moments])
    return ticks, [moment.numerator * (ticks // moment.denominator) for moment in moments]


def _begun(moments: tuple[int, list[int]], at: Fraction) -> int:
    """How many of the moments are not later than ``at``; whole numbers compare much faster."""
    ticks, starts = moments
    top, bottom = at.as_integer_ratio()
    return bisect_right(starts, top * ticks // bottom)


def problems(lick: Lick) -> list[Problem]:
    """Every contradiction in a lick, in order of place; empty for a sound one."""
    return find_problems(lick.notes, lick.bars, lick.chords, lick.instrument)


def _plain_key(tonic: PitchClass, mode: str, added: tuple[PitchClass, ...]) -> Key:
    """A key, its tonic respelled enharmonically when the signature would pass seven signs."""
    try:
        return Key(tonic, mode, added)
    except MusicError:
        other = PitchClass.from_fifths(tonic.fifths + (12 if tonic.fifths < 0 else -12))
        return Key(other, mode)
