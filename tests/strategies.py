"""Hypothesis strategies for licks, shared by every format's round-trip tests.

``licks()`` builds sound, printable licks: any usual meter, pickups, tuplets, rests, notes held
over beats and bar lines, double stops, graces, marks, chords, keys, tempo. Its switches take
away what a format cannot say, so that each test states its format's limits in one call.

The strategies drawn from are built once: to build one hashes all it chooses among, and a lick
draws from hundreds.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import cache, lru_cache

from hypothesis import strategies as st

from linewright.score import (
    MARKS,
    ChordSpan,
    Grace,
    Instrument,
    Lick,
    Mark,
    Meter,
    Note,
    Tempo,
    bars_from_lengths,
)
from linewright.theory import MODES, QUALITIES, ChordSymbol, Key, Pitch, PitchClass, spell_midi

__all__ = [
    "GUITAR",
    "PLAIN_CELLS",
    "PLAIN_METERS",
    "TUPLET_CELLS",
    "chord_symbols",
    "keys",
    "licks",
    "pitches",
]

F = Fraction
GUITAR = Instrument("guitar", tuple(Pitch.parse(p) for p in ("E4", "B3", "G3", "D3", "A2", "E2")))
METERS = tuple(
    Meter.parse(text)
    for text in ("4/4", "3/4", "2/4", "2/2", "6/8", "9/8", "12/8", "3/8", "5/4", "7/8", "3+2+2/8")
)
#: Meters every program plays.
PLAIN_METERS = tuple(Meter.parse(text) for text in ("4/4", "3/4", "2/4", "6/8"))
#: How a simple beat may divide, in parts of the beat.
PLAIN_CELLS = (
    (F(1),),
    (F(1, 2), F(1, 2)),
    (F(1, 4),) * 4,
    (F(3, 4), F(1, 4)),
    (F(1, 4), F(3, 4)),
    (F(1, 2), F(1, 4), F(1, 4)),
    (F(1, 4), F(1, 2), F(1, 4)),
)
TUPLET_CELLS = (
    (F(1, 3),) * 3,
    (F(2, 3), F(1, 3)),
    (F(1, 3), F(2, 3)),
    (F(1, 6),) * 6,
    (F(1, 5),) * 5,
    (F(1, 7),) * 7,
    (F(1, 3), F(1, 6), F(1, 6), F(1, 3)),
)
#: How a dotted or three-unit beat may divide.
COMPOUND_CELLS = (
    (F(1),),
    (F(1, 3),) * 3,
    (F(2, 3), F(1, 3)),
    (F(1, 3), F(2, 3)),
    (F(1, 6),) * 6,
    (F(1, 2), F(1, 6), F(1, 3)),
)
COMPOUND_TUPLETS = ((F(1, 9),) * 9, (F(1, 9),) * 3 + (F(2, 3),))
_TEXT = "ABCMabcdefghéüßñ 0123456789'&<>\"%\\-.,:;()[]{}|!?"
_PITCHES = tuple(
    Pitch(step, alter, octave)
    for octave in range(2, 7)
    for step in "CDEFGAB"
    for alter in (0, 0, 0, 1, -1, 1, -1, 2, -2)
)
_MARKS = tuple(name for name in MARKS if name not in ("bend", "release"))
_MODES = tuple(
    {"ionian": "major", "aeolian": "minor", "natural minor": "minor"}.get(mode, mode)
    for mode in ("major", "minor", "dorian", "mixolydian", *MODES)
)
_QUALITIES = tuple(sorted(QUALITIES))

one_of = lru_cache(maxsize=None)(st.sampled_from)
whole = lru_cache(maxsize=None)(st.integers)
_PITCH = one_of(_PITCHES)
_COIN = st.booleans()


def pitches() -> st.SearchStrategy[Pitch]:
    """Spelled pitches from C2 to B6, double sharps and flats among them."""
    return _PITCH


@st.composite
def keys(draw: st.DrawFn, added: bool = True) -> Key:
    """Keys of every mode with up to seven signs; now and then an explicit accidental."""
    mode = draw(one_of(_MODES))
    fifths = draw(whole(-7, 7))
    tonic = PitchClass.from_fifths(fifths - MODES[mode])
    extra: tuple[PitchClass, ...] = ()
    if added and draw(whole(0, 9)) == 9:
        extra = (PitchClass(draw(one_of("CDEFGAB")), draw(whole(-1, 1))),)
    return Key(tonic, mode, extra)


@st.composite
def chord_symbols(draw: st.DrawFn) -> ChordSymbol:
    """Chord symbols of every known quality, some over a bass note."""
    root = PitchClass.from_fifths(draw(whole(-6, 7)))
    bass = draw(one_of((None, None, None, PitchClass("E"), PitchClass("B", -1))))
    return ChordSymbol(root, draw(one_of(_QUALITIES)), bass)


def texts() -> st.SearchStrategy[str]:
    """One line of text with signs that formats must escape; no doubled or outer spaces."""
    return st.text(_TEXT, min_size=1, max_size=24).map(lambda t: " ".join(t.split()) or "A")


_KEYS = {added: keys(added) for added in (True, False)}
_CHORD = chord_symbols()
_CHORD_OR_NONE = st.none() | _CHORD
_TITLE = {True: texts(), False: st.text("ABCdef", min_size=1, max_size=8)}
_WORDS = {True: st.none() | _TITLE[True], False: st.none()}


def _slots(draw: st.DrawFn, beats: tuple[Fraction, ...], tuplets: bool) -> list[Fraction]:
    lengths: list[Fraction] = []
    for beat in beats:
        compound = beat.numerator % 3 == 0
        cells = COMPOUND_CELLS if compound else PLAIN_CELLS
        if tuplets:
            cells += COMPOUND_TUPLETS if compound else TUPLET_CELLS
        lengths.extend(beat * part for part in draw(one_of(cells)))
    return lengths


@st.composite
def licks(
    draw: st.DrawFn,
    *,
    max_bars: int = 3,
    meters: tuple[Meter, ...] = METERS,
    changes: bool = True,
    irregular: bool = True,
    pickups: bool = True,
    tuplets: bool = True,
    rests: bool = True,
    double_stops: bool = True,
    graces: bool = True,
    marks: tuple[str, ...] | None = None,
    chords: bool = True,
    no_chord: bool = True,
    declared_key: bool | None = None,
    added_accidentals: bool = True,
    tempo: bool = True,
    instrument: Instrument | None = None,
    swing: bool = False,
    words: bool = True,
) -> Lick:
    """Sound licks that :func:`linewright.score.notate` can print.

    Parameters
    ----------
    max_bars : int
        Full bars at most, the pickup apart.
    meters : tuple of Meter
    changes : bool
        Whether meter and key may change at a bar line.
    irregular : bool
        Whether the last bar may be short.
    pickups, tuplets, rests, double_stops, graces, tempo, swing : bool
        Whether these occur.
    marks : tuple of str, optional
        Names of marks that may occur; None for all but bends and releases (with an instrument,
        bends occur too), an empty tuple for no marks.
    chords, no_chord : bool
        Whether chords occur (each lasting to the next, the last to the end), and N.C. among them.
    declared_key : bool, optional
        True for always a key, False for never, None for either.
    added_accidentals : bool
        Whether a key may carry an explicit extra accidental.
    instrument : Instrument, optional
        When given, every note has a string and fret of it; else none has.
    words : bool
        Whether title, style and source hold any text (else title alone, plain letters).
    """
    names = _MARKS if marks is None else marks
    key = draw(_KEYS[added_accidentals]) if declared_key is not False else None
    if declared_key is None and draw(_COIN):
        key = None
    meter = draw(one_of(meters))
    bars, lengths = _draw_bars(
        draw, meter, key, max_bars, changes, irregular, pickups, tuplets, added_accidentals
    )
    notes: list[Note] = []
    at, open_group = Fraction(0), 0
    for length in lengths:
        kind = draw(whole(0, 9))
        if kind == 9 and open_group:
            notes[-open_group:] = [
                replace(n, duration=n.duration + length) for n in notes[-open_group:]
            ]
        elif kind == 8 and rests:
            open_group = 0
        else:
            size = draw(one_of((1, 1, 1, 1, 2, 3))) if double_stops else 1
            group = _draw_group(draw, at, length, size, names, marks is None, graces, instrument)
            notes.extend(group)
            open_group = len(group)
        at += length
    beats = [
        bar.onset + onset - (bar.offset(bar.onset))
        for bar in bars
        for onset in bar.meter.beat_onsets
        if bar.offset(bar.onset) <= onset < bar.offset(bar.onset) + bar.duration
    ]
    return Lick(
        tuple(notes),
        bars,
        _draw_chords(draw, beats, bars[-1].end, no_chord) if chords else (),
        title=draw(_TITLE[words]),
        tempo=_draw_tempo(draw) if tempo and draw(_COIN) else None,
        instrument=instrument,
        swing=draw(one_of((None, F(2), F(3, 2)))) if swing else None,
        style=draw(_WORDS[words]),
        source=draw(_WORDS[words]),
    )


def _draw_bars(draw, meter, key, max_bars, changes, irregular, pickups, tuplets, added):  # type: ignore[no-untyped-def]
    count = draw(whole(1, max_bars))
    laid: list[tuple[Fraction, Meter, Key | None]] = []
    lengths: list[Fraction] = []
    pickup = pickups and draw(whole(0, 3)) == 0 and len(meter.beats) > 1
    if pickup:
        first = draw(whole(1, len(meter.beats) - 1))
        beats = meter.beats[first:]
        laid.append((sum(beats, F(0)), meter, key))
        lengths.extend(_slots(draw, beats, tuplets))
    for number in range(count):
        if changes and number and draw(whole(0, 4)) == 0:
            meter = draw(one_of(METERS))
            key = draw(_KEYS[added]) if key is not None else None
        beats = meter.beats
        if irregular and number and number == count - 1 and draw(whole(0, 3)) == 0:
            beats = beats[: draw(whole(1, len(beats)))]
        laid.append((sum(beats, F(0)), meter, key))
        lengths.extend(_slots(draw, beats, tuplets))
    return bars_from_lengths(laid, pickup=pickup), lengths


@cache
def _strings(count: int, size: int) -> st.SearchStrategy[list[int]]:
    return st.lists(whole(1, count), min_size=size, max_size=size, unique=True)


@cache
def _some(names: tuple[str, ...]) -> st.SearchStrategy[set[str]]:
    return st.sets(one_of(names), min_size=1, max_size=2)


@cache
def _places(count: int) -> st.SearchStrategy[set[int]]:
    return st.sets(whole(0, count - 1), max_size=4)


def _draw_group(draw, at, length, size, names, bends, graces, instrument):  # type: ignore[no-untyped-def]
    group: dict[int, Note] = {}
    strings = draw(_strings(len(instrument.strings), size)) if instrument else range(size)
    for string in strings:
        found: tuple[Mark, ...] = ()
        if names and draw(whole(0, 3)) == 0:
            chosen = draw(_some(names))
            found = tuple(_mark(draw, name) for name in sorted(chosen))
        if instrument is None:
            note = Note(at, length, draw(_PITCH), marks=found)
        else:
            fret = draw(whole(0, 14 - instrument.capo))
            push = draw(one_of((0,) * 8 + (1, 2))) if bends and fret else 0
            if push:
                found = tuple(sorted((*found, Mark("bend", F(push)))))
            pitch = spell_midi(instrument.midi_at(string, fret) + push)
            note = Note(at, length, pitch, string, fret, found)
        group.setdefault(note.midi, note)
    found_notes = [group[midi] for midi in sorted(group, reverse=True)]
    if graces and draw(whole(0, 7)) == 0:
        before = []
        for _ in range(draw(whole(1, 3))):
            if instrument is None:
                before.append(Grace(draw(_PITCH)))
            else:
                string, fret = found_notes[0].string, draw(whole(0, 12 - instrument.capo))
                before.append(Grace(spell_midi(instrument.midi_at(string, fret)), string, fret))
        found_notes[0] = replace(found_notes[0], grace=tuple(before))
    return found_notes


def _mark(draw, name: str) -> Mark:  # type: ignore[no-untyped-def]
    if name in ("slide in", "slide out"):
        return Mark(name, Fraction(draw(one_of((-1, 1)))))
    return Mark(name)


def _draw_chords(draw, beats, end, no_chord):  # type: ignore[no-untyped-def]
    onsets = sorted({beats[index] for index in draw(_places(len(beats)))})
    spans = []
    for onset, stop in zip(onsets, [*onsets[1:], end], strict=False):
        symbol = draw(_CHORD_OR_NONE if no_chord else _CHORD)
        spans.append(ChordSpan(onset, stop - onset, symbol))
    return tuple(spans)


def _draw_tempo(draw) -> Tempo:  # type: ignore[no-untyped-def]
    beat = draw(one_of((F(1), F(1, 2), F(3, 2), F(2))))
    return Tempo(F(draw(whole(30, 300))), beat)
