"""Chord voicings found on the neck, and the smoothest way through a progression.

A shape is playable when its frets span at most four (five wide frets of a mandolin are no
further), no string sounds twice and four fingers can hold it, one of them laid across strings.
It says what the chord says: third (or what stands for it) and seventh or sixth sound, the root
may be left to the bass player. Which shapes follow each other is then a shortest path: the cost
of a shape itself, of the fingers' way and of the voices' way (shortest-path fingering after
Sayegh 1989, see :mod:`linewright.fretboard.cost`; that voices move least is common practice).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Final

from linewright.errors import MusicError
from linewright.fretboard import Place
from linewright.score import Instrument
from linewright.theory import ChordSymbol

__all__ = ["KINDS", "Voicing", "voicings", "voicings_through"]

#: How a style wants its chords: strummed in open position, or small in the middle of the neck.
KINDS: Final = ("open", "small")
SPAN: Final = 4
_FINGERS: Final = 4
_KEPT: Final = 16
_HIGHEST: Final = 9  # the lowest fret of the highest shape
_SIZES: Final = {"open": (4, 6), "small": (3, 4)}


@dataclass(frozen=True, slots=True)
class Voicing:
    """A chord as it lies on the neck.

    Parameters
    ----------
    places : tuple of Place
        From the string farthest from the floor to the nearest.
    midis : tuple of int
        Their pitches.
    cost : float
        Of the shape by itself.
    """

    places: tuple[Place, ...]
    midis: tuple[int, ...]
    cost: float

    @property
    def fret(self) -> int:
        """Where the hand is: its lowest fretted fret, 1 when all strings are open."""
        return min((place.fret for place in self.places if place.fret), default=1)

    @property
    def span(self) -> int:
        """Frets from the lowest fretted to the highest, both counted; 0 when all are open."""
        fretted = [place.fret for place in self.places if place.fret]
        return max(fretted) - min(fretted) + 1 if fretted else 0


def guide_numbers(chord: ChordSymbol) -> tuple[frozenset[int], ...]:
    """Pitch-class sets of which each must be heard: what tells this chord from others."""
    names = {degree.name: (chord.root.number + degree.semitones) % 12 for degree in chord.degrees}
    found = []
    for group in (("3", "b3", "4", "2"), ("b7", "7", "bb7", "6"), ("b5", "#5")):
        name = next((name for name in group if name in names), None)
        if name is not None:
            found.append(frozenset({names[name]}))
    if not found:  # a bare fifth
        found = [frozenset({number}) for number in names.values()]
    return tuple(found)


def _colours(chord: ChordSymbol) -> frozenset[int]:
    """Ninths and above, which a shape should have where a hand can."""
    high = {"9", "b9", "#9", "11", "#11", "13", "b13"}
    return frozenset(
        (chord.root.number + d.semitones) % 12 for d in chord.degrees if d.name in high
    )


@lru_cache(maxsize=512)
def voicings(chord: ChordSymbol, instrument: Instrument, kind: str = "open") -> tuple[Voicing, ...]:
    """The cheapest playable shapes of a chord on an instrument, best first.

    Raises
    ------
    MusicError
        When there is none, or the kind is unknown.
    """
    if kind not in KINDS:
        raise MusicError(f"no kind of voicing {kind!r}", accepted=f"Use one of {', '.join(KINDS)}")
    least, most = _SIZES[kind]
    strings = len(instrument.strings)
    least, most = min(least, max(2, strings - 1)), min(most, strings)
    found: dict[tuple[Place, ...], Voicing] = {}
    guides, colours = guide_numbers(chord), _colours(chord)
    tones = chord.numbers
    for low in range(1, _HIGHEST + 1):
        for places in _shapes(instrument, tones, low, least, most):
            if places in found or not _fits(places):
                continue
            midis = tuple(instrument.midi_at(*place) for place in places)
            heard = {midi % 12 for midi in midis}
            if any(not heard & guide for guide in guides):
                continue
            cost = _cost(places, midis, chord, colours, kind)
            found[places] = Voicing(places, midis, cost)
    best = sorted(found.values(), key=lambda v: (v.cost, v.places))[:_KEPT]
    if not best:
        raise MusicError(f"no shape of {chord} lies under the hand on the {instrument.name}")
    return tuple(best)


def _shapes(
    instrument: Instrument, tones: frozenset[int], low: int, least: int, most: int
) -> Iterator[tuple[Place, ...]]:
    """Every choice of a chord tone or nothing on each string, at most one string left out inside."""
    frets = (0, *range(low, min(low + SPAN - 1, instrument.frets - instrument.capo) + 1))
    options: list[list[Place]] = []
    for string in range(len(instrument.strings), 0, -1):
        here = []
        for fret in frets:
            try:
                midi = instrument.midi_at(string, fret)
            except MusicError:
                continue
            if midi % 12 in tones:
                here.append(Place(string, fret))
        options.append(here)

    def go(at: int, chosen: tuple[Place, ...], gaps: int) -> Iterator[tuple[Place, ...]]:
        if len(chosen) >= least:
            yield chosen
        if at == len(options) or len(chosen) == most:
            return
        for place in options[at]:
            yield from go(at + 1, (*chosen, place), gaps)
        if chosen and gaps == 0 and at + 1 < len(options):
            for place in options[at + 1]:
                yield from go(at + 2, (*chosen, place), 1)

    for start in range(len(options)):
        for place in options[start]:
            yield from go(start + 1, (place,), 0)


def fingers(places: Sequence[Place]) -> int:
    """Fingers a shape takes; one is laid across the strings at its lowest fret where none of
    them is open.
    """
    fretted = [place for place in places if place.fret]
    if not fretted:
        return 0
    lowest = min(place.fret for place in fretted)
    across = [place.string for place in fretted if place.fret == lowest]
    inside = [p for p in places if min(across) <= p.string <= max(across)]
    barred = len(across) > 1 and all(place.fret for place in inside)
    return len(fretted) - (len(across) - 1 if barred else 0)


def _fits(places: Sequence[Place]) -> bool:
    return fingers(places) <= _FINGERS


def _cost(
    places: tuple[Place, ...],
    midis: tuple[int, ...],
    chord: ChordSymbol,
    colours: frozenset[int],
    kind: str,
) -> float:
    numbers = [midi % 12 for midi in midis]
    heard = set(numbers)
    fretted = [place.fret for place in places if place.fret]
    low = min(fretted, default=1)
    gaps = places[0].string - places[-1].string + 1 - len(places)
    cost = 0.12 * fingers(places) + 0.9 * gaps + 0.25 * max(0, max(fretted, default=1) - low - 2)
    cost += 0.9 * len(colours - heard)
    cost += 0.4 * len(chord.numbers - heard - colours - {chord.root.number})
    third = next((n for n in guide_numbers(chord)[0]), None)
    cost += 0.35 * max(0, numbers.count(third or 0) - 1) if third in heard else 0.0
    opened = len(places) - len(fretted)
    if kind == "open":
        under = (chord.bass or chord.root).number
        cost += 0.3 * (low - 1) + 1.5 * (chord.root.number not in heard)
        cost += 0.9 * (numbers[0] != under) + 0.25 * (6 - len(places))
        cost += 0.5 * opened * (low > 3)
    else:
        cost += 0.15 * abs(low - 4) + 0.6 * opened
        cost += 0.2 * len([m for m in midis if m < 47]) + 0.1 * max(0, midis[-1] - 67)
        cost += 0.3 * max(0, len(numbers) - len(heard))
    return cost


def between(one: Voicing, two: Voicing) -> float:
    """What it costs to go from one shape to the next: the hand's way and the voices' way."""
    hand = 0.25 * abs(one.fret - two.fret)
    kept = len(set(one.places) & set(two.places))
    moved = max(len(one.places), len(two.places)) - kept
    highs = list(zip(one.midis[::-1], two.midis[::-1], strict=False))
    voices = sum(abs(a - b) for a, b in highs) / len(highs)
    top = abs(highs[0][0] - highs[0][1])
    return hand + 0.08 * moved + 0.2 * voices + 0.1 * top


def voicings_through(
    chords: Sequence[ChordSymbol], instrument: Instrument, kind: str = "open"
) -> tuple[Voicing, ...]:
    """A shape for each chord so that the whole costs least (a shortest path through the shapes)."""
    if not chords:
        return ()
    columns = [voicings(chord, instrument, kind) for chord in chords]
    costs = [shape.cost for shape in columns[0]]
    backs: list[list[int]] = []
    for before, here in pairwise(columns):
        new, back = [], []
        for shape in here:
            ways = [cost + between(old, shape) for cost, old in zip(costs, before, strict=True)]
            best = min(range(len(ways)), key=ways.__getitem__)
            new.append(ways[best] + shape.cost)
            back.append(best)
        costs = new
        backs.append(back)
    at = min(range(len(costs)), key=costs.__getitem__)
    path = [at]
    for back in reversed(backs):
        at = back[at]
        path.append(at)
    return tuple(column[i] for column, i in zip(columns, reversed(path), strict=True))
