"""Where every note of a lick stands in the meter, worked out once, in whole numbers.

Musical time is kept as exact fractions. Questions asked of every note (which bar, which beat,
what weight, which chord) are answered here in one pass over the lick, after all its times are put
over their common denominator: a *tick* is that part of a quarter note, so ticks are as exact as
the fractions and cost what whole numbers cost.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import lcm
from typing import Final

from linewright.score.meter import Bar, Meter
from linewright.score.note import ChordSpan, Note
from linewright.theory import ChordSymbol

__all__ = ["Grid", "lay_out", "places_in"]

#: Offsets remembered for one meter: more than music needs, and an end to what a bad file can fill.
_MOST_PLACES: Final = 4096


@dataclass(frozen=True, slots=True)
class Grid:
    """The places of a lick's notes; every list but ``starts``, ``origins`` and ``melody`` has one entry for each note.

    Parameters
    ----------
    ticks : int
        Ticks in a quarter note.
    starts : list of int
        Where each bar begins, and where the last one ends.
    origins : list of int
        Where each bar would begin if it were full: a pickup counts back from its end.
    onsets, ends : list of int
        In ticks from the start of the lick.
    bars : list of int
        Index of the bar the note begins in.
    levels : list of int
        Metrical weight of the onset (:meth:`Meter.weight`).
    on_beat : list of bool
        Whether the note begins on a beat.
    beats : list of int
        Length of the first beat of the note's bar, in ticks.
    chords : list of ChordSymbol or None
        The chord sounding at the onset.
    midis : list of int
        MIDI number of the pitch heard.
    melody : tuple of int
        Indexes of the notes that make the tune: the highest of those struck together.
    places : list of int
        Place in ``melody`` of the note, or of the tune note it is struck together with.
    """

    ticks: int
    starts: list[int]
    origins: list[int]
    onsets: list[int]
    ends: list[int]
    bars: list[int]
    levels: list[int]
    on_beat: list[bool]
    beats: list[int]
    chords: list[ChordSymbol | None]
    midis: list[int]
    melody: tuple[int, ...]
    places: list[int]

    def whole(self, time: Fraction) -> int:
        """A time of the lick (of a note, bar or chord) in ticks."""
        return _whole(time, self.ticks)

    def is_tune(self, index: int) -> bool:
        """Whether a note belongs to the melody."""
        return self.melody[self.places[index]] == index


def lay_out(notes: Sequence[Note], bars: Sequence[Bar], chords: Sequence[ChordSpan]) -> Grid:
    """The grid of a sound lick's parts (notes in order, bars and chords end to end)."""
    begins = [note.onset.as_integer_ratio() for note in notes]
    lengths = [note.duration.as_integer_ratio() for note in notes]
    parts = {bottom for _, bottom in begins}
    parts.update([bottom for _, bottom in lengths])
    parts.update([bar.duration.denominator for bar in bars])
    for span in chords:
        parts.update((span.onset.denominator, span.duration.denominator))
    # Meters and their beats, and the halves of beats, are sixteenths of a quarter at the finest.
    ticks = lcm(16, *parts)
    each = {part: ticks // part for part in parts}
    onsets = [top * each[bottom] for top, bottom in begins]
    ends = [
        onset + top * each[bottom] for onset, (top, bottom) in zip(onsets, lengths, strict=True)
    ]
    midis = [note.pitch.midi for note in notes]
    melody, places = _tune(onsets)
    starts = [_whole(bar.onset, ticks) for bar in bars]
    origins = [
        start if bar.number else start - _whole(bar.offset(bar.onset), ticks)
        for start, bar in zip(starts, bars, strict=True)
    ]
    starts.append(starts[-1] + _whole(bars[-1].duration, ticks))
    in_bars, levels, on_beat, beats = _in_meter(onsets, bars, starts, origins, ticks)
    sounding = _over_chords(onsets, chords, ticks)
    return Grid(
        ticks,
        starts,
        origins,
        onsets,
        ends,
        in_bars,
        levels,
        on_beat,
        beats,
        sounding,
        midis,
        melody,
        places,
    )


def _whole(time: Fraction, ticks: int) -> int:
    return time.numerator * (ticks // time.denominator)


def _tune(onsets: Sequence[int]) -> tuple[tuple[int, ...], list[int]]:
    melody: list[int] = []
    places: list[int] = []
    last = -1
    for index, onset in enumerate(onsets):
        if onset != last:
            melody.append(index)
            last = onset
        places.append(len(melody) - 1)
    return tuple(melody), places


def _in_meter(
    onsets: Sequence[int],
    bars: Sequence[Bar],
    starts: Sequence[int],
    origins: Sequence[int],
    ticks: int,
) -> tuple[list[int], list[int], list[bool], list[int]]:
    in_bars: list[int] = []
    levels: list[int] = []
    on_beat: list[bool] = []
    beats: list[int] = []
    at, beat = -1, 0
    meter: Meter | None = None
    for onset in onsets:
        if onset >= starts[at + 1]:
            while onset >= starts[at + 1]:
                at += 1
            origin = origins[at]
            if bars[at].meter is not meter:
                meter = bars[at].meter
                places = places_in(meter, ticks)
                beat = _whole(meter.beat, ticks)
        level, begins = places[onset - origin]
        in_bars.append(at)
        levels.append(level)
        on_beat.append(begins)
        beats.append(beat)
    return in_bars, levels, on_beat, beats


@lru_cache(maxsize=64)
def places_in(meter: Meter, ticks: int) -> Mapping[int, tuple[int, bool]]:
    """Offset into a full bar, in ticks -> metrical weight there, and whether a beat begins."""
    return _Places(meter, ticks)


class _Places(dict[int, tuple[int, bool]]):
    """The places of one meter, each worked out when it is first asked for."""

    def __init__(self, meter: Meter, ticks: int) -> None:
        self._meter, self._ticks = meter, ticks

    def __missing__(self, offset: int) -> tuple[int, bool]:
        at = Fraction(offset, self._ticks)
        place = self._meter.weight(at), self._meter.beat_at(at)[1] == 0
        if len(self) < _MOST_PLACES:
            self[offset] = place
        return place


def _over_chords(
    onsets: Sequence[int], chords: Sequence[ChordSpan], ticks: int
) -> list[ChordSymbol | None]:
    if not chords:
        return [None] * len(onsets)
    starts = [_whole(span.onset, ticks) for span in chords]
    ends = [
        start + _whole(span.duration, ticks) for start, span in zip(starts, chords, strict=True)
    ]
    starts.append(max(onsets, default=0) + 1)
    found: list[ChordSymbol | None] = []
    at = -1
    for onset in onsets:
        while onset >= starts[at + 1]:
            at += 1
        found.append(chords[at].symbol if at >= 0 and onset < ends[at] else None)
    return found
