"""Playing that is not on the grid: the grid is found, mixed by the beat, and reported."""

import io
import random
import re
from fractions import Fraction

import mido
import pytest

from linewright.errors import ChoiceNeeded, OptionError, ReadError
from linewright.formats.midi import read_midi

F = Fraction
TPQ = 480


def midi(notes, *, tempo=120, meter=(4, 4), extra=(), kind=1, key=None):
    """A file of (onset, end, key) in quarters, or (onset, end, key, channel)."""
    file = mido.MidiFile(type=kind, ticks_per_beat=TPQ)
    track = mido.MidiTrack()
    file.tracks.append(track)
    events = [
        (0, 0, mido.MetaMessage("set_tempo", tempo=round(60e6 / tempo))),
        (0, 0, mido.MetaMessage("time_signature", numerator=meter[0], denominator=meter[1])),
        *extra,
    ]
    if key is not None:
        events.append((0, 0, mido.MetaMessage("key_signature", key=key)))
    for onset, end, pitch, *channel in notes:
        channel = channel[0] if channel else 0
        on = mido.Message("note_on", note=pitch, velocity=80, channel=channel)
        off = mido.Message("note_off", note=pitch, velocity=0, channel=channel)
        events += [(round(onset * TPQ), 1, on), (round(end * TPQ), 0, off)]
    at = 0
    for tick, _, message in sorted(events, key=lambda e: e[:2]):
        track.append(message.copy(time=tick - at))
        at = tick
    target = io.BytesIO()
    file.save(file=target)
    return target.getvalue()


def played(onsets, *, jitter_ms=0.0, tempo=120, length=0.9, seed=1):
    """Notes at ``onsets`` (quarters) with a player's spread, each held most of the way on."""
    chance = random.Random(seed)
    spread = jitter_ms / 1000 * tempo / 60
    times = [max(0.0, float(t) + chance.gauss(0, spread)) for t in onsets]
    ends = [a + (b - a) * length for a, b in zip(times, [*times[1:], times[-1] + 0.5], strict=True)]
    return [(a, b, 60 + i % 5) for i, (a, b) in enumerate(zip(times, ends, strict=True))]


STRAIGHT = [F(n, 2) for n in range(8)] + [F(4) + F(n, 4) for n in range(16)]
MIXED = [
    F(0),
    F(1, 2),
    F(1),
    F(4, 3),
    F(5, 3),
    F(2),
    F(9, 4),
    F(5, 2),
    F(11, 4),
    F(3),
    F(7, 2),
    F(4),
]


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("onsets", [STRAIGHT, MIXED], ids=["straight", "mixed"])
def test_a_steady_player_is_put_on_the_grid_he_meant(onsets, seed):
    # 10 ms is a trained player's spread at a steady tempo (from memory: Repp 2005, review)
    lick = read_midi(midi(played(onsets, jitter_ms=10, seed=seed)))
    assert [note.onset for note in lick.notes] == onsets


@pytest.mark.parametrize("ratio", [1.5, 2.0, 2.3])
@pytest.mark.parametrize("seed", range(4))
def test_swing_is_recognised_and_written_as_even_eighths(ratio, seed):
    late = ratio / (1 + ratio)
    onsets = [beat + part for beat in range(8) for part in (0, late)]
    lick = read_midi(midi(played(onsets, jitter_ms=6, seed=seed)))
    assert [note.onset for note in lick.notes] == [F(n, 2) for n in range(16)]
    assert lick.swing is not None
    assert abs(float(lick.swing) - ratio) < 0.25
    assert any("swing" in remark for remark in lick.remarks)


def test_even_eighths_do_not_swing():
    lick = read_midi(midi(played([F(n, 2) for n in range(16)], jitter_ms=8)))
    assert lick.swing is None


def test_dotted_rhythm_is_not_swing():
    onsets = [F(b) + p for b in range(8) for p in (F(0), F(3, 4))]
    lick = read_midi(midi(played(onsets, jitter_ms=5)))
    assert lick.swing is None
    assert [note.onset for note in lick.notes] == onsets


