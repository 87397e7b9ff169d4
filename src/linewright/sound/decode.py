"""Any usual recording to mono samples, by PyAV, with every limit kept while decoding.

Wav, flac, mp3, m4a, ogg, opus, webm and whatever else the codecs at hand read; of a video its
sound. Nothing is trusted: not the length a header claims, not the rate, not the values.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from linewright.errors import OptionError, ReadError, TooLarge
from linewright.sound.hearing.frames import RATE

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["MAX_AUDIO_BYTES", "MAX_SECONDS", "Recording", "decode"]

#: Largest file: ten minutes of stereo at 96 kHz and 24 bits, and some.
MAX_AUDIO_BYTES: Final = 384 * 1024 * 1024
#: Longest recording.
MAX_SECONDS: Final = 600
_MAX_CHANNELS: Final = 32
_RATES: Final = (4_000, 384_000)
_ACCEPTED: Final = "Recordings as wav, flac, mp3, m4a, ogg, opus or webm are read, and MIDI files"
#: Packets that give no sound in a row, and errors, after which decoding stops.
_MAX_FAULTS: Final = 50
_MAX_EMPTY: Final = 20_000
_LOUDEST: Final = 1e4


@dataclass(frozen=True, eq=False)
class Recording:
    """Decoded sound.

    Parameters
    ----------
    samples : array of float32, shape (n,)
        One channel, the mean of those in the file; finite.
    rate : int
        Samples a second.
    warnings : tuple of str
        What was wrong with the file and yet could be read, as plain sentences.
    """

    samples: NDArray[np.float32]
    rate: int
    warnings: tuple[str, ...] = ()

    @property
    def seconds(self) -> float:
        """Length."""
        return len(self.samples) / self.rate


def decode(data: bytes, *, rate: int = RATE, max_seconds: float = MAX_SECONDS) -> Recording:
    """Decode a recording to one channel at ``rate`` samples a second.

    Parameters
    ----------
    data : bytes
        A whole file.
    rate : int
    max_seconds : float
        Longest recording taken; decoding stops as soon as it is passed.

    Returns
    -------
    Recording
        With a warning where the file breaks off or holds faults, if some of it can be heard.

    Raises
    ------
    ReadError
        Not a recording, no sound in it, or none that can be decoded.
    TooLarge
        Too many bytes, channels or seconds.
    """
    if not 4_000 <= rate <= 192_000:
        raise OptionError(f"a rate of {rate}", accepted="Use 4,000 to 192,000 samples a second")
    if not data:
        raise ReadError("the recording is empty: 0 bytes", accepted=_ACCEPTED)
    if len(data) > MAX_AUDIO_BYTES:
        raise TooLarge(
            f"the recording has {len(data):,} bytes",
            accepted=f"At most {MAX_AUDIO_BYTES:,} bytes are read; save it as flac or mp3",
        )
    import av

    try:
        # No network and no other file: the container is read from these bytes alone.
        box = av.open(io.BytesIO(data), "r", metadata_errors="replace")
    except Exception as error:  # the library raises many kinds for broken bytes
        raise ReadError("this is no recording that can be read", accepted=_ACCEPTED) from error
    try:
        with box:
            found = _decode(av, box, rate, max_seconds)
            missing = _missing_of_wav(data)
            if missing and not any("breaks off" in warning for warning in found.warnings):
                found = replace(found, warnings=(*found.warnings, missing))
            return found
    except (ReadError, TooLarge):
        raise
    except MemoryError as error:
        raise TooLarge("the recording asks for more memory than there is") from error
    except Exception as error:
        raise ReadError(
            f"the recording is broken ({type(error).__name__})", accepted=_ACCEPTED
        ) from error


def _decode(av: Any, box: Any, rate: int, max_seconds: float) -> Recording:
    if not box.streams.audio:
        what = "a picture or film without sound" if box.streams.video else "no sound"
        raise ReadError(f"there is {what} in the file", accepted=_ACCEPTED)
    stream = box.streams.audio[0]
    given, channels = stream.codec_context.sample_rate, stream.codec_context.channels
    if not _RATES[0] <= (given or 0) <= _RATES[1]:
        raise ReadError(
            f"the recording claims {given or 0:,} samples a second",
            accepted=f"From {_RATES[0]:,} to {_RATES[1]:,} are read",
        )
    if not 1 <= channels <= _MAX_CHANNELS:
        raise TooLarge(
            f"the recording has {channels} channels", accepted=f"At most {_MAX_CHANNELS} are read"
        )
    claimed = _claimed(av, box, stream)
    # A header's claim alone is believed only where decoding would be long.
    if claimed is not None and claimed > 4 * max_seconds and box.size > 2_000 * max_seconds:
        raise _too_long(claimed, max_seconds)
    parts: list[NDArray[np.float32]] = []
    limit, total, faults = int(max_seconds * given), 0, _Faults()
    for frame in _frames(box, stream, faults):
        if frame.sample_rate != given:
            faults.count += 1
            continue
        part = _mono(frame)
        if not parts and frame.pts is not None and frame.pts < 0:  # a coder's run-up
            part = part[round(-frame.pts * float(frame.time_base or 0) * given) :]
        total += len(part)
        if total > limit + given // 10:
            raise _too_long(claimed if claimed and claimed > max_seconds else None, max_seconds)
        parts.append(part)
    if not parts:
        raise ReadError("no sound can be read from the recording", accepted=_ACCEPTED)
    samples = np.concatenate(parts)
    warnings = []
    bad = ~np.isfinite(samples) | (np.abs(samples) > _LOUDEST)
    if bad.any():
        samples[bad] = 0
        warnings.append(f"{int(bad.sum()):,} samples are no numbers; they are taken as silence")
    if faults.count:
        warnings.append("the recording is damaged; what could be read of it was")
    elif (
        claimed is not None and claimed < 24 * 3600 and len(samples) / given < 0.95 * claimed - 0.3
    ):
        warnings.append(
            f"the recording breaks off: {len(samples) / given:.1f} s of {claimed:.1f} s are there"
        )
    if given != rate:
        samples = _at_rate(av, samples, given, rate)
    return Recording(samples, rate, tuple(warnings))


def _at_rate(av: Any, samples: NDArray[np.float32], given: int, rate: int) -> NDArray[np.float32]:
    """Resampled by the decoder's own library, which is loaded already."""
    change = av.AudioResampler(format="fltp", layout="mono", rate=rate)
    parts = []
    for start in range(0, len(samples), 1 << 16):
        frame = av.AudioFrame.from_ndarray(
            np.ascontiguousarray(samples[None, start : start + (1 << 16)]), "fltp", "mono"
        )
        frame.sample_rate, frame.pts = given, start
        parts += [piece.to_ndarray()[0] for piece in change.resample(frame)]
    parts += [piece.to_ndarray()[0] for piece in change.resample(None)]
    return np.concatenate(parts) if parts else np.zeros(0, np.float32)


