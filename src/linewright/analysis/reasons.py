"""The sentence behind each reading: why this frame, why not its neighbours.

Sentences are written without a full stop, in the words a teacher uses: "not phrygian: the 2nd is
major", "not dorian: its natural 6 is never heard", "not major: the b7 is held on beat 3".
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import cached_property

from linewright.analysis.prose import join_words, times
from linewright.score import Lick
from linewright.theory import Collection, Colour, Degree, Frame, PitchClass

__all__ = [
    "Heard",
    "chosen_reason",
    "foreign_reason",
    "open_reason",
    "possible_reason",
    "rejected_reason",
    "twin_reason",
]

_ORDINAL = {1: "1st", 2: "2nd", 3: "3rd", 4: "4th", 5: "5th", 6: "6th", 7: "7th"}
_SIZE_WORD = {
    (2, -1): "minor", (2, 0): "major", (2, 1): "augmented",
    (3, -1): "minor", (3, 0): "major",
    (4, -1): "diminished", (4, 0): "perfect", (4, 1): "augmented",
    (5, -1): "diminished", (5, 0): "perfect", (5, 1): "augmented",
    (6, -1): "minor", (6, 0): "major",
    (7, -2): "diminished", (7, -1): "minor", (7, 0): "major",
}  # fmt: skip


class Heard:
    """The notes of a lick as degrees against one tonic, with what a sentence needs of them.

    Parameters
    ----------
    lick : Lick
    degrees : sequence of Degree
        One for each note, as the analysis names it.
    weights : sequence of float
        Of each note (:func:`note_weights`).
    """

    def __init__(self, lick: Lick, degrees: Sequence[Degree], weights: Sequence[float]) -> None:
        self.lick = lick
        self.degrees = degrees
        self.weights = weights
        self.midis = lick.grid.midis
        self._told: dict[int, str] = {}

    @cached_property
    def pitched(self) -> list[int]:
        """Indexes of the notes that have a pitch: all but the dead ones."""
        notes = self.lick.notes
        return [i for i, n in enumerate(notes) if not (n.marks and n.has("dead"))]

    @cached_property
    def _places(self) -> dict[int, list[int]]:
        by_pitch_class: dict[int, list[int]] = {}
        for index in self.pitched:
            by_pitch_class.setdefault(self.midis[index] % 12, []).append(index)
        return {self.degrees[at[0]].semitones: at for at in by_pitch_class.values()}

    @cached_property
    def semitones(self) -> frozenset[int]:
        """Semitones above the tonic that are played."""
        return frozenset(self._places)

    @cached_property
    def names(self) -> dict[int, PitchClass]:
        """Each pitch class that sounds, by number, as it is spelled first."""
        found: dict[int, PitchClass] = {}
        for note, midi in zip(self.lick.notes, self.midis, strict=True):
            if midi % 12 not in found:
                found[midi % 12] = note.pitch.pitch_class
        return found

    @cached_property
    def shortest(self) -> Fraction:
        """Length of the shortest note in quarters."""
        return min(note.duration for note in self.lick.notes)

    def places(self, semitones: int) -> list[int]:
        """Indexes of the notes at so many semitones above the tonic."""
        return self._places.get(semitones, [])

    def weight(self, semitones: int) -> float:
        """Summed weight of those notes."""
        return self._weight.get(semitones, 0.0)

    @cached_property
    def _weight(self) -> dict[int, float]:
        return {
            semitones: sum(self.weights[i] for i in places)
            for semitones, places in self._places.items()
        }

    def name(self, semitones: int) -> str:
        """The degree's name as the analysis spells it."""
        return self.degrees[self.places(semitones)[0]].name

    def telling(self, semitones: int) -> str:
        """How the weightiest of those notes is played: ``held on beat 3``, ``played twice``."""
        if semitones not in self._told:
            self._told[semitones] = self._tell(semitones)
        return self._told[semitones]

    def _tell(self, semitones: int) -> str:
        places = self.places(semitones)
        best = max(places, key=lambda i: (self.weights[i], -i))
        note, lick = self.lick.notes[best], self.lick
        bar = lick.bar_at(note.onset)
        beat, rest = bar.meter.beat_at(bar.offset(note.onset))
        if best == len(lick.notes) - 1:
            return "is the note it ends on"
        if note.duration >= bar.meter.beat and note.duration > self.shortest:
            return f"is held {_from(beat, rest, bar.meter.beats[beat - 1])}"
        if len(places) > 1:
            return f"is played {times(len(places))}"
        where = _from(beat, rest, bar.meter.beats[beat - 1])
        if len(lick.bars) > 1:
            where += f" of bar {bar.number}" if bar.number else " of the pickup"
        return f"{'falls' if rest == 0 else 'is heard'} {where}"


def _from(beat: int, rest: Fraction, length: Fraction) -> str:
    if rest == 0:
        return f"on beat {beat}"
    return f"on the and of {beat}" if rest * 2 == length else f"after beat {beat}"


def chosen_reason(heard: Heard, frame: Frame, colour: Colour | None, outside: Sequence[int]) -> str:
    """Why the chosen frame is chosen."""
    count = len(heard.pitched)
    inside = count - len(outside)
    played = [d.name for d in frame.collection.degrees if d.semitones in heard.semitones]
    missing = [d.name for d in frame.collection.degrees if d.semitones not in heard.semitones]
    if not outside:
        body = f"every note is one of its {join_words(played)}"
    else:
        body = f"{inside} of {count} notes are its {join_words(played)}"
    if missing:
        body += f"; its {join_words(missing)} {'is' if len(missing) == 1 else 'are'} not heard"
    if colour:
        body += f"; with the {colour.added} added it is the {colour.name} scale"
        outside = [i for i in outside if heard.degrees[i].semitones != colour.added.semitones]
    if outside:
        names = list(dict.fromkeys(heard.degrees[i].name for i in outside))
        body += f"; the {join_words(names)} {'lies' if len(names) == 1 else 'lie'} outside it"
    return body


