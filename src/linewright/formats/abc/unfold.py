"""Repeats: the order in which a tune's events are played.

A strain runs from its start sign to its repeat sign. Where the start sign is missing, the strain
starts after the last repeat or double bar (at the very beginning for the first repeat), which
is how old collections mean it and how abc2midi plays it. Endings belong to the strain they close.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from linewright.errors import TooLarge
from linewright.formats.abc.events import BarSign, Change, Ending, Event, Part, Sound

__all__ = ["Repeats", "unfold"]

Repeats = Literal["once", "play"]
#: Events the played form may have.
_MAX_PLAYED: Final = 200_000
#: Parts a P: field may name.
_MAX_PARTS: Final = 100


@dataclass(slots=True)
class _Strain:
    """Events ``start`` to ``stop`` played ``passes`` times; ``endings`` are (start, stop, passes)."""

    start: int
    stop: int
    passes: int
    endings: list[tuple[int, int, frozenset[int]]]


def unfold(
    events: list[Event], repeats: Repeats, parts: str | None = None
) -> tuple[list[Event], bool]:
    """Events in playing order, and whether anything was repeated.

    With ``once`` every strain is there once, with its last ending; with ``play`` it is there as
    often as its signs say, and ``parts`` (the P: field of the header, as in ``ABA`` or
    ``(AB)2C``) gives the order of the parts. Raises TooLarge when the played form grows past a
    limit.
    """
    played = _Played(events)
    repeated = False
    for start, stop in _in_order(events, parts if repeats == "play" else None):
        repeated |= played.play(_strains(events[start:stop]), start, repeats)
    return played.found, repeated


class _Played:
    """Events as they are played; a jump brings back the meter and key in force where it lands."""

    def __init__(self, events: list[Event]) -> None:
        self.events = events
        self.found: list[Event] = []
        self._at = 0
        self._state: list[Change | None] = []
        state = None
        for event in events:
            self._state.append(state)
            if isinstance(event, Change):
                state = event

    def play(self, strains: list[_Strain], base: int, repeats: Repeats) -> bool:
        """Append strains whose indexes count from ``base``; whether any of them repeats."""
        for strain in strains:
            passes = range(1, strain.passes + 1) if repeats == "play" else (strain.passes,)
            for number in passes:
                at = strain.start
                for start, stop, numbers in strain.endings:
                    self._append(base + at, base + start)
                    if number in numbers:
                        self._append(base + start, base + stop)
                    at = stop
                self._append(base + at, base + strain.stop)
        return any(s.passes > 1 or s.endings for s in strains)

    def _append(self, start: int, stop: int) -> None:
        if start >= stop:
            return
        state = self._state[start]
        if start != self._at and state is not None:
            self.found.append(state)
        self._at = stop
        self.found.extend(self.events[start:stop])
        if len(self.found) > _MAX_PLAYED:
            raise TooLarge(
                "the repeats unfold into too much music", accepted="Read the repeated bars once"
            )


def _in_order(events: list[Event], parts: str | None) -> list[tuple[int, int]]:
    """Stretches of the events in the order the parts are played; all in one without parts."""
    whole = [(0, len(events))]
    marks = [(i, e.name) for i, e in enumerate(events) if isinstance(e, Part)] if parts else []
    if not marks or parts is None:
        return whole
    stops = [i for i, _ in marks[1:]] + [len(events)]
    places: dict[str, tuple[int, int]] = {}
    for (start, name), stop in zip(marks, stops, strict=True):
        places.setdefault(name[:1], (start, stop))
    order = [name for name in _part_order(parts) if name in places]
    if not order:
        return whole
    before = [(0, marks[0][0])] if marks[0][0] else []
    return before + [places[name] for name in order]


def _part_order(text: str) -> list[str]:
    """Part letters of a P: field in playing order: ``A2(BC)2`` is A A B C B C."""
    stack: list[list[str]] = [[]]
    last: list[str] = []
    for sign in text.split('"')[0]:
        if sign == "(" and len(stack) < 8:
            stack.append([])
        elif sign == ")" and len(stack) > 1:
            last = stack.pop()
            stack[-1] += last
        elif sign.isascii() and sign.isdigit() and last:
            stack[-1] += last * (max(1, int(sign)) - 1)
            last = []
        elif sign.isascii() and sign.isalpha():
            last = [sign]
            stack[-1] += last
        if sum(map(len, stack)) > _MAX_PARTS:
            break
    return [name for level in stack for name in level][:_MAX_PARTS]


def _strains(events: list[Event]) -> list[_Strain]:
    """Cut the events into strains; together they cover all events in order."""
    sounds = [0]  # how many sounds stand before each event
    for event in events:
        sounds.append(sounds[-1] + isinstance(event, Sound))
    strains: list[_Strain] = []
    start = 0  # where the strain being read starts
    double = 0  # after the last double bar, a start for a repeat without its start sign
    opened = False  # whether the strain has its start sign
    first = True  # whether no repeat has been seen yet
    index = 0
    while index < len(events):
        event = events[index]
        index += 1
        if isinstance(event, Ending):
            strain, index = _with_endings(events, start, index - 1)
            if not opened and not first and start < double <= index and double > start:
                strains.append(_Strain(start, double, 1, []))
                strain.start = double
            strains.append(strain)
            start = double = index
            opened, first = _starts_at(events, index), False
        elif isinstance(event, BarSign):
            if event.repeats and sounds[index] > sounds[start]:
                if not opened and not first and double > start:
                    strains.append(_Strain(start, double, 1, []))
                    start = double
                following = _next_ending(events, index)
                if following is not None:  # ":|2" without its "|1": treat what follows as plain
                    index = following
                strains.append(_Strain(start, index, event.repeats + 1, []))
                start = double = index
                opened, first = event.starts, False
            elif event.starts:
                if index > start:
                    strains.append(_Strain(start, index, 1, []))
                start = double = index
                opened = True
            elif event.double and sounds[index] > sounds[double]:
                double = index
    if start < len(events):
        strains.append(_Strain(start, len(events), 1, []))
    return strains


def _starts_at(events: list[Event], index: int) -> bool:
    before = events[index - 1]
    return isinstance(before, BarSign) and before.starts


def _next_ending(events: list[Event], index: int) -> int | None:
    """Index after an ending sign that stands right here, if any."""
    if index < len(events) and isinstance(events[index], Ending):
        return index + 1
    return None


def _with_endings(events: list[Event], start: int, at: int) -> tuple[_Strain, int]:
    """A strain whose first ending sign stands at ``at``, and the index after its last ending.

    An ending closes at a repeat sign, a double bar, the next ending, or a start sign; the last
    ending is the one after which no further ending of a higher pass follows.
    """
    endings: list[tuple[int, int, frozenset[int]]] = []
    seen: set[int] = set()
    index = at
    while index < len(events):
        sign = events[index]
        if not isinstance(sign, Ending) or sign.numbers & seen:
            break
        seen |= sign.numbers
        stop, closed_by_repeat = _ending_stop(events, index + 1)
        endings.append((index, stop, sign.numbers))
        index = stop
        if not closed_by_repeat and not (index < len(events) and isinstance(events[index], Ending)):
            break
    passes = max(seen)
    if len(endings) == 1 and passes == 1:
        # A lone first ending: played once before the repeat, left out after it.
        before = events[endings[0][1] - 1]
        passes = 2 if isinstance(before, BarSign) and before.repeats else 1
    return _Strain(start, index, passes, endings), index


def _ending_stop(events: list[Event], index: int) -> tuple[int, bool]:
    """Index after the bar line that closes an ending, and whether it is a repeat sign."""
    sounded = False
    while index < len(events):
        event = events[index]
        if isinstance(event, Ending):
            return index, False
        if isinstance(event, BarSign) and sounded:
            if event.repeats:
                return index + 1, True
            if event.starts or event.double:
                return index + 1, False
        sounded = sounded or isinstance(event, Sound)
        index += 1
    return index, False
