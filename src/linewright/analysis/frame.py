"""Which frame a lick hangs on: every collection on every tonic, scored by description length.

A frame is a hypothesis that makes the notes cheaper to write down. Under a collection of k
degrees a note inside it costs log2(k / (1 - q)) bits. Each pitch class left outside must be named
once, and each of its notes costs log2(m / q) among the m outside ones, where q depends on how the
note is treated: approached and left by step it is cheap to excuse, leapt to and held it is dear.
Naming the frame costs bits too, more for rarer collections (the two-part code of Rissanen 1978;
Grunwald 2007, ch. 1). So a five-note collection that explains the weighty notes beats a seven-note
one whose further degrees are never heard, and a seven-note one wins as soon as its own degrees are
played as notes in their own right. A colour note players know by name (the b5 of the blues) is
cheap to name.

Bits alone would still name a mode for a degree nobody played, so a collection may only be chosen
when the heard notes separate it from every collection that is at least as plain and no larger
(:func:`is_separated`). "No frame" competes too: twelve equal pitch classes.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import log2
from typing import Final

from linewright.analysis.weights import Treatment, note_weights, treatments
from linewright.score import Lick
from linewright.theory import COLLECTIONS, COLOURS, ChordSymbol, Collection

__all__ = [
    "Candidate",
    "Evidence",
    "bits_on",
    "candidates",
    "confused_with",
    "evidence",
    "is_separated",
    "no_frame_bits",
    "rank",
]

#: Bits to name a collection: common ones are cheap (a prior; see docs/analysis.md).
_NAME_BITS: Final[dict[str, float]] = {
    "minor pentatonic": 2.0,
    "major pentatonic": 2.0,
    "major": 2.5,
    "natural minor": 3.0,
    "dorian": 3.0,
    "mixolydian": 3.0,
    "harmonic minor": 4.5,
    "melodic minor": 5.0,
    "lydian": 4.5,
    "phrygian": 4.5,
    "lydian dominant": 5.0,
    "phrygian dominant": 5.0,
    "suspended pentatonic": 6.0,
    "whole tone": 5.0,
    "half-whole diminished": 7.5,
    "whole-half diminished": 7.5,
    "altered": 6.0,
    "locrian": 6.5,
}
_FAMILY_BITS: Final = {"arpeggio": 4.0}
_RARE_BITS: Final = 6.5
#: Bits to name a pitch class left outside: one of the rest, and that it is used at all; a colour
#: note known by name costs little.
_USED_BITS: Final = 0.7
_COLOUR_BITS: Final = 1.0
#: Chance that a note of each treatment is outside the frame.
_OUTSIDE: Final[dict[Treatment, float]] = {
    "leading": 0.22,
    "owned": 0.12,
    "eased": 0.05,
    "resolved": 0.02,
    "bare": 0.01,
}
_OUT_COSTS: Final = tuple(-log2(out) for out in _OUTSIDE.values())
#: A frame that holds every tone of the home chord is that much more likely.
_CHORD_BITS: Final = 1.5
#: What claiming "no frame" costs: most phrases have one.
_NO_FRAME_BITS: Final = 10.0


@dataclass(frozen=True)
class Candidate:
    """A collection, what naming it costs, and what naming each outside semitone costs."""

    collection: Collection
    bits: float
    outside_bits: tuple[float, ...]
    semitones: frozenset[int]
    inside_costs: tuple[float, ...]


def _candidate(item: Collection) -> Candidate:
    bits = _NAME_BITS.get(item.name, _FAMILY_BITS.get(item.family, _RARE_BITS))
    plain = log2(12 - len(item.semitones)) + _USED_BITS
    colours = {c.added.semitones for c in COLOURS if c.frame == item.name}
    outside = (
        0.0 if s in item.semitones else _COLOUR_BITS if s in colours else plain for s in range(12)
    )
    inside = tuple(log2(len(item.semitones) / (1 - out)) for out in _OUTSIDE.values())
    return Candidate(item, bits, tuple(outside), frozenset(item.semitones), inside)


#: Every collection with its costs.
candidates: Final = tuple(_candidate(item) for item in COLLECTIONS.values())


@dataclass(frozen=True)
class Evidence:
    """What the notes say, gathered once: weight by pitch class and by treatment.

    ``by_treatment[t][pc]`` is the weight of notes of that treatment and pitch class; ``heard`` the
    pitch classes that sound; ``counts`` how many notes each has.
    """

    by_treatment: dict[Treatment, tuple[float, ...]]
    weight: tuple[float, ...]
    heard: frozenset[int]
    counts: tuple[int, ...]

    @property
    def sounding(self) -> tuple[int, ...]:
        """Pitch classes with any weight, in order."""
        return tuple(pc for pc, weight in enumerate(self.weight) if weight)


def evidence(lick: Lick) -> Evidence:
    """Gather the evidence of all of a lick's notes."""
    return evidence_of(lick, range(len(lick.notes)), note_weights(lick), treatments(lick))


