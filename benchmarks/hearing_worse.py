"""What recordings go through: seeded ways to make a take worse, each named for its cause."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

import av
import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, fftconvolve, resample_poly, sosfilt

from benchmarks.hearing_takes import RATE, Take

Floats = NDArray[np.float32]
Worse = Callable[[Floats, Take, np.random.Generator], tuple[Floats, dict[str, Any]]]


def clean(x: Floats, _take: Take, _rng: np.random.Generator) -> tuple[Floats, dict[str, Any]]:
    return x, {}


def noise(snr_db: float, pink: bool = False) -> Worse:
    """White (or pink) noise so many decibels below the take's mean power."""

    def worse(x: Floats, _take: Take, rng: np.random.Generator) -> tuple[Floats, dict[str, Any]]:
        made = rng.normal(0, 1, len(x))
        if pink:
            spectrum = np.fft.rfft(made)
            made = np.fft.irfft(
                spectrum / np.sqrt(np.maximum(np.arange(len(spectrum)), 20)), len(x)
            )
        made *= np.sqrt(np.mean(x**2)) * 10 ** (-snr_db / 20) / np.std(made)
        return (x + made).astype(np.float32), {}

    return worse


def clicks(share: float) -> Worse:
    """A metronome's click on every beat, its peak so large a share of the take's.

    It comes late by an unknown delay, as through the air and a sound card, and through an unknown
    filter; what was played is given to the listener, delay and filter are not.
    """

    def worse(x: Floats, take: Take, rng: np.random.Generator) -> tuple[Floats, dict[str, Any]]:
        at = np.arange(int(0.04 * RATE)) / RATE
        one, two = (np.sin(2 * np.pi * f * at) * np.exp(-at / 0.007) for f in (1600, 1100))
        late = rng.uniform(0.0, 0.04)
        out = x.astype(np.float64)
        played = np.zeros(len(x), np.float32)
        path = np.zeros(400)
        path[0] = 1
        path[rng.integers(20, 400, 6)] = rng.normal(0, 0.25, 6)
        for k, beat in enumerate(take.clicks):
            dry = one if k % 4 == 0 else two
            sound = fftconvolve(dry, path)
            at_beat = round(beat * RATE)
            if at_beat + len(dry) <= len(played):
                played[at_beat : at_beat + len(dry)] += dry
            start = at_beat + round(late * RATE)
            if start + len(sound) > len(out):
                break
            out[start : start + len(sound)] += share * np.max(np.abs(x)) * sound
        return out.astype(np.float32), {"band": played}

    return worse


def room(x: Floats, _take: Take, rng: np.random.Generator) -> tuple[Floats, dict[str, Any]]:
    """A small room: 0.4 s to fall by 60 dB, the reverberation 6 dB below the direct sound."""
    length = int(0.45 * RATE)
    tail = rng.normal(0, 1, length) * 10 ** (-3 * np.arange(length) / (0.4 * RATE))
    tail[: int(0.004 * RATE)] = 0
    tail = sosfilt(butter(1, 5000, fs=RATE, output="sos"), tail)
    tail *= np.sqrt(0.25 / np.sum(tail**2))
    tail[0] = 1.0
    return fftconvolve(x, tail)[: len(x)].astype(np.float32), {}


def clipped(x: Floats, _take: Take, _rng: np.random.Generator) -> tuple[Floats, dict[str, Any]]:
    """Soft clipping: 12 dB too hot into a hyperbolic tangent."""
    return np.tanh(4 * x / np.max(np.abs(x))).astype(np.float32), {}


def flat(x: Floats, _take: Take, _rng: np.random.Generator) -> tuple[Floats, dict[str, Any]]:
    """Thirty cents flat; the times are stretched with it, see ``stretch``."""
    return resample_poly(x, 1763, 1733).astype(np.float32), {"stretch": 1763 / 1733}


def phone(x: Floats, _take: Take, _rng: np.random.Generator) -> tuple[Floats, dict[str, Any]]:
    """A voice line: 300 to 3400 Hz at 8 kHz, as narrow-band speech coders keep."""
    band = sosfilt(butter(4, (300, 3400), "bandpass", fs=RATE, output="sos"), x)
    return resample_poly(resample_poly(band, 80, 441), 441, 80)[: len(x)].astype(np.float32), {}


def coded(codec: str, form: str, rate: int, bits: int) -> Worse:
    """Through a coder and back, by PyAV; the coder's own delay is taken out by correlation."""

    def worse(x: Floats, _take: Take, _rng: np.random.Generator) -> tuple[Floats, dict[str, Any]]:
        out = io.BytesIO()
        source = resample_poly(x, rate // 300, RATE // 300) if rate != RATE else x
        with av.open(out, "w", format=form) as box:
            stream = box.add_stream(codec, rate=rate)
            stream.bit_rate = bits
            stream.layout = "mono"
            pcm = (np.clip(source, -1, 1) * 32767).astype(np.int16)
            frame = av.AudioFrame.from_ndarray(pcm[None], format="s16", layout="mono")
            frame.sample_rate = rate
            frame.pts = 0
            resampler = av.AudioResampler(
                format=stream.codec_context.format, layout="mono", rate=rate
            )
            for piece in resampler.resample(frame):
                box.mux(stream.encode(piece))
            for piece in resampler.resample(None):
                box.mux(stream.encode(piece))
            box.mux(stream.encode(None))
        out.seek(0)
        with av.open(out) as box:
            back = av.AudioResampler(format="fltp", layout="mono", rate=RATE)
            parts = [p.to_ndarray()[0] for f in box.decode(audio=0) for p in back.resample(f)]
            parts += [p.to_ndarray()[0] for p in back.resample(None)]
        y = np.concatenate(parts)
        count = min(len(x), len(y), 10 * RATE)
        alike = fftconvolve(y[:count], x[:count][::-1])
        lag = int(np.argmax(alike)) - (count - 1)
        y = y[lag:] if lag >= 0 else np.pad(y, (-lag, 0))
        return np.pad(y, (0, max(0, len(x) - len(y))))[: len(x)].astype(np.float32), {}

    return worse


#: Name: (ringing strings, what happens then).
CONDITIONS: dict[str, tuple[bool, Worse]] = {
    "clean": (False, clean),
    "click bleed": (False, clicks(0.1)),
    "30 dB noise": (False, noise(30)),
    "ringing strings": (True, clean),
    "20 dB noise": (False, noise(20)),
    "20 dB pink noise": (False, noise(20, pink=True)),
    "loud click": (False, clicks(1.0)),
    "room": (False, room),
    "soft clipping": (False, clipped),
    "30 cents flat": (False, flat),
    "opus 24 kbit/s": (False, coded("libopus", "ogg", 48_000, 24_000)),
    "phone band": (False, phone),
    "mp3 64 kbit/s": (False, coded("libmp3lame", "mp3", RATE, 64_000)),
}
