"""From samples to notes."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from linewright.errors import OptionError, TooLarge
from linewright.score.instrument import Instrument
from linewright.sound.hearing.cancel import cancelled
from linewright.sound.hearing.frames import RATE, Floats, Sound, at_rate
from linewright.sound.hearing.model import Heard
from linewright.sound.hearing.notes import find_notes
from linewright.sound.hearing.pitch import Range
from linewright.sound.hearing.quality import (
    CLIPPED,
    LEAST_PEAK,
    SILENT,
    UNCLEAR,
    is_clipped,
    noise_db,
    remarks,
    together,
)

__all__ = ["MAX_SECONDS", "cleared", "hear"]

#: Longest recording listened to.
MAX_SECONDS: Final = 600
_DEFAULT_RANGE: Final = Range(36, 100)


def hear(
    samples: ArrayLike,
    rate: int,
    *,
    tempo: float | None = None,
    band: ArrayLike | None = None,
    instrument: Instrument | None = None,
) -> Heard:
    """Hear the notes of a recording in which one note is played at a time.

    Parameters
    ----------
    samples : array-like, shape (n,)
        Mono; any scale (only relative levels matter).
    rate : int
        Samples a second of ``samples`` and ``band``.
    tempo : float, optional
        Beats a minute, when the playing follows a known tempo: helps to choose between doubtful
        onsets, never moves one.
    band : array-like, shape (m,), optional
        What we played to the player, from the first sample of the recording on.
    instrument : Instrument, optional
        Tells the lowest and highest pitch to expect.

    Returns
    -------
    Heard

    Raises
    ------
    OptionError
        A rate, tempo or array that cannot be one.
    TooLarge
        A recording longer than :data:`MAX_SECONDS`.
    """
    sound = _mono(samples, "samples")
    if not 4_000 <= rate <= 768_000:
        raise OptionError(
            f"{rate} samples a second", accepted="Rates from 4,000 to 768,000 are accepted"
        )
    if tempo is not None and not 10 <= tempo <= 1000:
        raise OptionError(f"a tempo of {tempo:g}", accepted="Use 10 to 1000 beats a minute")
    if len(sound) > MAX_SECONDS * rate:
        raise TooLarge(
            f"the recording lasts {len(sound) / rate / 60:.0f} minutes",
            accepted=f"At most {MAX_SECONDS // 60} minutes are heard",
        )
    reference = None if band is None else _mono(band, "band")
    return _hear(sound, rate, tempo, reference, instrument)


def _mono(values: ArrayLike, what: str) -> Floats:
    found = np.asarray(values)
    if found.ndim != 1 or found.dtype.kind not in "fiu":
        raise OptionError(
            f"the {what} have the shape {found.shape} and the type {found.dtype}",
            accepted="Give numbers in one row; mix channels down first",
        )
    if found.dtype.kind != "f":
        found = found / np.float32(np.iinfo(found.dtype).max)
    return np.nan_to_num(found.astype(np.float32), nan=0.0, posinf=0.0, neginf=0.0)


def _hear(
    samples: Floats,
    rate: int,
    tempo: float | None,
    band: Floats | None,
    instrument: Instrument | None,
) -> Heard:
    seconds = len(samples) / rate
    if float(np.max(np.abs(samples), initial=0.0)) < LEAST_PEAK:
        return Heard((), seconds, warnings=(SILENT,))
    warnings = [CLIPPED] if is_clipped(samples) else []
    sound, late = cleared(samples, rate, band)
    notes, seen = find_notes(sound, _range_of(instrument), tempo)
    noise = noise_db(seen, notes)
    warnings += remarks(noise, together(seen, notes), len(notes)) if notes else [UNCLEAR]
    return Heard(tuple(notes), seconds, 100 * seen.tuning, noise, late, tuple(warnings))


def cleared(samples: Floats, rate: int, band: Floats | None) -> tuple[Sound, float | None]:
    """The recording without our own sound, and how late that was found in it."""
    own = at_rate(samples, rate)
    if band is None:
        return Sound.of(own, RATE), None
    found = cancelled(own, at_rate(band, rate))
    return Sound.of(found.samples, RATE, found.echo, found.wrong), found.late


def _range_of(instrument: Instrument | None) -> Range:
    """From a tone below the lowest open string to the highest fret."""
    if instrument is None:
        return _DEFAULT_RANGE
    opens = [pitch.midi for pitch in instrument.strings]
    return Range(max(21, min(opens) - 2), min(108, max(opens) + instrument.frets))