def evidence_of(
    lick: Lick, indexes: Iterable[int], weights: Sequence[float], kinds: Sequence[Treatment]
) -> Evidence:
    """Gather the evidence of some notes, their weights and treatments given."""
    table: dict[Treatment, list[float]] = {key: [0.0] * 12 for key in _OUTSIDE}
    total, counts = [0.0] * 12, [0] * 12
    heard = set()
    for index in indexes:
        note = lick.notes[index]
        pc = note.midi % 12
        table[kinds[index]][pc] += weights[index]
        total[pc] += weights[index]
        counts[pc] += 1
        if not note.has("dead"):
            heard.add(pc)
    rows = {key: tuple(row) for key, row in table.items()}
    return Evidence(rows, tuple(total), frozenset(heard), tuple(counts))


def no_frame_bits(found: Evidence) -> float:
    """Cost of the notes with no frame at all."""
    return _NO_FRAME_BITS + sum(found.weight) * log2(12)


def rank(
    found: Evidence, tonic_bits: Sequence[float], home_chord: ChordSymbol | None = None
) -> list[tuple[float, int, Candidate]]:
    """Every candidate on every tonic as (bits, tonic number, candidate), cheapest first.

    Parameters
    ----------
    found : Evidence
    tonic_bits : sequence of 12 floats
        Cost of each pitch class as tonic.
    home_chord : ChordSymbol, optional
        The chord on the tonic, when one is written.
    """
    ranked = []
    for tonic in range(12):
        heard = _turned(found, tonic)
        chord = (
            {(n - tonic) % 12 for n in home_chord.numbers}
            if home_chord and home_chord.root.number == tonic
            else None
        )
        for candidate in candidates:
            bits = candidate.bits + tonic_bits[tonic] + _data_bits(heard, candidate)
            if chord and chord <= candidate.semitones:
                bits -= _CHORD_BITS
            ranked.append((bits, tonic, candidate))
    ranked.sort(key=lambda item: (item[0], item[1]))
    return ranked


def bits_on(found: Evidence, tonic: int) -> list[tuple[float, Candidate]]:
    """Bits to write the notes under every candidate on one tonic (names not included)."""
    heard = _turned(found, tonic)
    return [(_data_bits(heard, candidate), candidate) for candidate in candidates]


def _turned(found: Evidence, tonic: int) -> list[tuple[int, list[float]]]:
    """The sounding pitch classes as semitones above a tonic, with their weights by treatment."""
    return [
        ((pc - tonic) % 12, [found.by_treatment[key][pc] for key in _OUTSIDE])
        for pc in found.sounding
    ]


def _data_bits(heard: list[tuple[int, list[float]]], candidate: Candidate) -> float:
    inside = candidate.semitones
    outside = [semitones for semitones, _ in heard if semitones not in inside]
    bits = sum(candidate.outside_bits[semitones] for semitones in outside)
    in_cost = candidate.inside_costs
    crowd = log2(len(outside)) if outside else 0.0
    for semitones, weights in heard:
        if semitones in inside:
            for weight, cost in zip(weights, in_cost, strict=True):
                bits += weight * cost
        else:
            for weight, cost in zip(weights, _OUT_COSTS, strict=True):
                bits += weight * (crowd + cost)
    return bits


#: Collections by plainness; those in one row are equals, none yields to another's silence.
_PLAINNESS: Final = tuple(
    frozenset(row)
    for row in (
        ("minor pentatonic", "major pentatonic", "major", "natural minor", "dorian", "mixolydian"),
        ("lydian", "phrygian", "harmonic minor", "melodic minor", "whole tone"),
        ("lydian dominant", "phrygian dominant", "half-whole diminished", "whole-half diminished"),
    )
)


def _plainness(item: Collection) -> int:
    if item.is_arpeggio:
        return 0
    return next((at for at, row in enumerate(_PLAINNESS) if item.name in row), len(_PLAINNESS))


def is_separated(item: Collection, heard_semitones: frozenset[int]) -> bool:
    """Whether the heard notes tell ``item`` from every plainer or equal collection no larger.

    Parameters
    ----------
    item : Collection
    heard_semitones : frozenset of int
        Sounding pitch classes as semitones above the tonic.
    """
    return not confused_with(item, heard_semitones)


@lru_cache(maxsize=20_000)
def confused_with(item: Collection, heard_semitones: frozenset[int]) -> tuple[Collection, ...]:
    """The collections no larger that the heard notes do not tell from ``item``.

    Those as plain or plainer that hold all ``item`` would explain, and any usual one that holds all
    that and explains more (harmonic minor where the 7 is heard and the b7 is not).
    """
    own = heard_semitones & frozenset(item.semitones)
    mine = _plainness(item)
    found = []
    for other in COLLECTIONS.values():
        theirs = frozenset(other.semitones)
        if other is item or len(theirs) > len(item.semitones) or not own <= theirs:
            continue
        explains_more = own < heard_semitones & theirs and _plainness(other) < len(_PLAINNESS)
        if _plainness(other) <= mine or explains_more:
            found.append(other)
    return tuple(found)
