"""From a MIDI file's bytes to notes in ticks, with the maps of tempo, meter and key.

Sources: the Standard MIDI File 1.0 and MIDI 1.0 specifications (MIDI Association): channel 10 is
percussion in General MIDI, the pitch wheel spans two semitones either way until registered
parameter 0 says otherwise.
"""

from __future__ import annotations

import io
from contextlib import suppress
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, Final

from linewright.errors import MusicError, ReadError, TooLarge
from linewright.formats.limits import check_size
from linewright.score import Meter
from linewright.theory import ChordSymbol, Key

__all__ = ["MidiFacts", "MidiNote", "Stream", "parse"]

#: A MIDI file of a lick has a few kilobytes, of a whole song a few hundred.
MAX_MIDI_BYTES: Final = 1024 * 1024
_MAX_NOTES: Final = 10_000
_MAX_CHANGES: Final = 1_000  # of tempo, meter, key or chord, each
_PERCUSSION: Final = 9  # counted from 0
_MAX_TICK: Final = 1 << 40
_ACCEPTED: Final = "A standard MIDI file (.mid) is expected"


@dataclass
class MidiNote:
    """A struck key: ticks of start and end, and how far the wheel pushed it, in semitones."""

    start: int
    key: int
    channel: int
    end: int = 0
    bend: float = 0.0


@dataclass
class Stream:
    """The notes that make one candidate line: a track, or a channel of a one-track file."""

    name: str
    notes: list[MidiNote] = field(default_factory=list)


@dataclass
class MidiFacts:
    """A file's streams with notes, and what holds for all of them; times in ticks."""

    ticks: int
    title: str = ""
    streams: list[Stream] = field(default_factory=list)
    tempos: list[tuple[int, int]] = field(default_factory=list)  # microseconds per quarter
    meters: list[tuple[int, Meter]] = field(default_factory=list)
    keys: list[tuple[int, Key]] = field(default_factory=list)
    chords: list[tuple[int, ChordSymbol | None]] = field(default_factory=list)
    end: int = 0
    percussion: int = 0

    def microseconds_at(self, tick: float) -> int:
        """Length of a quarter at a moment."""
        found = 500_000  # 120 a minute, where a file says nothing
        for at, tempo in self.tempos:
            if at > tick:
                break
            found = tempo
        return found


def parse(data: bytes) -> MidiFacts:
    """Read the events of a MIDI file; raises ReadError for anything that is not one."""
    check_size(data, MAX_MIDI_BYTES)
    import mido

    if data[:4] != b"MThd":
        raise ReadError("the file does not begin as a MIDI file does", accepted=_ACCEPTED)
    try:
        file = mido.MidiFile(file=io.BytesIO(data), clip=True)
    except EOFError as error:
        raise ReadError("the MIDI file breaks off in the middle", accepted=_ACCEPTED) from error
    except Exception as error:  # the library raises many kinds for broken bytes
        raise ReadError(
            f"the MIDI file is broken ({type(error).__name__}: {str(error)[:80]})",
            accepted=_ACCEPTED,
        ) from error
    if not 1 <= file.ticks_per_beat < 0x8000:
        raise ReadError(
            "the MIDI file counts time in film frames, which say nothing of beats",
            accepted="Save it with ticks per quarter note",
        )
    facts = MidiFacts(file.ticks_per_beat)
    for number, track in enumerate(file.tracks):
        _read_track(facts, track, number, by_channel=file.type == 0)
    for events in (facts.tempos, facts.meters, facts.keys, facts.chords):
        events.sort(key=lambda event: event[0])
        if len(events) > _MAX_CHANGES:
            raise TooLarge(
                f"the file changes its tempo, meter, key or chord more than {_MAX_CHANGES:,} times",
                accepted="Save a few bars of it as a file of their own",
            )
    if sum(len(stream.notes) for stream in facts.streams) > _MAX_NOTES:
        raise TooLarge(
            f"the file has more than {_MAX_NOTES:,} notes",
            accepted="Save a few bars of it as a file of their own",
        )
    return facts