def test_the_largest_deviation_is_the_one_that_was_played():
    onsets = [float(n) / 2 for n in range(16)]
    onsets[5] += 0.06  # quarters: 30 ms at 120
    lick = read_midi(midi(played(onsets)))
    worst = next(
        re.search(r"deviation (\d+) ms \((\d+)%", r) for r in lick.remarks if "deviation" in r
    )
    assert int(worst[1]) == pytest.approx(30, abs=1)
    assert int(worst[2]) == 6


def test_legato_overlaps_are_cut_and_small_gaps_closed():
    notes = [(0, 1.1, 60), (1, 1.93, 62), (2.01, 2.5, 64), (3, 4, 65)]
    lick = read_midi(midi(notes))
    assert [(n.onset, n.end) for n in lick.notes] == [(0, 1), (1, 2), (2, F(5, 2)), (3, 4)]
    assert any("cut" in remark for remark in lick.remarks)


def test_a_double_stop_strummed_within_a_few_milliseconds_is_one_attack():
    notes = [(0.0, 1, 60), (0.02, 1, 64), (1.01, 2, 62), (2, 3, 65)]
    assert [n.onset for n in read_midi(midi(notes)).notes] == [0, 0, 1, 2]


def test_two_voices_at_once_are_refused_by_name_of_the_trouble():
    notes = [(0, 4, 40), (4, 8, 43)] + [(F(n, 2), F(n, 2) + F(2, 5), 64 + n % 3) for n in range(16)]
    notes += [(n, n + 2, 52) for n in range(0, 8, 2)] + [(n, n + 3, 47) for n in range(0, 6, 3)]
    with pytest.raises(ReadError, match="over each other"):
        read_midi(midi([(a, b, c) for a, b, c in notes]))


def test_several_channels_of_a_one_track_file_ask_for_one():
    data = midi([(0, 1, 60, 0), (0, 1, 40, 1), (1, 2, 62, 0)], kind=0)
    with pytest.raises(ChoiceNeeded) as caught:
        read_midi(data)
    assert caught.value.options == ("1", "2")
    assert [n.midi for n in read_midi(data, track=1).notes] == [60, 62]
    assert [n.midi for n in read_midi(data, track=2).notes] == [40]
    with pytest.raises(OptionError):
        read_midi(data, track=3)


def test_percussion_is_left_out_and_said():
    lick = read_midi(midi([(0, 1, 60), (0, 1, 36, 9), (1, 2, 62)]))
    assert [n.midi for n in lick.notes] == [60, 62]
    assert any("percussion" in remark for remark in lick.remarks)


def test_empty_bars_before_the_first_note_are_left_out():
    lick = read_midi(midi([(8, 9, 60), (9, 10, 62)]))
    assert [n.onset for n in lick.notes] == [0, 1]
    assert lick.bars[0].number == 1
    assert any("2 empty bars" in remark for remark in lick.remarks)


def test_a_first_note_a_hair_early_opens_its_bar():
    lick = read_midi(midi([(3.98, 5, 60), (5, 6, 62), (6.01, 7, 64)]))
    assert [n.onset for n in lick.notes] == [0, 1, 2]


def test_the_default_c_major_signature_is_not_believed_against_the_notes():
    notes = [(n, n + 1, pitch) for n, pitch in enumerate([67, 70, 72, 73, 72, 70, 67, 67])]
    assert read_midi(midi(notes, key="C")).key is None
    assert read_midi(midi(notes, key="Bb")).key.name == "Bb major"


def test_spelling_follows_the_key_signature():
    notes = [(n, n + 1, pitch) for n, pitch in enumerate([63, 65, 70, 68])]
    assert [n.pitch.name for n in read_midi(midi(notes, key="Eb")).notes] == [
        "Eb4",
        "F4",
        "Bb4",
        "Ab4",
    ]
    sharp = [(n, n + 1, pitch) for n, pitch in enumerate([64, 66, 68, 71])]
    assert [n.pitch.name for n in read_midi(midi(sharp, key="E")).notes] == [
        "E4",
        "F#4",
        "G#4",
        "B4",
    ]


def test_a_grid_asked_for_is_kept_to():
    onsets = [F(n, 3) for n in range(12)]
    lick = read_midi(midi(played(onsets)), grid="straight")
    assert all(32 % n.onset.denominator == 0 for n in lick.notes)
    with pytest.raises(OptionError, match="1/16"):
        read_midi(midi(played(onsets)), grid="fine")
