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
from linewright.theory import COLLECTIONS, COLOURS, Collection, Colour

__all__ = [
    "ALL_PITCH_CLASSES",
    "CADENCE_BITS",
    "CHORD_BITS",
    "KEY_BITS",
    "NO_FRAME_BITS",
    "Candidate",
    "Evidence",
    "bit_set",
    "candidates",
    "confused_with",
    "confusions",
    "evidence",
    "evidence_of",
    "has_own_seventh",
    "is_separated",
    "is_usual",
    "naming_bits",
    "no_frame_bits",
    "turned",
]

#: Bits to name a collection: common ones are cheap (a prior; see docs/analysis.md).
_NAME_BITS: Final[dict[str, float]] = {
    "minor pentatonic": 1,
    "major pentatonic": 1,
    "major": 1.25,
    "natural minor": 1.5,
    "dorian": 1.5,
    "mixolydian": 1.5,
    "harmonic minor": 2.25,
    "melodic minor": 2.5,
    "lydian": 2.25,
    "phrygian": 2.25,
    "lydian dominant": 2.5,
    "phrygian dominant": 2.5,
    "suspended pentatonic": 3,
    "whole tone": 2.5,
    "half-whole diminished": 7.5,
    "whole-half diminished": 7.5,
    "altered": 3,
    "locrian": 3.25,
}
_FAMILY_BITS: Final = {"arpeggio": 2.0}
_RARE_BITS: Final = 2.75
#: Bits to name a pitch class left outside: one of the rest, and that it is used at all; a colour
#: note known by name costs little.
_USED_BITS: Final = 0.7
_COLOUR_BITS: Final = 0.8
#: Chance that a note of each treatment is outside the frame.
_OUTSIDE: Final[dict[Treatment, float]] = {
    "leading": 0.22,
    "owned": 0.12,
    "eased": 0.03,
    "resolved": 0.008,
    "bare": 0.003,
}
_INSIDE_BITS: Final = {kind: -log2(1 - chance) for kind, chance in _OUTSIDE.items()}
_OUTSIDE_BITS: Final = {kind: -log2(chance) for kind, chance in _OUTSIDE.items()}
#: A frame that holds every tone of the home chord is that much more likely.
CHORD_BITS: Final = 1.5
#: So is the scale the written key names.
KEY_BITS: Final = 1.5
#: A scale that lacks a note of the cadence that the lick plays is that much less likely: as much as
#: chords speak for their home.
CADENCE_BITS: Final = 8.0
#: What claiming "no frame" costs: most phrases have one.
NO_FRAME_BITS: Final = 10.0


ALL_PITCH_CLASSES: Final = (1 << 12) - 1


def bit_set(numbers: Iterable[int]) -> int:
    """Pitch classes (or semitones) as the bits of a number.

    >>> bin(bit_set([0, 4, 7]))
    '0b10010001'
    """
    bits = 0
    for number in numbers:
        bits |= 1 << number % 12
    return bits


def turned(bits: int, tonic: int) -> int:
    """A bit set of pitch classes as semitones above a tonic."""
    return (bits >> tonic | bits << 12 - tonic) & ALL_PITCH_CLASSES


@dataclass(frozen=True)
class Candidate:
    """A collection as a hypothesis.

    ``bits`` is what naming it costs, ``degrees`` the bit set of its semitones, ``colour`` the named
    scale that adds one note to it, ``colour_bit`` that note (0 without one), ``colour_saving`` how
    much cheaper it is to name than another note outside.
    """

    collection: Collection
    bits: float
    degrees: int
    colour: Colour | None
    colour_bit: int
    colour_saving: float


def naming_bits(size: int) -> float:
    """Bits to name one pitch class outside a frame of so many degrees."""
    return log2(12 - size) + _USED_BITS


def _candidate(item: Collection) -> Candidate:
    bits = _NAME_BITS.get(item.name, _FAMILY_BITS.get(item.family, _RARE_BITS))
    colour = next((c for c in COLOURS if c.frame == item.name), None)
    added = 1 << colour.added.semitones if colour else 0
    # Only the blues colours are used as freely as frame notes; the bebop scales' is passed through.
    is_blues = colour is not None and item.family == "pentatonic"
    saving = naming_bits(len(item.semitones)) - _COLOUR_BITS if is_blues else 0.0
    return Candidate(item, bits, bit_set(item.semitones), colour, added, saving)


#: Every collection with its costs.
candidates: Final = tuple(_candidate(item) for item in COLLECTIONS.values())


def has_own_seventh(number: int) -> bool:
    """Whether a candidate (by its place) is a scale whose 4 and 7 stand fast.

    Pentatonics and arpeggios leave notes out, and the 7 of the minor key is raised at a cadence.
    """
    item = candidates[number].collection
    return len(item.semitones) > 5 and item.name != "natural minor"


