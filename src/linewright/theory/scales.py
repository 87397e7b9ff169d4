"""The collections a lick can hang on, in one table.

Everything that names, spells, draws, checks or documents a scale or arpeggio reads
``COLLECTIONS``. Names are the trade's plain ones (common practice); the interval
vectors and Forte numbers of the table are held against music21 in the tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

from linewright.errors import MusicError
from linewright.theory.degrees import Degree
from linewright.theory.pitch import PitchClass

__all__ = ["COLLECTIONS", "COLOURS", "Collection", "Colour", "Frame", "collection"]


@dataclass(frozen=True)
class Collection:
    """A scale or arpeggio without a tonic.

    Parameters
    ----------
    name : str
        Plain trade name.
    degrees : tuple of Degree
        Ascending from the tonic.
    family : str
        ``pentatonic``, ``diatonic``, ``harmonic minor``, ``melodic minor``, ``symmetric``
        or ``arpeggio``.
    """

    name: str
    degrees: tuple[Degree, ...]
    family: str

    @cached_property
    def semitones(self) -> tuple[int, ...]:
        """Semitones of each degree above the tonic, ascending."""
        return tuple(degree.semitones for degree in self.degrees)

    @property
    def is_arpeggio(self) -> bool:
        """Whether this is a chord's notes rather than a scale."""
        return self.family == "arpeggio"

    def __str__(self) -> str:
        return self.name

    def __hash__(self) -> int:
        return hash(self.name)


@dataclass(frozen=True)
class Frame:
    """A collection on a tonic: what a lick hangs on.

    >>> Frame(PitchClass("G"), collection("minor pentatonic")).names
    ('G', 'Bb', 'C', 'D', 'F')
    """

    tonic: PitchClass
    collection: Collection

    @property
    def name(self) -> str:
        """As in ``G minor pentatonic``."""
        return f"{self.tonic} {self.collection.name}"

    @cached_property
    def pitch_classes(self) -> tuple[PitchClass, ...]:
        """Spelled pitch classes, ascending from the tonic."""
        return tuple(degree.above(self.tonic) for degree in self.collection.degrees)

    @property
    def names(self) -> tuple[str, ...]:
        """Note names, ascending from the tonic."""
        return tuple(pc.name for pc in self.pitch_classes)

    @cached_property
    def numbers(self) -> frozenset[int]:
        """Pitch-class numbers."""
        return frozenset((self.tonic.number + s) % 12 for s in self.collection.semitones)

    def __contains__(self, note: PitchClass) -> bool:
        return note.number in self.numbers

    def degree(self, number: int) -> Degree | None:
        """The frame's own degree for a pitch-class number, or None when outside."""
        semitones = (number - self.tonic.number) % 12
        for degree in self.collection.degrees:
            if degree.semitones == semitones:
                return degree
        return None


_TABLE: Final = """
major pentatonic               | 1 2 3 5 6            | pentatonic
minor pentatonic               | 1 b3 4 5 b7          | pentatonic
suspended pentatonic           | 1 2 4 5 b7           | pentatonic
major                          | 1 2 3 4 5 6 7        | diatonic
dorian                         | 1 2 b3 4 5 6 b7      | diatonic
phrygian                       | 1 b2 b3 4 5 b6 b7    | diatonic
lydian                         | 1 2 3 #4 5 6 7       | diatonic
mixolydian                     | 1 2 3 4 5 6 b7       | diatonic
natural minor                  | 1 2 b3 4 5 b6 b7     | diatonic
locrian                        | 1 b2 b3 4 b5 b6 b7   | diatonic
harmonic minor                 | 1 2 b3 4 5 b6 7      | harmonic minor
phrygian dominant              | 1 b2 3 4 5 b6 b7     | harmonic minor
dorian sharp 4                 | 1 2 b3 #4 5 6 b7     | harmonic minor
melodic minor                  | 1 2 b3 4 5 6 7       | melodic minor
dorian flat 2                  | 1 b2 b3 4 5 6 b7     | melodic minor
lydian augmented               | 1 2 3 #4 #5 6 7      | melodic minor
lydian dominant                | 1 2 3 #4 5 6 b7      | melodic minor
mixolydian flat 6              | 1 2 3 4 5 b6 b7      | melodic minor
locrian natural 2              | 1 2 b3 4 b5 b6 b7    | melodic minor
altered                        | 1 b2 b3 b4 b5 b6 b7  | melodic minor
whole tone                     | 1 2 3 #4 #5 b7       | symmetric
half-whole diminished          | 1 b2 b3 3 #4 5 6 b7  | symmetric
whole-half diminished          | 1 2 b3 4 b5 b6 6 7   | symmetric
major triad arpeggio           | 1 3 5                | arpeggio
minor triad arpeggio           | 1 b3 5               | arpeggio
diminished triad arpeggio      | 1 b3 b5              | arpeggio
augmented triad arpeggio       | 1 3 #5               | arpeggio
major sixth arpeggio           | 1 3 5 6              | arpeggio
minor sixth arpeggio           | 1 b3 5 6             | arpeggio
major seventh arpeggio         | 1 3 5 7              | arpeggio
dominant seventh arpeggio      | 1 3 5 b7             | arpeggio
minor seventh arpeggio         | 1 b3 5 b7            | arpeggio
minor major seventh arpeggio   | 1 b3 5 7             | arpeggio
half-diminished seventh arpeggio | 1 b3 b5 b7         | arpeggio
diminished seventh arpeggio    | 1 b3 b5 bb7          | arpeggio
augmented seventh arpeggio     | 1 3 #5 b7            | arpeggio
"""


def _rows(table: str) -> list[list[str]]:
    return [[cell.strip() for cell in row.split("|")] for row in table.strip().splitlines()]


#: Every collection by name, in the order documentation lists them.
COLLECTIONS: Final[dict[str, Collection]] = {
    name: Collection(name, tuple(Degree.parse(d) for d in degrees.split()), family)
    for name, degrees, family in _rows(_TABLE)
}


@dataclass(frozen=True)
class Colour:
    """A scale players name as a frame plus one colour note (blues, bebop)."""

    name: str
    frame: str
    added: Degree


#: Scales that are a frame plus a colour note (common practice; Levine 1995 for the bebop scales).
COLOURS: Final[tuple[Colour, ...]] = (
    Colour("blues", "minor pentatonic", Degree(5, -1)),
    Colour("major blues", "major pentatonic", Degree(3, -1)),
    Colour("bebop dominant", "mixolydian", Degree(7)),
    Colour("bebop major", "major", Degree(5, 1)),
    Colour("bebop dorian", "dorian", Degree(3)),
)


def collection(name: str) -> Collection:
    """Look a collection up by its plain name; raises MusicError listing near names."""
    try:
        return COLLECTIONS[name.strip().lower()]
    except KeyError:
        import difflib

        near = difflib.get_close_matches(name.lower(), COLLECTIONS, n=3, cutoff=0.4)
        hint = f"Did you mean {' or '.join(near)}?" if near else "Use a name from docs/scales.md"
        raise MusicError(f"no scale or arpeggio is called {name!r}", accepted=hint) from None
