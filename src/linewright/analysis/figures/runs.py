"""Candidates of one idea kept up: runs of frame steps, semitones or chord tones, a note
repeated, two notes alternating, a pedal.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from math import inf, log2

from linewright.analysis.figures.plain import PlainCode, move_bits
from linewright.analysis.figures.prices import (
    KIND_BITS,
    VIEW_BITS,
    WHOLE_BITS,
    Candidate,
    Detail,
    fewest_moves,
    kept_up_bits,
    length_bits,
    more_bits,
)
from linewright.analysis.figures.views import Views
from linewright.theory import QUALITIES, Degree

__all__ = ["runs"]

#: Fewest moves of each part of a run that turns, and most of its parts.
_LEG, _MOST_LEGS = 3, 8
#: Bits of saying that a run takes in notes between frame notes, and of each of them.
_COLOURED, _EACH_BETWEEN = 1.0, 1.5
#: Bits of the chord an arpeggio run spells: the one sounding or a part of it; the one from its 3rd to
#: its 9th, which improvisers put on top of it (Levine 1995, from memory); or another.
_OWN_CHORD, _NINTHS, _OTHER_CHORD = 0.4, 2.5, 4.5
_ARPEGGIOS = ("", "m", "dim", "aug", "7", "maj7", "m7", "mMaj7", "m7b5", "dim7", "6", "m6")


def runs(views: Views, plain: PlainCode, *, arpeggio_frame: bool) -> Iterator[Candidate]:
    """Every run, alternation, repeated note and pedal worth weighing."""
    yield from _level_runs(
        views, plain, views.steps, 2, "arpeggio run" if arpeggio_frame else "scale run"
    )
    if not arpeggio_frame:
        yield from _coloured_runs(views, plain)
    yield from _level_runs(views, plain, views.semitones, 1, "chromatic run")
    yield from _letter_runs(views, plain)
    yield from _arpeggios(views, plain)
    yield from _repeated(views, plain)
    yield from _alternations(views, plain)
    for period in (2, 3):
        for slot in range(period):
            yield from _pedals(views, plain, period, slot)


def _spans(first: int, last: int, fewest: int) -> Iterator[tuple[int, int]]:
    """Spans of at least ``fewest`` moves that begin or end where the whole stretch does."""
    yield first, last + 1
    for start in range(first + 1, last - fewest + 1):
        yield start, last + 1
    for end in range(first + fewest, last):
        yield first, end + 1


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Notes ``first`` to ``last`` going one way in even moves; ``fits`` the chords they spell."""

    first: int
    last: int
    way: int
    fits: int = -1

    @property
    def moves(self) -> int:
        return self.last - self.first


def _run(
    plain: PlainCode, start: int, end: int, kind: str, extra: float, detail: Detail
) -> Candidate:
    price = KIND_BITS[kind] + 1 + _kept_up(plain, start, end, kind) + extra
    return Candidate(start, end, kind, plain.pitch_bits(start + 1, end) - price, detail)


def _kept_up(plain: PlainCode, start: int, end: int, kind: str) -> float:
    bits = kept_up_bits(kind, end - start - 1)
    return min(bits, WHOLE_BITS) if end - start == len(plain.pitch) else bits


