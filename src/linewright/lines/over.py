"""The chords an outside note may stand over: those like the one it was heard over.

What a chord has to do with an outside note depends on the note (common practice):

- Tied by step between frame notes, or leading into one (passing, neighbour, approach), it belongs to
  the line: any chord. Only an approach leapt to that is altered over a dominant away from home is not.
- Altered over a dominant (b9, #9, #11 or b13 of it) it belongs to that chord: a dominant to whose
  root it stands the same. A blue note over home or between frame notes, or a note that encloses, is
  none of these.
- Otherwise (blue note, enclosure, escape, leap) it belongs to a kind of chord, where the lick has
  more than one chord: a blue note heard over a major 3rd to chords with one and no major 7th; others to
  the family of the chord heard. A chord without a 3rd goes with the major, minor and dominant ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from linewright.analysis import Analysis
from linewright.theory import ChordSymbol

__all__ = ["Over", "over_of"]

#: Semitones of b9, #9, #11 and b13.
_ALTERED: Final = frozenset((1, 3, 6, 8))
_BY_STEP: Final = frozenset(("passing", "neighbour", "approach"))
#: Family of the chord heard -> the families its notes go with.
_LIKE: Final = {
    "dominant": frozenset(("dominant", "open")),
    "major": frozenset(("major", "major seventh", "dominant", "open")),  # names no seventh
    "major seventh": frozenset(("major", "major seventh", "open")),
    "minor": frozenset(("minor", "open")),
    "diminished": frozenset(("diminished",)),
}
_BLUE: Final = frozenset(("dominant", "major", "open"))


@dataclass(frozen=True, slots=True)
class Over:
    """The chords one outside note goes with.

    Parameters
    ----------
    families : frozenset of str
    above_root : int
        Semitones the note stands above the chord's root; -1 for any.
    """

    families: frozenset[str]
    above_root: int = -1

    def fits(self, chord: ChordSymbol | None, pitch: int) -> bool:
        """Whether a pitch (MIDI number or class) goes with a chord; where there is none only a
        note that stands in no fixed relation to it.
        """
        if chord is None:
            return self.above_root < 0
        if self.above_root >= 0 and (pitch - chord.root.number) % 12 != self.above_root:
            return False
        return _family(chord) in self.families


def over_of(analysis: Analysis, index: int, before: int, after: int) -> Over | None:
    """What a note of the lick, between two others, teaches of chords; None for any chord."""
    fact = analysis.notes[index]
    chord = fact.chord
    functions = {note.index: note.function for note in analysis.outside_notes}
    function = functions[index]
    if chord is None or function == "borrowed chord tone":
        return None
    tied = all(functions.get(other, "passing") == "passing" for other in (before, after))
    above_root = (fact.pitch.midi - chord.root.number) % 12
    altered = chord.is_dominant and above_root in _ALTERED
    at_home = chord.root.number == analysis.tonic.number
    if function in _BY_STEP and tied:
        led = function != "approach" or at_home or not altered
        by_step = abs(fact.pitch.midi - analysis.notes[before].pitch.midi) <= 2
        if led or by_step:
            return None
    blue = function == "blue note" and (at_home or tied)
    if altered and not blue and function != "enclosure":
        return Over(frozenset(("dominant",)), above_root)
    family = _family(chord)
    symbols = {span.symbol for span in analysis.lick.chords}
    if family == "open" or len(symbols - {None}) < 2:
        return None
    return Over(_BLUE if blue and family in _BLUE else _LIKE[family])


def _family(chord: ChordSymbol) -> str:
    names = {degree.name for degree in chord.degrees}
    if "b3" in names:
        return "diminished" if "b5" in names else "minor"
    if "b7" in names:
        return "dominant"
    if "3" not in names:
        return "open"
    return "major seventh" if "7" in names else "major"
