"""What makes a fingering hard: the cost the search minimises, term by term.

The left hand is in *position* p when its index finger lies over fret p; it then covers frets p
to p + reach - 1 without moving and one fret more on either side by stretching. Playing a lick is
a walk through places and positions, as in Sayegh (1989); the terms follow what players were
seen to avoid (Heijink and Meulenbroek 2002: shifts of the hand and stretches of the fingers
cost, more so under time pressure) and the split into along-the-neck and across-the-neck
movement of Radicioni and Lombardo (2005). The numbers are ours, set so that first-position,
pentatonic-box and fiddle-tune lines come out as players of these instruments play them.

References
----------
S. I. Sayegh, "Fingering for string instruments with the optimum path paradigm", Computer Music
Journal 13(3), 1989. H. Heijink and R. G. J. Meulenbroek, "On the complexity of classical guitar
playing: functional adaptations to task constraints", Journal of Motor Behavior 34(4), 2002.
D. P. Radicioni and V. Lombardo, "Guitar fingering for music performance", Proc. ICMC 2005.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from linewright.fretboard.instruments import INSTRUMENTS
from linewright.fretboard.places import Place
from linewright.score import Instrument, Note

__all__ = ["AS_PLAYED", "Attack", "FingeringCost", "reach_of"]


@dataclass(frozen=True)
class FingeringCost:
    """Weights of the terms; a fingering's cost is their sum over its notes.

    Parameters
    ----------
    shift, shift_fret : float
        Moving the hand at all, and for each fret it moves; both times the haste of the moment.
    calm, hurry : float
        Bounds of the haste, 1 at ``ease`` seconds of time to move. Time to move is the rest
        before a note, plus the length of the note before when that was open, or its
        ``lift`` share when it was fretted (a finger leaves a little early).
    ease, lift : float
    slide_shift : float
        Share of a shift's cost that remains when the shift is itself a slide.
    stretch : float
        A note one fret outside the hand.
    cross : float
        Each string crossed between one note and the next.
    roll : float
        The same fret on another string right after (one finger has to roll or jump).
    fretted : float
        Each fretted note, against an open string at no cost.
    opened : float
        Each open string; 0 leaves it to the other terms.
    open_high : float
        An open string while the hand is above second position.
    height : float
        Each fret of the hand above first position, for each fretted attack.
    off_index : float
        Each fretted attack with no note under the index finger.
    open_above : float
        Each open string while the hand is above first position.
    skip : float
        Each unplayed string between the notes of a double stop.
    slur : float
        A hammer-on, pull-off, slide or release that its string and fret make impossible.
    bend_low, bend_thick : float
        A bend below the fifth fret; one on a string beyond the third.
    still : float
        Vibrato on an open string.
    """

    shift: float = 1.0
    shift_fret: float = 0.25
    calm: float = 0.3
    hurry: float = 2.0
    ease: float = 0.15
    lift: float = 0.3
    slide_shift: float = 0.2
    stretch: float = 0.7
    cross: float = 0.15
    roll: float = 0.25
    fretted: float = 0.1
    opened: float = 0.0
    open_high: float = 0.6
    height: float = 0.05
    off_index: float = 0.0
    open_above: float = 0.0
    skip: float = 0.8
    slur: float = 20.0
    bend_low: float = 0.8
    bend_thick: float = 0.6
    still: float = 0.5

    # -- one attack ----------------------------------------------------------------------
    def node(self, notes: Sequence[Note], at: Sequence[Place], position: int, reach: int) -> float:
        """Cost of playing notes at places with the hand in a position."""
        total = 0.0
        for note, (string, fret) in zip(notes, at, strict=True):
            if fret:
                total += self.fretted
                outside = max(position - fret, fret - position - reach + 1, 0)
                total += self.stretch * outside
            else:
                total += self.opened + self.open_high * (position > 2)
                total += self.open_above * (position > 1)
            for mark in note.marks:
                if mark.name == "bend":
                    total += self.bend_low * (fret < 5) + self.bend_thick * (string > 3)
                elif mark.name == "vibrato" and not fret:
                    total += self.still
        if any(fret for _, fret in at):
            total += self.height * (position - 1)
            total += self.off_index * all(fret != position for _, fret in at)
        if len(at) > 1:
            strings = sorted(place.string for place in at)
            total += self.skip * (strings[-1] - strings[0] + 1 - len(strings))
        return total

    # -- from one attack to the next -----------------------------------------------------
    def haste(self, before: Sequence[Note], after: Sequence[Note], quarter_seconds: float) -> float:
        """How hurried a shift between two attacks is when the first is fretted (see
        :meth:`haste_open` for an open one).
        """
        rest = float(after[0].onset - before[0].end)
        return self._haste(rest + self.lift * float(before[0].duration), quarter_seconds)

    def haste_open(
        self, before: Sequence[Note], after: Sequence[Note], quarter_seconds: float
    ) -> float:
        """The same when only open strings sound in the first attack."""
        return self._haste(float(after[0].onset - before[0].onset), quarter_seconds)

    def _haste(self, quarters: float, quarter_seconds: float) -> float:
        seconds = quarters * quarter_seconds
        return min(max(self.ease / max(seconds, 1e-9), self.calm), self.hurry)

    def across(
        self, notes: Sequence[Note], before: Sequence[Place], after: Sequence[Place]
    ) -> float:
        """Cost between two attacks that does not depend on the hand's position."""
        total = self.cross * abs(before[0].string - after[0].string)
        if len(before) == len(after) == 1 and before[0].fret == after[0].fret > 0:
            total += self.roll * (before[0].string != after[0].string)
        for note, place in zip(notes, after, strict=True):
            for mark in note.marks:
                if mark.kind.joins and not _joined(mark.name, place, before):
                    total += self.slur
        return total


#: Where the hand is when the places are given. How high they lie is the lick's choice and says
#: nothing of the hand, so stretches and shifts alone decide; positions that ask for equally few
#: are told apart as players name them (common practice): with open strings the hand is in first
#: position where it can be, else the position is the fret the index finger is used at most.
AS_PLAYED: Final = FingeringCost(height=0.0, open_high=0.0, off_index=1e-6, open_above=1e-3)


@dataclass(frozen=True, slots=True)
class Attack:
    """Notes struck together and, for each way to play them, its places."""

    notes: tuple[Note, ...]
    ways: tuple[tuple[Place, ...], ...]


def _joined(name: str, place: Place, before: Sequence[Place]) -> bool:
    """Whether a slur of this kind can lead to a place from one of the places before."""
    for string, fret in before:
        if string != place.string:
            continue
        if name == "hammer-on":
            return place.fret > fret
        if name == "pull-off":
            return place.fret < fret
        return True
    return False


def reach_of(instrument: Instrument) -> int:
    """Frets the hand covers without moving on this instrument (4 when it is not in the table)."""
    kind = INSTRUMENTS.get(instrument.name)
    return kind.reach if kind is not None else 4
