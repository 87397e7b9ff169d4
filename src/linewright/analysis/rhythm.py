"""When the notes come: subdivision, steadiness, density, syncopation, recurring cells.

Syncopation is Longuet-Higgins and Lee's (1984): a note followed by a rest or a tie over a weightier
point of the meter is syncopated by the difference of the two weights, and a phrase by their sum.
"""

from __future__ import annotations

import itertools
from collections import Counter
from dataclasses import dataclass
from fractions import Fraction

from linewright.score import Lick

__all__ = ["Rhythm", "RhythmCell", "read_rhythm", "syncopation"]


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
    swing : Fraction or None
        Long to short ratio when the lick says how it is performed.
    cells : tuple of RhythmCell
        Bar-long rhythms heard in more than one bar, most frequent first, when not a plain stream.
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
    swing: Fraction | None
    cells: tuple[RhythmCell, ...]
    displaced: tuple[tuple[int, int, Fraction], ...]


def read_rhythm(lick: Lick) -> Rhythm:
    """Describe the rhythm of a lick that has notes."""
    melody = [lick.notes[i] for i in lick.melody]
    onsets = [note.onset for note in melody]
    gaps = [b - a for a, b in itertools.pairwise(onsets)]
    common = Counter(gaps).most_common(1)[0][0] if gaps else melody[0].duration
    rests = sum(b.onset > a.end for a, b in itertools.pairwise(melody))
    steady = sum(gap == common for gap in gaps) / len(gaps) if gaps else 1.0
    beat = lick.meter.beat
    span = melody[-1].end - onsets[0]
    amounts = syncopation(lick)
    is_stream = len(gaps) >= 3 and steady == 1.0 and rests == 0
    bars = _bar_rhythms(lick)
    return Rhythm(
        subdivision=_subdivision(lick, onsets),
        common=common,
        steadiness=steady,
        is_stream=is_stream,
        density=float(len(melody) * beat / span),
        rests=rests,
        syncopation=sum(amounts.values()),
        syncopated=tuple(amounts),
        swing=lick.swing,
        cells=() if is_stream else _cells(bars),
        displaced=() if is_stream else _displaced(bars),
    )


def syncopation(lick: Lick) -> dict[int, int]:
    """Syncopated notes and by how much (Longuet-Higgins and Lee 1984).

    For each note, the weightiest point of the meter strictly inside the time until the next onset
    (where a rest stands or the note is tied over) is compared with the weight of its own onset.
    """
    found: dict[int, int] = {}
    melody = lick.melody
    for number, index in enumerate(melody):
        onset = lick.notes[index].onset
        after = (
            lick.notes[melody[number + 1]].onset
            if number + 1 < len(melody)
            else lick.notes[index].end
        )
        own = _weight(lick, onset)
        heaviest = max((_weight(lick, at) for at in _points(lick, onset, after)), default=own)
        if heaviest > own:
            found[index] = heaviest - own
    return found


def _weight(lick: Lick, onset: Fraction) -> int:
    bar = lick.bar_at(onset)
    return bar.meter.weight(bar.offset(onset))


def _points(lick: Lick, start: Fraction, end: Fraction) -> list[Fraction]:
    """Points of the metrical grid strictly between two moments, down to half a beat's division."""
    points = []
    for bar in lick.bars:
        if bar.end <= start or bar.onset >= end:
            continue
        step = min(bar.meter.beat / (3 if bar.meter.is_compound else 2), Fraction(1, 2))
        origin = bar.onset - bar.offset(bar.onset)
        at = origin
        while at < min(bar.end, end):
            if at > start and at >= bar.onset:
                points.append(at)
            at += step
    return points


def _subdivision(lick: Lick, onsets: list[Fraction]) -> int:
    for parts in (1, 2, 3, 4, 6, 8, 12):
        if all(_beat_part(lick, onset) * parts % 1 == 0 for onset in onsets):
            return parts
    return 0


def _beat_part(lick: Lick, onset: Fraction) -> Fraction:
    """How far into its beat an onset lies, 0 up to 1."""
    bar = lick.bar_at(onset)
    beat, rest = bar.meter.beat_at(bar.offset(onset))
    return rest / bar.meter.beats[beat - 1]


_BarRhythm = tuple[int, Fraction, Fraction, tuple[tuple[Fraction, Fraction], ...]]


def _bar_rhythms(lick: Lick) -> list[_BarRhythm]:
    """(number, onset, length, ((onset in the bar, duration), ...)) of each full bar with notes."""
    found = []
    for bar in lick.bars:
        if not bar.is_full:
            continue
        inside = tuple(
            (lick.notes[i].onset - bar.onset, lick.notes[i].duration)
            for i in lick.melody
            if bar.onset <= lick.notes[i].onset < bar.end
        )
        if len(inside) >= 2:
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
    """Bars whose onsets are another bar's, all moved by one amount (at least three of them)."""
    found = []
    for at, (early, _, _, left) in enumerate(bars):
        for late, _, _, right in bars[at + 1 :]:
            if len(left) != len(right) or len(left) < 3:
                continue
            moves = {b[0] - a[0] for a, b in zip(left, right, strict=True)}
            if len(moves) == 1 and (move := moves.pop()):
                found.append((early, late, move))
    return tuple(found)
