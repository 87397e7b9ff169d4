"""Every decoder path under friendly and hostile bytes."""

from __future__ import annotations

import io
import struct
import wave
from functools import cache

import av
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plucks import LICK, RATE, play

from linewright.errors import ReadError, TooLarge
from linewright.services.hearing import hear_file, heard_text
from linewright.sound.decode import decode

SOUND = play(LICK, 3.6, 48_000)


def wav(samples: np.ndarray, rate: int = 48_000, channels: int = 1) -> bytes:
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(channels)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes((np.repeat(samples, channels) * 32767).astype("<i2").tobytes())
    return out.getvalue()


def float_wav(samples: np.ndarray) -> bytes:
    body = samples.astype("<f4").tobytes()
    head = struct.pack("<4sI4s4sIHHIIHH4sI", b"RIFF", 36 + len(body), b"WAVE", b"fmt ", 16, 3, 1, 48_000, 192_000, 4, 32, b"data", len(body))  # fmt: skip
    return head + body


@cache
def coded(codec: str, form: str) -> bytes:
    out = io.BytesIO()
    with av.open(out, "w", format=form) as box:
        stream = box.add_stream(codec, rate=48_000)
        stream.layout = "mono"
        frame = av.AudioFrame.from_ndarray(
            (SOUND * 32767).astype(np.int16)[None], format="s16", layout="mono"
        )
        frame.sample_rate, frame.pts = 48_000, 0
        change = av.AudioResampler(format=stream.codec_context.format, layout="mono", rate=48_000)
        for piece in (*change.resample(frame), *change.resample(None)):
            box.mux(stream.encode(piece))
        box.mux(stream.encode(None))
    return out.getvalue()


FORMS = {
    "flac": ("flac", "flac"), "mp3": ("libmp3lame", "mp3"), "m4a": ("aac", "ipod"),
    "opus": ("libopus", "ogg"), "webm": ("libopus", "webm"),
}  # fmt: skip


@pytest.mark.parametrize("name", FORMS)
def test_every_usual_format(name: str) -> None:
    if FORMS[name][0] not in av.codecs_available:
        pytest.skip(f"this build has no {FORMS[name][0]} encoder")
    found = decode(coded(*FORMS[name]))
    assert found.rate == RATE
    assert found.seconds == pytest.approx(3.6, abs=0.12)
    heard = hear_file(coded(*FORMS[name])).notes
    for onset, _, midi in LICK:  # at the right moment: no coder's delay is left in
        assert any(n.midi == midi and abs(n.onset_s - onset) < 0.012 for n in heard)


def test_channels_are_mixed_and_rates_kept() -> None:
    one, many = decode(wav(SOUND), rate=48_000), decode(wav(SOUND, channels=32), rate=48_000)
    assert np.max(np.abs(one.samples - SOUND)) < 1e-3
    assert np.max(np.abs(one.samples - many.samples)) < 1e-3


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "empty"),
        (b"not a recording at all, only words\n" * 50, "recording|sound"),
        (b"RIFF\x00\x00\x00\x00WAVE", "recording|sound"),
        (b"\x00" * 5000, "recording|sound"),
        (wav(np.zeros(0)), "sound|recording"),
        (wav(SOUND[:1000], rate=4_000_000), "samples a second"),
        (wav(SOUND[:1000], rate=100), "samples a second"),
    ],
)  # fmt: skip
def test_one_clear_error(data: bytes, message: str) -> None:
    with pytest.raises(ReadError, match=message):
        decode(data)