class _Wheel:
    """One channel's pitch wheel and its range."""

    def __init__(self) -> None:
        self.value = 0
        self.range = 2.0
        self._parameter = [127, 127]

    @property
    def semitones(self) -> float:
        return self.value * self.range / 8192

    def control(self, number: int, value: int) -> None:
        if number == 101:
            self._parameter[0] = value
        elif number == 100:
            self._parameter[1] = value
        elif number == 6 and self._parameter == [0, 0]:
            self.range = float(min(value, 96))


def _read_track(facts: MidiFacts, track: Any, number: int, *, by_channel: bool) -> None:
    name = ""
    at = 0
    streams: dict[int, Stream] = {}
    sounding: dict[tuple[int, int], MidiNote] = {}
    wheels: dict[int, _Wheel] = {}
    for message in track:
        at += message.time
        if at > _MAX_TICK:
            raise ReadError("the MIDI file lasts impossibly long", accepted=_ACCEPTED)
        if message.is_meta:
            if message.type == "track_name":
                name = name or _clean(message.name)
            else:
                _read_meta(facts, message, at)
            continue
        channel = getattr(message, "channel", None)
        if channel is None:
            continue
        wheel = wheels.setdefault(channel, _Wheel())
        if message.type == "note_on" and message.velocity > 0:
            if channel == _PERCUSSION:
                facts.percussion += 1
                continue
            note = MidiNote(at, message.note, channel, bend=wheel.semitones)
            stream = streams.setdefault(channel if by_channel else 0, Stream(""))
            stream.notes.append(note)
            _stop(sounding, channel, message.note, at)  # struck again while it sounds
            sounding[channel, message.note] = note
        elif message.type in ("note_off", "note_on"):
            _stop(sounding, channel, message.note, at)
        elif message.type == "control_change":
            wheel.control(message.control, message.value)
        elif message.type == "pitchwheel":
            wheel.value = message.pitch
            _bend(sounding, channel, wheel.semitones)
    facts.end = max(facts.end, at)
    if number == 0:
        facts.title = name
    for channel, stream in sorted(streams.items()):
        for note in stream.notes:
            note.end = note.end or at
        stream.notes = [note for note in stream.notes if note.end > note.start]
        stream.name = name or f"track {number + 1}"
        if by_channel:
            stream.name = f"channel {channel + 1}"
        if stream.notes:
            facts.streams.append(stream)


def _stop(sounding: dict[tuple[int, int], MidiNote], channel: int, key: int, at: int) -> None:
    note = sounding.pop((channel, key), None)
    if note is not None:
        note.end = at


def _bend(sounding: dict[tuple[int, int], MidiNote], channel: int, semitones: float) -> None:
    for note in sounding.values():
        if note.channel == channel and abs(semitones) > abs(note.bend):
            note.bend = semitones


def _read_meta(facts: MidiFacts, message: Any, at: int) -> None:
    try:
        if message.type == "set_tempo":
            if message.tempo > 0:
                facts.tempos.append((at, message.tempo))
        elif message.type == "time_signature":
            facts.meters.append((at, Meter(message.numerator, message.denominator)))
        elif message.type == "key_signature":
            facts.keys.append((at, Key.parse(message.key)))
        elif message.type == "text" and message.text.startswith("chord: "):
            name = message.text.removeprefix("chord: ")
            facts.chords.append((at, None if name == "N.C." else ChordSymbol.parse(name)))
    except MusicError as error:
        quarter = Fraction(at, facts.ticks)
        raise ReadError(
            error.message, place=f"{float(quarter):g} quarters in", accepted=error.accepted
        ) from error


def _clean(text: str) -> str:
    """A name as one printable line; mido reads bytes as Latin-1, most programs write UTF-8."""
    with suppress(UnicodeError):
        text = text.encode("latin-1").decode("utf-8")
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())[:200]
