"""From exact durations to printable ones: values, dots, ties, tuplets, beams.

One place decides how a rhythm is written; the ABC, MEI and MusicXML writers and the counting
row of a text tab all read it. The rules are the usual engraving ones (common practice; Gould
2011, ch. 5 and 6): a note that would hide a stronger beat is split there and tied, tuplets
fill the smallest beat-aligned span that holds them, short notes are beamed by the beat, eighths
in four by the half bar.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from linewright.errors import WriteError
from linewright.score.lick import Lick
from linewright.score.meter import Bar, Meter

__all__ = ["Measure", "Symbol", "Tuplet", "notate"]

_VALUES = tuple(Fraction(8) / 2**k for k in range(9))  # breve to 128th, in quarters
_SMALLEST = 32  # a plain grid point is a multiple of 1/32 of a quarter (a 128th note)


@dataclass(frozen=True, slots=True)
class Tuplet:
    """``actual`` notes in the time of ``normal``, filling ``duration`` from ``onset``."""

    actual: int
    normal: int
    onset: Fraction
    duration: Fraction


@dataclass(frozen=True, slots=True)
class Symbol:
    """One printed note, double stop or rest.

    Parameters
    ----------
    notes : tuple of int
        Indexes into ``lick.notes``; empty for a rest.
    onset, duration : Fraction
        Sounding time in quarters from the start of the lick.
    value : Fraction
        Printed value without dots in quarters: 1 a quarter, 1/2 an eighth.
    dots : int
    tuplet : int or None
        Index into the measure's ``tuplets``.
    tie_in, tie_out : bool
        Whether a tie arrives from the symbol before or leaves to the next.
    beam : int or None
        Number of the beam group within the measure.
    """

    notes: tuple[int, ...]
    onset: Fraction
    duration: Fraction
    value: Fraction
    dots: int = 0
    tuplet: int | None = None
    tie_in: bool = False
    tie_out: bool = False
    beam: int | None = None

    @property
    def is_rest(self) -> bool:
        """Whether nothing sounds."""
        return not self.notes


@dataclass(frozen=True, slots=True)
class Measure:
    """A bar with its printed symbols in order and the tuplets they refer to."""

    bar: Bar
    symbols: tuple[Symbol, ...]
    tuplets: tuple[Tuplet, ...]


def notate(lick: Lick) -> tuple[Measure, ...]:
    """Write a lick's rhythm bar by bar.

    Raises WriteError when a duration fits no note value or tuplet (up to 13 in a bar).
    """
    starts: dict[Fraction, list[int]] = {}
    for index, note in enumerate(lick.notes):
        starts.setdefault(note.onset, []).append(index)
    attacks = [(onset, lick.notes[group[0]].end, tuple(group)) for onset, group in starts.items()]
    measures, at = [], 0
    for bar in lick.bars:
        while at < len(attacks) and attacks[at][1] <= bar.onset:
            at += 1
        measures.append(_measure(bar, attacks, at))
    return tuple(measures)


_Piece = tuple[
    Fraction, Fraction, tuple[int, ...], bool, bool
]  # start, end, notes, tied in, tied out


def _measure(
    bar: Bar, attacks: list[tuple[Fraction, Fraction, tuple[int, ...]]], at: int
) -> Measure:
    pieces: list[_Piece] = []
    now = bar.onset
    while at < len(attacks) and attacks[at][0] < bar.end:
        start, end, notes = attacks[at]
        begin = max(start, bar.onset)
        if begin > now:
            pieces.append((now, begin, (), False, False))
        stop = min(end, bar.end)
        pieces.append((begin, stop, notes, start < bar.onset, end > bar.end))
        now = stop
        at += 1
    if now < bar.end:
        pieces.append((now, bar.end, (), False, False))

    shape = tuple((a - bar.onset, b - bar.onset, bool(n), i, o) for a, b, n, i, o in pieces)
    try:
        symbols, tuplets = _shape(bar.meter, bar.number == 0, bar.duration, shape)
    except WriteError as error:
        place = f"bar {bar.number}"
        raise WriteError(error.message, accepted=error.accepted, place=place) from error
    return Measure(
        bar,
        tuple(
            Symbol(
                pieces[s.notes[0]][2] if s.notes else (), bar.onset + s.onset, s.duration, s.value, s.dots, s.tuplet,
                s.tie_in, s.tie_out, s.beam,
            )
            for s in symbols
        ),
        tuple(Tuplet(t.actual, t.normal, bar.onset + t.onset, t.duration) for t in tuplets),
    )  # fmt: skip


@lru_cache(maxsize=2048)
def _shape(
    meter: Meter,
    pickup: bool,
    duration: Fraction,
    spans: tuple[tuple[Fraction, Fraction, bool, bool, bool], ...],
) -> tuple[tuple[Symbol, ...], tuple[Tuplet, ...]]:
    """The printed rhythm of a bar that begins at 0; a sounding symbol's one note is the
    place of its span.

    Kept, since the same few rhythms make up most music. A span is its start, end, and whether
    it sounds, is tied in and is tied out.
    """
    bar = Bar(0 if pickup else 1, Fraction(0), duration, meter)
    pieces: list[_Piece] = [
        (start, end, (place,) if sounds else (), tied_in, tied_out)
        for place, (start, end, sounds, tied_in, tied_out) in enumerate(spans)
    ]
    tuplets = _tuplets(bar, {edge for span in spans for edge in span[:2]})
    symbols: list[Symbol] = []
    for piece in _cut(
        pieces, sorted({e for t in tuplets for e in (t.onset, t.onset + t.duration)})
    ):
        inside = next(
            (i for i, t in enumerate(tuplets) if t.onset <= piece[0] < t.onset + t.duration), None
        )
        symbols.extend(_spell(bar, piece, tuplets, inside))
    return _beamed(bar, symbols), tuple(tuplets)


def _cut(pieces: list[_Piece], edges: list[Fraction]) -> list[_Piece]:
    """Split pieces at the edges that fall inside them."""
    done = []
    for start, end, notes, tied_in, tied_out in pieces:
        for edge in edges:
            if start < edge < end:
                done.append((start, edge, notes, tied_in, bool(notes)))
                start, tied_in = edge, bool(notes)
        done.append((start, end, notes, tied_in, tied_out))
    return done


def _is_plain(offset: Fraction) -> bool:
    return _SMALLEST % offset.denominator == 0


def _tuplets(bar: Bar, edges: set[Fraction]) -> list[Tuplet]:
    """The smallest beat-aligned spans whose edges need a tuplet."""
    origin = bar.onset - bar.offset(bar.onset)
    found: list[Tuplet] = []
    for edge in sorted(edges):
        inside_known = any(t.onset < edge < t.onset + t.duration for t in found)
        if _is_plain(edge - origin) or inside_known:
            continue
        tuplet = _tuplet_around(bar, edge, edges, origin)
        if tuplet is None:
            raise WriteError(
                f"the rhythm at {edge - bar.onset} quarters into the bar fits no note value or tuplet",
                place=f"bar {bar.number}",
                accepted="Quantise it to the beat or its halves, thirds, fifths or sevenths",
            )
        found = [
            t
            for t in found
            if t.onset + t.duration <= tuplet.onset or t.onset >= tuplet.onset + tuplet.duration
        ]
        found.append(tuplet)
    return sorted(found, key=lambda t: t.onset)


def _tuplet_around(
    bar: Bar, edge: Fraction, edges: set[Fraction], origin: Fraction
) -> Tuplet | None:
    beat = bar.meter.beat if not bar.meter.is_compound else bar.meter.beat / 3
    first, last = bar.onset, bar.end
    if len(set(bar.meter.beats)) > 1:
        # Unequal beats: spans count from the one that holds the edge and stay within it, since
        # one reaching into the next could push out a tuplet that stands there.
        number, rest = bar.meter.beat_at(edge - origin)
        origin, beat = edge - rest, bar.meter.beats[number - 1]
        first, last = max(first, origin), min(last, origin + beat)
        beat = beat / 3 if beat.numerator == 3 else beat
    spans = (beat / 2, beat, 2 * beat, 4 * beat, bar.duration)
    # First a span no note crosses into or out of, the smallest; else the beat, with ties.
    for spotless in (True, False):
        for span in spans if spotless else (beat, 2 * beat, 4 * beat, bar.duration, beat / 2):
            start = origin + (edge - origin) // span * span
            stop = start + span
            if start < first or stop > last or span not in _VALUES:
                continue
            if spotless and not {start, stop} <= edges:
                continue
            inside = [e - start for e in edges if start < e < stop]
            for actual in (3, 5, 6, 7, 9, 11, 13):
                if all(_is_plain(e * actual / span) for e in inside):
                    normal = 1 << (actual.bit_length() - 1)
                    return Tuplet(actual, normal, start, span)
    return None


def _spell(bar: Bar, piece: _Piece, tuplets: list[Tuplet], inside: int | None) -> list[Symbol]:
    start, end, notes, tied_in, tied_out = piece
    if inside is None:
        parts = _plain_parts(bar, start, end, rest=not notes)
        scale = Fraction(1)
    else:
        tuplet = tuplets[inside]
        scale = Fraction(tuplet.actual, tuplet.normal)
        parts = _tuplet_parts(tuplet, start, end)
    symbols = []
    for number, (a, b) in enumerate(parts):
        length = b - a
        printed = _printed(length if inside is None else length * scale)
        value, dots = printed or (Fraction(0), 0)
        symbols.append(
            Symbol(
                notes,
                a,
                length,
                value,
                dots,
                inside,
                tie_in=bool(notes) and (tied_in or number > 0),
                tie_out=bool(notes) and (tied_out or number < len(parts) - 1),
            )
        )
    return symbols


_PRINTED = {
    value * factor: (value, dots)
    for value in _VALUES
    for dots, factor in ((0, Fraction(1)), (1, Fraction(3, 2)), (2, Fraction(7, 4)))
}


def _printed(length: Fraction) -> tuple[Fraction, int] | None:
    """Note value and dots for a length in quarters, or None when it needs a tie."""
    return _PRINTED.get(length)


def _plain_parts(
    bar: Bar, start: Fraction, end: Fraction, *, rest: bool
) -> list[tuple[Fraction, Fraction]]:
    """Split a plain span into printable parts that leave the beats visible."""
    origin = bar.onset - bar.offset(bar.onset)
    whole_bar = start == bar.onset and end == bar.end
    parts = _plain_offsets(bar.meter, start - origin, end - origin, whole_bar, rest)
    if parts is None:
        raise WriteError(
            f"a length of {end - start} quarters fits no note value", place=f"bar {bar.number}"
        )
    return [(origin + a, origin + b) for a, b in parts]


@lru_cache(maxsize=4096)
def _plain_offsets(
    meter: Meter, start: Fraction, end: Fraction, whole_bar: bool, rest: bool
) -> tuple[tuple[Fraction, Fraction], ...] | None:
    """The parts of a plain span given by its offsets into the bar, or None when there are none.

    Kept, since the same few rhythms make up most music.
    """
    printed = _printed(end - start)
    at, weight = _strongest_inside(meter, start, end)
    if printed is not None and (whole_bar or at is None):
        return ((start, end),)
    if printed is not None and printed[1] < 2 and at is not None:
        own = meter.weight(start)
        allowed = 0 if rest or meter.is_compound else 1
        if weight - own <= allowed and not (rest and printed[1]):
            return ((start, end),)
    if at is None:
        return None
    before = _plain_offsets(meter, start, at, False, rest)
    after = _plain_offsets(meter, at, end, False, rest)
    return None if before is None or after is None else before + after


def _strongest_inside(meter: Meter, start: Fraction, end: Fraction) -> tuple[Fraction | None, int]:
    """The strongest metrical point strictly inside a span (the first of equals)."""
    best: tuple[Fraction | None, int] = (None, -99)
    step = Fraction(1)
    while step >= Fraction(1, _SMALLEST):
        point = (start // step + 1) * step
        found = False
        while point < end:
            found = True
            weight = meter.weight(point)
            if weight > best[1]:
                best = (point, weight)
            point += step
        if found and step <= Fraction(1, 2):
            break
        step /= 2
    return best


def _tuplet_parts(
    tuplet: Tuplet, start: Fraction, end: Fraction
) -> list[tuple[Fraction, Fraction]]:
    scale = Fraction(tuplet.actual, tuplet.normal)
    parts = []
    while start < end:
        left = (end - start) * scale
        if _printed(left) is not None:
            parts.append((start, end))
            break
        value = next((v for v in _VALUES if v < left), None)
        if value is None:
            raise WriteError(f"a length of {end - start} quarters fits no note value")
        parts.append((start, start + value / scale))
        start += value / scale
    return parts


def _beamed(bar: Bar, symbols: list[Symbol]) -> tuple[Symbol, ...]:
    """Number the beam groups: runs of notes shorter than a quarter within one beat."""
    origin = bar.onset - bar.offset(bar.onset)
    meter = bar.meter
    onsets = [origin + onset for onset in meter.beat_onsets]
    by_half = meter.beat == 1 and len(onsets) == 4 and not meter.groups

    def beat_of(symbol: Symbol, half: bool) -> int:
        beat = max(bisect_right(onsets, symbol.onset) - 1, 0)
        return beat // 2 if half else beat

    def is_short(symbol: Symbol) -> bool:
        return not symbol.is_rest and symbol.value < 1

    halves: dict[int, bool] = {}
    if by_half:
        for number in (0, 1):
            group = [s for s in symbols if beat_of(s, True) == number]
            halves[number] = all(
                s.value == Fraction(1, 2) and not s.dots and s.tuplet is None for s in group
            )
    done: list[Symbol] = []
    group_id, key_before = -1, None
    for symbol in symbols:
        if not is_short(symbol):
            key_before = None
            done.append(symbol)
            continue
        half = by_half and halves.get(beat_of(symbol, True), False)
        key = (half, beat_of(symbol, half), symbol.tuplet)
        if key != key_before:
            group_id += 1
            key_before = key
        done.append(replace(symbol, beam=group_id))
    counts: dict[int, int] = {}
    for symbol in done:
        if symbol.beam is not None:
            counts[symbol.beam] = counts.get(symbol.beam, 0) + 1
    return tuple(
        replace(s, beam=None) if s.beam is not None and counts[s.beam] < 2 else s for s in done
    )