def test_truncated_gives_what_is_there_and_says_so() -> None:
    whole = wav(SOUND)
    found = decode(whole[: len(whole) // 2])
    assert found.seconds == pytest.approx(1.8, abs=0.05)
    assert any("breaks off" in warning for warning in found.warnings)
    assert not decode(whole).warnings
    live = bytearray(whole)
    live[40:44] = b"\xff\xff\xff\xff"  # a length not known while recording claims nothing
    assert not decode(bytes(live)).warnings


def test_a_claim_of_a_day_is_not_believed() -> None:
    short = bytearray(wav(SOUND))
    short[40:44] = struct.pack("<I", 24 * 3600 * 96_000 % (1 << 32))
    assert decode(bytes(short)).seconds == pytest.approx(3.6, abs=0.05)


def test_too_long_is_refused_before_all_is_decoded() -> None:
    with pytest.raises(TooLarge, match="minutes"):
        decode(wav(np.zeros(601 * 8000), rate=8000))
    with pytest.raises(TooLarge, match="minutes"):
        decode(coded("flac", "flac"), max_seconds=2)


def test_samples_that_are_no_numbers() -> None:
    spoilt = SOUND.copy()
    spoilt[:100], spoilt[200], spoilt[300] = np.nan, np.inf, 1e30
    found = decode(float_wav(spoilt))
    assert np.isfinite(found.samples).all()
    assert "no numbers" in found.warnings[0]


def test_a_film_gives_its_sound_and_a_silent_one_an_error() -> None:
    def film(with_sound: bool) -> bytes:
        out = io.BytesIO()
        with av.open(out, "w", format="avi") as box:
            picture = box.add_stream("mpeg4", rate=10)
            picture.width = picture.height = 32
            picture.pix_fmt = "yuv420p"
            sound = box.add_stream("pcm_s16le", rate=48_000) if with_sound else None
            if sound:
                sound.layout = "mono"
            image = av.VideoFrame.from_ndarray(np.zeros((32, 32, 3), np.uint8), format="rgb24")
            image.pts = 0
            box.mux(picture.encode(image))
            box.mux(picture.encode(None))
            if sound:
                frame = av.AudioFrame.from_ndarray(
                    (SOUND * 32767).astype(np.int16)[None], format="s16", layout="mono"
                )
                frame.sample_rate = 48_000
                change = av.AudioResampler(
                    format=sound.codec_context.format, layout="mono", rate=48_000
                )
                for piece in change.resample(frame):
                    box.mux(sound.encode(piece))
                box.mux(sound.encode(None))
        return out.getvalue()

    assert decode(film(True)).seconds == pytest.approx(3.6, abs=0.1)
    with pytest.raises(ReadError, match="without sound"):
        decode(film(False))


@settings(max_examples=60, deadline=None)
@given(
    name=st.sampled_from(["flac", "mp3", "m4a", "opus", "webm", "wav"]),
    cut=st.floats(0, 1),
    changes=st.lists(st.tuples(st.floats(0, 0.999), st.integers(0, 255)), max_size=30),
)
def test_mangled_files_give_sound_or_one_error(
    name: str, cut: float, changes: list[tuple[float, int]]
) -> None:
    whole = wav(SOUND) if name == "wav" else coded(*FORMS[name])
    data = bytearray(whole[: max(1, round(cut * len(whole)))])
    for place, value in changes:
        data[int(place**3 * len(data))] = value  # headers most
    try:
        found = decode(bytes(data))
    except ReadError:
        return  # one error of our family; any other fails the test
    assert np.isfinite(found.samples).all()


def test_a_midi_file_is_heard_too() -> None:
    import mido

    file = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=600_000)])
    for midi in (57, 60, 62):
        track.append(mido.Message("note_on", note=midi, velocity=80, time=240))
        track.append(mido.Message("note_off", note=midi, time=240))
    file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    heard = hear_file(out.getvalue())
    assert [n.midi for n in heard.notes] == [57, 60, 62]
    assert [n.onset_s for n in heard.notes] == pytest.approx([0.3, 0.9, 1.5])
    assert heard.duration_s == pytest.approx(1.8)
    assert "A3" in heard_text(heard)
    assert heard.to_dict()["notes"][0]["attack"] == "struck"
