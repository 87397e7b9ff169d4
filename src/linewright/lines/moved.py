"""The lick itself, moved: another key, chord quality, instrument, position, place in the bar, or
with and without open strings.

Every change of a note is named with its reason. Between chord qualities the 3rd and 7th are what
differs (common practice: major 3 7, dominant 3 b7, minor b3 b7), with the b2 and b6 raised over
a major 3rd; a tone of a chord that the chord of the new quality has not goes with it; an outside note that leads by a half step into a note that changes keeps its half
step.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any, Final

from linewright.analysis import Analysis
from linewright.analysis.prose import interval as distance
from linewright.errors import MusicError, OptionError
from linewright.fretboard import FingeringCost, finger, places, reach_of
from linewright.fretboard import instrument as named
from linewright.lines.octave import in_octave, placeless
from linewright.lines.slurs import SLURS, can_slur
from linewright.score import Bar, ChordSpan, Instrument, Lick, Mark, Note, bars_from_lengths
from linewright.theory import ChordSymbol, Degree, Interval, Key, Pitch, PitchClass

__all__ = ["QUALITY_NOTES", "Moved", "NoteChange", "moved"]

#: Quality -> what becomes of the degrees it changes.
QUALITY_NOTES: Final[dict[str, dict[str, str]]] = {
    "major": {"b3": "3", "b7": "7", "b2": "2", "b6": "6"},
    "dominant": {"b3": "3", "7": "b7", "b2": "2", "b6": "6"},
    "minor": {"3": "b3", "7": "b7"},
}
#: How a fingering is weighed as open strings are wanted, are not, or nothing is said.
_COSTS: Final = {
    None: FingeringCost(),
    True: FingeringCost(fretted=2.0, open_high=0.0),
    False: FingeringCost(opened=100.0),
}
_DEGREES: Final = ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7")
_MOST_LATER: Final = 64
_MINOR_MODES: Final = ("minor", "aeolian", "dorian", "phrygian", "locrian")
#: Chord quality of the home chord and the one on 4: for a triad, for a chord with a 7th.
_CHORDS: Final = {"major": ("", "maj7"), "dominant": ("7", "7"), "minor": ("m", "m7")}


@dataclass(frozen=True, slots=True)
class NoteChange:
    """A note that is no longer the same degree: its index, the degrees before and after, why."""

    index: int
    before: str
    after: str
    why: str


@dataclass(frozen=True)
class Moved:
    """A lick moved: the lick as it is now, the notes whose degree changed, what was done, the
    tonic it is heard against now, and which other octave it lies in, in words ("" for its own).
    """

    lick: Lick
    changes: tuple[NoteChange, ...]
    words: tuple[str, ...]
    tonic: PitchClass
    register: str = ""

    def to_dict(self) -> dict[str, Any]:
        """Tonic, changes and words as JSON values."""
        return {
            "tonic": self.tonic.name,
            "words": list(self.words),
            "changes": [
                {"index": c.index, "before": c.before, "after": c.after, "why": c.why}
                for c in self.changes
            ],
        }


def moved(
    analysis: Analysis,
    *,
    key: str | Key | PitchClass | None = None,
    quality: str | None = None,
    instrument: Instrument | None = None,
    position: int | None = None,
    later: Fraction | int | None = None,
    open_strings: bool | None = None,
    octaves: int | None = None,
) -> Moved:
    """Move a lick.

    Parameters
    ----------
    analysis : Analysis
    key : str, Key or PitchClass, optional
        The key whose tonic the home moves to, the nearer way (up or down).
    quality : str, optional
        ``major``, ``dominant`` or ``minor``: what the home chord becomes.
    instrument : Instrument, optional
        Another instrument, tuning or capo; the lick goes to the octave in which it lies
        best (on its own instrument tuned otherwise, the nearest that is in range).
    position : int, optional
        The fret the index finger is to lie over.
    later : Fraction or int, optional
        Quarter notes by which the melody is displaced against bars and chords; negative is
        earlier.
    open_strings : bool, optional
        Fingered with open strings wherever a note has one, or without any.
    octaves : int, optional
        Octaves up, or with a minus down, in place of the octave in which it lies best.

    Raises
    ------
    OptionError
        When nothing is asked, or the lick does not fit: a position that does not hold it.
    """
    if all(w is None for w in (key, quality, instrument, position, later, open_strings, octaves)):
        raise OptionError(
            "nothing to move",
            accepted="Name a key, quality, instrument, position or displacement, or say whether"
            " with open strings",
        )
    if later is not None and abs(Fraction(later)) > _MOST_LATER:
        raise OptionError(
            f"a displacement of {abs(later)} quarters", accepted=f"Use up to {_MOST_LATER}"
        )
    lick, tonic, words, register = analysis.lick, analysis.tonic, [], ""
    changes: tuple[NoteChange, ...] = ()
    if quality is not None:
        lick, changes = _requalified(analysis, quality)
        words.append(f"over a {quality} chord on home")
    if key is not None:
        lick, tonic, said = _transposed(analysis, lick, key)
        words.append(said)
    if later:
        lick = _displaced(lick, Fraction(later))
        side = "later" if later > 0 else "earlier"
        words.append(f"{_quarters(abs(Fraction(later)))} {side} against the bar")
    wanted = instrument or lick.instrument or named("guitar")
    bare = key is not None or quality is not None or instrument is not None or octaves is not None
    hand = position is not None or open_strings is not None
    if bare or hand or lick.instrument is None:
        own = analysis.lick.instrument
        # Another tuning or capo of the lick's own instrument leaves it where it is.
        anew = own is None or wanted.name != own.name or wanted == own
        best = instrument is not None and position is None and anew
        lick, register = in_octave(lick, wanted, octaves, best)
        lick, said = _fingered(lick, wanted, position, open_strings)
        lick = _slurred(lick, wanted)
        words += [said, register] if register else [said]
    return Moved(lick, changes, tuple(words), tonic, register)


# -- quality -----------------------------------------------------------------------------
def _requalified(analysis: Analysis, quality: str) -> tuple[Lick, tuple[NoteChange, ...]]:
    if quality not in QUALITY_NOTES:
        raise OptionError(
            f"no chord quality {quality!r} to move to", accepted="Use major, dominant or minor"
        )
    table = QUALITY_NOTES[quality]
    lick, tonic = analysis.lick, analysis.tonic
    after: dict[int, tuple[str, str]] = {}
    for fact in analysis.notes:
        if not fact.is_outside and fact.degree.name in table:
            new = table[fact.degree.name]
            after[fact.index] = (new, f"the {new} makes the chord {quality}")
        elif (told := _with_its_chord(lick, fact.index, tonic, quality)) is not None:
            after[fact.index] = told
    melody = lick.melody
    for left, right in reversed(list(itertools.pairwise(melody))):
        fact = analysis.notes[left]
        step = lick.notes[right].midi - lick.notes[left].midi
        if fact.is_outside and left not in after and right in after and abs(step) == 1:
            goal = Degree.parse(after[right][0])
            new = _beside(goal, -step)
            after[left] = (new, f"it keeps its half step into the {goal}")
    notes, changes = [], []
    for index, note in enumerate(lick.notes):
        if index not in after:
            notes.append(note)
            continue
        new, why = after[index]
        before = analysis.notes[index].degree
        shift = (Degree.parse(new).semitones - before.semitones + 6) % 12 - 6
        pitch = _spelled(note.midi + shift, Degree.parse(new).above(tonic))
        notes.append(_bare(note, pitch))
        changes.append(NoteChange(index, before.name, new, why))
    chords = tuple(_chord(span, tonic, quality) for span in lick.chords)
    bars = tuple(replace(bar, key=_rekeyed(bar.key, tonic, quality)) for bar in lick.bars)
    return lick.with_(notes=tuple(notes), chords=chords, bars=bars), tuple(changes)


def _with_its_chord(
    lick: Lick, index: int, tonic: PitchClass, quality: str
) -> tuple[str, str] | None:
    """The degree a tone of a chord becomes when the chord of the new quality has it not, and why."""
    note = lick.notes[index]
    span = next((s for s in lick.chords if s.onset <= note.onset < s.end), None)
    if span is None or span.symbol is None:
        return None
    turned = _chord(span, tonic, quality).symbol
    if turned is None or note.midi % 12 in turned.numbers:
        return None
    above = (note.midi - span.symbol.root.number) % 12
    old = next((d for d in span.symbol.degrees if d.semitones % 12 == above), None)
    new = next((d for d in turned.degrees if old is not None and d.number == old.number), None)
    if old is None or new is None:
        return None
    home = (turned.root.number - tonic.number + new.semitones) % 12
    return _DEGREES[home], f"the {old} of its chord becomes the {new}, for that is {quality} now"


def _rekeyed(key: Key | None, tonic: PitchClass, quality: str) -> Key | None:
    """The key with the 3rd of the chord quality, where it is the home's key and can be written."""
    if key is None or key.tonic.number != tonic.number:
        return key
    wants_minor = quality == "minor"
    if (key.mode in _MINOR_MODES) == wants_minor:
        return key
    try:
        return Key(key.tonic, "minor" if wants_minor else "major")
    except MusicError:
        return key