@dataclass(frozen=True, slots=True)
class Evidence:
    """What some notes say, gathered once, each row by pitch class.

    ``weight`` is their weight, ``inside`` and ``outside`` the bits to say of each that it is inside
    or outside the frame (I and O above), ``counts`` how many there are. ``sounding`` is the bit set
    of pitch classes that occur, ``heard`` of those that are more than a dead stroke.
    """

    weight: tuple[float, ...]
    inside: tuple[float, ...]
    outside: tuple[float, ...]
    counts: tuple[int, ...]
    sounding: int
    heard: int

    def __add__(self, other: Evidence) -> Evidence:
        return Evidence(
            tuple([a + b for a, b in zip(self.weight, other.weight, strict=True)]),
            tuple([a + b for a, b in zip(self.inside, other.inside, strict=True)]),
            tuple([a + b for a, b in zip(self.outside, other.outside, strict=True)]),
            tuple([a + b for a, b in zip(self.counts, other.counts, strict=True)]),
            self.sounding | other.sounding,
            self.heard | other.heard,
        )


def evidence(lick: Lick) -> Evidence:
    """Gather the evidence of all of a lick's notes."""
    return evidence_of(lick, range(len(lick.notes)), note_weights(lick), treatments(lick))


def evidence_of(
    lick: Lick, indexes: Iterable[int], weights: Sequence[float], kinds: Sequence[Treatment]
) -> Evidence:
    """Gather the evidence of some notes, their weights and treatments given."""
    weight, inside, outside = [0.0] * 12, [0.0] * 12, [0.0] * 12
    counts = [0] * 12
    sounding = heard = 0
    notes, midis = lick.notes, lick.grid.midis
    for index in indexes:
        if notes[index].marks and notes[index].has("dead"):
            continue  # no pitch to explain
        pc, own, kind = midis[index] % 12, weights[index], kinds[index]
        weight[pc] += own
        inside[pc] += own * _INSIDE_BITS[kind]
        outside[pc] += own * _OUTSIDE_BITS[kind]
        counts[pc] += 1
        sounding |= 1 << pc
        heard |= 1 << pc
    return Evidence(tuple(weight), tuple(inside), tuple(outside), tuple(counts), sounding, heard)


def no_frame_bits(found: Evidence) -> float:
    """Cost of the notes with no frame at all, whatever their order."""
    return NO_FRAME_BITS + sum(found.weight) * log2(12)


#: Collections by plainness; those in one row are equals, none yields to another's silence.
_PLAINNESS: Final = tuple(
    frozenset(row)
    for row in (
        (
            "minor pentatonic",
            "major pentatonic",
            "major",
            "natural minor",
            "dorian",
            "mixolydian",
            "suspended pentatonic",
        ),
        ("lydian", "phrygian", "harmonic minor", "melodic minor", "whole tone"),
        ("lydian dominant", "phrygian dominant", "half-whole diminished", "whole-half diminished"),
    )
)


_RARE_ARPEGGIOS: Final = frozenset(
    (
        "diminished triad arpeggio", "augmented triad arpeggio", "minor major seventh arpeggio",
        "half-diminished seventh arpeggio", "diminished seventh arpeggio",
        "augmented seventh arpeggio",
    )
)  # fmt: skip


def _plainness(item: Collection) -> int:
    if item.is_arpeggio:
        return 1 if item.name in _RARE_ARPEGGIOS else 0
    return next((at for at, row in enumerate(_PLAINNESS) if item.name in row), len(_PLAINNESS))


def is_usual(item: Collection) -> bool:
    """Whether a collection is one players name readily: a chord's notes or a plain scale."""
    return _plainness(item) <= 1


def is_separated(item: Collection, heard_semitones: Iterable[int]) -> bool:
    """Whether the heard notes tell ``item`` from every plainer or equal collection no larger.

    Parameters
    ----------
    item : Collection
    heard_semitones : iterable of int
        Sounding pitch classes as semitones above the tonic.
    """
    return not confused_with(item, heard_semitones)


def confused_with(item: Collection, heard_semitones: Iterable[int]) -> tuple[Collection, ...]:
    """The collections no larger that the heard notes do not tell from ``item``.

    Those as plain or plainer that hold all ``item`` would explain, and any usual one that holds all
    that and explains more (harmonic minor where the 7 is heard and the b7 is not).
    """
    return confusions(item, bit_set(heard_semitones))


@lru_cache(maxsize=20_000)
def confusions(item: Collection, heard: int) -> tuple[Collection, ...]:
    """:func:`confused_with` for a bit set of semitones above the tonic."""
    degrees = bit_set(item.semitones)
    own = heard & degrees
    mine = _plainness(item)
    is_third_silent = degrees.bit_count() > 5 and not own & (1 << 3 | 1 << 4)
    found = []
    for candidate in candidates:
        other, theirs = candidate.collection, candidate.degrees
        if other is item or theirs.bit_count() > degrees.bit_count() or own & ~theirs:
            continue
        explains_more = heard & theirs != own and _plainness(other) < len(_PLAINNESS)
        # A scale whose third nobody plays, and any rare one, must be told from all its equals.
        is_doubtful = (is_third_silent and is_usual(other)) or (mine > 1 and not item.is_arpeggio)
        if explains_more or is_doubtful or _plainness(other) <= mine:
            found.append(other)
    return tuple(found)
