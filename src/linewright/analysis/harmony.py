"""Each note against its chord, and what happens across each chord change."""

from __future__ import annotations

import itertools
from bisect import bisect_left
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal

from linewright.score import Lick
from linewright.theory import ChordSymbol, Degree, PitchClass, degree_of

__all__ = ["ChordChange", "ChordRelation", "Harmony", "degree_in_chord", "relate_to_chords"]

Role = Literal["chord tone", "guide tone", "tension"]

#: Usual names of the notes a chord with a 7th does not have, by semitones above its root (Levine
#: 1995, ch. 3).
_TENSIONS: Final = {
    0: "1", 1: "b9", 2: "9", 3: "#9", 4: "3", 5: "11", 6: "#11", 7: "5", 8: "b13", 9: "13", 10: "b7",
    11: "7",
}  # fmt: skip
#: Names a player would use over a chord without one, first those for a spelling that is none of them.
_ADDED: Final = {
    0: ("1",), 1: ("b2", "#1"), 2: ("2",), 3: ("b3", "#2"), 4: ("3",), 5: ("4",), 6: ("#4", "b5"),
    7: ("5",), 8: ("b6", "#5"), 9: ("6",), 10: ("b7",), 11: ("7",),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class ChordRelation:
    """What a note is to the chord of the moment: ``role`` and ``name`` (3, b7, 9, #11, b13)."""

    index: int
    chord: ChordSymbol
    role: Role
    name: str


@dataclass(frozen=True, slots=True)
class ChordChange:
    """The notes either side of a chord change.

    ``semitones`` is the melodic move; ``lands`` the arriving note's name in the new chord when it
    comes within half a beat of the change, with ``role``; ``held`` when one note spans the change.
    """

    before: ChordSymbol
    after: ChordSymbol
    last: int
    first: int
    semitones: int
    lands: str
    role: Role
    held: bool


@dataclass(frozen=True, slots=True)
class Harmony:
    """Every note's relation to its chord, in order, and the changes.

    ``strong_chord_tones`` is the share (0 to 1) of notes on strong beats that are chord tones, None
    when no note falls there over a chord; ``chord_tones`` the share over all notes with a chord.
    """

    relations: tuple[ChordRelation, ...]
    changes: tuple[ChordChange, ...]
    chord_tones: float | None
    strong_chord_tones: float | None


def relate_to_chords(lick: Lick) -> Harmony:
    """Relate every note that sounds over a chord to it."""
    relations = tuple(
        relation_to(lick, index, chord)
        for index, chord in enumerate(lick.grid.chords)
        if chord is not None
    )
    # On the bar line or on the next strongest beat of the bar.
    strong = [r for r in relations if lick.grid.levels[r.index] >= -1]
    return Harmony(
        relations,
        _changes(lick),
        _share(relations),
        _share(strong),
    )


def relation_to(lick: Lick, index: int, chord: ChordSymbol) -> ChordRelation:
    """What one note is to a chord."""
    above = (lick.grid.midis[index] - chord.root.number) % 12
    for degree in chord.degrees:
        if degree.semitones != above:
            continue
        if degree.number > 7:
            return ChordRelation(index, chord, "tension", degree.name)
        is_guide = degree.number in (3, 7) or (degree.number == 6 and "6" in chord.quality)
        return ChordRelation(index, chord, "guide tone" if is_guide else "chord tone", degree.name)
    name = degree_in_chord(lick.notes[index].pitch.pitch_class, chord).name
    return ChordRelation(index, chord, "tension", name)


@lru_cache(maxsize=4096)
def degree_in_chord(note: PitchClass, chord: ChordSymbol) -> Degree:
    """The one name of a spelled note in a chord: the chord's own, if it has one.

    A number above 7 counts on the 7th below it, so other notes are tensions (9, 11, 13) of a chord
    with a 7th, and plain degrees, as they are spelled, of one without (common practice).

    >>> [degree_in_chord(PitchClass("B", -1), ChordSymbol.parse(c)).name for c in ("G", "G7", "Gm")]
    ['b3', '#9', 'b3']
    """
    above = (note.number - chord.root.number) % 12
    for degree in chord.degrees:
        if degree.semitones == above:
            return degree
    if all(degree.number != 7 for degree in chord.degrees):
        written = degree_of(note, chord.root)
        names = _ADDED[above]
        return written if written.name in names else Degree.parse(names[0])
    name = _TENSIONS[above]
    if above == 3 and chord.third != "major":
        name = "b3"
    if above == 6 and chord.third == "minor":
        name = "b5"
    return Degree.parse(name)


def _share(relations: list[ChordRelation] | tuple[ChordRelation, ...]) -> float | None:
    if not relations:
        return None
    return sum(r.role != "tension" for r in relations) / len(relations)


def _changes(lick: Lick) -> tuple[ChordChange, ...]:
    spans = [span for span in lick.chords if span.symbol is not None]
    grid, melody = lick.grid, lick.melody
    onsets = [grid.onsets[i] for i in melody]
    found = []
    for left, right in itertools.pairwise(spans):
        if left.symbol == right.symbol or left.symbol is None or right.symbol is None:
            continue
        at = grid.whole(right.onset)
        half = grid.whole(lick.bar_at(right.onset).meter.beat / 2)
        begins, ends = grid.whole(left.onset), at + grid.whole(right.duration)
        place = bisect_left(onsets, at)  # of the first note from the change on
        before = melody[place - 1] if place and onsets[place - 1] >= begins else None
        after = melody[place] if place < len(melody) and onsets[place] < ends else None
        held = melody[place - 1] if place and grid.ends[melody[place - 1]] > at else None
        if held is not None and grid.ends[held] - at > half:
            last = first = held
        elif before is not None and after is not None and grid.onsets[after] - at <= half:
            last, first = before, after
        else:
            continue
        relation = relation_to(lick, first, right.symbol)
        found.append(
            ChordChange(
                left.symbol,
                right.symbol,
                last,
                first,
                lick.notes[first].midi - lick.notes[last].midi,
                relation.name,
                relation.role,
                last == first,
            )
        )
    return tuple(found)
