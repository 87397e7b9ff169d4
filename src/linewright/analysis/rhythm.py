"""When the notes come: subdivision, steadiness, density, syncopation, recurring cells.

Syncopation is Longuet-Higgins and Lee's (1984): a note followed by a rest or a tie over a weightier
point of the meter is syncopated by the difference of the two weights, and a phrase by their sum.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import gcd
from typing import Final

from linewright.score import Lick, Meter
from linewright.score.grid import places_in

__all__ = [
    "Rhythm", "RhythmCell", "heard_syncopation", "is_syncopated", "read_rhythm", "syncopation",
]  # fmt: skip

#: A rhythm is heard as displaced against one of the last so many bars.
_REMEMBERED: Final = 64


@dataclass(frozen=True, slots=True)
class RhythmCell:
    """A rhythm of one beat or one bar that recurs: ``lengths`` in quarters (negative for rests),
    ``span`` its length, ``onsets`` where it starts.
    """

    lengths: tuple[Fraction, ...]
    span: Fraction
    onsets: tuple[Fraction, ...]


@dataclass(frozen=True, slots=True)
class Rhythm:
    """The rhythm of a lick.

    Parameters
    ----------
    subdivision : int
        Parts of a beat that hold every onset: 1, 2, 3, 4, 6 ... ; 0 when mixed too finely.
    common : Fraction
        Most usual distance between onsets, in quarters.
    steadiness : float
        Share of distances between onsets that equal ``common``, 0 to 1.
    is_stream : bool
        A constant stream: one distance throughout (the last note may be longer), no rests inside.
    density : float
        Attacks a beat, from the first onset to the last note's end.
    rests : int
        Silences between the first and the last note.
    syncopation : int
    syncopated : tuple of int
        Indexes of the syncopated notes.
    heard : tuple of int
        Those of them that a player would call so (:func:`heard_syncopation`).
    swing : Fraction or None
        Long to short ratio when the lick says how it is performed.
    cells : tuple of RhythmCell
        Bar-long rhythms heard in more than one bar, most frequent first, when not a plain stream;
        where no bar comes again, rhythms of half a bar or a beat heard three times or more.
    displaced : tuple of (int, int, Fraction)
        Bars (earlier, later) whose rhythm is the same but begins so many quarters later.
    """

    subdivision: int
    common: Fraction
    steadiness: float
    is_stream: bool
    density: float
    rests: int
    syncopation: int
    syncopated: tuple[int, ...]
    heard: tuple[int, ...]
    swing: Fraction | None
    cells: tuple[RhythmCell, ...]
    displaced: tuple[tuple[int, int, Fraction], ...]


def read_rhythm(lick: Lick) -> Rhythm:
    """Describe the rhythm of a lick that has notes."""
    grid, melody = lick.grid, lick.melody
    onsets = [grid.onsets[i] for i in melody]
    gaps = [b - a for a, b in itertools.pairwise(onsets)]
    common = Counter(gaps).most_common(1)[0][0] if gaps else grid.ends[0] - grid.onsets[0]
    rests = sum(grid.onsets[b] > grid.ends[a] for a, b in itertools.pairwise(melody))
    steady = gaps.count(common) / len(gaps) if gaps else 1.0
    span = Fraction(grid.ends[melody[-1]] - onsets[0], grid.ticks)
    amounts = syncopation(lick)
    is_stream = len(gaps) >= 3 and steady == 1.0 and rests == 0
    bars = _bar_rhythms(lick)
    return Rhythm(
        subdivision=_subdivision(lick),
        common=Fraction(common, grid.ticks),
        steadiness=steady,
        is_stream=is_stream,
        density=float(len(melody) * lick.meter.beat / span),
        rests=rests,
        syncopation=sum(amounts.values()),
        syncopated=tuple(amounts),
        heard=tuple(_heard(lick, amounts)),
        swing=lick.swing,
        cells=() if is_stream else _cells(bars) or _short_cells(lick),
        displaced=() if is_stream else _displaced(bars),
    )


def syncopation(lick: Lick) -> dict[int, int]:
    """Syncopated notes and by how much (Longuet-Higgins and Lee 1984).

    For each note, the weightiest point of the meter strictly inside the time until the next onset
    (where a rest stands or the note is tied over) is compared with the weight of its own onset. A
    beat is divided as its notes divide it: triplets know no point at half a beat.
    """
    found: dict[int, int] = {}
    grid, melody = lick.grid, lick.melody
    for place, index in enumerate(melody):
        last = place + 1 == len(melody)
        until = grid.ends[index] if last else grid.onsets[melody[place + 1]]
        own = grid.levels[index]
        step = _division(lick, index)
        heaviest = max(
            _levels(lick, grid.bars[index], grid.onsets[index], until, step), default=own
        )
        if heaviest > own:
            found[index] = heaviest - own
    return found


def heard_syncopation(lick: Lick) -> dict[int, int]:
    """The notes of :func:`syncopation` that a player would call so, and by how much.

    A note between beats; or one on a beat that is held over the weightier point, or where the
    point outweighs it by two levels. A note on beat 2 with a rest on beat 3 only ends early
    (common practice), though the measure gives it one.
    """
    return _heard(lick, syncopation(lick))


def _heard(lick: Lick, amounts: dict[int, int]) -> dict[int, int]:
    grid = lick.grid
    found = {}
    for index, amount in amounts.items():
        is_held = grid.ends[index] - grid.onsets[index] > grid.beats[index]
        if amount > 1 or not grid.on_beat[index] or is_held:
            found[index] = amount
    return found


def is_syncopated(lick: Lick) -> bool:
    """Whether a lick as a whole is called syncopated: more than one note of
    :func:`heard_syncopation`, or one by two levels or more.
    """
    return sum(heard_syncopation(lick).values()) > 1


def _division(lick: Lick, index: int) -> int:
    """Ticks between the points that are heard after a note: half beats, or thirds in compound
    meter; only whole beats after a note that itself stands off that division.
    """
    grid = lick.grid
    step, beat = _steps(lick.bars[grid.bars[index]].meter, grid.ticks)
    parts = step // gcd(grid.onsets[index] - grid.origins[grid.bars[index]], step)
    is_even = not parts & (parts - 1)  # a power of two: on the division or halving it
    return step if is_even else beat


@lru_cache(maxsize=256)
def _steps(meter: Meter, ticks: int) -> tuple[int, int]:
    """Ticks of the meter's division and of its beat."""
    division = min(meter.beat / (3 if meter.is_compound else 2), Fraction(1, 2))
    return int(division * ticks), int(meter.beat * ticks)


