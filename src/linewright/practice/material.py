"""What every step of a plan is made from: the lick's frame, hand, meter and model, and the level."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from random import Random
from typing import Final

from linewright.analysis import Analysis
from linewright.errors import OptionError
from linewright.fretboard import finger
from linewright.lines import Line, LineModel, LineRequest, Progression, line_model
from linewright.lines.heard import NOTES_HEARD
from linewright.lines.usage import OutsideUse
from linewright.practice.called import Called, called
from linewright.practice.levels import Level
from linewright.practice.neck import Spot, Window, home_window, in_position
from linewright.score import ChordSpan, Instrument, Lick, Note, Tempo, bars_for
from linewright.theory import ChordSymbol, Frame, Pitch

__all__ = ["EXAMPLES", "Material", "Part", "largest_leap"]

#: Lines shown with each step.
EXAMPLES: Final = 3
_WIDEST: Final = 12
_TRIES: Final = 12
_UNITS: Final = {
    "eighths": Fraction(1, 2), "triplets": Fraction(1, 3), "sixteenths": Fraction(1, 4),
    "quarters": Fraction(1),
}  # fmt: skip

#: Notes laid out one after the other, the offset into a bar at which they begin, and their chord.
Part = tuple[Sequence[Pitch | Spot], Fraction, ChordSymbol | None]


def largest_leap(pitches: Iterable[Pitch | Spot]) -> int:
    """The largest move between neighbours, in semitones."""
    return max((abs(b.midi - a.midi) for a, b in itertools.pairwise(pitches)), default=0)


@dataclass(frozen=True)
class Material:
    """A lick and a level, with what is worked out from them once."""

    analysis: Analysis
    frame: Frame
    model: LineModel
    level: Level
    seed: int

    @classmethod
    def of(cls, analysis: Analysis, level: Level, seed: int) -> Material:
        """Gather, with the notes heard where the lick has no frame; OptionError or MusicError when
        no line can be made from it.
        """
        model = line_model(analysis)
        analysis = model.analysis
        frame = analysis.frame
        if frame is None:
            raise OptionError(
                f"{analysis.lick.title} hangs on no plain scale or arpeggio",
                accepted="Choose a lick with a frame, or name its tonic",
            )
        return cls(analysis, frame, model, level, seed)

    @cached_property
    def called(self) -> Called:
        """What its notes are called."""
        return called(self.frame)

    @property
    def is_heard(self) -> bool:
        """Whether the notes heard stand in place of a scale."""
        return self.frame.collection.name == NOTES_HEARD

    # -- the neck ------------------------------------------------------------------------
    @cached_property
    def instrument(self) -> Instrument:
        """The instrument the lick is placed on."""
        found = self.model.placed.instrument
        if found is None:
            raise OptionError("a plan needs an instrument")
        return found

    @cached_property
    def home(self) -> Window:
        """The position the lick lies in."""
        return home_window(self.frame, self.model.placed, self.instrument)

    @cached_property
    def widest_step(self) -> int:
        """The largest distance between neighbours of the frame."""
        above = self.frame.collection.semitones
        return max(b - a for a, b in itertools.pairwise((*above, above[0] + 12)))

    @property
    def leap(self) -> int:
        """The level's limit, or the frame's own widest step."""
        return max(self.level.leap, self.widest_step)

    # -- time ----------------------------------------------------------------------------
    @property
    def lick(self) -> Lick:
        """The lick as the analysis spells it."""
        return self.analysis.lick

    @cached_property
    def grid(self) -> str:
        """The grid of drills and lines: triplets for a lick in triplets, else eighths if they fit."""
        beats = self.lick.meter.beats
        common = self.analysis.rhythm.common
        names = ["triplets"] if common == _UNITS["triplets"] else []
        for name in (*names, "eighths", "sixteenths"):
            if not any(beat % _UNITS[name] for beat in beats):
                return name
        return "cells"

    @cached_property
    def unit(self) -> Fraction:
        """Length of a note in a steady stream, in quarters."""
        return _UNITS.get(self.grid, self.lick.meter.beat)

    @cached_property
    def beat(self) -> Fraction:
        """What tempos count, in quarters."""
        return self.lick.tempo.beat if self.lick.tempo else self.lick.meter.beat

    def ladder(self, share: Fraction = Fraction(1)) -> tuple[int, ...]:
        """Tempos from slow to the level's top, the top times ``share``."""
        tempo = self.lick.tempo
        bpm = tempo.bpm if tempo else Fraction(100) / self.beat
        top = max(Fraction(10) / self.beat + 1, bpm * self.level.top * share)
        low = max(bpm * self.level.start, min(Fraction(40), top * Fraction(4, 5)))
        low, count = min(max(low, Fraction(10) / self.beat + 1), top), self.level.rungs
        rungs = (low + (top - low) * k / (count - 1) for k in range(count))
        return tuple(sorted({max(1, round(rung)) for rung in rungs}))

    # -- drills --------------------------------------------------------------------------
    def steady(self, title: str, pitches: Sequence[Pitch | Spot], bpm: int) -> Lick:
        """A steady stream from the bar line on, the last note held to the end of its bar."""
        return self.lay(title, [(pitches, Fraction(0), None)], bpm)

    def lay(self, title: str, parts: Iterable[Part], bpm: int) -> Lick:
        """Parts, each from a new bar on, steady, its last note held to the end of its bar."""
        size, unit = self.lick.meter.length, self.unit
        notes: list[Note] = []
        chords: list[ChordSpan] = []
        at = Fraction(0)
        for pitches, offset, chord in parts:
            count = len(pitches)
            end = at - (-(offset + unit * count) // size) * size
            for number, pitch in enumerate(pitches):
                onset = at + offset + unit * number
                notes.append(_note(onset, end - onset if number == count - 1 else unit, pitch))
            if chord is not None and chords and chords[-1].symbol == chord and chords[-1].end == at:
                chords[-1] = ChordSpan(chords[-1].onset, end - chords[-1].onset, chord)
            elif chord is not None:
                chords.append(ChordSpan(at, end - at, chord))
            at = end
        return self.written(title, notes, at, bpm, tuple(chords))

    def written(
        self, title: str, notes: Sequence[Note], end: Fraction, bpm: int,
        chords: tuple[ChordSpan, ...] = (),
    ) -> Lick:  # fmt: skip
        """A drill of notes in full bars, with a place for each that has none yet."""
        made = Lick(
            tuple(notes),
            bars_for(self.lick.meter, end, key=self.lick.key),
            chords,
            title=title,
            tempo=Tempo(Fraction(bpm), self.beat),
            instrument=self.instrument,
            swing=self.lick.swing,
        )
        return finger(made, self.instrument)

    def at_home(self, pitches: Sequence[Pitch]) -> Sequence[Pitch | Spot]:
        """Pitches at places in the lick's own position, where they all lie there."""
        return in_position(pitches, self.home, self.instrument)

    def at(self, pitch: Pitch, onset: Fraction, duration: Fraction) -> Note:
        """A note, at its place in the lick's own position when it has one there."""
        return _note(onset, duration, self.home.place(pitch.midi) or pitch)

    # -- lines ---------------------------------------------------------------------------
    def wishes(self, **more: object) -> LineRequest:
        """A request of this plan: a steady stream at the level's top tempo."""
        top = self.ladder()[-1] * self.beat
        base = LineRequest(
            bars=4, grid=self.grid, leap=self.leap, phrase=0,
            tempo=min(Fraction(1000), max(Fraction(10), top)),
        )  # fmt: skip
        return base.with_(**more)

    def lines(
        self,
        key: str,
        asked: Sequence[LineRequest],
        fits: Callable[[Line], float] = lambda _line: 1.0,
        count: int = EXAMPLES,
    ) -> tuple[LineRequest, tuple[Line, ...]] | None:
        """Lines to the first of several requests that can be met, and that request.

        ``fits`` tells how well a line shows what the step is about: lines at 1 or more are taken
        as they come, else the best of a dozen. None when no request can be met.
        """
        for request in asked:
            try:
                return request, self._drawn(key, request, fits, count)
            except OptionError:
                continue
        return None

    def _drawn(
        self, key: str, request: LineRequest, fits: Callable[[Line], float], count: int
    ) -> tuple[Line, ...]:
        best: list[tuple[float, int, Line]] = []
        good = 0
        for turn, seed in enumerate(self._seeds(key)):
            line = self.model.sample(request.with_(seed=seed))
            if any(line.lick.notes == other.lick.notes for _, _, other in best):
                fit = -1.0  # the same line again shows nothing new
            else:
                fit = min(1.0, fits(line))
            best.append((-fit, turn, line))
            good += fit >= 1.0
            if good >= count or turn + 1 >= _TRIES:
                break
        best.sort(key=lambda item: item[:2])
        return tuple(line for _, _, line in best[:count])

    def _seeds(self, key: str) -> Iterator[int]:
        turn = 0
        while True:
            yield Random(f"{self.seed} {key} {turn}").getrandbits(31)
            turn += 1

    def wider(self, request: LineRequest, least: int = 0) -> list[LineRequest]:
        """The request, and the same with the leap let out a little at a time."""
        first = max(request.leap, least)
        return [request.with_(leap=leap) for leap in range(first, max(first, _WIDEST) + 1)]

    # -- what there is -------------------------------------------------------------------
    @cached_property
    def uses(self) -> Mapping[str, tuple[OutsideUse, ...]]:
        """The learned usages of each outside degree."""
        found: dict[str, tuple[OutsideUse, ...]] = {}
        for use in self.model.uses:
            found[use.degree] = (*found.get(use.degree, ()), use)
        return found

    @cached_property
    def progression(self) -> Progression:
        """The lick's own chords, bar by bar."""
        return self.model.plan(LineRequest(bars=1, grid=self.grid)).progression

    @cached_property
    def changes(self) -> bool:
        """Whether the chords change."""
        chords = [chord for bar in self.progression.bars for chord in bar if chord is not None]
        return len(set(chords)) > 1

    @cached_property
    def playable(self) -> frozenset[int]:
        """MIDI numbers in comfortable reach on the neck."""
        instrument = self.instrument
        top = min(15, instrument.frets - instrument.capo)
        return frozenset(
            instrument.open_midi(string) + fret
            for string in range(1, len(instrument.strings) + 1)
            if string not in dict(instrument.short)
            for fret in range(top + 1)
        )


def _note(onset: Fraction, duration: Fraction, pitch: Pitch | Spot) -> Note:
    if isinstance(pitch, Spot):
        return Note(onset, duration, pitch.pitch, pitch.string, pitch.fret)
    return Note(onset, duration, pitch)