def _level_runs(
    views: Views, plain: PlainCode, row: list[int], size: int, kind: str
) -> Iterator[Candidate]:
    fewest = fewest_moves(kind)
    # The notes of an arpeggio frame in a row are what those of a scale are in a scale.
    extra = KIND_BITS["scale run"] - KIND_BITS[kind] if kind == "arpeggio run" else 0.0
    stretches: list[_Stretch] = []
    first = 0
    while first + 1 < views.count:
        way = row[first + 1] - row[first]
        last = first + 1
        while last + 1 < views.count and row[last + 1] - row[last] == way:
            last += 1
        if abs(way) == size and row[first] % size == 0:
            stretches.append(_Stretch(first, last, 1 if way > 0 else -1))
            if last - first >= fewest:
                for start, end in _spans(first, last, fewest):
                    detail = Detail(end - start, way=way // size)
                    yield _run(plain, start, end, kind, extra, detail)
        first = last
    for legs in _turning(stretches, views.semitones):
        yield _turned(plain, legs, kind, extra, None)


def _coloured_runs(views: Views, plain: PlainCode) -> Iterator[Candidate]:
    """Scale runs that take in notes between two frame notes on their way (a blues scale down):
    not more than one note in four, and none at the ends.
    """
    steps, fewest = views.steps, fewest_moves("scale run")
    first = 0
    while first + fewest < views.count:
        way = 1 if steps[first + 1] > steps[first] else -1
        last = at = first
        while at + 1 < views.count and (steps[at + 1] - steps[at]) * way in (1, 2):
            at += 1
            if steps[at] % 2 == 0:
                last = at
        between = sum(step % 2 for step in steps[first:last])
        even = steps[first] % 2 == 0
        if even and between > 0 and 4 * between <= last - first + 1 and last - first >= fewest:
            detail = Detail(last - first + 1, way=way)
            extra = _COLOURED + _EACH_BETWEEN * between
            yield _run(plain, first, last + 1, "scale run", extra, detail)
            first = last
        else:
            first += 1


def _letter_runs(views: Views, plain: PlainCode) -> Iterator[Candidate]:
    """Runs through another scale than the frame (the altered scale over a dominant): letter by letter
    where frame steps know no run.
    """
    if not views.has_frame:
        return
    extra = VIEW_BITS["letters"] - VIEW_BITS["steps"]
    for candidate in _level_runs(views, plain, views.letters, 1, "scale run"):
        outside = sum(step % 2 for step in views.steps[candidate.start : candidate.end])
        if 4 * outside > candidate.end - candidate.start:
            detail = replace(candidate.detail, view="letters")
            yield replace(candidate, saving=candidate.saving - extra, detail=detail)


def _turning(stretches: list[_Stretch], heights: list[int]) -> Iterator[list[_Stretch]]:
    """Stretches that follow each other and turn, on one note or on one note struck twice: up and
    down again, and so on.
    """
    for at in range(len(stretches)):
        legs: list[_Stretch] = []
        for leg in stretches[at : at + _MOST_LEGS]:
            if leg.moves < _LEG or (legs and not _turns(legs[-1], leg, heights)):
                break
            legs.append(leg)
            if len(legs) > 1:
                yield list(legs)


def _turns(one: _Stretch, other: _Stretch, heights: list[int]) -> bool:
    if one.way == other.way or not one.fits & other.fits:
        return False
    struck_twice = other.first == one.last + 1 and heights[one.last] == heights[other.first]
    return other.first == one.last or struck_twice


def _turned(
    plain: PlainCode,
    legs: list[_Stretch],
    kind: str,
    extra: float,
    chord: tuple[int, str] | None,
) -> Candidate:
    """A run that turns: each further leg says that it goes on, and how far: mostly as far back."""
    fewest = fewest_moves(kind)
    start, end = legs[0].first, legs[-1].last + 1
    whole = end - start == len(plain.pitch)
    price = KIND_BITS[kind] + 1 + kept_up_bits(kind, max(fewest, legs[0].moves)) + extra
    for before, leg in itertools.pairwise(legs):
        price += 1.0 + (1.6 if leg.first > before.last else 0.6)
        known = leg.moves == before.moves or (leg is legs[-1] and whole)
        price += 1.0 if known else 1.0 + kept_up_bits(kind, max(fewest, leg.moves))
    turns = tuple(
        leg.first if leg.first > before.last else leg.first + 1
        for before, leg in itertools.pairwise(legs)
    )
    detail = Detail(end - start, way=legs[0].way, chord=chord, turns=turns)
    return Candidate(start, end, kind, plain.pitch_bits(start + 1, end) - price, detail)


@cache
def _chord_table() -> tuple[list[tuple[int, str]], list[list[list[int]]], list[int]]:
    """Chords; for a direction, pitch class and interval the bit set of chords in which the two
    notes are next to each other; each chord's pitch classes as a bit set.
    """
    chords = [(root, quality) for quality in _ARPEGGIOS for root in range(12)]
    nexts = [[[0] * 13 for _ in range(12)] for _ in range(2)]
    tones: list[int] = []
    for number, (root, quality) in enumerate(chords):
        members = sorted(
            {(root + Degree.parse(d).semitones) % 12 for d in QUALITIES[quality].split()}
        )
        tones.append(sum(1 << m for m in members))
        for k, low in enumerate(members):
            high = members[(k + 1) % len(members)]
            interval = (high - low) % 12 or 12
            nexts[1][low][interval] |= 1 << number
            nexts[0][high][interval] |= 1 << number
    return chords, nexts, tones


def _arpeggios(views: Views, plain: PlainCode) -> Iterator[Candidate]:
    chords, _, tones = _chord_table()
    fewest = fewest_moves("arpeggio run")

    def named(fits: int, begin: int) -> tuple[tuple[int, str], float]:
        among = [n for n in range(len(chords)) if fits >> n & 1]
        for sounding, bits in ((views.chords, _OWN_CHORD), (views.ninths, _NINTHS)):
            here = [n for n in among if tones[n] & ~sounding[begin] == 0]
            if here:
                return chords[here[0]], bits
        return chords[among[0]], _OTHER_CHORD

    stretches = _chord_stretches(views.semitones)
    for stretch in stretches:
        if stretch.moves >= fewest:
            for begin, end in _spans(stretch.first, stretch.last, fewest):
                chord, extra = named(stretch.fits, begin)
                detail = Detail(end - begin, way=stretch.way, chord=chord)
                yield _run(plain, begin, end, "arpeggio run", extra, detail)
    for legs in _turning(stretches, views.semitones):
        fits = -1
        for leg in legs:
            fits &= leg.fits
        if fits:
            chord, extra = named(fits, legs[0].first)
            yield _turned(plain, legs, "arpeggio run", extra, chord)


def _chord_stretches(heights: list[int]) -> list[_Stretch]:
    """The longest stretches of two moves or more through the notes of some chord, one way."""
    _, nexts, _ = _chord_table()
    stretches: list[_Stretch] = []
    reached = 0
    for start in range(len(heights) - 2):
        up = heights[start + 1] > heights[start]
        fits, last = -1, start
        while last + 1 < len(heights):
            interval = heights[last + 1] - heights[last]
            if not interval or (interval > 0) != up or abs(interval) > 12:
                break
            left = fits & nexts[up][heights[last] % 12][abs(interval)]
            if not left:
                break
            fits, last = left, last + 1
        if last - start >= 2 and last > reached:
            reached = last
            stretches.append(_Stretch(start, last, 1 if up else -1, fits))
    return stretches


def _repeated(views: Views, plain: PlainCode) -> Iterator[Candidate]:
    heights = views.semitones
    first = 0
    while first < views.count - 1:
        last = first
        while last + 1 < views.count and heights[last + 1] == heights[last]:
            last += 1
        if last - first >= 3:
            for start, end in _spans(first, last, 3):
                kept = _kept_up(plain, start, end, "repetition")
                price = KIND_BITS["repetition"] + length_bits(1) + kept
                saving = plain.pitch_bits(start + 1, end) - price
                yield Candidate(start, end, "repetition", saving, Detail(1))
        first = max(last, first + 1)


def _alternations(views: Views, plain: PlainCode) -> Iterator[Candidate]:
    heights = views.semitones
    first = 0
    while first + 3 < views.count:
        last = first + 1
        while last + 1 < views.count and heights[last + 1] == heights[last - 1]:
            last += 1
        if last - first >= 3 and heights[first] != heights[first + 1]:
            for start, end in _spans(first, last, 3):
                kept = _kept_up(plain, start, end, "alternation")
                price = KIND_BITS["alternation"] + kept + plain.pitch[start + 1]
                saving = plain.pitch_bits(start + 1, end) - price
                yield Candidate(start, end, "alternation", saving, Detail(2))
        first = last


def _pedals(views: Views, plain: PlainCode, period: int, slot: int) -> Iterator[Candidate]:
    """One note back at the same place of every cell of ``period`` notes, the others moving."""
    heights, steps = views.semitones, views.steps
    for phase in range(period):
        start = phase
        while start + 3 * period <= views.count:
            note = heights[start + slot]
            end = start + period
            while end + period <= views.count and heights[end + slot] == note:
                end += period
            times = (end - start) // period
            if times >= 3:
                candidate = _pedal(plain, heights, steps, start, end, period, slot)
                if candidate is not None:
                    yield candidate
            start = max(end - period, start + period)


def _pedal(
    plain: PlainCode,
    heights: list[int],
    steps: list[int],
    start: int,
    end: int,
    period: int,
    slot: int,
) -> Candidate | None:
    moving = [k for k in range(start, end) if (k - start) % period != slot]
    if len({heights[k] for k in moving}) < 2 or heights[start + slot] in (
        heights[k] for k in moving
    ):
        return None
    line = move_bits(steps[moving[0]] - steps[start + slot])
    one_by_one = sum(move_bits(steps[b] - steps[a]) for a, b in itertools.pairwise(moving))
    line += min(one_by_one, _in_parallel([steps[k] for k in moving], period - 1))
    times = (end - start) // period
    price = KIND_BITS["pedal"] + (0.4 if period == 2 else 2.0) + log2(period)
    price += 1.0 + more_bits(times - 3, 1.0) + line
    saving = plain.pitch_bits(start + 1, end) - price
    return Candidate(start, end, "pedal", saving, Detail(period, slot=slot))


def _in_parallel(line: list[int], size: int) -> float:
    """Bits of a pedal's other notes when they move together from cell to cell."""
    if size < 2:
        return inf
    groups = [line[k : k + size] for k in range(0, len(line), size)]
    bits = 1.0 + sum(move_bits(b - a) for a, b in itertools.pairwise(groups[0]))
    for one, other in itertools.pairwise(groups):
        moves = {b - a for a, b in zip(one, other, strict=True)}
        if len(moves) > 1:
            return inf
        bits += move_bits(moves.pop())
    return bits