def _levels(lick: Lick, bar: int, start: int, end: int, step: int) -> Iterator[int]:
    """Weights of the points of the metrical grid strictly between two moments (in ticks), the first
    of them in ``bar``, ``step`` ticks apart.
    """
    grid = lick.grid
    while bar < len(lick.bars) and grid.starts[bar] < end:
        meter, origin = lick.bars[bar].meter, grid.origins[bar]
        places = places_in(meter, grid.ticks)
        # The first point after the start and not before the bar line.
        first = max(start + 1, grid.starts[bar]) - origin
        for offset in range(-(-first // step) * step, end - origin, step):
            if origin + offset >= grid.starts[bar + 1]:
                break
            yield places[offset][0]
        bar += 1


def _subdivision(lick: Lick) -> int:
    grid = lick.grid
    places = {
        (bar.meter, grid.onsets[i] - grid.origins[grid.bars[i]])
        for i in lick.melody
        for bar in (lick.bars[grid.bars[i]],)
    }
    into_beat = {_beat_part(meter, Fraction(at, grid.ticks)) for meter, at in places}
    for parts in (1, 2, 3, 4, 6, 8, 12):
        if all(part * parts % 1 == 0 for part in into_beat):
            return parts
    return 0


def _beat_part(meter: Meter, offset: Fraction) -> Fraction:
    """How far into its beat an offset into the bar lies, 0 up to 1."""
    beat, rest = meter.beat_at(offset)
    return rest / meter.beats[beat - 1]


_BarRhythm = tuple[int, Fraction, Fraction, tuple[tuple[Fraction, Fraction], ...]]


def _bar_rhythms(lick: Lick) -> list[_BarRhythm]:
    """(number, onset, length, ((onset in the bar, duration), ...)) of each full bar with notes."""
    found = []
    for at, indexes in itertools.groupby(lick.melody, key=lick.grid.bars.__getitem__):
        bar = lick.bars[at]
        inside = tuple((lick.notes[i].onset - bar.onset, lick.notes[i].duration) for i in indexes)
        if bar.is_full and len(inside) >= 2:
            found.append((bar.number, bar.onset, bar.duration, inside))
    return found


def _cells(bars: list[_BarRhythm]) -> tuple[RhythmCell, ...]:
    groups: dict[tuple[Fraction, tuple[tuple[Fraction, Fraction], ...]], list[Fraction]] = {}
    for _, onset, length, inside in bars:
        groups.setdefault((length, inside), []).append(onset)
    cells = []
    for (length, inside), onsets in groups.items():
        if len(onsets) > 1:
            cells.append(RhythmCell(_lengths(inside, length), length, tuple(onsets)))
    return tuple(sorted(cells, key=lambda cell: (-len(cell.onsets), cell.onsets[0])))


def _short_cells(lick: Lick) -> tuple[RhythmCell, ...]:
    """Rhythms of half a bar, else of a beat, of two attacks or more and uneven lengths, that come
    three times or more; attacks must fill the time to the next one.
    """
    meter = lick.meter
    spans = [meter.length / 2] if len(meter.beats) % 2 == 0 and len(meter.beats) > 2 else []
    if len(set(meter.beats)) == 1:
        spans.append(meter.beat)
    for span in spans:
        windows: dict[Fraction, list[tuple[Fraction, Fraction]]] = {}
        for index in lick.melody:
            note = lick.notes[index]
            bar = lick.bar_at(note.onset)
            inside = bar.offset(note.onset) % span
            windows.setdefault(note.onset - inside, []).append((inside, note.duration))
        groups: dict[tuple[tuple[Fraction, Fraction], ...], list[Fraction]] = {}
        for start, notes in windows.items():
            if len({length for _, length in notes}) > 1:
                groups.setdefault(tuple(notes), []).append(start)
        cells = [
            RhythmCell(_lengths(inside, span), span, tuple(starts))
            for inside, starts in groups.items()
            if len(starts) > 2
        ]
        if cells:
            return tuple(sorted(cells, key=lambda cell: (-len(cell.onsets), cell.onsets[0])))
    return ()


def _lengths(
    inside: tuple[tuple[Fraction, Fraction], ...], length: Fraction
) -> tuple[Fraction, ...]:
    parts: list[Fraction] = []
    at = Fraction(0)
    for onset, duration in inside:
        if onset > at:
            parts.append(at - onset)
        parts.append(min(duration, length - onset))
        at = onset + duration
    if at < length:
        parts.append(at - length)
    return tuple(parts)


def _displaced(bars: list[_BarRhythm]) -> tuple[tuple[int, int, Fraction], ...]:
    """Bars whose onsets are another bar's, all moved by one amount (at least three of them), not more
    than :data:`_REMEMBERED` bars before.
    """
    known: dict[tuple[Fraction, ...], int] = {}
    shapes = []
    for _, _, _, inside in bars:
        shape = tuple([onset - inside[0][0] for onset, _ in inside])
        shapes.append(known.setdefault(shape, len(known)))
    found = []
    for at, (early, _, _, left) in enumerate(bars):
        if len(left) < 3:
            continue
        for later in range(at + 1, min(at + 1 + _REMEMBERED, len(bars))):
            if shapes[later] == shapes[at] and (move := bars[later][3][0][0] - left[0][0]):
                found.append((early, bars[later][0], move))
    return tuple(found)
