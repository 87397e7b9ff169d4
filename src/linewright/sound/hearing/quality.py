"""Words for what stands in the way of hearing well."""

from __future__ import annotations

from typing import Final

import numpy as np

from linewright.score.performance import PlayedNote
from linewright.sound.hearing.evidence import STEP, Evidence
from linewright.sound.hearing.frames import Floats

__all__ = [
    "CLIPPED",
    "NOISY",
    "POLYPHONIC",
    "SILENT",
    "UNCLEAR",
    "is_clipped",
    "noise_db",
    "remarks",
    "together",
]

SILENT: Final = "nothing was heard: the recording is silent or far too quiet"
CLIPPED: Final = "the recording is clipped: its loudest moments are cut off; record it more quietly"
POLYPHONIC: Final = (
    "several notes sound at once in much of the recording; only one at a time is heard, so some "
    "may be missing or wrong"
)
UNCLEAR: Final = (
    "there is sound in the recording, but no single notes can be made out in it: chords, speech or "
    "noise"
)
NOISY: Final = "the background is loud; soft notes may be missing"
#: Peak below which a recording counts as silent: -66 dB.
LEAST_PEAK: Final = 5e-4
_RESTS: Final = 30  # pitch frames (0.3 s) without a note in which the background is heard
_RINGS: Final = 25  # pitch frames a note may sound on after its end
#: Decibels by which the prediction error is below white or pink noise that was added to renders: a
#: fit so close takes some of the noise for sound, and what is above 3.6 kHz is not looked at.
_UNTOLD: Final = 6.0


def is_clipped(samples: Floats) -> bool:
    """Whether more than one sample in ten thousand stands in a flat top at the peak."""
    size = np.abs(samples)
    peak = float(np.max(size, initial=0.0))
    if peak <= 0 or len(size) < 3:
        return False
    top = size >= 0.998 * peak
    flat = top[1:] & top[:-1]
    return int(np.sum(flat)) > max(20, len(size) // 10_000)


def noise_db(seen: Evidence, notes: list[PlayedNote]) -> float:
    """Level of the background against the loudest playing.

    That of the quietest moments; where there is no rest to hear it in, it can be no louder than
    what of the sound before the cuts its own past does not foretell.
    """
    if not len(seen.loud):
        return -120.0
    low, high = np.quantile(seen.loud, (0.02, 0.98))
    playing = np.zeros(len(seen.loud), bool)
    for note in notes:
        playing[round(note.onset_s * 100) : round(note.offset_s * 100) + _RINGS] = True
    if len(seen.cuts) > 1 and np.sum(~playing) < _RESTS:
        before = seen.loud[np.maximum(seen.cuts[1:] // STEP - 2, 0)]
        low = min(low, _UNTOLD + np.median(before + 10 * np.log10(seen.foretold.error[1:])))
    return float(np.clip(low - high, -120, 0))


def together(seen: Evidence, notes: list[PlayedNote]) -> float:
    """Share of the notes in which another pitch, no octave of theirs, sounds about as strongly."""
    if not notes:
        return 0.0
    long = seen.heard[0]
    mixed = 0
    for note in notes:
        a, b = round(note.onset_s * 100) + 3, round(note.offset_s * 100) - 2
        weight = long.weight[a:b]
        if not len(weight):
            continue
        off = np.abs(long.pitch[a:b] - seen.tuning - note.midi)
        own = np.sum(np.where(np.nan_to_num(off, nan=99) < 0.6, weight, 0)) / len(weight)
        mixed += own < 0.25
    return mixed / len(notes)


def remarks(noise: float, together: float, notes: int) -> list[str]:
    """Sentences on noise and on several notes at once (``together``: share of it, 0 to 1)."""
    out = []
    if notes >= 4 and together > 0.5:
        out.append(POLYPHONIC)
    if notes and noise > -22:
        out.append(NOISY)
    return out
