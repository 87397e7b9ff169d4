"""What each outside note does: its function, from how it is approached and left.

The functions are the usual non-chord-tone types (Aldwell, Schachter and Cadwallader 2011, ch. 20-21;
Kostka and Payne 2009, ch. 11-12) read against the frame instead of the chord, with the two that
improvisers add: the enclosure (Coker 1991) and the blue note. An altered tension of a dominant that goes
home is told as such beside its function (Levine 1995, ch. 3-4, from memory). Tested in the order of ``FUNCTIONS``'
docstrings; the first that holds is the name.
"""

from __future__ import annotations

import itertools
from bisect import bisect_right
from collections.abc import Sequence
from typing import Final

from linewright.analysis.cadence import ALTERED, resolves
from linewright.analysis.facts import NoteFact, OutsideNote
from linewright.analysis.prose import join_words
from linewright.analysis.weights import Neighbours
from linewright.score import Lick
from linewright.theory import ChordSymbol, Colour, Frame

__all__ = ["FUNCTIONS", "classify_outside"]

#: Function -> what it means, in the order they are tried.
FUNCTIONS: Final[dict[str, str]] = {
    "suspension": "held or repeated from before a chord change, then resolved down by step",
    "enclosure": "one of the notes that close in on a frame note from above and below",
    "borrowed chord tone": "outside the frame but in the chord, and not merely passing",
    "passing": "moved through by step in one direction",
    "blue note": "a b3, b5 or b7 coloured against the frame",
    "neighbour": "a step away from a note and back",
    "approach": "leapt or turned to, then by step into a frame note",
    "escape": "reached by step, left by a leap the other way",
    "leap": "none of these: leapt to or from, it stands on its own",
}

#: Blue degrees, in semitones above the tonic (Titon 1977, ch. 4: the third, fifth and seventh areas).
_BLUE: Final = {3: "b3", 6: "b5", 10: "b7"}

#: Styles without a blues behind them: there a flat note is blue only when it is treated as one.
_UNBLUED: Final = frozenset(
    (
        "jig", "reel", "hornpipe", "strathspey", "polka", "clog", "march", "air", "schottische",
        "mazurka", "minuet", "barndance", "quadrille", "highland", "irish", "scottish", "celtic",
        "hymn", "carol", "classical", "baroque",
    )
)  # fmt: skip


def classify_outside(
    lick: Lick,
    facts: Sequence[NoteFact],
    near: Sequence[Neighbours],
    frame: Frame,
    colour: Colour | None,
) -> tuple[OutsideNote, ...]:
    """Function and reason of every outside note, in order."""
    reader = _Reader(lick, facts, near, frame, colour)
    return tuple(reader.read(fact.index) for fact in facts if fact.is_outside)


