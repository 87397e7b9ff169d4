"""Candidates of one idea kept up: runs of frame steps, semitones or chord tones, a note
repeated, two notes alternating, a pedal.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from functools import cache
from math import log2

from linewright.analysis.figures.plain import PlainCode, move_bits
from linewright.analysis.figures.prices import (
    KIND_BITS,
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

_ARPEGGIOS = ("", "m", "dim", "aug", "7", "maj7", "m7", "mMaj7", "m7b5", "dim7", "6", "m6")


def runs(views: Views, plain: PlainCode, *, arpeggio_frame: bool) -> Iterator[Candidate]:
    """Every run, alternation, repeated note and pedal worth weighing."""
    yield from _level_runs(
        views, plain, views.steps, 2, "arpeggio run" if arpeggio_frame else "scale run"
    )
    yield from _level_runs(views, plain, views.semitones, 1, "chromatic run")
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


def _run(
    plain: PlainCode, start: int, end: int, kind: str, extra: float, detail: Detail
) -> Candidate:
    moves = end - start - 1
    price = KIND_BITS[kind] + 1 + kept_up_bits(kind, moves) + extra
    return Candidate(start, end, kind, plain.pitch_bits(start + 1, end) - price, detail)


def _level_runs(
    views: Views, plain: PlainCode, row: list[int], size: int, kind: str
) -> Iterator[Candidate]:
    fewest = fewest_moves(kind)
    first = 0
    while first < views.count - fewest:
        way = row[first + 1] - row[first]
        last = first + 1
        while last + 1 < views.count and row[last + 1] - row[last] == way:
            last += 1
        if abs(way) == size and row[first] % size == 0 and last - first >= fewest:
            for start, end in _spans(first, last, fewest):
                detail = Detail(end - start, way=1 if way > 0 else -1)
                yield _run(plain, start, end, kind, 0.0, detail)
        first = last


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
    chords, nexts, tones = _chord_table()
    heights, fewest = views.semitones, fewest_moves("arpeggio run")
    start = 0
    reached = 0
    while start < views.count - fewest:
        up = heights[start + 1] > heights[start]
        fits, last = -1, start
        while last + 1 < views.count:
            interval = heights[last + 1] - heights[last]
            if not interval or (interval > 0) != up or abs(interval) > 12:
                break
            left = fits & nexts[up][heights[last] % 12][abs(interval)]
            if not left:
                break
            fits, last = left, last + 1
        if last - start >= fewest and last > reached:
            reached = last
            named = [n for n in range(len(chords)) if fits >> n & 1]
            for begin, end in _spans(start, last, fewest):
                sounding = views.chords[begin]
                here = [n for n in named if tones[n] & ~sounding == 0]
                chord = here[0] if here else named[0]
                detail = Detail(end - begin, way=1 if up else -1, chord=chords[chord])
                yield _run(plain, begin, end, "arpeggio run", 1.0 if here else 4.5, detail)
        start += 1


def _repeated(views: Views, plain: PlainCode) -> Iterator[Candidate]:
    heights = views.semitones
    first = 0
    while first < views.count - 1:
        last = first
        while last + 1 < views.count and heights[last + 1] == heights[last]:
            last += 1
        if last - first >= 3:
            for start, end in _spans(first, last, 3):
                price = (
                    KIND_BITS["repetition"]
                    + length_bits(1)
                    + kept_up_bits("repetition", end - start - 1)
                )
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
                other = plain.pitch[start + 1]
                price = (
                    KIND_BITS["alternation"] + kept_up_bits("alternation", end - start - 1) + other
                )
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
    line += sum(move_bits(steps[b] - steps[a]) for a, b in itertools.pairwise(moving))
    times = (end - start) // period
    price = KIND_BITS["pedal"] + (0.4 if period == 2 else 2.0) + log2(period)
    price += 1.0 + more_bits(times - 3, 1.0) + line
    saving = plain.pitch_bits(start + 1, end) - price
    return Candidate(start, end, "pedal", saving, Detail(period, slot=slot))
