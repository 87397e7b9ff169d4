"""Sound into files: WAV, FLAC, MP3 and Ogg (Opus)."""

from __future__ import annotations

import io
import os
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Final

import numpy as np
from numpy.typing import NDArray

from linewright.errors import OptionError, WriteError

__all__ = ["AUDIO_FORMATS", "audio_format", "write_audio"]

_Sound = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class _Format:
    container: str
    codec: str
    sample: str
    bit_rate: int | None
    media_type: str
    rate: int | None = None


#: Audio formats by file name ending.
AUDIO_FORMATS: Final[dict[str, _Format]] = {
    "wav": _Format("wav", "pcm_s16le", "s16", None, "audio/wav"),
    "flac": _Format("flac", "flac", "s16", None, "audio/flac"),
    "mp3": _Format("mp3", "libmp3lame", "s16p", 192_000, "audio/mpeg"),
    "ogg": _Format("ogg", "libopus", "s16", 128_000, "audio/ogg", rate=48000),
}
_CHUNK: Final = 1 << 16


def audio_format(name: str | os.PathLike[str]) -> str:
    """The format a file name (or a bare ending) asks for; raises OptionError.

    >>> audio_format("lines/today.FLAC")
    'flac'
    """
    text = os.fspath(name)
    ending = text.rpartition(".")[2].lower()
    if ending not in AUDIO_FORMATS:
        raise OptionError(
            f"{Path(text).name!r} names no audio format that is written",
            accepted=f"End the name in .{', .'.join(AUDIO_FORMATS)}",
        )
    return ending


def write_audio(samples: _Sound, rate: int, format: str) -> bytes:
    """Sound as the bytes of a file.

    Parameters
    ----------
    samples : ndarray, shape (frames,) or (frames, channels)
        Between -1 and 1; what lies outside is cut off.
    rate : int
        Samples a second, 8000 to 192000. Ogg is written at 48000 whatever the rate.
    format : str
        ``wav``, ``flac`` (both 16 bit), ``mp3`` (192 kbit/s) or ``ogg`` (Opus, 128 kbit/s).

    Raises
    ------
    OptionError
        There is no such format or rate.
    WriteError
        The samples are no sound, or the encoder is missing from this machine.
    """
    target = io.BytesIO()
    _encode(samples, rate, audio_format(format), target)
    return target.getvalue()


def _encode(samples: _Sound, rate: int, name: str, target: IO[bytes]) -> None:
    import av
    from av.error import FFmpegError

    if not 8000 <= rate <= 192000:
        raise OptionError(f"a sample rate of {rate}", accepted="Use 8000 to 192000")
    kind = AUDIO_FORMATS[name]
    sound = _stereo(samples)
    layout = "mono" if sound.shape[1] == 1 else "stereo"
    out_rate = kind.rate or rate
    try:
        with av.open(target, "w", format=kind.container) as container:
            stream: Any = container.add_stream(kind.codec, rate=out_rate, layout=layout)
            stream.format = kind.sample
            if kind.bit_rate:
                stream.bit_rate = kind.bit_rate
            resampler = av.AudioResampler(kind.sample, layout, out_rate, _frame_size(kind))
            for at in range(0, len(sound), _CHUNK):
                block = _whole(sound[at : at + _CHUNK])
                frame = av.AudioFrame.from_ndarray(block, format="s16", layout=layout)
                frame.sample_rate = rate
                for ready in resampler.resample(frame):
                    container.mux(stream.encode(ready))
            for ready in resampler.resample(None):
                container.mux(stream.encode(ready))
            container.mux(stream.encode(None))
    except (FFmpegError, ValueError) as error:
        raise WriteError(
            f"this sound cannot be written as {name}: {error}",
            accepted=f"Try another of {', '.join(AUDIO_FORMATS)}",
        ) from error


def _frame_size(kind: _Format) -> int | None:
    return {"libmp3lame": 1152, "libopus": 960, "flac": 4096}.get(kind.codec)


def _stereo(block: _Sound) -> _Sound:
    """Frames by channels, one or two of them."""
    shaped = block[:, None] if block.ndim == 1 else block
    if shaped.ndim != 2 or shaped.shape[1] not in (1, 2):
        raise WriteError(
            f"an array of shape {block.shape} is no sound",
            accepted="Give frames, or frames by one or two channels",
        )
    return shaped


def _whole(block: _Sound) -> NDArray[np.int16]:
    """Samples as 16-bit whole numbers in one row, channels in turn."""
    if not np.isfinite(block).all():
        raise WriteError("the sound holds samples that are not numbers")
    scaled = np.rint(np.clip(block, -1.0, 1.0) * 32767.0).astype(np.int16)
    return np.ascontiguousarray(scaled).reshape(1, -1)
