"""What is written at which moment of a bar: attacks, rests, chords and the counts between."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from linewright.errors import WriteError
from linewright.formats.tab.counting import COUNT_WORDS, count_unit
from linewright.score import Bar, Lick, Meter

__all__ = ["BarPlan", "Slot", "plan_bars"]

_SYLLABLES: Final[dict[Fraction, str]] = {
    Fraction(0): "", Fraction(1, 4): "e", Fraction(1, 2): "&", Fraction(3, 4): "a",
    Fraction(1, 3): "la", Fraction(2, 3): "li", Fraction(1, 6): "ta", Fraction(5, 6): "ta",
}  # fmt: skip
_THREE_QUARTERS, _TWO_THIRDS, _FIVE_SIXTHS = Fraction(3, 4), Fraction(2, 3), Fraction(5, 6)


@dataclass(frozen=True, slots=True)
class Slot:
    """A moment of a bar (``at`` from its bar line): note indexes struck there, the chord that
    begins (None without one), whether it is silent, and its count.
    """

    at: Fraction
    notes: tuple[int, ...] = ()
    chord: str | None = None
    rest: bool = False
    count: str = ""


@dataclass(frozen=True, slots=True)
class BarPlan:
    """A bar with its slots in order, and the value of the Count header it is counted under."""

    bar: Bar
    slots: tuple[Slot, ...]
    word: str


def plan_bars(lick: Lick, *, counting: bool) -> list[BarPlan]:
    """Plan every bar of a lick; raises WriteError for a rhythm that no count names."""
    bars = list(lick.bars)
    if bars[0].number == 0 and bars[0].is_full:
        raise WriteError("a pickup as long as a bar", place="the pickup")
    onsets = [note.onset for note in lick.notes]
    changes = list(_chord_changes(lick))
    moments = [_moments(lick, bar, onsets, changes) for bar in bars]
    units = _units(bars, moments) if counting else {}
    plans = []
    for bar, slots in zip(bars, moments, strict=True):
        if not counting:
            kept = [slot for slot in slots.values() if slot.notes or slot.chord is not None]
            plans.append(BarPlan(bar, tuple(kept), "beats"))
            continue
        unit, word = units[bar.meter]
        plans.append(BarPlan(bar, _counted(bar, slots, unit), word))
    return plans


def _moments(
    lick: Lick, bar: Bar, onsets: list[Fraction], changes: list[tuple[Fraction, str]]
) -> dict[Fraction, Slot]:
    """Attacks, rests and chord changes of a bar by offset from its bar line."""
    slots: dict[Fraction, Slot] = {}
    sounding = bar.onset
    first = bisect_left(onsets, bar.onset)
    if first and lick.notes[first - 1].end > bar.onset:  # held over the bar line
        sounding = lick.notes[first - 1].end
    for index in range(first, bisect_left(onsets, bar.end)):
        note = lick.notes[index]
        if note.onset > sounding:
            at = sounding - bar.onset
            slots[at] = Slot(at, rest=True)
        at = note.onset - bar.onset
        before = slots.get(at, Slot(at)).notes
        slots[at] = Slot(at, (*before, index))
        sounding = max(sounding, note.end)
    if sounding < bar.end:
        at = sounding - bar.onset
        slots[at] = Slot(at, rest=True)
    begin = bisect_left(changes, bar.onset, key=lambda change: change[0])
    for onset, text in changes[begin : bisect_left(changes, bar.end, key=lambda c: c[0])]:
        at = onset - bar.onset
        old = slots.get(at)
        slots[at] = replace(old, chord=text) if old else Slot(at, chord=text)
    ordered = dict(sorted(slots.items()))
    silent = False
    for at, slot in ordered.items():  # a chord that begins inside a rest
        silent = slot.rest or (silent and not slot.notes and at > 0)
        ordered[at] = replace(slot, rest=silent)
    return ordered


def _chord_changes(lick: Lick) -> Iterable[tuple[Fraction, str]]:
    for index, span in enumerate(lick.chords):
        yield span.onset, span.symbol.text if span.symbol else "N.C."
        following = lick.chords[index + 1].onset if index + 1 < len(lick.chords) else lick.length
        if span.end < following and span.symbol is not None:
            yield span.end, "N.C."


def _units(
    bars: list[Bar], moments: list[dict[Fraction, Slot]]
) -> dict[Meter, tuple[Fraction, str]]:
    """For each meter, what a number counts and the Count header that says so."""
    found: dict[Meter, tuple[Fraction, str]] = {}
    for meter in dict.fromkeys(bar.meter for bar in bars):
        mine = [(b, m) for b, m in zip(bars, moments, strict=True) if b.meter == meter]
        usual = Fraction(4, meter.denominator)
        finer = [unit for unit in (Fraction(1), Fraction(1, 2), Fraction(1, 4)) if unit < usual]
        for unit in (usual, *finer):
            bad = next(
                ((b, at) for b, m in mine if (at := _unsayable(b, m, unit)) is not None), None
            )
            if bad is None:
                break
        else:
            bar, at = bad if bad else (bars[0], Fraction(0))
            raise WriteError(
                f"no count names the moment {at} quarters into the bar",
                place="the pickup" if bar.number == 0 else f"bar {bar.number}",
                accepted="A tab counts halves, quarters, thirds and sixths of a beat;"
                " write MusicXML or ABC for other tuplets",
            )
        highest = max(int((b.offset(b.onset) + b.duration - Fraction(1, 1000)) / unit) + 1
                      for b, _ in mine)  # fmt: skip
        word = "beats"
        if count_unit(meter, highest, "") != unit:
            word = next(name for name, value in COUNT_WORDS.items() if value == unit)
        found[meter] = (unit, word)
    return found


def _unsayable(bar: Bar, slots: Iterable[Fraction], unit: Fraction) -> Fraction | None:
    """The first moment that no syllable names when numbers count ``unit``."""
    parts: dict[int, set[Fraction]] = {}
    for at in (Fraction(0), *slots):
        number, inside = divmod((bar.offset(bar.onset) + at) / unit, 1)
        parts.setdefault(number, set()).add(inside)
        beat = parts[number]
        if inside not in _SYLLABLES or {_THREE_QUARTERS, _FIVE_SIXTHS} <= beat:
            return at
    return None


def _counted(bar: Bar, slots: dict[Fraction, Slot], unit: Fraction) -> tuple[Slot, ...]:
    """The slots with their counts, and slots for the beats between them."""
    shift = bar.offset(bar.onset)
    wanted = {Fraction(0), *slots}
    beat = -(-shift // unit) * unit
    while beat < shift + bar.duration:
        wanted.add(beat - shift)
        beat += unit
    for at in list(wanted):
        start = (shift + at) // unit * unit - shift
        inside = {(t - start) / unit for t in wanted if start <= t < start + unit}
        if _FIVE_SIXTHS in inside:
            wanted.add(start + _TWO_THIRDS * unit)
        if inside - {Fraction(0)} == {Fraction(1, 2), _THREE_QUARTERS}:
            wanted.add(start + unit / 4)  # 1 & a alone could be a triplet
    wanted = {at for at in wanted if 0 <= at < bar.duration}
    done: list[Slot] = []
    silent = False
    for at in sorted(wanted):
        slot = slots.get(at, Slot(at))
        silent = slot.rest or (silent and not slot.notes)
        done.append(replace(slot, rest=silent, count=_count(shift + at, unit, rest=silent)))
    return tuple(done)


def _count(offset: Fraction, unit: Fraction, *, rest: bool) -> str:
    number, inside = divmod(offset / unit, 1)
    text = _SYLLABLES[inside] or str(number + 1)
    return f"({text})" if rest else text
