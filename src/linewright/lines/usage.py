"""Learned usage of outside notes: what comes before, what after, on which part of the beat.

Every outside note of the lick that has a neighbour on either side (no breath of a quarter or
more between) teaches one usage. A line may use an outside degree only in a usage it was
taught: reached by the same interval from the same degree, left by the same interval, on the
same part of the beat (on a beat or between beats), over a chord like the one it was heard over
(:mod:`.over`); a borrowed chord tone only over a chord that has it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from linewright.analysis import Analysis
from linewright.lines.over import Over, over_of
from linewright.score import BREATH
from linewright.theory import ChordSymbol

__all__ = ["OutsideUse", "learned_uses", "on_beat"]


@dataclass(frozen=True, slots=True)
class OutsideUse:
    """One way the lick uses an outside degree.

    Parameters
    ----------
    degree : str
    above : int
        Semitones of the degree above the tonic.
    rise_in, rise_out : int
        Semitones into the note and out of it.
    on_beat : bool
    in_chord : bool
        Used only over chords that hold it.
    function : str
        As the analysis names it.
    before, after : str
        Degrees on either side.
    notes : tuple of int
        The lick's notes that taught it.
    overs : tuple of Over or None
        The chords each of them goes with, None for any; an allowed one goes with one of these.
    """

    degree: str
    above: int
    rise_in: int
    rise_out: int
    on_beat: bool
    in_chord: bool
    function: str
    before: str
    after: str
    notes: tuple[int, ...]
    overs: tuple[Over | None, ...]

    @property
    def over(self) -> tuple[Over, ...]:
        """The chords it goes with, one of these; empty for any."""
        bound = tuple(dict.fromkeys(over for over in self.overs if over is not None))
        return () if None in self.overs else bound

    def taught_by(self, chord: ChordSymbol | None, pitch: int) -> int:
        """The first of the lick's notes that taught it for a pitch over a chord."""
        pairs = zip(self.notes, self.overs, strict=True)
        return next(
            (note for note, over in pairs if over is None or over.fits(chord, pitch)),
            self.notes[0],
        )


def on_beat(analysis: Analysis, index: int) -> bool:
    """Whether a note of the lick begins on a beat."""
    lick = analysis.lick
    onset = lick.notes[index].onset
    bar = lick.bar_at(onset)
    return bar.meter.beat_at(bar.offset(onset))[1] == 0


def learned_uses(analysis: Analysis) -> tuple[OutsideUse, ...]:
    """Every usage of the lick, in order of first appearance."""
    lick, melody = analysis.lick, analysis.lick.melody
    functions = {note.index: note.function for note in analysis.outside_notes}
    found: dict[tuple[int, int, int, bool, bool], OutsideUse] = {}
    for place in range(1, len(melody) - 1):
        left, index, right = melody[place - 1 : place + 2]
        fact = analysis.notes[index]
        if not fact.is_outside:
            continue
        a, note, b = lick.notes[left], lick.notes[index], lick.notes[right]
        if note.onset - a.end >= BREATH or b.onset - note.end >= BREATH:
            continue
        function = functions[index]
        key = (
            fact.degree.semitones,
            note.midi - a.midi,
            b.midi - note.midi,
            on_beat(analysis, index),
            function == "borrowed chord tone",
        )
        over = over_of(analysis, index, left, right)
        known = found.get(key)
        if known is None:
            found[key] = OutsideUse(
                fact.degree.name,
                *key,
                function,
                analysis.notes[left].degree.name,
                analysis.notes[right].degree.name,
                (index,),
                (over,),
            )
        else:
            found[key] = replace(known, notes=(*known.notes, index), overs=(*known.overs, over))
    names: dict[int, str] = {}  # one degree, one name, beside another outside note as well
    for use in found.values():
        names.setdefault(use.above, use.degree)
    return tuple(
        replace(
            use,
            degree=names[use.above],
            before=names.get((use.above - use.rise_in) % 12, use.before),
            after=names.get((use.above + use.rise_out) % 12, use.after),
        )
        for use in found.values()
    )