@dataclass
class _Faults:
    count: int = 0


def _frames(box: Any, stream: Any, faults: _Faults) -> Iterator[Any]:
    """Frames of sound, skipping what cannot be decoded, up to a number of faults."""
    packets = box.demux(stream)
    empty = 0
    while faults.count < _MAX_FAULTS and empty < _MAX_EMPTY:
        try:
            packet = next(packets)
        except StopIteration:
            return
        except Exception:  # the container itself breaks off
            faults.count += 1
            return
        try:
            frames = packet.decode()
        except Exception:
            faults.count += 1
            continue
        empty = 0 if frames else empty + 1
        yield from frames


def _mono(frame: Any) -> NDArray[np.float32]:
    """One channel of a frame, full scale 1."""
    values = frame.to_ndarray()
    if frame.format.is_planar:
        channels = values
    else:
        channels = values.reshape(-1, frame.layout.nb_channels).T
    kind = channels.dtype
    one = len(channels) == 1
    with np.errstate(all="ignore"):
        if kind.kind == "f":
            return np.asarray(channels[0] if one else channels.mean(axis=0), np.float32)
        scale = float(1 << (8 * kind.itemsize - 1))
        mono = channels[0] if one else channels.mean(axis=0, dtype=np.float64)
        return np.asarray((mono - scale if kind.kind == "u" else mono) / scale, np.float32)


def _claimed(av: Any, box: Any, stream: Any) -> float | None:
    """Seconds the header claims."""
    if stream.duration is not None and stream.time_base is not None:
        found = float(stream.duration * stream.time_base)
    elif box.duration is not None:
        found = box.duration / av.time_base
    else:
        return None
    return found if 0 < found < 1e9 else None


def _missing_of_wav(data: bytes) -> str:
    """A warning when a WAV holds fewer samples than its head says, '' otherwise: the demuxer takes
    the length from the bytes there are. A live recording's unknown length (all ones) claims nothing.
    """
    if data[:4] != b"RIFF" or data[8:12] != b"WAVE":
        return ""
    at = 12
    while at + 8 <= len(data):
        size = int.from_bytes(data[at + 4 : at + 8], "little")
        if data[at : at + 4] == b"data":
            there = len(data) - at - 8
            if size == 0xFFFFFFFF or size <= there + 1:
                return ""
            return f"the recording breaks off: {there:,} of {size:,} bytes of sound are there"
        at += 8 + size + size % 2
    return ""


def _too_long(claimed: float | None, most: float) -> TooLarge:
    lasts = (
        f"lasts {claimed / 60:.1f} minutes"
        if claimed
        else f"is longer than {most / 60:.0f} minutes"
    )
    return TooLarge(
        f"the recording {lasts}", accepted=f"At most {most / 60:.0f} minutes are heard; cut it"
    )
