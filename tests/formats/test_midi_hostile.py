"""Broken MIDI files: one error of our family, soon, and nothing else."""

import contextlib
import time
from fractions import Fraction
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewright.errors import LinewrightError, ReadError, TooLarge
from linewright.formats.midi import read_midi, write_midi
from linewright.score import Lick, Meter, Note, Tempo, bars_for
from linewright.theory import Key, Pitch, PitchClass

HEADER = b"MThd\x00\x00\x00\x06\x00\x01\x00\x01\x01\xe0"


def track(events):
    return b"MTrk" + len(events).to_bytes(4, "big") + events


END = b"\x00\xff\x2f\x00"
NOTE = b"\x00\x90\x3c\x50\x83\x60\x80\x3c\x40"


@cache
def sound_file() -> bytes:
    notes = tuple(
        Note(Fraction(n, 2), Fraction(1, 2), Pitch.parse(p))
        for n, p in enumerate(["G4", "Bb4", "C5", "Db5", "C5", "Bb4", "G4", "F4"])
    )
    bars = bars_for(Meter(4, 4), Fraction(4), key=Key(PitchClass("G"), "minor"))
    return write_midi(Lick(notes, bars, tempo=Tempo(Fraction(100))))


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"MThd",
        HEADER,
        HEADER + track(END),  # no notes
        HEADER + b"MTrk\xff\xff\xff\xff" + NOTE,  # a track that claims 4 GB
        HEADER[:12] + b"\x00\x00" + track(NOTE + END),  # no ticks
        HEADER[:12] + b"\xe8\x28" + track(NOTE + END),  # film frames
        HEADER + track(b"\x00\xff\x58\x04\x00\x02\x18\x08" + NOTE + END),  # a meter of 0/4
        HEADER + track(b"\x00\xff\x58\x04\x04\xff\x18\x08" + NOTE + END),  # over 2 to the 255th
        HEADER + track(b"\x00\xff\x59\x02\x7f\x05" + NOTE + END),  # 127 sharps
        HEADER + track(b"\x00\x3c" + END),  # data without a status
    ],
)
def test_what_is_no_sound_file_is_one_clear_error(data):
    with pytest.raises(ReadError) as caught:
        read_midi(data)
    assert str(caught.value)


def test_sizes_are_limited():
    with pytest.raises(TooLarge, match="At most"):
        read_midi(HEADER + b"\x00" * (3 << 20))
    with pytest.raises(TooLarge, match="notes"):
        read_midi(HEADER + track((b"\x00\x90\x3c\x50\x01\x80\x3c\x40") * 15_000 + END))


def test_meter_changes_by_the_thousand_are_refused():
    changes = b"\x01\xff\x58\x04\x01\x05\x18\x08" * 50_000
    with pytest.raises(TooLarge, match="changes"):
        read_midi(HEADER + track(NOTE + changes + END))


def test_a_note_years_away_is_read_from_its_own_bar():
    far = b"\xff\xff\xff\x7f\x90\x3c\x50\x83\x60\x80\x3c\x40"
    began = time.process_time()
    lick = read_midi(HEADER + track(far + END))
    assert len(lick.notes) == 1
    assert len(lick.bars) <= 2
    assert time.process_time() - began < 5


def test_short_bars_for_years_before_the_first_note_are_not_walked():
    meter = b"\x00\xff\x58\x04\x01\x05\x18\x08"  # 1/32
    wait = b"\xff\xff\xff\x7f\xb0\x07\x50" * 200
    began = time.process_time()
    lick = read_midi(HEADER + track(meter + wait + NOTE + END))
    assert len(lick.notes) == 1
    assert time.process_time() - began < 1


def test_a_tempo_of_zero_does_not_divide():
    lick = read_midi(HEADER + track(b"\x00\xff\x51\x03\x00\x00\x00" + NOTE + END))
    assert lick.tempo is None


def test_a_note_that_never_stops_lasts_to_the_end_of_the_track():
    lick = read_midi(HEADER + track(b"\x00\x90\x3c\x50\x8f\x00\xff\x2f\x00"))
    assert lick.notes[0].duration == 4


def _no_other_error(data):
    began = time.process_time()
    with contextlib.suppress(LinewrightError):
        read_midi(data)
    assert time.process_time() - began < 5


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=200))
def test_random_bytes(data):
    _no_other_error(data)
    _no_other_error(HEADER + data)
    _no_other_error(HEADER + track(data))


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_damaged_files(data):
    broken = bytearray(sound_file())
    for _ in range(data.draw(st.integers(1, 5))):
        broken[data.draw(st.integers(0, len(broken) - 1))] = data.draw(st.integers(0, 255))
    _no_other_error(bytes(broken))
    _no_other_error(bytes(broken[: data.draw(st.integers(1, len(broken)))]))
