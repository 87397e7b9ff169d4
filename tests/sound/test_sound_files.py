"""Sound files, read back by another decoder than ours where there is one."""

from __future__ import annotations

import io
import wave

import av
import numpy as np
import pytest
from numpy.typing import NDArray

from linewright.errors import OptionError, WriteError
from linewright.sound.write_audio import AUDIO_FORMATS, audio_format, write_audio

RATE = 44100


def _tone(seconds: float = 0.7) -> NDArray[np.float32]:
    time = np.arange(round(RATE * seconds)) / RATE
    left = 0.4 * np.sin(2 * np.pi * 440 * time)
    return np.stack((left, left / 2), axis=1).astype(np.float32)


def _decoded(data: bytes) -> tuple[NDArray[np.float32], int]:
    with av.open(io.BytesIO(data)) as container:
        resampler = av.AudioResampler("fltp", "stereo", None)
        parts = []
        rate = container.streams.audio[0].rate
        for frame in container.decode(audio=0):
            parts += [f.to_ndarray() for f in resampler.resample(frame)]
    return np.concatenate(parts, axis=1).T, rate


def test_wav_is_read_by_the_standard_library() -> None:
    tone = _tone()
    with wave.open(io.BytesIO(write_audio(tone, RATE, "wav"))) as file:
        assert (file.getnchannels(), file.getframerate(), file.getsampwidth()) == (2, RATE, 2)
        assert file.getnframes() == len(tone)
        data = np.frombuffer(file.readframes(len(tone)), dtype="<i2").reshape(-1, 2)
    assert np.abs(data / 32767 - tone).max() < 1 / 32767


@pytest.mark.parametrize("name", sorted(AUDIO_FORMATS))
def test_every_format_holds_the_sound(name: str) -> None:
    tone = _tone()
    sound, rate = _decoded(write_audio(tone, RATE, name))
    assert abs(len(sound) / rate - 0.7) < 0.06
    middle = sound[rate // 4 : rate // 2]
    spectrum = np.abs(np.fft.rfft(middle[:, 0] * np.hanning(len(middle))))
    assert abs(spectrum.argmax() * rate / len(middle) - 440) < 6
    assert np.abs(middle[:, 0]).max() == pytest.approx(0.4, rel=0.06)
    assert np.abs(middle[:, 1]).max() == pytest.approx(0.2, rel=0.1)


def test_flac_loses_nothing() -> None:
    tone = _tone()
    sound, rate = _decoded(write_audio(tone, RATE, "flac"))
    assert rate == RATE
    assert sound.shape == tone.shape
    assert np.abs(sound - tone).max() < 1 / 16384


def test_loud_samples_are_cut_off_and_one_channel_will_do() -> None:
    data = write_audio(np.array([0.0, 3.0, -3.0], dtype=np.float32), RATE, "wav")
    with wave.open(io.BytesIO(data)) as file:
        assert file.getnchannels() == 1
        assert np.frombuffer(file.readframes(3), dtype="<i2").tolist() == [0, 32767, -32767]


def test_errors_say_what_is_accepted() -> None:
    with pytest.raises(OptionError, match=r"\.wav"):
        audio_format("line.aiff")
    with pytest.raises(OptionError, match="8000"):
        write_audio(_tone(), 10, "wav")
    with pytest.raises(WriteError, match="shape"):
        write_audio(np.zeros((4, 7), dtype=np.float32), RATE, "wav")
    with pytest.raises(WriteError, match="not numbers"):
        write_audio(np.array([np.nan], dtype=np.float32), RATE, "wav")
