"""A planned bar laid out in columns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import ceil

from linewright.formats.tab.slots import BarPlan, Slot
from linewright.formats.tab.spell import Token
from linewright.score import Lick

__all__ = ["Block", "lay_bar"]

_ABOVE = {"palm mute": "PM", "let ring": "LR"}


@dataclass(slots=True)
class Block:
    """The rows of one bar, all ``width`` columns wide."""

    width: int
    strings: list[str]
    count: str
    above: dict[str, str] = field(default_factory=dict)


class _Canvas:
    """Rows being written from left to right."""

    def __init__(self, strings: int) -> None:
        self.strings = [""] * strings
        self.count = ""
        self.above: dict[str, str] = {}
        self.digits = 0  # first column clear of the fret numbers of the slot before

    def least(self, slot: Slot, notes: Sequence[tuple[int, Token]], above: dict[str, str]) -> int:
        """The first column a slot can have."""
        least = max(1, self.digits)
        for string, token in notes:
            gap = 0 if token.joins else 1
            least = max(least, len(self.strings[string - 1]) + gap + len(token.pre))
            least = max(least, 1 + len(token.pre))
        if slot.count:
            least = max(least, len(self.count) + bool(self.count))
        for name in above:
            row = self.above.get(name, "")
            least = max(least, len(row) + bool(row))
        return least

    def put(
        self, column: int, slot: Slot, notes: Sequence[tuple[int, Token]], above: dict[str, str]
    ) -> None:
        """Write a slot at a column."""
        for string, token in notes:
            row = self.strings[string - 1].ljust(column - len(token.pre), "-")
            text = token.pre + token.main + token.post
            if token.trail:
                text += f"-{token.trail}-"
            self.strings[string - 1] = row + text
        if slot.count:
            self.count = self.count.ljust(column) + slot.count
        for name, text in above.items():
            self.above[name] = self.above.get(name, "").ljust(column) + text
        widest = max((token.digits for _, token in notes), default=0)
        self.digits = column + max(widest, 2 if notes else 1)

    def put_grace(self, string: int, text: str) -> None:
        """Write a grace note in a column past everything written on the strings."""
        column = max(self.digits, len(self.strings[string - 1]) + 1, 1)
        row = self.strings[string - 1].ljust(column, "-")
        self.strings[string - 1] = row + text
        self.digits = column + len(text) + 1


def lay_bar(
    plan: BarPlan, lick: Lick, tokens: Sequence[Token], strings: int, *, counting: bool, scale: int
) -> Block:
    """Lay a bar out, ``scale`` columns to a quarter where the signs leave the choice."""
    canvas = _Canvas(strings)
    at, column = plan.bar.onset - plan.bar.onset, 1
    for slot in plan.slots:
        notes = [(lick.notes[index].string or 1, tokens[index]) for index in slot.notes]
        for _, token in notes:
            for string, text in token.graces:
                canvas.put_grace(string, text)
        above = _above(lick, slot)
        column = max(column + ceil((slot.at - at) * scale), canvas.least(slot, notes, above))
        canvas.put(column, slot, notes, above)
        at = slot.at
    width = max(
        column + ceil((plan.bar.duration - at) * scale),
        max(len(row) for row in canvas.strings) + 1,
        len(canvas.count),
        *(len(row) for row in canvas.above.values()),
        canvas.digits,
    )
    return Block(
        width,
        [row.ljust(width, "-") for row in canvas.strings],
        canvas.count if counting else "",
        canvas.above,
    )


def _above(lick: Lick, slot: Slot) -> dict[str, str]:
    """What stands above the strings at a slot, by row."""
    found: dict[str, str] = {}
    if slot.chord is not None:
        found["chords"] = slot.chord
    notes = [lick.notes[index] for index in slot.notes]
    for name, sign in _ABOVE.items():
        if any(note.has(name) for note in notes):
            found[name] = sign
    for name in ("down", "up"):
        if any(note.has(name) for note in notes):
            found["strokes"] = name[0]
    return found
