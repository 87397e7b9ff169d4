"""MIDI in: one track, quantised with the file's own meter and tempo map."""

from __future__ import annotations

import math
from bisect import bisect_right
from fractions import Fraction
from typing import Final

from linewright.errors import ChoiceNeeded, MusicError, OptionError, ReadError, TooLarge
from linewright.formats.midi.events import MidiFacts, MidiNote, Stream, parse
from linewright.formats.midi.quantise import Group, group_notes, quantise
from linewright.score import Bar, ChordSpan, Lick, Mark, Meter, Note, Tempo, bent
from linewright.theory import Key, PitchClass, spell_midi

__all__ = ["read_midi"]

_MAX_BARS: Final = 2_000
_TRAILING_BARS: Final = 4
_EARLY: Final = Fraction(1, 16)  # a first note this early belongs to the bar that follows
_LATE: Final = Fraction(1, 8)  # a last note let go this late needs no bar of its own
_LEAST_BEND: Final = 0.35  # semitones; less is vibrato or a worn wheel


def read_midi(data: bytes, *, track: int | None = None, grid: str | None = None) -> Lick:
    """Read one melodic line from a MIDI file.

    Parameters
    ----------
    data : bytes
        A standard MIDI file of type 0, 1 or 2, at most 1 MB.
    track : int, optional
        Which of the tracks (in a one-track file, channels) with notes, counted from 1.
    grid : str, optional
        A name in :data:`linewright.formats.midi.grid.GRIDS` to quantise to.

    Returns
    -------
    Lick
        Without strings and frets, spelled after the key signature. ``remarks`` names the grid,
        the swing if there is any, and the largest deviation.

    Raises
    ------
    ReadError
        Broken bytes, or notes that sound over each other.
    ChoiceNeeded
        Several tracks hold notes and none is picked.
    """
    facts = parse(data)
    remarks: list[str] = []
    stream = _choose(facts, track, remarks)
    try:
        bars, origin = _bars(facts, stream, remarks)
        groups = group_notes(facts, stream.notes, origin)
        result = quantise(facts, groups, bars, origin, grid)
        key = _key_that_fits(bars, result.groups, remarks)
        if key is None:
            bars = tuple(Bar(b.number, b.onset, b.duration, b.meter) for b in bars)
        tempo = _tempo(facts, bars[0].meter, origin, remarks)
        notes = _notes(result.groups, bars)
        return Lick(
            tuple(notes),
            bars,
            _chords(facts, origin, bars[-1].end),
            title=facts.title or "Untitled",
            tempo=tempo,
            swing=result.swing,
            spelled=False,
            remarks=(*remarks, *result.remarks),
        )
    except MusicError as error:
        raise ReadError(
            f"the MIDI file cannot be made a lick: {error.message}", place=error.place
        ) from error


# -- which notes -------------------------------------------------------------------------
def _choose(facts: MidiFacts, track: int | None, remarks: list[str]) -> Stream:
    streams = facts.streams
    if facts.percussion:
        remarks.append(f"{facts.percussion} percussion notes (channel 10) were left out")
    listed = "; ".join(
        f"{n}: {s.name}, {len(s.notes)} notes" for n, s in enumerate(streams[:20], 1)
    )
    if not streams:
        raise ReadError(
            "the MIDI file holds no notes with a pitch",
            accepted="A track that plays a tune is expected",
        )
    if track is not None:
        if not 1 <= track <= len(streams):
            raise OptionError(f"the file has no track {track}", accepted=f"It has {listed}")
        return streams[track - 1]
    if len(streams) > 1:
        raise ChoiceNeeded(
            f"the file has {len(streams)} tracks with notes",
            kind="track",
            options=tuple(str(n) for n in range(1, len(streams) + 1)),
            accepted=f"Pick one by number: {listed}",
        )
    return streams[0]


# -- bars --------------------------------------------------------------------------------
def _bars(facts: MidiFacts, stream: Stream, remarks: list[str]) -> tuple[tuple[Bar, ...], Fraction]:
    """Bars from the first that holds a note, and where they begin in the file (quarters)."""
    first = Fraction(min(note.start for note in stream.notes), facts.ticks)
    last = Fraction(max(note.end for note in stream.notes), facts.ticks)
    changes = {Fraction(tick, facts.ticks): meter for tick, meter in facts.meters}
    changes.setdefault(Fraction(0), Meter(4, 4))
    start, empty = _first_bar(changes, first + _EARLY)
    laid = _lay_bars(facts, changes, start, last)
    if empty:
        remarks.append(f"{empty} empty bars before the first note were left out")
    pickup = (
        start == 0
        and len(laid) > 1
        and laid[0][1] < laid[1][2].length
        and laid[0][2] != laid[1][2]
        and laid[0][2].denominator == laid[1][2].denominator
    )
    if pickup:
        laid[0] = (*laid[0][:2], *laid[1][2:])
    return tuple(
        Bar(number, onset - start, length, meter, key)
        for number, (onset, length, meter, key) in enumerate(laid, start=0 if pickup else 1)
    ), start


