"""What each outside note does: its function, from how it is approached and left.

The functions are the usual non-chord-tone types (Aldwell, Schachter and Cadwallader 2011, ch. 20-21;
Kostka and Payne 2009, ch. 11-12) read against the frame instead of the chord, with the two that
improvisers add: the enclosure (Coker 1991) and the blue note. An altered tension of a dominant that goes
home is told as such beside its function (Levine 1995, ch. 3-4, from memory). Tested in the order of ``FUNCTIONS``'
docstrings; the first that holds is the name.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from linewright.analysis.facts import NoteFact, OutsideNote
from linewright.analysis.outside_questions import Questions
from linewright.analysis.prose import join_words
from linewright.analysis.weights import Neighbours
from linewright.score import Lick
from linewright.theory import Colour, Frame

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


class _Reader(Questions):
    """The functions, in the order they are tried."""

    def read(self, index: int) -> OutsideNote:
        fact = self.facts[index]
        function, reason = self._function(index)
        if function not in ("borrowed chord tone", "blue note") and self.goal_of(index):
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
        tie = "" if self.goal_of(index) else self.tie(index)
        return "leap", f"the {self.name(index)} {self.way(index)}{tie}"

    # -- functions -----------------------------------------------------------------------
    def _suspension(self, index: int) -> tuple[str, str] | None:
        near = self.near[index]
        note, fact = self.lick.notes[index], self.facts[index]
        if index == 0 or self.lick.notes[index - 1].midi != note.midi or fact.chord is None:
            return None
        before = self.facts[index - 1].chord
        if before == fact.chord or before is None or note.midi % 12 not in before.numbers:
            return None
        if self.in_chord(index) or near.after is None or near.rise_out not in (-1, -2):
            return None
        return (
            "suspension",
            f"the {fact.degree} is kept from {before} into {fact.chord} and falls to the {self.name(near.after)}",
        )

    def _enclosure(self, index: int) -> tuple[str, str] | None:
        """Two to four notes on both sides of a goal, each within a tone of it (three semitones
        where a chromatic pair comes from one side), ending on the goal by step.
        """
        midis, melody = self.grid.midis, self.grid.melody
        if not self.grid.is_tune(index):
            return None
        at = self.grid.places[index]
        goals = [place for place in range(at + 1, min(at + 5, len(melody))) if self.is_goal(place)]
        for length in (2, 3, 4):
            for goal_at in goals:
                start = goal_at - length
                if not 0 <= start <= at:
                    continue
                goal = melody[goal_at]
                group = melody[start:goal_at]
                gaps = [midis[i] - midis[goal] for i in group]
                if not self.closes_in(gaps):
                    continue
                if all(self.in_chord(i) for i in group) and not self.in_chord(goal):
                    continue  # an arpeggio on its way out of the chord
                if length > 2 and any(self.in_chord(i) and self.grid.on_beat[i] for i in group):
                    continue  # chord tones on the beat are goals themselves
                names = join_words(self.name(i) for i in group)
                return "enclosure", f"{names} close in on the {self.name(goal)} from both sides"
        return None

    def _owned(self, index: int) -> tuple[str, str] | None:
        """A chord tone in its own right: on the beat, for a beat, whatever moves around it."""
        if self.in_chord(index) and not self.is_weak(index):
            return self._borrowed(index)
        return None

    def _borrowed(self, index: int) -> tuple[str, str] | None:
        fact = self.facts[index]
        above = fact.degree.semitones
        minor_frame = {d.semitones for d in self.frame.collection.degrees} & {3, 4} == {3}
        if above == 4 and minor_frame:
            chord = fact.chord
            if self.in_chord(index) and chord is not None:
                return (
                    "borrowed chord tone",
                    f"{self._of_chord(fact)}, a major 3rd over a minor frame",
                )
            if chord is None:
                return (
                    "borrowed chord tone",
                    "the 3 makes the home chord major for a moment over a minor frame",
                )
        if not self.in_chord(index):
            return None
        near = self.near[index]
        by_step = (
            abs(near.rise_in) <= 2
            and abs(near.rise_out) <= 2
            and None not in (near.before, near.after)
        )
        if by_step and self.is_weak(index):
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
            not self.is_weak(index)
            and self.is_colour(index)
            and abs(near.rise_in + near.rise_out) > 2
        ):
            return None
        way = "up" if near.rise_in > 0 else "down"
        return (
            "passing",
            f"the {self.name(index)} passes {way} from {self.name(near.before)} to {self.name(near.after)}",
        )

    def _blue(self, index: int) -> tuple[str, str] | None:
        if not self.is_colour(index):
            return None
        fact, near = self.facts[index], self.near[index]
        above = fact.degree.semitones
        minor = {d.semitones for d in self.frame.collection.degrees} & {3, 4} == {3}
        if above == 6 and not minor and fact.degree.alter > 0:
            return None  # a #4 that rises is an approach in a major frame
        if above == 10 and not (fact.chord is None or fact.chord.third == "major"):
            return None
        if fact.degree.alter > 0 or not (self.is_blued or self.acts_blue(index)):
            return None
        if self.goal_of(index) and not self.is_blue_anyway(index):
            return None  # the #9 or the b13 of a dominant on its way
        to = (
            f" and {'rises' if near.rise_out > 0 else 'falls'} to the {self.name(near.after)}"
            if near.after is not None
            else ""
        )
        return (
            "blue note",
            f"the {fact.degree} colours the {'minor' if minor else 'major'} frame{to}",
        )

    def _neighbour(self, index: int) -> tuple[str, str] | None:
        near = self.near[index]
        if near.before is None or near.after is None or not 0 < abs(near.rise_in) <= 2:
            return None
        if near.rise_in + near.rise_out != 0:
            return None
        side = "above" if near.rise_in > 0 else "below"
        what = f"the {self.name(index)}"
        fact = self.facts[index]
        if self.in_chord(index) and not self.goal_of(index):
            same = fact.degree == fact.chord_degree
            what += f" of {fact.chord}" if same else f", the {fact.chord_degree} of {fact.chord},"
        return (
            "neighbour",
            f"{what} touches from {side} and returns to the {self.name(near.after)}",
        )

    def _approach(self, index: int) -> tuple[str, str] | None:
        near = self.near[index]
        if near.after is None or not 0 < abs(near.rise_out) <= 2:
            return None
        if not self.is_anchor(near.after) and abs(near.rise_out) != 1:
            return None
        side = "below" if near.rise_out > 0 else "above"
        goal = near.after
        chord = self.facts[goal].chord
        what = f"the {self.name(goal)}"
        degree = self.facts[goal].chord_degree
        if chord is not None and degree is not None and self.in_chord(goal):
            what += f", the {degree} of {chord},"
        return "approach", f"the {self.name(index)} leads into {what} from {side}".rstrip(",")

    def _escape(self, index: int) -> tuple[str, str] | None:
        near = self.near[index]
        if near.before is None or near.after is None or not 0 < abs(near.rise_in) <= 2:
            return None
        if abs(near.rise_out) <= 2 or near.rise_in * near.rise_out > 0:
            return None
        return (
            "escape",
            f"the {self.name(index)} is stepped to and left by a leap back to the {self.name(near.after)}",
        )