def _beside(goal: Degree, away: int) -> str:
    """The degree a half step above (1) or below (-1) a goal, by its neighbour letter below or
    its own letter raised.
    """
    return _DEGREES[(goal.semitones + away) % 12]


def _chord(span: ChordSpan, tonic: PitchClass, quality: str) -> ChordSpan:
    symbol = span.symbol
    if symbol is None or (symbol.root.number - tonic.number) % 12 not in (0, 5):
        return span
    triad, seventh = _CHORDS[quality]
    has_seventh = any(d.number == 7 for d in symbol.degrees)
    return replace(
        span, symbol=ChordSymbol(symbol.root, seventh if has_seventh else triad, symbol.bass)
    )


def _spelled(midi: int, name: PitchClass) -> Pitch:
    for octave in range(midi // 12 - 2, midi // 12 + 1):
        pitch = name.in_octave(octave)
        if pitch.midi == midi:
            return pitch
    raise MusicError(f"{name} is not MIDI note {midi}")


def _bare(note: Note, pitch: Pitch) -> Note:
    marks = tuple(mark for mark in note.marks if mark.name != "harmonic")
    return replace(note, pitch=pitch, string=None, fret=None, marks=marks, grace=())


# -- key ---------------------------------------------------------------------------------
def _transposed(
    analysis: Analysis, lick: Lick, key: str | Key | PitchClass
) -> tuple[Lick, PitchClass, str]:
    if isinstance(key, str):
        key = Key.parse(key)
    tonic = key.tonic if isinstance(key, Key) else key
    up = analysis.tonic.in_octave(4).interval_to(tonic.in_octave(4))
    semitones = (up.semitones + 5) % 12 - 5
    octaves = (semitones - up.semitones) // 12
    interval = Interval(up.steps + 7 * octaves, semitones)
    way = "up" if semitones > 0 else "down"
    said = f"in {tonic}, {way} {distance(semitones)}" if semitones else f"in {tonic}"
    return lick.transpose(interval), tonic, said


def _quarters(count: Fraction) -> str:
    return f"{count} quarter{'s' if count > 1 else ''}"


# -- time --------------------------------------------------------------------------------
def _displaced(lick: Lick, later: Fraction) -> Lick:
    """The melody moved against bars and chords; bars are added where it reaches past them."""
    lengths = [(bar.duration, bar.meter, bar.key) for bar in lick.bars]
    pickup = lick.pickup > 0
    start = Fraction(0)
    while lick.notes and lick.notes[0].onset + later + start < 0:
        if pickup:  # the pickup becomes a whole bar
            start += lick.bars[0].meter.length - lick.bars[0].duration
            lengths[0] = (lick.bars[0].meter.length, *lengths[0][1:])
            pickup = False
        else:
            first = lick.bars[0]
            lengths.insert(0, (first.meter.length, first.meter, first.key))
            start += first.meter.length
    end = max((n.end for n in lick.notes), default=Fraction(0)) + later + start
    while sum(length for length, _, _ in lengths) < end:
        last: Bar = lick.bars[-1]
        lengths.append((last.meter.length, last.meter, last.key))
    return lick.with_(
        notes=tuple(replace(n, onset=n.onset + later + start) for n in lick.notes),
        bars=bars_from_lengths(lengths, pickup=pickup),
        chords=tuple(replace(c, onset=c.onset + start) for c in lick.chords),
    )


# -- places ------------------------------------------------------------------------------
def _fingered(
    lick: Lick, instrument: Instrument, position: int | None, open_strings: bool | None
) -> tuple[Lick, str]:
    lick = placeless(lick)
    how = {None: "", True: ", with open strings", False: ", without open strings"}[open_strings]
    cost = _COSTS[open_strings]
    if position is None:
        done = finger(lick, instrument, cost=cost)
        if open_strings is False:
            _refuse_open(done)
        return done, f"fingered for {instrument.name} ({instrument.tuning}){how}"
    if not 1 <= position <= instrument.frets - instrument.capo:
        raise OptionError(
            f"no position {position} on a {instrument.name}",
            accepted=f"Use 1 to {instrument.frets - instrument.capo}",
        )
    reach = reach_of(instrument)
    low, high = max(1, position - 1), position + reach
    may_open = open_strings if open_strings is not None else position <= 2
    placed = []
    for note in lick.notes:
        held = note.midi - int(note.bend)
        options = [
            p
            for p in places(held, instrument)
            if low <= p.fret <= high or (p.fret == 0 and may_open and not note.bend)
        ]
        if not options:
            raise OptionError(
                f"{note.pitch} does not lie under the hand at fret {position}",
                place=lick.place(note.onset),
                accepted="Choose another position, or another key",
            )
        inside = [p for p in options if position <= p.fret < position + reach or not p.fret]
        opened = [p for p in inside if not p.fret] if open_strings else []
        best = min(
            opened or inside or options,
            key=lambda p: (p.fret > position + reach - 1, p.string),
        )
        placed.append(replace(note, string=best.string, fret=best.fret))
    done = finger(lick.with_(notes=tuple(placed)), instrument)
    return done, f"in position {position}{how}"


def _slurred(lick: Lick, instrument: Instrument) -> Lick:
    """The lick with the slurs that its new places allow: a slide from an open string becomes a
    hammer-on, a pull-off to a higher fret too, and one across strings is picked.
    """
    notes = list(lick.notes)
    for a, b in itertools.pairwise(lick.melody):
        before, note = notes[a], notes[b]
        mark = next((m for m in note.marks if m.name in SLURS), None)
        if mark is None or can_slur(mark.name, before, note, instrument):
            continue
        fits = [n for n in ("hammer-on", "pull-off") if can_slur(n, before, note, instrument)]
        marks = [m for m in note.marks if m is not mark] + [Mark(name) for name in fits]
        notes[b] = replace(note, marks=tuple(marks))
    return lick.with_(notes=tuple(notes))


def _refuse_open(lick: Lick) -> None:
    """Raise OptionError for a note that only an open string has."""
    for note in lick.notes:
        if note.fret == 0:
            raise OptionError(
                f"{note.pitch} lies on an open string alone, or nothing else can be reached there",
                place=lick.place(note.onset),
                accepted="Choose another key, or allow open strings",
            )
