"""Bass lines: walking, root and fifth with runs, or plain roots.

A walking line takes one note a beat. The note under the chord sounds where a chord begins, chord
tones fall on the strong beats, steps of the chord's scale join them, and the last beat before a
change leads into the next chord's bass by half step, whole step or from its fifth. Those are the
rules of the jazz bass methods (R. Carter, *Building Jazz Bass Lines*, 1966; E. Friedland,
*Building Walking Bass Lines*, 1995; both as recalled). Among all lines that obey them the one
that costs least is taken, by a shortest path through the beats.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Final

from linewright.fretboard import instrument, places
from linewright.score import Instrument
from linewright.score.performance import Part, Stroke
from linewright.sound.band.changes import Changes, bass_number, fifth_number, scale_numbers
from linewright.sound.band.styles import BandStyle
from linewright.theory import ChordSymbol

__all__ = ["HIGHEST", "LOWEST", "Step", "bass_part", "walking"]

#: The low E of a bass and the G above its highest open string (MIDI numbers).
LOWEST: Final = 28
HIGHEST: Final = 50
_HOME: Final = 38


@dataclass(frozen=True, slots=True)
class Step:
    """One beat of a bass line.

    ``starts`` says that its chord begins here, ``leads`` that the next beat has another one,
    ``strong`` that the beat is (the first of the bar, ``downbeat``, and in an even meter every
    second after).
    """

    onset: Fraction
    duration: Fraction
    chord: ChordSymbol
    starts: bool
    leads: bool
    strong: bool
    downbeat: bool = False


def bass_part(changes: Changes, style: BandStyle) -> Part:
    """What the bass plays under the changes."""
    if style.bass == "walking":
        strokes = tuple(walking(changes))
    else:
        strokes = tuple(_roots(changes, runs=style.bass == "root-fifth"))
    return Part("Bass", "bass", strokes)


# -- walking -----------------------------------------------------------------------------
def beats_of(changes: Changes) -> list[list[Step]]:
    """The beats on which the bass walks, a list for each stretch without a rest."""
    raw: list[tuple[Fraction, Fraction, bool, bool]] = []
    for bar in changes.bars:
        if bar.number == 0:
            continue
        meter = bar.meter
        onsets, beats = meter.beat_onsets, meter.beats
        if len(beats) == 2 and not meter.is_compound and meter.beat >= 2:  # cut time: in four
            half = meter.beat / 2
            onsets, beats = tuple(i * half for i in range(4)), (half,) * 4
        for i, (at, length) in enumerate(zip(onsets, beats, strict=True)):
            if at < bar.duration:
                strong = i == 0 or (len(beats) % 2 == 0 and i % 2 == 0)
                raw.append((bar.onset + at, min(length, bar.duration - at), strong, i == 0))
    stretches: list[list[Step]] = [[]]
    for place, (onset, duration, strong, first) in enumerate(raw):
        span = changes.span_at(onset)
        if span is None or span.symbol is None:
            stretches.append([])
            continue
        here = stretches[-1]
        after = changes.span_at(raw[place + 1][0]) if place + 1 < len(raw) else None
        starts = not here or here[-1].chord != span.symbol
        leads = after is not None and after.symbol != span.symbol
        here.append(Step(onset, duration, span.symbol, starts, leads, strong, first))
    return [stretch for stretch in stretches if stretch]


def walking(changes: Changes) -> Iterator[Stroke]:
    """A walking line under the changes, one stroke a beat."""
    neck = instrument("bass")
    for steps in beats_of(changes):
        fret = 3
        for step, midi in zip(steps, _walk(steps), strict=True):
            stroke = _stroke(
                neck, midi, step.onset, step.duration, 0.68 if step.strong else 0.62, fret
            )
            fret = stroke.fret or fret
            yield stroke


def _walk(steps: Sequence[Step]) -> list[int]:
    """The cheapest pitches, by a shortest path over pairs of neighbours."""
    options = [
        [
            (midi, cost)
            for midi in range(LOWEST, HIGHEST + 1)
            if (cost := _own(step, midi, i)) < _NEVER
        ]
        for i, step in enumerate(steps)
    ]
    costs: dict[tuple[int, int], float] = {(-1, midi): own for midi, own in options[0]}
    backs: list[dict[tuple[int, int], int]] = []
    for place, here in enumerate(options[1:]):
        before = steps[place]
        new: dict[tuple[int, int], float] = {}
        back: dict[tuple[int, int], int] = {}
        moves = {
            (old, midi): _move(before, old, midi) + own
            for old, _ in options[place]
            for midi, own in here
        }
        for (older, old), cost in costs.items():
            for midi, _ in here:
                total = cost + moves[old, midi] + (1.4 if midi == older else 0.0)
                if total < new.get((old, midi), _NEVER * len(steps)):
                    new[old, midi] = total
                    back[old, midi] = older
        costs = new
        backs.append(back)
    at = min(costs, key=lambda pair: costs[pair])
    line = [at[1]]
    for back in reversed(backs):
        at = (back[at], at[0])
        line.append(at[1])
    return line[::-1]


_NEVER: Final = 1000.0


def _own(step: Step, midi: int, place: int) -> float:
    """Cost of a pitch on a beat."""
    number = midi % 12
    if step.starts:
        if number != bass_number(step.chord):
            return _NEVER
        return 0.04 * abs(midi - _HOME)
    cost = 0.02 * abs(midi - _HOME)
    # A grain of variety that is the same each time, so that a long vamp does not go in circles.
    cost += ((place * 7 + midi * 5) % 11) * 0.03
    tones = step.chord.numbers
    if step.strong:
        first = 0.0 if not step.downbeat or number == bass_number(step.chord) else 0.5
        return cost + first + (0.0 if number in tones else _NEVER)
    if number in tones or number in scale_numbers(step.chord):
        return cost + (0.1 if number in tones else 0.2)
    return cost + 0.6 if step.leads else _NEVER


def _move(before: Step, old: int, new: int) -> float:
    """Cost of going from one pitch to the next."""
    size = abs(new - old)
    if before.leads:  # into the next chord's bass
        if before.starts:  # no beat to lead with
            return 0.1 * size
        return {1: 0.0, 2: 0.2, 5: 0.8, 7: 0.9}.get(size, 6.0 + 0.2 * size)
    if size == 0:
        return 2.5
    return {1: 0.3, 2: 0.1, 3: 0.3, 4: 0.3, 5: 0.7, 7: 0.9}.get(size, 2.0 + 0.1 * size)


# -- root and fifth ----------------------------------------------------------------------
def _roots(changes: Changes, *, runs: bool) -> Iterator[Stroke]:
    neck = instrument("bass")
    fret = 3
    places_: list[tuple[Fraction, Fraction, ChordSymbol, str]] = []
    turn = 0
    for bar in changes.bars:
        if bar.number == 0:
            continue
        for onset, duration, fresh in _anchors(changes, bar.onset, bar.end, bar.meter.beats, runs):
            chord = changes.chord_at(onset)
            if chord is None:
                continue
            turn = 0 if fresh or not places_ or places_[-1][2] != chord else turn + 1
            places_.append((onset, duration, chord, "fifth" if runs and turn % 2 else "root"))
    before = _HOME
    for at, (onset, duration, chord, what) in enumerate(places_):
        number = fifth_number(chord) if what == "fifth" else bass_number(chord)
        midi = _near(number, before if what == "fifth" else _HOME)
        after = places_[at + 1] if at + 1 < len(places_) else None
        steps = _run(chord, after[2], duration) if runs and after is not None else []
        if steps and after is not None and after[0] == onset + duration:
            length = duration / (len(steps) + 1)
            for i, pitch in enumerate([midi, *steps]):
                stroke = _stroke(
                    neck, pitch, onset + i * length, length, 0.66 - 0.04 * (i > 0), fret
                )
                fret = stroke.fret or fret
                yield stroke
        else:
            stroke = _stroke(neck, midi, onset, duration, 0.68 if what == "root" else 0.62, fret)
            fret = stroke.fret or fret
            yield stroke
        before = midi


def _anchors(
    changes: Changes, start: Fraction, end: Fraction, beats: tuple[Fraction, ...], runs: bool
) -> list[tuple[Fraction, Fraction, bool]]:
    """Where the bass sounds in a bar, for how long, and whether a chord begins there."""
    length = sum(beats, Fraction(0))
    onsets = [start]
    if runs and len(beats) in (2, 4, 6) and len(set(beats)) == 1:
        step = length / 2
        onsets.append(start + step)
    onsets += [span.onset for span in changes.spans if start < span.onset < end]
    ordered = sorted({onset for onset in onsets if onset < end})
    begun = {span.onset for span in changes.spans}
    return [
        (onset, after - onset, onset in begun)
        for onset, after in zip(ordered, [*ordered[1:], end], strict=True)
    ]


def _run(chord: ChordSymbol, after: ChordSymbol, duration: Fraction) -> list[int]:
    """Two steps of the chord's scale that lead up (or down) into the next chord's bass."""
    if chord == after or duration < 2:
        return []
    here, target = bass_number(chord), _near(bass_number(after), _HOME)
    scale = scale_numbers(chord)
    upward = (target - here) % 12 <= 7
    found: list[int] = []
    pitch = target
    while len(found) < (2 if duration >= 3 else 1):
        pitch += -1 if upward else 1
        if pitch % 12 in scale or abs(pitch - target) > 3:
            found.append(pitch)
    if found[-1] % 12 == here:  # not the root again
        found[-1] = found[-1] + 1 if upward else found[-1] - 1
    return [pitch for pitch in reversed(found) if LOWEST <= pitch <= HIGHEST]


# -- on the neck -------------------------------------------------------------------------
def _near(number: int, home: int) -> int:
    """The pitch of a number nearest to another, in the range, the lower of two."""
    options = [midi for midi in range(LOWEST, HIGHEST + 1) if midi % 12 == number]
    return min(options, key=lambda midi: (abs(midi - home), midi))


def _stroke(
    neck: Instrument, midi: int, onset: Fraction, duration: Fraction, strength: float, fret: int
) -> Stroke:
    string, at = _place(neck, midi, fret)
    return Stroke(onset, duration * Fraction(19, 20), midi, string, at, strength)


@lru_cache(maxsize=1024)
def _place(neck: Instrument, midi: int, fret: int) -> tuple[int, int]:
    """Where the hand that was at a fret reaches a pitch with the least way; low frets first."""
    best = min(
        places(midi, neck), key=lambda p: (abs(p.fret - fret) if p.fret else 1) + 0.4 * p.fret
    )
    return best.string, best.fret
