"""The click: every beat, what lies between, only two and four, silent for bars at a time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from linewright.errors import OptionError
from linewright.score import Bar, Meter
from linewright.score.performance import Part, Stroke

__all__ = ["CLICKS", "ClickPlan", "bar_clicks", "click_part", "count_in_clicks", "count_in_length"]

#: Click patterns and what they are.
CLICKS: Final[dict[str, str]] = {
    "beats": "every beat",
    "divided": "every beat and what lies between",
    "2and4": "only two and four",
}
#: General MIDI percussion keys: high and low wood block.
HIGH, LOW = 76, 77
_TICK: Final = Fraction(1, 8)


@dataclass(frozen=True)
class ClickPlan:
    """How the click goes.

    Parameters
    ----------
    pattern : str
        One of :data:`CLICKS`.
    sound, silent : int
        Bars that sound and bars that are silent in turn; ``silent`` 0 is never silent.
    """

    pattern: str = "beats"
    sound: int = 1
    silent: int = 0

    def __post_init__(self) -> None:
        if self.pattern not in CLICKS:
            raise OptionError(
                f"no click is called {self.pattern!r:.60}", accepted=f"Use {', '.join(CLICKS)}"
            )
        if not (1 <= self.sound <= 64 and 0 <= self.silent <= 64):
            raise OptionError(
                f"a click that sounds for {self.sound} bars and is silent for {self.silent}",
                accepted="Use 1 to 64 bars of sound and 0 to 64 of silence",
            )

    def is_heard(self, bar: int) -> bool:
        """Whether the click sounds in a bar, counted from 0 in the order they are played."""
        return bar % (self.sound + self.silent) < self.sound


def bar_clicks(meter: Meter, pattern: str = "beats") -> tuple[Stroke, ...]:
    """The clicks of one full bar; its first beat is accented.

    With ``2and4`` every second beat clicks: in a bar of one beat, that one.
    """
    found: list[Stroke] = []
    for number, (at, length) in enumerate(zip(meter.beat_onsets, meter.beats, strict=True)):
        if pattern == "2and4" and number % 2 == 0 and len(meter.beats) > 1:
            continue
        found.append(_click(at, number == 0))
        if pattern == "divided":
            parts = int(length * 2) if (length * 2).denominator == 1 and length * 2 > 1 else 2
            found += [_click(at + length * i / parts, False, 0.35) for i in range(1, parts)]
    return tuple(found)


def _click(at: Fraction, accent: bool, strength: float = 0.6) -> Stroke:
    if accent:
        return Stroke(at, _TICK, HIGH, strength=0.85, attack="accent click")
    return Stroke(at, _TICK, LOW, strength=strength, attack="click")


def click_part(bars: Sequence[Bar], plan: ClickPlan, *, first: int = 0) -> Part:
    """The click over bars, the first of which is the ``first``-th played."""
    return Part("Click", "click", tuple(_clicks(bars, plan, first)))


def _clicks(bars: Sequence[Bar], plan: ClickPlan, first: int) -> Iterator[Stroke]:
    played = first
    for bar in bars:
        shift = bar.onset - bar.offset(bar.onset)  # a pickup counts back from its end
        if bar.number == 0 or plan.is_heard(played):
            for stroke in bar_clicks(bar.meter, plan.pattern):
                if bar.onset <= stroke.onset + shift < bar.end:
                    yield replace(stroke, onset=stroke.onset + shift)
        played += bar.number > 0


def count_in_length(bars: Sequence[Bar], count: int) -> Fraction:
    """Quarters counted before the music: ``count`` bars, less the pickup that falls in the last.

    A pickup longer than the count gets a bar more, so that something is counted at all.
    """
    if not count:
        return Fraction(0)
    meter = bars[0].meter
    pickup = bars[0].duration if bars[0].number == 0 else Fraction(0)
    length = count * meter.length - pickup
    return length if length > 0 else length + meter.length


def count_in_clicks(bars: Sequence[Bar], count: int) -> tuple[Stroke, ...]:
    """The clicks of a count-in from its start; they go on through a pickup to the first bar line."""
    meter = bars[0].meter
    length = count_in_length(bars, count)
    pickup = bars[0].duration if bars[0].number == 0 else Fraction(0)
    whole = length + pickup
    found: list[Stroke] = []
    for bar in range(int(whole / meter.length)):
        for stroke in bar_clicks(meter):
            found.append(replace(stroke, onset=bar * meter.length + stroke.onset))
    return tuple(found)
