"""Meters and bars: exact arithmetic in quarter notes."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from linewright.errors import MusicError
from linewright.theory import Key

__all__ = ["Bar", "Meter", "Tempo", "bars_for"]

_METER_RE = re.compile(r"\s*(\d{1,2}(?:\+\d{1,2})*)\s*/\s*(\d{1,2})\s*")


#: Every beat begins a whole number of these parts of a quarter into its bar (a 32nd has eight).
_TICKS = 8


@dataclass(frozen=True, slots=True)
class Meter:
    """A time signature; ``groups`` gives an additive meter's beats (3+2+2 of 7/8).

    >>> Meter.parse("6/8").beat, Meter.parse("6/8").length
    (Fraction(3, 2), Fraction(3, 1))
    """

    numerator: int
    denominator: int
    groups: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if not 1 <= self.numerator <= 64 or self.denominator not in (1, 2, 4, 8, 16, 32):
            raise MusicError(
                f"{self.numerator}/{self.denominator} is not a meter",
                accepted="Write it as 4/4, 3/4, 6/8 or 7/8, the lower number a power of two up to 32",
            )
        if self.groups and sum(self.groups) != self.numerator:
            raise MusicError(f"the groups {self.groups} do not add up to {self.numerator}")

    @classmethod
    def parse(cls, text: str) -> Meter:
        """Read ``4/4``, ``C``, ``C|``, ``cut``, ``3+2+2/8``; raises MusicError."""
        word = text.strip()
        if word in ("C", "c", "common"):
            return cls(4, 4)
        if word in ("C|", "c|", "cut"):
            return cls(2, 2)
        match = _METER_RE.fullmatch(word.replace("(", "").replace(")", ""))
        if match is None:
            raise MusicError(f"{text!r} is not a meter", accepted="Write it as 4/4, 3/4, 6/8 or C")
        groups = tuple(int(part) for part in match[1].split("+"))
        return cls(sum(groups), int(match[2]), groups if len(groups) > 1 else ())

    @property
    def length(self) -> Fraction:
        """Length of a full bar in quarter notes."""
        return Fraction(4 * self.numerator, self.denominator)

    @property
    def is_compound(self) -> bool:
        """Beats that divide in three: 6, 9 or 12 over 8 or 16 (common practice)."""
        return (
            not self.groups
            and self.denominator >= 8
            and self.numerator > 3
            and self.numerator % 3 == 0
        )

    @property
    def beats(self) -> tuple[Fraction, ...]:
        """Length of each beat of the bar in quarter notes, in order."""
        return _beats(self)

    @property
    def beat(self) -> Fraction:
        """Length of the first beat in quarter notes."""
        return self.beats[0]

    @property
    def beat_onsets(self) -> tuple[Fraction, ...]:
        """Where each beat of a bar begins, in quarter notes from the bar line."""
        return _beat_onsets(self)

    def beat_at(self, offset: Fraction) -> tuple[int, Fraction]:
        """Beat number (from 1) at an offset into the bar, and the rest within that beat."""
        top, bottom = offset.as_integer_ratio()
        number = max(bisect_right(_beat_ticks(self), top * _TICKS // bottom), 1)
        return number, offset - self.beat_onsets[number - 1]

    def weight(self, offset: Fraction) -> int:
        """Metrical weight of an offset into a full bar; 0 is the bar line, falling below it.

        The levels of Longuet-Higgins and Lee (1984): the bar 0, its halves (or thirds) -1, and
        so on down by the meter's own division, then by halves. An onset on no level of the
        tree down to the 64th (a triplet inside a simple beat) takes the level below the
        deepest beat division it splits.
        """
        span, level = self.length, 0
        position = offset % span
        for parts in self._divisions:
            if position % span == 0:
                return level
            span /= parts
            level -= 1
        while span > Fraction(1, 16):
            if position % span == 0:
                return level
            span /= 2
            level -= 1
        third = self.beat / (3 if not self.is_compound else 6)
        return -len(self._divisions) - 1 if position % third == 0 else level

    @property
    def _divisions(self) -> tuple[int, ...]:
        """How the bar divides, level by level, down to the beat's first division."""
        count = len(self.beats)
        if self.groups or (count > 1 and len(set(self.beats)) > 1):
            return (self.numerator,)
        parts: list[int] = []
        for prime in (2, 3, 5, 7):
            while count % prime == 0:
                parts.append(prime)
                count //= prime
        if count > 1:
            parts.append(count)
        return (*parts, 3 if self.is_compound else 2)

    @property
    def text(self) -> str:
        """As in ``6/8`` or ``3+2+2/8``."""
        top = "+".join(map(str, self.groups)) if self.groups else str(self.numerator)
        return f"{top}/{self.denominator}"

    def __str__(self) -> str:
        return self.text


