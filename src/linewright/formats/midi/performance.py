"""A performance as a multi-track MIDI file: tempo and meter, then a track for each player.

Type 1 (Standard MIDI Files 1.0). The click goes to channel 10 as General MIDI wood blocks. A part
that bends gets a channel for each of its strings, as guitar controllers send them, so that a bend
moves no other string. What rings is held until its string is struck again.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Any, Final

from linewright.errors import WriteError
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
from linewright.score import Bar
from linewright.score.performance import Part, Performance, Stroke

__all__ = ["write_performance"]

_TICKS: Final = 960
_DRUMS: Final = 9
_CHANNELS: Final = (0, 1, 2, 3, 4, 5, 6, 7, 8, 10, 11, 12, 13, 14, 15)
#: General MIDI programs of the voices, counted from 0.
_PROGRAMS: Final = {"steel": 25, "nylon": 24, "mandolin": 25, "banjo": 105, "bass": 33}


def write_performance(performance: Performance, bars: Sequence[Bar], title: str = "") -> bytes:
    """A performance as the bytes of a MIDI file.

    Parameters
    ----------
    performance : Performance
    bars : sequence of Bar
        The bars as they are played, in the performance's time; what lies before the first of them
        is counted in their meter.
    title : str

    Raises
    ------
    WriteError
        For a pitch outside MIDI's keys, more players than it has channels, or a bar that no
        meter says.
    """
    import mido

    file = mido.MidiFile(type=1, ticks_per_beat=_TICKS, charset="utf-8")
    end = round(performance.length * _TICKS)
    file.tracks.append(track(mido, list(_head(mido, performance, bars, title)), end))
    channels = iter(_CHANNELS)
    for part in performance.parts:
        events = list(_played(mido, part, performance.length, channels))
        file.tracks.append(track(mido, events, end))
    target = io.BytesIO()
    file.save(file=target)
    return target.getvalue()


def _head(mido: Any, performance: Performance, bars: Sequence[Bar], title: str) -> Iterator[Event]:
    if title:
        yield 0, 0, mido.MetaMessage("track_name", name=title)
    tempo = round(60_000_000 / performance.quarter_bpm)
    yield 0, 1, mido.MetaMessage("set_tempo", tempo=tempo)
    before = key_before = None
    starts = [bar for bar in bars if bar.number or not performance.count_in]
    edges = [bar.onset for bar in starts]
    if not edges or edges[0] > 0:
        edges.insert(0, Fraction(0))
        starts.insert(0, starts[0] if starts else bars[0])
    for bar, onset, after in zip(starts, edges, [*edges[1:], performance.length], strict=True):
        own, span = bar.meter.length, after - onset
        is_whole = after == performance.length or span % own == 0  # bars counted in
        meter = lasting(bar, own if is_whole else span)
        tick = round(onset * _TICKS)
        if meter != before:
            yield meter_event(mido, tick, meter)
            before = meter
        if bar.key is not None and bar.key != key_before:
            yield key_event(mido, tick, bar)
            key_before = bar.key


def _played(mido: Any, part: Part, length: Fraction, channels: Iterator[int]) -> Iterator[Event]:
    yield 0, 0, mido.MetaMessage("track_name", name=part.name)
    if part.voice == "click":
        for stroke in part.strokes:
            yield from _note(mido, stroke, _DRUMS, stroke.end)
        return
    bends = any(stroke.bend for stroke in part.strokes)
    strings = sorted({stroke.string or 0 for stroke in part.strokes}) if bends else [0]
    try:
        used = {string: next(channels) for string in strings}
    except StopIteration:
        raise WriteError("more strings and players than MIDI has channels") from None
    for channel in used.values():
        yield 0, 1, mido.Message("program_change", channel=channel, program=_PROGRAMS[part.voice])
        if bends:
            for order, message in enumerate(bend_range_messages(mido, channel)):
                yield 0, 2 + order, message
    for stroke, end in _held(part.strokes, length):
        channel = used[stroke.string or 0] if bends else used[0]
        yield from _note(mido, stroke, channel, end)


def _held(strokes: Sequence[Stroke], length: Fraction) -> Iterator[tuple[Stroke, Fraction]]:
    """Each stroke and where it ends: what rings goes on until its string is struck again, and a
    key that is struck again while it sounds is let go first.
    """
    by_string: dict[int | None, Fraction] = {}
    by_key: dict[int, Fraction] = {}
    kept: list[tuple[Stroke, Fraction]] = []
    for stroke in reversed(strokes):
        end = by_string.get(stroke.string, length) if stroke.ring else stroke.end
        end = min(end, by_key.get(stroke.midi, end))
        if end > stroke.onset:
            kept.append((stroke, end))
            by_key[stroke.midi] = stroke.onset
        by_string[stroke.string] = stroke.onset
    return reversed(kept)


def _note(mido: Any, stroke: Stroke, channel: int, last: Fraction) -> Iterator[Event]:
    if not 0 <= stroke.midi <= 127:
        raise WriteError(f"{stroke.midi} is outside MIDI's keys", accepted="MIDI has 0 to 127")
    start = round(stroke.onset * _TICKS)
    end = max(round(last * _TICKS), start + 1)
    velocity = min(127, max(1, round(127 * stroke.strength)))
    yield start, 20, mido.Message("note_on", channel=channel, note=stroke.midi, velocity=velocity)
    yield end, 10, mido.Message("note_off", channel=channel, note=stroke.midi, velocity=64)
    if not stroke.bend or channel == _DRUMS:
        return
    pushed = min(float(stroke.bend), float(BEND_RANGE))
    for step in range(1, BEND_STEPS + 1):
        tick = start + (end - start) * step // (3 * BEND_STEPS)
        wheel = min(8191, round(pushed * 8192 / BEND_RANGE * step / BEND_STEPS))
        yield tick, 20 + step, mido.Message("pitchwheel", channel=channel, pitch=wheel)
    yield end, 11, mido.Message("pitchwheel", channel=channel, pitch=0)