def rejected_reason(heard: Heard, rival: Frame, chosen: Frame | None) -> str:
    """Why a rival on the chosen tonic is not the frame.

    The first of these that applies: the lick plays a degree the rival has in another size; the
    rival's own degrees are never heard; the lick plays degrees the rival lacks; what the rival adds
    is heard too little to pay for it.
    """
    item = rival.collection
    name = item.name
    own = frozenset(item.semitones)
    clashes = sorted(heard.semitones - own, key=lambda s: -heard.weight(s))
    base = chosen.collection if chosen else None
    if base is not None:
        shared = [s for s in clashes if s not in base.semitones]
        clashes = [s for s in clashes if s in base.semitones]
        if not clashes and not any(d.semitones not in heard.semitones for d in item.degrees):
            clashes = shared
    silent = [d for d in item.degrees if d.semitones not in heard.semitones]
    if clashes:
        return f"not {name}: {_clash(heard, item, clashes)}"
    if silent:
        marking = [d for d in silent if base is None or d.semitones not in base.semitones] or silent
        words = join_words([_natural(d, item) for d in marking], "and" if len(marking) > 1 else "")
        return f"not {name}: its {words} {'is' if len(marking) == 1 else 'are'} never heard"
    if base is not None:
        added = [d for d in item.degrees if d.semitones not in base.semitones]
        weak = join_words([f"{d.name} {_played(heard, d.semitones)}" for d in added])
        return f"not {name}: it would add {weak}, too little to count as notes of the scale"
    return f"not {name}: it explains the notes no better than no scale at all"


def foreign_reason(
    heard: Heard, rival: Frame, chosen: Frame | None, home: PitchClass, outside: Sequence[int]
) -> str:
    """Why a rival on another tonic than home is not the frame."""
    if chosen is not None and rival.numbers == chosen.numbers:
        return f"not {rival.name}: the same notes, but home is {home}"
    left = list(dict.fromkeys(heard.lick.notes[i].pitch.pitch_class.name for i in outside))
    if left:
        shown = join_words(left[:3]) + (" and more" if len(left) > 3 else "")
        return f"not {rival.name}: it leaves out {shown}"
    return f"not {rival.name}: home is {home}, not {rival.tonic}"


def possible_reason(heard: Heard, rival: Frame, chosen: Frame) -> str:
    """Why a rival that explains more notes stays in the running without being chosen."""
    base = frozenset(chosen.collection.semitones)
    gained = [
        f"the {heard.name(s)} {_played(heard, s)}"
        for s in rival.collection.semitones
        if s not in base and s in heard.semitones
    ]
    return (
        f"possible: {rival.collection.name} would take in {join_words(gained)},"
        " but each is light enough to be heard as an outside note"
    )


def twin_reason(rival: Frame, chosen: Frame) -> str:
    """Why a rival that differs only in degrees nobody plays cannot be told from the frame."""
    mine, theirs = chosen.collection, rival.collection
    numbers = sorted(
        {d.number for d in mine.degrees if d.semitones not in theirs.semitones}
        | {d.number for d in theirs.degrees if d.semitones not in mine.semitones}
    )
    words = join_words([_ORDINAL[number] for number in numbers])
    verb = "is" if len(numbers) == 1 else "are"
    return f"possible: the {words} that would tell it from {mine.name} {verb} not heard"


def open_reason(rival: Frame, unheard: Sequence[Degree]) -> str:
    """Why a frame that holds every note is still not named."""
    name = rival.collection.name
    if not unheard:
        return f"possible: {name} holds every note, and so do others"
    words = join_words([_natural(d, rival.collection) for d in unheard])
    verb = "is" if len(unheard) == 1 else "are"
    return f"possible: {name} holds every note, but its {words} {verb} never heard"


def _played(heard: Heard, semitones: int) -> str:
    return f"(played {times(len(heard.places(semitones)))})"


def _clash(heard: Heard, item: Collection, clashes: list[int]) -> str:
    for semitones in clashes[:2]:
        degree = heard.degrees[heard.places(semitones)[0]]
        same = [d for d in item.degrees if d.number == degree.number]
        both = any(d.semitones in heard.semitones for d in same)
        size = _SIZE_WORD.get((degree.number, degree.alter))
        if same and size and not both and degree.number != 1:
            strong = heard.telling(semitones)
            tail = f" (the {degree.name} {strong})" if "held" in strong or "ends" in strong else ""
            return f"the {_ORDINAL[degree.number]} is {size}{tail}"
    worst = clashes[0]
    if len(clashes) >= 3:
        names = join_words([heard.name(s) for s in clashes[:3]])
        return f"it has no {names.replace(' and ', ' or ')}"
    first = f"the {heard.name(worst)} {heard.telling(worst)}"
    if len(clashes) == 2:
        return f"{first} and the {heard.name(clashes[1])} is played as well"
    return first


def _natural(degree: Degree, item: Collection) -> str:
    """``natural 6`` in a minor-third scale, where the plain number would mislead."""
    names = {d.name for d in item.degrees}
    flat_third = "b3" in names and "3" not in names
    if degree.alter == 0 and (
        (degree.number in (6, 7) and flat_third) or (degree.number == 2 and "b5" in names)
    ):
        return f"natural {degree.name}"
    return degree.name
