"""MIDI out: a type 1 file, its first track for tempo, meter, key and title, its second to play.

What MIDI cannot say is left out: strings, frets, marks other than bends, ornaments, spelling. A
bend is the fretted key with the pitch wheel, whose range is set to an octave first and which goes
back to the middle when the note ends. A pickup is a first bar of a shorter meter. Chord symbols
travel as text events ("chord: G7").
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from fractions import Fraction
from typing import Any, Final

from linewright.errors import MusicError, WriteError
from linewright.formats.midi.tracks import (
    BEND_RANGE,
    BEND_STEPS,
    Event,
    bend_range_messages,
    key_event,
    lasting,
    meter_event,
    track,
)
from linewright.score import Lick, Meter, Note, bent, swung

__all__ = ["write_midi"]

_TICKS: Final = 480
_FINE_TICKS: Final = 10080  # 2^5 * 3^2 * 5 * 7
_CHANNELS: Final = (0, 1, 2, 3, 4, 5, 6, 7, 8, 10, 11, 12)  # 9 is percussion
#: General MIDI programs (counted from 0); a mandolin takes the steel-string guitar's.
_PROGRAMS: Final = {
    "guitar": 25, "mandolin": 25, "octave mandolin": 25, "bass": 33, "ukulele": 24,
    "five-string banjo": 105, "tenor banjo": 105,
}  # fmt: skip
_VELOCITY: Final = 80
_VELOCITIES: Final = {"accent": 110, "ghost": 45, "dead": 55}


def write_midi(lick: Lick) -> bytes:
    """A lick as a MIDI file; a swung lick is written as it sounds.

    Raises WriteError for a pitch outside MIDI's 128 keys.
    """
    import mido

    ticks = _resolution(lick)
    file = mido.MidiFile(type=1, ticks_per_beat=ticks, charset="utf-8")
    times = (time for note in lick.notes for time in (note.onset, note.end))
    moved = swung(times, lick.bars, lick.swing)
    end = round(lick.length * ticks)
    file.tracks.append(track(mido, list(_head(mido, lick, ticks)), end))
    file.tracks.append(track(mido, list(_played(mido, lick, ticks, moved)), end))
    target = io.BytesIO()
    file.save(file=target)
    return target.getvalue()


def _resolution(lick: Lick) -> int:
    times = [t for n in lick.notes for t in (n.onset, n.end)] + [c.onset for c in lick.chords]
    return _TICKS if all((time * _TICKS).denominator == 1 for time in times) else _FINE_TICKS


# -- head --------------------------------------------------------------------------------
def _head(mido: Any, lick: Lick, ticks: int) -> Iterator[Event]:
    yield 0, 0, mido.MetaMessage("track_name", name=lick.title)
    if lick.tempo is not None:
        microseconds = round(60_000_000 / lick.tempo.quarter_bpm)
        yield 0, 1, mido.MetaMessage("set_tempo", tempo=microseconds)
    before: Meter | None = None
    key_before = None
    for index, bar in enumerate(lick.bars):
        tick = round(bar.onset * ticks)
        is_short_end = index == len(lick.bars) - 1 and bar.number > 0
        meter = lasting(bar, bar.meter.length if is_short_end else bar.duration)
        if meter != before:
            yield meter_event(mido, tick, meter)
            before = meter
        if bar.key is not None and bar.key != key_before:
            yield key_event(mido, tick, bar)
            key_before = bar.key
    for span in lick.chords:
        name = span.symbol.text if span.symbol else "N.C."
        yield round(span.onset * ticks), 4, mido.MetaMessage("text", text=f"chord: {name}")


# -- notes -------------------------------------------------------------------------------
def _played(mido: Any, lick: Lick, ticks: int, moved: dict[Fraction, Fraction]) -> Iterator[Event]:
    name = lick.instrument.name if lick.instrument else "Melody"
    yield 0, 0, mido.MetaMessage("track_name", name=name)
    bends = any(note.bend for note in lick.notes)
    channels = _CHANNELS if bends else _CHANNELS[:1]
    used = channels[: max((len(g) for g in _groups(lick)), default=1)]
    for channel in used:
        program = _PROGRAMS.get(name, 25)
        yield 0, 1, mido.Message("program_change", channel=channel, program=program)
        if bends:
            for number, message in enumerate(bend_range_messages(mido, channel)):
                yield 0, 2 + number, message
    for group in _groups(lick):
        for rank, note in enumerate(group):
            channel = used[min(rank, len(used) - 1)]
            start = round(moved.get(note.onset, note.onset) * ticks)
            end = round(moved.get(note.end, note.end) * ticks)
            yield from _sounded(mido, lick, note, channel, start, end)


def _groups(lick: Lick) -> list[list[Note]]:
    groups: dict[Fraction, list[Note]] = {}
    for note in lick.notes:
        groups.setdefault(note.onset, []).append(note)
    return list(groups.values())


def _sounded(
    mido: Any, lick: Lick, note: Note, channel: int, start: int, end: int
) -> Iterator[Event]:
    key = _struck_key(lick, note)
    if not 0 <= key <= 127:
        raise WriteError(
            f"{note.pitch} is outside MIDI's keys",
            place=lick.place(note.onset),
            accepted="MIDI has C-1 to G9",
        )
    velocity = next((_VELOCITIES[m.name] for m in note.marks if m.name in _VELOCITIES), _VELOCITY)
    yield start, 20, mido.Message("note_on", channel=channel, note=key, velocity=velocity)
    yield end, 10, mido.Message("note_off", channel=channel, note=key, velocity=64)
    if not note.bend:
        return
    pushed = min(float(note.bend), float(BEND_RANGE))
    for step in range(1, BEND_STEPS + 1):
        tick = start + (end - start) * step // (3 * BEND_STEPS)
        wheel = min(8191, round(pushed * 8192 / BEND_RANGE * step / BEND_STEPS))
        yield tick, 20 + step, mido.Message("pitchwheel", channel=channel, pitch=wheel)
    yield end, 11, mido.Message("pitchwheel", channel=channel, pitch=0)


def _struck_key(lick: Lick, note: Note) -> int:
    """The key before the bend: the fretted pitch where the place is known."""
    if not note.bend:
        return note.midi
    if lick.instrument is not None and note.string is not None and note.fret is not None:
        try:
            return lick.instrument.midi_at(note.string, note.fret)
        except MusicError:
            pass
    return note.midi - bent(0, note.bend)
