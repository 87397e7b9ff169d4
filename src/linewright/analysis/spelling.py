"""How each note is spelled: what it means, not only how it sounds.

The rule, in order:

1. A note of the frame takes the frame's spelling.
2. Outside notes in a lick whose source spelled them keep that spelling when it is one a player
   would use (b2 #1 b3 #2 #4 b5 #5 b6 b7 and the plain degrees).
3. A tone of the chord of the moment is spelled as the chord spells it (C# over A7 in C is #1).
4. Otherwise direction decides, as in the melodic chromatic scale (Prout 1889, ch. 1; modelled by
   Temperley 2001, ch. 5, and Meredith 2006): a chromatic note that rises a semitone to its
   resolution is the raised degree (#1 #4 #5), any other is the lowered one (b2 b5 b6). The blue
   third and seventh are flats whichever way they move, as players name them (in G the open A string
   and its first two frets are 2, b3 and 3; common practice); only a lower neighbour of the major
   3rd that is reached from it or from above (3 #2 3, 4 #2 3) is raised, unless it is slurred into the 3. Over a frame with a minor third and no b5 the tritone is b5 (the blues).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from linewright.analysis.weights import Neighbours
from linewright.score import Lick, Note
from linewright.theory import Degree, Frame, Pitch, PitchClass, degree_of

__all__ = ["name_degrees", "respell"]

_PLAIN: Final = {
    0: Degree(1), 2: Degree(2), 4: Degree(3), 5: Degree(4), 7: Degree(5), 9: Degree(6), 11: Degree(7),
}  # fmt: skip
_FLAT: Final = {
    1: Degree(2, -1), 3: Degree(3, -1), 6: Degree(5, -1), 8: Degree(6, -1), 10: Degree(7, -1),
}  # fmt: skip
_SHARP: Final = {
    1: Degree(1, 1), 3: Degree(2, 1), 6: Degree(4, 1), 8: Degree(5, 1), 10: Degree(6, 1),
}  # fmt: skip
_ACCEPTED: Final = {
    1: ("b2", "#1"), 3: ("b3", "#2"), 6: ("#4", "b5"), 8: ("#5", "b6"), 10: ("b7",),
}  # fmt: skip


def name_degrees(
    lick: Lick, tonic: PitchClass, frame: Frame | None, near: Sequence[Neighbours]
) -> tuple[Degree, ...]:
    """The degree of every note against ``tonic``, by the rule above."""
    own = _own_degrees(tonic, frame)
    degrees = []
    for index, (note, midi) in enumerate(zip(lick.notes, lick.grid.midis, strict=True)):
        known = own[midi % 12]
        degrees.append(known or _outside_degree(lick, index, note, tonic, frame, near[index]))
    return tuple(degrees)


def _own_degrees(tonic: PitchClass, frame: Frame | None) -> list[Degree | None]:
    """By pitch class, the degree that does not depend on the note: the frame's, or a plain one."""
    found = [_PLAIN.get((pc - tonic.number) % 12) for pc in range(12)]
    if frame is not None:
        root = frame.tonic.number
        is_home = root == tonic.number
        for own in frame.collection.degrees:
            # The frame's own name for it, told from the analysis's tonic.
            name = own if is_home else degree_of(own.above(frame.tonic), tonic)
            found[(root + own.semitones) % 12] = name
    return found


def _outside_degree(
    lick: Lick, index: int, note: Note, tonic: PitchClass, frame: Frame | None, near: Neighbours
) -> Degree:
    above = (lick.grid.midis[index] - tonic.number) % 12
    if lick.spelled and not note.bend:  # the pitch a bend reaches is not written down
        written = degree_of(note.pitch.pitch_class, tonic)
        if written.name in _ACCEPTED[above]:
            return written
    chord = lick.grid.chords[index]
    for tone in chord.notes if chord else ():
        if (tone.number - tonic.number) % 12 == above:
            written = degree_of(tone, tonic)
            if written.name in _ACCEPTED[above]:
                return written
    slurred = near.after is not None and lick.notes[near.after].is_joined
    return _by_direction(above, frame, near, slurred=slurred)


def _by_direction(above: int, frame: Frame | None, near: Neighbours, *, slurred: bool) -> Degree:
    rises = near.after is not None and near.rise_out == 1
    if above == 3:
        is_lower_neighbour = near.before is not None and near.rise_in in (-1, -2) and rises
        is_lower_neighbour = is_lower_neighbour and not slurred
        return _SHARP[3] if is_lower_neighbour else _FLAT[3]
    if above == 10:
        return _FLAT[10]
    if above == 6 and frame is not None:
        has = {d.name for d in frame.collection.degrees}
        if "b3" in has and "3" not in has:
            return _FLAT[6]
    return _SHARP[above] if rises else _FLAT[above]


def respell(pitch: Pitch, tonic: PitchClass, degree: Degree) -> Pitch:
    """The pitch spelled so that it is ``degree`` above ``tonic``."""
    wanted = degree.above(tonic)
    if wanted.number != pitch.midi % 12:  # a tonic spelled past what the degree can reach
        return pitch
    for octave in (pitch.octave - 1, pitch.octave, pitch.octave + 1):
        candidate = wanted.in_octave(octave)
        if candidate.midi == pitch.midi:
            return candidate
    return pitch


def respelled(lick: Lick, tonic: PitchClass, degrees: Sequence[Degree]) -> Lick:
    """The lick with every pitch spelled as its degree says."""
    pitches = []
    for note, degree in zip(lick.notes, degrees, strict=True):
        pitch, wanted = note.pitch, degree.above(tonic)
        same = pitch.step == wanted.step and pitch.alter == wanted.alter
        pitches.append(pitch if same else respell(pitch, tonic, degree))
    return lick.respelled(pitches)
