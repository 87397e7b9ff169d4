"""The questions whose answers tell what an outside note does: its neighbours, its chord, its place.

:mod:`.outside` puts them together into functions.
"""

from __future__ import annotations

import itertools
from bisect import bisect_right
from collections.abc import Sequence
from typing import Final

from linewright.analysis.cadence import ALTERED, resolves
from linewright.analysis.facts import NoteFact
from linewright.analysis.prose import join_words
from linewright.analysis.weights import Neighbours
from linewright.score import Lick
from linewright.theory import ChordSymbol, Colour, Frame

__all__ = ["Questions"]

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


class Questions:
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
        self.is_blued = _UNBLUED.isdisjoint(words) or "blues" in words
        self._is_a_blues = "blues" in words
        self._chords = [span for span in lick.chords if span.symbol is not None]
        self._changes = [span.onset for span in self._chords]

    # -- words ---------------------------------------------------------------------------
    def name(self, index: int | None) -> str:
        """Its degree, or the start of the phrase."""
        return "start" if index is None else self.facts[index].degree.name

    def way(self, index: int) -> str:
        """Where it comes from and goes."""
        near = self.near[index]
        before = (
            f"comes from the {self.name(near.before)}"
            if near.before is not None
            else "begins the phrase"
        )
        if near.after is None:
            after = "ends it" if near.before is None else "ends the phrase"
        else:
            after = f"goes to the {self.name(near.after)}"
        return f"{before} and {after}"

    def tie(self, index: int) -> str:
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
    def in_chord(self, index: int) -> bool:
        """Whether the chord of the moment has it."""
        chord = self.facts[index].chord
        return chord is not None and self.grid.midis[index] % 12 in chord.numbers

    def goal_of(self, index: int) -> ChordSymbol | None:
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

    def is_weak(self, index: int) -> bool:
        """Off the beat, or on a weak beat and shorter than it, and never longer than a beat."""
        grid = self.grid
        length, beat = grid.ends[index] - grid.onsets[index], grid.beats[index]
        if grid.on_beat[index]:
            return length < beat and grid.levels[index] < -1
        return length <= beat

    def is_anchor(self, index: int | None) -> bool:
        """A note that can be a goal: in the frame or in its chord."""
        if index is None:
            return False
        return not self.facts[index].is_outside or self.in_chord(index)

    def is_goal(self, place: int) -> bool:
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
    def closes_in(gaps: list[int]) -> bool:
        """Whether notes these semitones from a goal close in on it from both sides."""
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

    def is_colour(self, index: int) -> bool:
        """Whether it is a b3, b5 or b7 that can be blue against the frame."""
        above = self.facts[index].degree.semitones
        if above not in _BLUE:
            return False
        degrees = {d.semitones for d in self.frame.collection.degrees}
        if above == 6:
            return 7 in degrees or 5 in degrees
        # A flat third or seventh is blue against a frame with the major one, or with neither.
        return above + 1 in degrees or not degrees & {above, above + 1}

    def is_blue_anyway(self, index: int) -> bool:
        """In a blues, in the colour of a blues scale, or played as a blue note."""
        is_colour = self.colour is not None and (
            self.colour.added.semitones == self.facts[index].degree.semitones
        )
        return self._is_a_blues or is_colour or self.acts_blue(index)

    def acts_blue(self, index: int) -> bool:
        """Bent, slid, or a flat third that gives way to the major one (common practice)."""
        note = self.lick.notes[index]
        if note.bend or any(note.has(mark) for mark in ("slide", "slide in", "slide out")):
            return True
        return self.facts[index].degree.semitones == 3 and self.near[index].rise_out == 1
