"""What a tune's music is before it is laid out in time: events in the order of the text."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from linewright.score import Mark, Meter
from linewright.theory import ChordSymbol, Key, Pitch

__all__ = ["BarSign", "Change", "Ending", "Event", "Harmony", "Part", "Remarks", "Sound", "Tone"]


@dataclass(slots=True)
class Tone:
    """One note of a sound: pitch, marks, and whether a tie leaves it."""

    pitch: Pitch
    marks: tuple[Mark, ...] = ()
    tied: bool = False


@dataclass(slots=True)
class Sound:
    """Notes struck together, or a rest when there are none; ``duration`` in quarters."""

    tones: list[Tone]
    duration: Fraction
    graces: tuple[Pitch, ...] = ()
    line: int = 0
    column: int = 0
    bars: int = 0  #: for a rest of whole bars, how many


@dataclass(slots=True)
class BarSign:
    """A bar line: how many times it says to repeat what came before (0 none), whether a repeated
    strain starts after it, and whether it is a double, thin-thick or invisible one.
    """

    repeats: int = 0
    starts: bool = False
    double: bool = False


@dataclass(slots=True)
class Ending:
    """The start of an ending played on the passes ``numbers``."""

    numbers: frozenset[int]


@dataclass(slots=True)
class Harmony:
    """A chord symbol at this point; None is N.C."""

    symbol: ChordSymbol | None


@dataclass(slots=True)
class Change:
    """A new meter or key from here on."""

    meter: Meter
    key: Key | None


@dataclass(slots=True)
class Part:
    """The start of a part named by a P: field."""

    name: str


Event = Sound | BarSign | Ending | Harmony | Change | Part


@dataclass(slots=True)
class Remarks:
    """What the reader had to decide, each kind once, with its first place and a count."""

    found: dict[str, tuple[int, int, int]] = field(default_factory=dict)

    def add(self, message: str, line: int = 0, column: int = 0) -> None:
        """Note a decision; the same message again only counts."""
        first = self.found.get(message)
        if first is not None:
            self.found[message] = (first[0], first[1], first[2] + 1)
        elif len(self.found) < 60:  # a broken file would otherwise fill pages
            self.found[message] = (line, column, 1)

    def texts(self) -> tuple[str, ...]:
        """The remarks in words, in order of first place."""
        done = []
        for message, (line, column, count) in self.found.items():
            where = (
                f"line {line}, column {column}: " if column else f"line {line}: " if line else ""
            )
            done.append(f"{where}{message}" + (f" ({count} times in all)" if count > 1 else ""))
        return tuple(done)
