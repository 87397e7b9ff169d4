"""Which notes of a take a step allows: frame notes, outside notes as the lick uses them, others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from linewright.practice.model import Allowed, UseRule
from linewright.practice.takes.model import Take, Terms
from linewright.score import BREATH
from linewright.theory import ChordSymbol, Degree, PitchClass

__all__ = ["NoteReading", "read_notes"]


@dataclass(frozen=True, slots=True)
class NoteReading:
    """What one note of a take is under the rules.

    Parameters
    ----------
    kind : str
        ``frame``; ``used`` (outside, as the lick uses it), ``misused`` (an outside note of the
        lick in another way), ``wrong`` (no note of the step).
    degree : str
        Its degree above the frame's tonic, as the step names it where it does.
    use : int or None
        Index of the step's rule it meets.
    """

    kind: str
    degree: str
    use: int | None = None


def read_notes(take: Take, terms: Terms) -> tuple[NoteReading, ...]:
    """One reading for each note; a note beside one that was not clear is read in its favour."""
    done = terms.done
    midi = [note.heard.midi for note in take.notes]
    found = []
    for index in range(len(midi)):
        chord = take.lick.chord_at(take.notes[index].onset)
        allowed = _allowed_over(done.only, chord)
        tonic = PitchClass.parse(allowed.tonic).number
        above = (midi[index] - tonic) % 12
        degrees = {Degree.parse(name).semitones % 12: name for name in allowed.degrees}
        if above in degrees:
            found.append(NoteReading("frame", degrees[above]))
            continue
        found.append(_outside(take, done.uses, index, above, chord))
    return tuple(found)


def _outside(
    take: Take, uses: Sequence[UseRule], index: int, above: int, chord: ChordSymbol | None
) -> NoteReading:
    near = [k for k, use in enumerate(uses) if Degree.parse(use.degree).semitones % 12 == above]
    if not near:
        return NoteReading("wrong", _NAMES[above])
    for k in near:
        if _is_used(take, uses[k], index, chord):
            return NoteReading("used", uses[k].degree, k)
    return NoteReading("misused", uses[near[0]].degree)


def _is_used(take: Take, use: UseRule, index: int, chord: ChordSymbol | None) -> bool:
    notes = take.notes
    here = notes[index]
    if use.over is not None and (chord is None or here.heard.midi % 12 not in chord.numbers):
        return False  # a borrowed chord tone wants a chord that holds it
    bar = take.lick.bar_at(here.onset)
    on_beat = bar.meter.beat_at(bar.offset(here.onset))[1] == 0
    if on_beat != use.on_beat:
        return False
    for other, rise, sign in ((index - 1, use.rise_in, 1), (index + 1, use.rise_out, -1)):
        if not 0 <= other < len(notes):
            return False
        beside = notes[other]
        first, last = sorted((index, other))
        if notes[last].onset - take.lick.notes[first].end >= BREATH:
            return False
        if beside.is_sure and sign * (here.heard.midi - beside.heard.midi) != rise:
            return False
    return True


def _allowed_over(only: Sequence[Allowed], chord: ChordSymbol | None) -> Allowed:
    everywhere = next((item for item in only if item.over is None), None)
    if everywhere is not None and (chord is None or len(only) == 1):
        return everywhere
    if chord is not None:
        for item in only:
            if item.over is not None and str(chord) == item.over:
                return item
    return everywhere or only[0]


#: Plain names of the twelve degrees (common practice), for notes the step does not name.
_NAMES: Final = ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7")
