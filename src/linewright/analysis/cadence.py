"""What written chords say of the scale over them: the cadence of a key, and chords named for a scale.

A dominant that goes to the home chord is what a major or minor key is made of: its 3rd is the
leading note and its 7th the 4, the two notes that resolve (Aldwell, Schachter and Cadwallader 2011,
ch. 8-9). So where those are played, a scale that lacks them costs as much as chords speak for home
(:data:`.frame.CADENCE_BITS`).

Some symbols say more than their chord tones: players take them for a scale (Levine 1995, ch. 3-4,
from memory): ``7alt`` the altered scale, ``7b9`` the half-whole diminished, ``7#11`` the lydian
dominant, ``m7b5`` locrian.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Final

from linewright.score import Lick
from linewright.theory import COLLECTIONS, ChordSymbol, PitchClass

__all__ = [
    "ALTERED",
    "CHORD_SCALES",
    "HOMES",
    "altered_tensions",
    "belongs",
    "cadence_degrees",
    "falls_to",
    "home_tones",
    "is_foreign",
    "resolves",
    "scale_numbers",
]

#: The altered tensions of a dominant in semitones above its root: b9, #9, #11 and b13.
ALTERED: Final = (1, 3, 6, 8)

#: Semitones above the tonic -> the third a chord there has, in a major and in a minor home. The blues
#: home takes major-minor sevenths on 1, 4 and 5 (common practice).
HOMES: Final = (
    {0: "major", 2: "minor", 4: "minor", 5: "major", 7: "major", 9: "minor", 10: "major"},
    {0: "minor", 3: "major", 5: "minor", 7: "minor", 8: "major", 10: "major"},
)

#: Quality of a chord -> the collection on its root that the symbol stands for.
CHORD_SCALES: Final[dict[str, str]] = {
    "7alt": "altered",
    "7#5#9": "altered",
    "7#5b9": "altered",
    "7b5#9": "altered",
    "7b5b9": "altered",
    "7b9": "half-whole diminished",
    "13b9": "half-whole diminished",
    "7#11": "lydian dominant",
    "9#11": "lydian dominant",
    "aug7": "whole tone",
    "maj7#11": "lydian",
    "dim7": "whole-half diminished",
    "m7b5": "locrian",
    "mMaj7": "melodic minor",
    "mMaj9": "melodic minor",
}


def belongs(chord: ChordSymbol, root: PitchClass, home: dict[int, str]) -> bool:
    """Whether a chord is at home on a root, in one of :data:`HOMES`."""
    above = (chord.root.number - root.number) % 12
    if above == 7 and chord.third == "major":
        return True  # the dominant is major in minor too
    wanted = home.get(above)
    return wanted is not None and chord.third in (wanted, "none")


def falls_to(left: ChordSymbol, right: ChordSymbol | None) -> bool:
    """Whether a chord's root falls a fifth to the next one's."""
    return right is not None and (left.root.number - right.root.number) % 12 == 7


def is_foreign(chord: ChordSymbol, home: PitchClass) -> bool:
    """Whether a chord neither belongs to a major or minor home nor leads into a chord that may.

    Dominants and diminished chords lead anywhere (Kostka and Payne 2009, ch. 16-17); a major or
    minor chord of another home brings its own scale.
    """
    if chord.is_dominant or "b5" in {degree.name for degree in chord.degrees}:
        return False
    return not any(belongs(chord, home, one) for one in HOMES)


def scale_numbers(chord: ChordSymbol) -> frozenset[int]:
    """Pitch-class numbers of the scale an altered dominant stands for; no others are so sure."""
    name = CHORD_SCALES.get(chord.quality)
    if name is None or not chord.is_dominant:
        return frozenset()
    root = chord.root.number
    return frozenset((root + above) % 12 for above in COLLECTIONS[name].semitones)


def cadence_degrees(lick: Lick, home: PitchClass) -> frozenset[int]:
    """The 3rd of a dominant that goes to the home chord, and its 7th, as semitones above home.

    None where the home chord is itself a dominant seventh: the blues has no leading note.

    >>> from fractions import Fraction
    >>> from linewright.score import ChordSpan, Meter, bars_for
    >>> chords = tuple(
    ...     ChordSpan(Fraction(4 * at), Fraction(4), ChordSymbol.parse(name))
    ...     for at, name in enumerate(("G7", "C"))
    ... )
    >>> lick = Lick((), bars_for(Meter(4, 4), Fraction(8)), chords)
    >>> sorted(cadence_degrees(lick, PitchClass("C")))
    [5, 11]
    """
    symbols = [span.symbol for span in lick.chords if span.symbol is not None]
    found: set[int] = set()
    for left, right in pairwise(symbols):
        if right.root.number != home.number or (left.root.number - home.number) % 12 != 7:
            continue
        if left.third != "major" or right.is_dominant:
            continue
        found.add(11)
        if left.is_dominant:
            found.add(5)
    return frozenset(found)


def home_tones(lick: Lick, home: PitchClass) -> frozenset[int]:
    """The 3rd and the 7th of the chords on home that are played over them, in semitones above home.

    They say which third and which seventh the tune has (the guide tones of Levine 1995, ch. 2, from
    memory). Not where a chord on home is a dominant seventh: the blues has both thirds.
    """
    over = [
        (chord, lick.grid.midis[index] % 12)
        for index, chord in enumerate(lick.grid.chords)
        if chord is not None and chord.root.number == home.number
    ]
    if any(chord.is_dominant for chord, _ in over):
        return frozenset()
    return frozenset(
        degree.semitones
        for chord, number in over
        for degree in chord.degrees
        if degree.number in (3, 7) and (number - home.number) % 12 == degree.semitones
    )


def altered_tensions(left: ChordSymbol, right: ChordSymbol | None) -> frozenset[int]:
    """Pitch-class numbers of the b9, #9, #11 and b13 of a dominant that goes to a major chord.

    A dominant that resolves takes them freely (Levine 1995, ch. 3-4, from memory). Over a minor
    chord they are the key's own notes, and in the blues the next dominant asks for other ones.
    """
    if right is None or right.third != "major" or not resolves(left, right):
        return frozenset()
    return frozenset((left.root.number + above) % 12 for above in ALTERED)


def resolves(left: ChordSymbol, right: ChordSymbol | None) -> bool:
    """Whether a dominant seventh goes down a fifth to a chord that is none."""
    if right is None or not left.is_dominant or right.is_dominant:
        return False
    return falls_to(left, right)