def _first_bar(changes: dict[Fraction, Meter], moment: Fraction) -> tuple[Fraction, int]:
    """Where the bar that holds a moment begins, and how many bars come before it."""
    moments = sorted(changes)
    empty = 0
    for at, following in zip(moments, [*moments[1:], None], strict=True):
        length = changes[at].length
        if following is None or moment < following:
            count = (moment - at) // length
            return at + count * length, empty + count
        empty += -(-(following - at) // length)
    raise ReadError("the MIDI file has no meter")  # not reached: there is one at 0


def _lay_bars(
    facts: MidiFacts, changes: dict[Fraction, Meter], start: Fraction, last: Fraction
) -> list[tuple[Fraction, Fraction, Meter, Key | None]]:
    """(onset, length, meter, key) of the bars from ``start`` to the last note's end."""
    moments = sorted(changes)
    keys = [(Fraction(tick, facts.ticks), key) for tick, key in facts.keys]
    end = Fraction(facts.end, facts.ticks)
    laid: list[tuple[Fraction, Fraction, Meter, Key | None]] = []
    at = start
    while at < last - _LATE or not laid or _is_trailing(at, last, end, laid[-1][2]):
        place = bisect_right(moments, at)
        meter = changes[moments[place - 1]]
        length = meter.length
        if place < len(moments):
            length = min(length, moments[place] - at)
        key = next((k for moment, k in reversed(keys) if moment <= at), None)
        laid.append((at, length, meter, key))
        at += length
        if len(laid) > _MAX_BARS:
            raise TooLarge(
                f"the track lasts more than {_MAX_BARS:,} bars",
                accepted="Save the wanted bars alone",
            )
    return laid


def _is_trailing(at: Fraction, last: Fraction, end: Fraction, meter: Meter) -> bool:
    """Whether a rest bar at the end of the file belongs to the phrase."""
    return at < end <= last + _TRAILING_BARS * meter.length and (end - at) % meter.length == 0


# -- key and tempo -----------------------------------------------------------------------
def _key_that_fits(bars: tuple[Bar, ...], groups: list[Group], remarks: list[str]) -> Key | None:
    """The first bar's key, unless it is the C major that programs write by default."""
    key = bars[0].key
    if key is None or key != Key(PitchClass("C")) or any(b.key != key for b in bars):
        return key or next((b.key for b in bars if b.key is not None), None)
    classes = [note.key % 12 for group in groups for note in group.notes]
    outside = sum(1 for c in classes if c not in (0, 2, 4, 5, 7, 9, 11))
    if outside * 5 <= len(classes) and classes[-1] in (0, 4, 7):
        return key
    remarks.append(
        "the file's key signature is C major, which programs write by default and these notes"
        " do not bear out, so no key was taken"
    )
    return None


def _tempo(facts: MidiFacts, meter: Meter, origin: Fraction, remarks: list[str]) -> Tempo | None:
    if not facts.tempos:
        return None
    if len({tempo for _, tempo in facts.tempos}) > 1:
        remarks.append("the tempo changes; the one at the first note was kept")
    microseconds = facts.microseconds_at(float(origin * facts.ticks))
    bpm = Fraction(60_000_000, microseconds)
    plain = Fraction(round(bpm)) if abs(bpm - round(bpm)) < Fraction(1, 200) else None
    quarters = plain if plain is not None else Fraction(round(bpm * 1000), 1000)
    beat = meter.beat if meter.is_compound else Fraction(1)
    try:
        return Tempo(quarters / beat, beat)
    except MusicError:
        remarks.append("the tempo is out of range and was left out")
        return None


# -- notes and chords --------------------------------------------------------------------
def _notes(groups: list[Group], bars: tuple[Bar, ...]) -> list[Note]:
    end = bars[-1].end
    found: list[Note] = []
    for group in groups:
        if group.onset >= end:
            continue
        key = next((b.key for b in reversed(bars) if b.onset <= group.onset), None)
        center = key.fifths + 2 if key is not None else 2
        heard: dict[int, Note] = {}
        for note in group.notes:
            bend = _bend_of(note)
            midi = bent(note.key, bend)
            marks = (Mark("bend", bend),) if bend else ()
            if 0 <= midi <= 127:
                length = min(group.stop, end) - group.onset
                made = Note(group.onset, length, spell_midi(midi, center), marks=marks)
                heard.setdefault(midi, made)
        found.extend(heard[midi] for midi in sorted(heard, reverse=True))
    return found


def _bend_of(note: MidiNote) -> Fraction:
    if note.bend < _LEAST_BEND or not math.isfinite(note.bend):
        return Fraction(0)
    return Fraction(round(note.bend * 2), 2)


def _chords(facts: MidiFacts, origin: Fraction, end: Fraction) -> tuple[ChordSpan, ...]:
    at = {
        onset: symbol
        for tick, symbol in facts.chords
        if 0 <= (onset := Fraction(tick, facts.ticks) - origin) < end
    }
    onsets = sorted(at)
    return tuple(
        ChordSpan(onset, stop - onset, at[onset])
        for onset, stop in zip(onsets, [*onsets[1:], end], strict=False)
    )
