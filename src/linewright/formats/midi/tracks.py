"""What every MIDI file of ours is put together from: tracks, signatures, the range of a bend."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Any, Final

from linewright.errors import WriteError
from linewright.score import Bar, Meter

__all__ = [
    "BEND_RANGE",
    "BEND_STEPS",
    "Event",
    "bend_range_messages",
    "key_event",
    "lasting",
    "meter_event",
    "track",
]

#: Semitones of a full bend of the wheel, and the steps a bend is written in.
BEND_RANGE: Final = 12
BEND_STEPS: Final = 8
Event = tuple[int, int, Any]  # tick, order within the tick, message


def track(mido: Any, events: list[Event], end: int) -> Any:
    """Events in order of tick and rank as a track that lasts to ``end``."""
    made = mido.MidiTrack()
    at = 0
    for tick, _, message in sorted(events, key=lambda event: event[:2]):
        made.append(message.copy(time=tick - at))
        at = tick
    made.append(mido.MetaMessage("end_of_track", time=max(0, end - at)))
    return made


def meter_event(mido: Any, tick: int, meter: Meter) -> Event:
    """A time signature."""
    return (
        tick,
        2,
        mido.MetaMessage(
            "time_signature", numerator=meter.numerator, denominator=meter.denominator
        ),
    )


def key_event(mido: Any, tick: int, bar: Bar) -> Event:
    """The key signature of a bar."""
    return tick, 3, mido.MetaMessage("key_signature", key=_key_name(bar))


def lasting(bar: Bar, length: Fraction) -> Meter:
    """The bar's own meter where that lasts so long, else one that does, so that the bars after it
    stay in place; WriteError when no meter says it.
    """
    if length == bar.meter.length:
        return Meter(bar.meter.numerator, bar.meter.denominator)
    for denominator in (bar.meter.denominator, 8, 16, 32):
        beats = length * denominator / 4
        if beats.denominator == 1 and 1 <= beats <= 64:
            return Meter(int(beats), denominator)
    raise WriteError(f"a bar of {length} quarters has no meter", place=f"bar {bar.number}")


def bend_range_messages(mido: Any, channel: int) -> Iterator[Any]:
    """Set a channel's pitch bend to an octave either way: registered parameter 0, then none
    (MIDI 1.0).
    """
    for control, value in ((101, 0), (100, 0), (6, BEND_RANGE), (38, 0), (101, 127), (100, 127)):
        yield mido.Message("control_change", channel=channel, control=control, value=value)


def _key_name(bar: Bar) -> str:
    """The key of a bar, C where it has none, as a key signature event takes it."""
    fifths = bar.key.fifths if bar.key is not None else 0
    return _KEYS[fifths][_is_minor(bar)]


def _is_minor(bar: Bar) -> int:
    """A key signature says major or minor only: a mode goes by its third."""
    minor = {"minor", "natural minor", "aeolian", "dorian", "phrygian", "locrian"}
    return 1 if bar.key is not None and bar.key.mode in minor else 0


_KEYS: Final = {
    fifths: (major, minor)
    for fifths, (major, minor) in zip(
        range(-7, 8),
        zip(
            ["Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#"],
            [
                "Abm",
                "Ebm",
                "Bbm",
                "Fm",
                "Cm",
                "Gm",
                "Dm",
                "Am",
                "Em",
                "Bm",
                "F#m",
                "C#m",
                "G#m",
                "D#m",
                "A#m",
            ],
            strict=True,
        ),
        strict=True,
    )
}
