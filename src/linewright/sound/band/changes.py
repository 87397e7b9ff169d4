"""The ground a band plays on: bars, chords, and what each chord offers a bass player."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache
from typing import Final

from linewright.score import Bar, ChordSpan, Lick
from linewright.theory import ChordSymbol

__all__ = ["Changes", "bass_number", "fifth_number", "scale_numbers"]

#: Steps added between the tones of a chord for a bass line to walk through, by what the chord
#: says about its third and seventh (common practice: Mixolydian over a dominant, Dorian over a
#: minor chord, the major scale over a major one, Locrian over a half-diminished one).
_MAJOR: Final = frozenset({0, 2, 4, 5, 7, 9, 11})
_MIXOLYDIAN: Final = frozenset({0, 2, 4, 5, 7, 9, 10})
_DORIAN: Final = frozenset({0, 2, 3, 5, 7, 9, 10})
_LOCRIAN: Final = frozenset({0, 1, 3, 5, 6, 8, 10})


@dataclass(frozen=True)
class Changes:
    """Bars and the chords over them, with the swing they are played in.

    Parameters
    ----------
    bars : tuple of Bar
    chords : tuple of ChordSpan
        Where none holds, and where one says N.C., the band rests.
    swing : Fraction or None
        Long : short, None straight.
    """

    bars: tuple[Bar, ...]
    chords: tuple[ChordSpan, ...]
    swing: Fraction | None = None

    @classmethod
    def of(cls, lick: Lick) -> Changes:
        """Those of a lick."""
        return cls(lick.bars, lick.chords, lick.swing)

    @property
    def has_chords(self) -> bool:
        """Whether there is anything for a band to play."""
        return any(span.symbol is not None for span in self.chords)

    @cached_property
    def spans(self) -> tuple[ChordSpan, ...]:
        """The chords, with neighbours of one symbol joined."""
        joined: list[ChordSpan] = []
        for span in self.chords:
            last = joined[-1] if joined else None
            if last is not None and last.end == span.onset and last.symbol == span.symbol:
                joined[-1] = ChordSpan(last.onset, span.end - last.onset, span.symbol)
            else:
                joined.append(span)
        return tuple(joined)

    @cached_property
    def _onsets(self) -> list[Fraction]:
        return [span.onset for span in self.spans]

    def span_at(self, moment: Fraction) -> ChordSpan | None:
        """The chord that holds at a moment; None where the band rests."""
        index = bisect_right(self._onsets, moment) - 1
        if index < 0 or moment >= self.spans[index].end:
            return None
        return self.spans[index] if self.spans[index].symbol is not None else None

    def chord_at(self, moment: Fraction) -> ChordSymbol | None:
        """Its symbol."""
        span = self.span_at(moment)
        return span.symbol if span is not None else None


def bass_number(chord: ChordSymbol) -> int:
    """Pitch class of the note under a chord: the bass written after a slash, or the root."""
    return (chord.bass or chord.root).number


def fifth_number(chord: ChordSymbol) -> int:
    """Pitch class of the chord's own fifth (flat or sharp where it says so), or its root's octave."""
    names = {degree.name: degree.semitones for degree in chord.degrees}
    found = next((names[name] for name in ("5", "b5", "#5") if name in names), 0)
    return (chord.root.number + found) % 12


@lru_cache(maxsize=1024)
def scale_numbers(chord: ChordSymbol) -> frozenset[int]:
    """Pitch classes a bass line may step through under a chord: its tones and those between."""
    names = {degree.name for degree in chord.degrees}
    if "b5" in names and "b3" in names:
        steps = _LOCRIAN
    elif "b3" in names:
        steps = _DORIAN
    elif "b7" in names:
        steps = _MIXOLYDIAN
    else:
        steps = _MAJOR
    tones = {(number - chord.root.number) % 12 for number in chord.numbers}
    kept = {step for step in steps if not any(abs(step - tone) == 1 for tone in tones)}
    return frozenset((chord.root.number + step) % 12 for step in kept | tones)
