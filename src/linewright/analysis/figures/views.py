"""Viewpoints: the melody of a lick read as several parallel rows of whole numbers.

After Conklin and Anagnostopoulou (2001), a figure may recur in one viewpoint and not in
another. Heights are counted so that equal differences mean equal moves:

- ``steps``: two per frame step; a note between two frame notes takes the odd number between
  them. Without a frame, two per letter of the staff;
- ``letters``: letters of the staff; ``semitones``: MIDI numbers;
- ``rhythm``: which length (onset to next onset) a note has, as the number of the length in
  order of first use; only equality is ever read from it, so speed does not matter;
- ``joins``: how a note is reached (plucked, hammered on, pulled off, slid).

Strings are not a viewpoint of the parse: moving the fingering must not move the figures. They
are put in words afterwards.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from linewright.score import Lick
from linewright.theory import ChordSymbol, Frame

__all__ = ["Views", "frame_steps", "views_of"]

_JOINS = ("hammer-on", "pull-off", "slide", "release")


@dataclass(frozen=True, slots=True)
class Views:
    """The parallel rows, one number for each note of the melody.

    ``on_beat`` tells whether a note starts on a beat, ``in_bar`` where in its bar it starts (0
    for the bar line; only equality is read otherwise), ``opens`` whether it begins a group: after a
    rest, or after a note longer than those either side of it. ``chords`` is the bit set of pitch
    classes of the chord sounding at the note, 0 without one, and ``ninths`` of its 3rd, 5th, 7th and
    9th (the b9 too for a dominant), for a chord with a 7th.
    """

    steps: list[int]
    letters: list[int]
    semitones: list[int]
    rhythm: list[int]
    joins: list[int]
    on_beat: list[bool]
    in_bar: list[int]
    opens: list[bool]
    chords: list[int]
    ninths: list[int]
    has_frame: bool

    @property
    def count(self) -> int:
        """Number of notes."""
        return len(self.steps)

    def row(self, name: str) -> list[int]:
        """A row of heights by name, as two units a step."""
        return self.steps if name == "steps" else [2 * h for h in getattr(self, name)]


def frame_steps(frame: Frame, midi: Sequence[int]) -> list[int]:
    """Heights in half frame steps above the tonic's lowest octave: even inside, odd between.

    >>> from linewright.theory import PitchClass, collection
    >>> frame_steps(Frame(PitchClass("C"), collection("major")), [60, 61, 62, 72])
    [70, 71, 72, 84]
    """
    ladder = sorted(frame.collection.semitones)
    size, tonic = len(ladder), frame.tonic.number
    heights: list[int] = []
    known: dict[int, int] = {}
    for note in midi:
        height = known.get(note)
        if height is None:
            octave, rest = divmod(note - tonic, 12)
            rung = bisect_right(ladder, rest) - 1
            height = 2 * (octave * size + rung) + (ladder[rung] != rest)
            known[note] = height
        heights.append(height)
    return heights


def views_of(lick: Lick, frame: Frame | None) -> Views:
    """Read the melody of ``lick`` in every viewpoint."""
    grid, melody = lick.grid, lick.melody
    notes = [lick.notes[index] for index in melody]
    semitones = [grid.midis[index] for index in melody]
    letters = [note.pitch.staff_position for note in notes]
    steps = frame_steps(frame, semitones) if frame else [2 * height for height in letters]
    onsets = [grid.onsets[index] for index in melody]
    stops = [*onsets[1:], *(grid.ends[index] for index in melody[-1:])]
    lengths: dict[int, int] = {}
    rhythm = [
        lengths.setdefault(stop - onset, len(lengths))
        for onset, stop in zip(onsets, stops, strict=True)
    ]
    joins = [
        next((k for k, name in enumerate(_JOINS, 1) if note.has(name)), 0) if note.marks else 0
        for note in notes
    ]
    known: dict[str, tuple[int, int]] = {"": (0, 0)}
    sounding: list[tuple[int, int]] = []
    for index in melody:
        chord = grid.chords[index]
        name = chord.text if chord is not None else ""
        if chord is not None and name not in known:
            known[name] = _chord_bits(chord)
        sounding.append(known[name])
    offsets = {0: 0}
    in_bar = [
        offsets.setdefault(onset - grid.origins[grid.bars[index]], len(offsets))
        for index, onset in zip(melody, onsets, strict=True)
    ]
    on_beat = [grid.on_beat[index] for index in melody]
    return Views(
        steps,
        letters,
        semitones,
        rhythm,
        joins,
        on_beat,
        in_bar,
        _openings(onsets, stops, [grid.ends[index] for index in melody]),
        [chord for chord, _ in sounding],
        [ninth for _, ninth in sounding],
        frame is not None,
    )


def _openings(onsets: Sequence[int], stops: Sequence[int], ends: Sequence[int]) -> list[bool]:
    """Which notes begin a group."""
    lengths = [stop - onset for onset, stop in zip(onsets, stops, strict=True)]
    opens = [True] if onsets else []
    for at in range(1, len(onsets)):
        before = lengths[at - 1]
        is_longest = before > lengths[at] and (at < 2 or before > lengths[at - 2])
        opens.append(is_longest or ends[at - 1] < onsets[at])
    return opens


def _chord_bits(chord: ChordSymbol) -> tuple[int, int]:
    """The pitch classes of a chord as a bit set, and those of its 3rd to its 9th."""
    root = chord.root.number
    tones = sum(1 << number for number in chord.numbers)
    if all(degree.number != 7 for degree in chord.degrees):
        return tones, 0
    flat = 1 << (root + 1) % 12 if chord.is_dominant else 0
    return tones, (tones | 1 << (root + 2) % 12 | flat) & ~(1 << root)