class _Reader:
    """One lick's notes under the questions that tell one function from another."""

    def __init__(
        self,
        lick: Lick,
        facts: Sequence[NoteFact],
        near: Sequence[Neighbours],
        frame: Frame,
        colour: Colour | None,
    ) -> None:
        self.lick, self.facts, self.near = lick, facts, near
        self.frame, self.colour = frame, colour
        self.grid = lick.grid
        words = (lick.style or "").lower().replace("-", " ").split()
        self._blues = _UNBLUED.isdisjoint(words) or "blues" in words
        self._is_a_blues = "blues" in words
        self._chords = [span for span in lick.chords if span.symbol is not None]
        self._changes = [span.onset for span in self._chords]

    def read(self, index: int) -> OutsideNote:
        fact = self.facts[index]
        function, reason = self._function(index)
        if function not in ("borrowed chord tone", "blue note") and self._goal_of(index):
            whose = f"the {fact.degree} " if function == "enclosure" else ""
            reason += f", {whose}as the {fact.chord_degree} of {fact.chord}"
        return OutsideNote(index, fact.degree, fact.chord_degree, function, reason, fact.weight)

    def _function(self, index: int) -> tuple[str, str]:
        for test in (
            self._suspension,
            self._owned,
            self._enclosure,
            self._borrowed,
            self._passing,
            self._blue,
            self._neighbour,
            self._approach,
            self._escape,
        ):
            found = test(index)
            if found is not None:
                return found
        # A tension belongs to its chord, whatever is beside it.
        tie = "" if self._goal_of(index) else self._tie(index)
        return "leap", f"the {self._name(index)} {self._way(index)}{tie}"

    # -- words ---------------------------------------------------------------------------
    def _name(self, index: int | None) -> str:
        return "start" if index is None else self.facts[index].degree.name

    def _way(self, index: int) -> str:
        near = self.near[index]
        before = (
            f"comes from the {self._name(near.before)}"
            if near.before is not None
            else "begins the phrase"
        )
        if near.after is None:
            after = "ends it" if near.before is None else "ends the phrase"
        else:
            after = f"goes to the {self._name(near.after)}"
        return f"{before} and {after}"

    def _tie(self, index: int) -> str:
        """How a note of no other function is reached and left, where a step is among it."""
        near = self.near[index]
        sides = [
            (said, "step" if abs(rise) <= 2 else "leap")
            for said, other, rise in (
                ("reached by", near.before, near.rise_in),
                ("left by", near.after, near.rise_out),
            )
            if other is not None
        ]
        if all(way == "leap" for _, way in sides):
            return ", tied to nothing by step"
        return ", " + join_words([f"{said} {way}" for said, way in sides])

    # -- questions -----------------------------------------------------------------------
    def _in_chord(self, index: int) -> bool:
        chord = self.facts[index].chord
        return chord is not None and self.grid.midis[index] % 12 in chord.numbers

    def _goal_of(self, index: int) -> ChordSymbol | None:
        """The chord that the dominant under an altered tension of it (b9, #9, #11, b13) goes to.

        A raised degree (D# on its way to E over G7) leads into the note above and is no tension.
        """
        fact = self.facts[index]
        chord = fact.chord
        if (
            chord is None
            or fact.degree.alter >= 0
            or (self.grid.midis[index] - chord.root.number) % 12 not in ALTERED
        ):
            return None
        at = bisect_right(self._changes, self.lick.notes[index].onset)
        after = next((s.symbol for s in self._chords[at:] if s.symbol != chord), None)
        return after if resolves(chord, after) else None

    def _is_weak(self, index: int) -> bool:
        """Off the beat, or on a weak beat and shorter than it, and never longer than a beat."""
        grid = self.grid
        length, beat = grid.ends[index] - grid.onsets[index], grid.beats[index]
        if grid.on_beat[index]:
            return length < beat and grid.levels[index] < -1
        return length <= beat

    def _is_anchor(self, index: int | None) -> bool:
        """A note that can be a goal: in the frame or in its chord."""
        if index is None:
            return False
        return not self.facts[index].is_outside or self._in_chord(index)

    # -- functions -----------------------------------------------------------------------
    def _suspension(self, index: int) -> tuple[str, str] | None:
        near = self.near[index]
        note, fact = self.lick.notes[index], self.facts[index]
        if index == 0 or self.lick.notes[index - 1].midi != note.midi or fact.chord is None:
            return None
        before = self.facts[index - 1].chord
        if before == fact.chord or before is None or note.midi % 12 not in before.numbers:
            return None
        if self._in_chord(index) or near.after is None or near.rise_out not in (-1, -2):
            return None
        return (
            "suspension",
            f"the {fact.degree} is kept from {before} into {fact.chord} and falls to the {self._name(near.after)}",
        )

    def _enclosure(self, index: int) -> tuple[str, str] | None:
        """Two to four notes on both sides of a goal, each within a tone of it (three semitones
        where a chromatic pair comes from one side), ending on the goal by step.
        """
        midis, melody = self.grid.midis, self.grid.melody
        if not self.grid.is_tune(index):
            return None
        at = self.grid.places[index]
        goals = [place for place in range(at + 1, min(at + 5, len(melody))) if self._is_goal(place)]
        for length in (2, 3, 4):
            for goal_at in goals:
                start = goal_at - length
                if not 0 <= start <= at:
                    continue
                goal = melody[goal_at]
                group = melody[start:goal_at]
                gaps = [midis[i] - midis[goal] for i in group]
                if not self._closes_in(gaps):
                    continue
                if all(self._in_chord(i) for i in group) and not self._in_chord(goal):
                    continue  # an arpeggio on its way out of the chord
                if length > 2 and any(self._in_chord(i) and self.grid.on_beat[i] for i in group):
                    continue  # chord tones on the beat are goals themselves
                names = join_words(self._name(i) for i in group)
                return "enclosure", f"{names} close in on the {self._name(goal)} from both sides"
        return None

    def _is_goal(self, place: int) -> bool:
        """A frame note of the melody reached by step that is no weaker in the bar than the note
        before it.
        """
        goal, before = self.grid.melody[place], self.grid.melody[place - 1]
        levels, midis = self.grid.levels, self.grid.midis
        return (
            not self.facts[goal].is_outside
            and 0 < abs(midis[before] - midis[goal]) <= 2
            and levels[goal] >= levels[before]
        )

    @staticmethod
    def _closes_in(gaps: list[int]) -> bool:
        if 0 in gaps or not (min(gaps) < 0 < max(gaps)) or abs(gaps[-1]) > 2:
            return False
        if len(gaps) == 2:
            return all(abs(gap) <= 2 for gap in gaps) and 1 in map(abs, gaps)
        sides = [gap > 0 for gap in gaps]
        turns = sum(a != b for a, b in itertools.pairwise(sides))
        alone = [gap for gap in gaps if (gap > 0) == (sum(sides) * 2 < len(sides))]
        if any(abs(gap) > 2 for gap in alone):
            return False  # the lone side lies within a tone of the goal
        chromatic = any(abs(a - b) == 1 for a, b in itertools.pairwise(gaps))
        return (
            all(abs(gap) <= 3 for gap in gaps) and turns == 1 and chromatic and abs(gaps[-1]) <= 2
        )

    def _owned(self, index: int) -> tuple[str, str] | None:
        """A chord tone in its own right: on the beat, for a beat, whatever moves around it."""
        if self._in_chord(index) and not self._is_weak(index):
            return self._borrowed(index)
        return None

    def _borrowed(self, index: int) -> tuple[str, str] | None:
        fact = self.facts[index]
        above = fact.degree.semitones
        minor_frame = {d.semitones for d in self.frame.collection.degrees} & {3, 4} == {3}
        if above == 4 and minor_frame:
            chord = fact.chord
            if self._in_chord(index) and chord is not None:
                return (
                    "borrowed chord tone",
                    f"{self._of_chord(fact)}, a major 3rd over a minor frame",
                )
            if chord is None:
                return (
                    "borrowed chord tone",
                    "the 3 makes the home chord major for a moment over a minor frame",
                )
        if not self._in_chord(index):
            return None
        near = self.near[index]
        by_step = (
            abs(near.rise_in) <= 2
            and abs(near.rise_out) <= 2
            and None not in (near.before, near.after)
        )
        if by_step and self._is_weak(index):
            return None
        return "borrowed chord tone", self._of_chord(fact)

    @staticmethod
    def _of_chord(fact: NoteFact) -> str:
        """What the note is to its chord, said once where that is what it is to the tonic as well."""
        if fact.degree == fact.chord_degree:
            return f"the {fact.degree} belongs to {fact.chord}"
        return f"the {fact.degree} is the {fact.chord_degree} of {fact.chord}"

    def _passing(self, index: int) -> tuple[str, str] | None:
        near = self.near[index]
        if near.before is None or near.after is None:
            return None
        if near.rise_in * near.rise_out <= 0 or abs(near.rise_in) > 2 or abs(near.rise_out) > 2:
            return None
        if (
            not self._is_weak(index)
            and self._is_colour(index)
            and abs(near.rise_in + near.rise_out) > 2
        ):
            return None
        way = "up" if near.rise_in > 0 else "down"
        return (
            "passing",
            f"the {self._name(index)} passes {way} from {self._name(near.before)} to {self._name(near.after)}",
        )

    def _is_colour(self, index: int) -> bool:
        above = self.facts[index].degree.semitones
        if above not in _BLUE:
            return False
        degrees = {d.semitones for d in self.frame.collection.degrees}
        if above == 6:
            return 7 in degrees or 5 in degrees
        # A flat third or seventh is blue against a frame with the major one, or with neither.
        return above + 1 in degrees or not degrees & {above, above + 1}

    def _blue(self, index: int) -> tuple[str, str] | None:
        if not self._is_colour(index):
            return None
        fact, near = self.facts[index], self.near[index]
        above = fact.degree.semitones
        minor = {d.semitones for d in self.frame.collection.degrees} & {3, 4} == {3}
        if above == 6 and not minor and fact.degree.alter > 0:
            return None  # a #4 that rises is an approach in a major frame
        if above == 10 and not (fact.chord is None or fact.chord.third == "major"):
            return None
        if fact.degree.alter > 0 or not (self._blues or self._acts_blue(index)):
            return None
        if self._goal_of(index) and not self._is_blue_anyway(index):
            return None  # the #9 or the b13 of a dominant on its way
        to = (
            f" and {'rises' if near.rise_out > 0 else 'falls'} to the {self._name(near.after)}"
            if near.after is not None
            else ""
        )
        return (
            "blue note",
            f"the {fact.degree} colours the {'minor' if minor else 'major'} frame{to}",
        )

    def _is_blue_anyway(self, index: int) -> bool:
        """In a blues, in the colour of a blues scale, or played as a blue note."""
        is_colour = self.colour is not None and (
            self.colour.added.semitones == self.facts[index].degree.semitones
        )
        return self._is_a_blues or is_colour or self._acts_blue(index)

    def _acts_blue(self, index: int) -> bool:
        """Bent, slid, or a flat third that gives way to the major one (common practice)."""
        note = self.lick.notes[index]
        if note.bend or any(note.has(mark) for mark in ("slide", "slide in", "slide out")):
            return True
        return self.facts[index].degree.semitones == 3 and self.near[index].rise_out == 1

    def _neighbour(self, index: int) -> tuple[str, str] | None:
        near = self.near[index]
        if near.before is None or near.after is None or not 0 < abs(near.rise_in) <= 2:
            return None
        if near.rise_in + near.rise_out != 0:
            return None
        side = "above" if near.rise_in > 0 else "below"
        return (
            "neighbour",
            f"the {self._name(index)} touches from {side} and returns to the {self._name(near.after)}",
        )

    def _approach(self, index: int) -> tuple[str, str] | None:
        near = self.near[index]
        if near.after is None or not 0 < abs(near.rise_out) <= 2:
            return None
        if not self._is_anchor(near.after) and abs(near.rise_out) != 1:
            return None
        side = "below" if near.rise_out > 0 else "above"
        goal = near.after
        chord = self.facts[goal].chord
        what = f"the {self._name(goal)}"
        degree = self.facts[goal].chord_degree
        if chord is not None and degree is not None and self._in_chord(goal):
            what += f", the {degree} of {chord},"
        return "approach", f"the {self._name(index)} leads into {what} from {side}".rstrip(",")

    def _escape(self, index: int) -> tuple[str, str] | None:
        near = self.near[index]
        if near.before is None or near.after is None or not 0 < abs(near.rise_in) <= 2:
            return None
        if abs(near.rise_out) <= 2 or near.rise_in * near.rise_out > 0:
            return None
        return (
            "escape",
            f"the {self._name(index)} is stepped to and left by a leap back to the {self._name(near.after)}",
        )