@lru_cache(maxsize=256)
def _beats(meter: Meter) -> tuple[Fraction, ...]:
    unit = Fraction(4, meter.denominator)
    if meter.groups:
        return tuple(unit * group for group in meter.groups)
    if meter.is_compound:
        return (3 * unit,) * (meter.numerator // 3)
    if meter.denominator >= 8 and meter.numerator > 4:  # 5/8, 7/8: twos, then a three
        twos, rest = divmod(meter.numerator, 2)
        return (2 * unit,) * (twos - rest) + ((3 * unit,) if rest else ())
    return (unit,) * meter.numerator


@lru_cache(maxsize=256)
def _beat_onsets(meter: Meter) -> tuple[Fraction, ...]:
    onsets, at = [], Fraction(0)
    for beat in meter.beats:
        onsets.append(at)
        at += beat
    return tuple(onsets)


@lru_cache(maxsize=256)
def _beat_ticks(meter: Meter) -> tuple[int, ...]:
    return tuple(int(onset * _TICKS) for onset in meter.beat_onsets)


@dataclass(frozen=True, slots=True)
class Tempo:
    """``bpm`` beats a minute of a ``beat`` given in quarter notes (3/2 is a dotted quarter)."""

    bpm: Fraction
    beat: Fraction = Fraction(1)

    def __post_init__(self) -> None:
        if not 10 <= self.quarter_bpm <= 1000:
            raise MusicError(
                f"a tempo of {float(self.bpm):g} is out of range",
                accepted="Use 10 to 1000 quarters a minute",
            )

    @property
    def quarter_bpm(self) -> Fraction:
        """Quarter notes a minute."""
        return self.bpm * self.beat

    @property
    def seconds_per_quarter(self) -> float:
        """Seconds a quarter note lasts."""
        return float(60 / self.quarter_bpm)


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar: its place, its length and what is in force in it.

    ``number`` is 0 for a pickup and counts from 1 after it. ``duration`` may differ from
    ``meter.length`` (pickups, short last bars, the irregular bars of old collections).
    """

    number: int
    onset: Fraction
    duration: Fraction
    meter: Meter
    key: Key | None = None

    @property
    def end(self) -> Fraction:
        """Where the next bar begins."""
        return self.onset + self.duration

    @property
    def is_full(self) -> bool:
        """Whether the bar lasts as long as its meter says."""
        return self.duration == self.meter.length

    def offset(self, onset: Fraction) -> Fraction:
        """Offset of an onset as if the bar were full: a pickup counts back from its end."""
        if self.number == 0:
            return onset - self.onset + (self.meter.length - self.duration)
        return onset - self.onset


def bars_for(
    meter: Meter,
    length: Fraction,
    *,
    pickup: Fraction = Fraction(0),
    key: Key | None = None,
) -> tuple[Bar, ...]:
    """Bars of one meter that cover ``length`` quarters, after a pickup of ``pickup`` quarters.

    The last bar is always full.
    """
    bars: list[Bar] = []
    at = Fraction(0)
    if pickup:
        bars.append(Bar(0, at, pickup, meter, key))
        at += pickup
    number = 1
    while at < length or not bars or (bars[-1].number == 0 and len(bars) == 1 and length > pickup):
        bars.append(Bar(number, at, meter.length, meter, key))
        at += meter.length
        number += 1
    return tuple(bars)


def bars_from_lengths(
    lengths: Sequence[tuple[Fraction, Meter, Key | None]], *, pickup: bool = False
) -> tuple[Bar, ...]:
    """Bars laid end to end from (duration, meter, key); the first is numbered 0 when ``pickup``."""
    bars: list[Bar] = []
    at = Fraction(0)
    number = 0 if pickup else 1
    for duration, meter, key in lengths:
        bars.append(Bar(number, at, duration, meter, key))
        at += duration
        number += 1
    return tuple(bars)
