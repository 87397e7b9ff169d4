"""What speaks for each pitch, and for a new note, at each moment of a recording."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.sound.hearing.combs import Bins, fit_combs
from linewright.sound.hearing.flux import Rises, peaks, rises
from linewright.sound.hearing.forecast import PART, SIZE, WIDTHS, Forecast, forecast
from linewright.sound.hearing.frames import BATCH, HOP, RATE, Floats, Sound, spectra
from linewright.sound.hearing.pitch import (
    COMPRESSION,
    Dips,
    Range,
    dips,
    gain_dips,
    semitones,
    spectral_dips,
)

__all__ = ["STEP", "Evidence", "gather"]

#: Spectra per pitch frame: pitch is heard every 10 ms.
STEP: Final = 2
_LEAST_RISE: Final = 0.025
_STRONG_RISE: Final = 0.10
_BEFORE: Final = 6  # spectra before a cut whose window has not yet met the new note


@dataclass(frozen=True)
class Evidence:
    """Everything a division into notes is decided by.

    Parameters
    ----------
    risen : Rises
        By spectrum (5 ms).
    cuts : array of int
        Spectrum frames where something may begin or end, the first 0.
    heard : tuple of Dips
        Pitches by pitch frame (10 ms): long window, short window, gain since the last strong cut.
    views : tuple of arrays, shape (pitch frames, semitones)
        Each semitone's probability by the three of ``heard`` and by the fit of combs.
    chance : array, shape (pitch frames, semitones)
        Their mixture.
    gained : array, shape (pitch frames,)
        Share of the spectrum that was not there before the last strong cut.
    quiet : array, shape (pitch frames,)
        How surely nothing is played, 0 to 1.
    loud : array, shape (pitch frames,)
        Level in decibels.
    ours : array, shape (spectra,)
        How much of our own sound was taken out there, against what was left: 0 (none, or 30 dB
        below) to 1.5 (15 dB above).
    tuning : float
        In semitones, -0.5 to 0.5.
    foretold : Forecast
        By cut: how much of what sounds after it is new.
    news : tuple of arrays, shape (cuts, semitones)
        Each semitone's probability in what is new: by its dips and by the fit of combs, through
        the short and then through the long window.
    """

    risen: Rises
    cuts: NDArray[np.int64]
    heard: tuple[Dips, Dips, Dips]
    views: tuple[Floats, Floats, Floats, Floats]
    chance: Floats
    gained: Floats
    quiet: Floats
    loud: Floats
    ours: Floats
    tuning: float
    foretold: Forecast
    news: tuple[Floats, Floats, Floats, Floats]


def gather(sound: Sound, reach: Range) -> Evidence:
    """Listen to the whole recording once."""
    risen = rises(sound)
    centres = np.arange(0, sound.count, STEP) * HOP
    long = dips(sound.samples, centres, 512, reach)
    short = dips(sound.samples, centres, 256, reach)
    loud = sound.level[::STEP]
    quiet = _quiet(loud)
    if sound.echo_level is not None:  # what may be left of our own sound is no playing
        under = sound.echo_level[::STEP] + 20 * np.log10(min(sound.doubt, 0.1)) - loud
        quiet = np.maximum(quiet, 1 / (1 + np.exp(np.clip(-under / 1.5, -40, 40))))
    begin = peaks(risen.whole, least=_LEAST_RISE)
    tuning = _tuning(long, loud)
    strong = begin[risen.whole[begin] > _STRONG_RISE]
    fresh, gained, combs = _gains(sound, centres, strong, reach, tuning)
    by_long, by_short = (semitones(found, tuning, reach) for found in (long, short))
    raw = 0.5 * (by_long + by_short)
    anew = semitones(fresh, tuning, reach)
    trust = np.clip((gained - 0.15) / 0.3, 0, 0.7)[:, None]
    chance = np.minimum((1 - trust) * raw + trust * 0.5 * (anew + combs), 1)
    cuts = _cuts(begin, chance, quiet)
    return Evidence(
        risen, cuts, (long, short, fresh), (by_long, by_short, anew, combs), chance, gained, quiet,
        loud, _ours(sound), tuning, *_news(sound, cuts, strong, reach, tuning),
    )  # fmt: skip


def _news(
    sound: Sound, cuts: NDArray[np.int64], strong: NDArray[np.int64], reach: Range, tuning: float
) -> tuple[Forecast, tuple[Floats, Floats, Floats, Floats]]:
    """Pitches of what the sound before each cut does not foretell."""
    foretold, gains = forecast(sound, cuts, strong)
    views = []
    for gain, width in zip(gains, WIDTHS, strict=True):
        new = gain**COMPRESSION
        made = Bins(SIZE * PART, width * PART, RATE / PART / 2)
        views.append(semitones(spectral_dips(new, *made[:2], reach), tuning, reach))
        views.append(fit_combs(new, reach, tuning, COMPRESSION, made))
    return foretold, (views[0], views[1], views[2], views[3])


def _gains(
    sound: Sound, centres: NDArray[np.int64], strong: NDArray[np.int64], reach: Range, tuning: float
) -> tuple[Dips, Floats, Floats]:
    """Pitches of what each frame has gained since just before the last strong cut."""
    before_at = np.maximum(strong - _BEFORE, 0) * HOP
    which = np.searchsorted(strong, np.arange(len(centres)) * STEP + 1, side="right") - 1
    left = np.zeros(len(centres) * STEP + 1, bool)
    left[sound.echoing] = True
    left = left[: len(centres) * STEP : STEP]
    parts, shares, combs = [], [], []
    for start in range(0, len(centres), BATCH):
        mine = which[start : start + BATCH]
        now = spectra(sound.around, centres[start : start + BATCH], pad=2) ** COMPRESSION
        needed = np.arange(mine[0], mine[-1] + 1)
        inverse = mine - mine[0]
        before = np.zeros((len(needed), now.shape[1]), np.float32)
        known = needed >= 0
        if known.any():
            before[known] = spectra(sound.around, before_at[needed[known]], pad=2) ** COMPRESSION
        ground = before[inverse]
        ours = np.flatnonzero(left[start : start + BATCH])
        if len(ours):
            echo = spectra(sound.echo_around, centres[start + ours], pad=2)
            ground[ours] = np.maximum(ground[ours], (sound.doubt * echo) ** COMPRESSION)
        found, share, gain = gain_dips(now, ground, reach)
        parts.append(found)
        shares.append(share)
        combs.append(fit_combs(gain, reach, tuning, COMPRESSION))
    if not parts:
        empty = np.zeros((0, 6), np.float32)
        return Dips(empty, empty), np.zeros(0, np.float32), np.zeros((0, reach.count), np.float32)
    joined = Dips(
        np.concatenate([p.pitch for p in parts]), np.concatenate([p.weight for p in parts])
    )
    return joined, np.concatenate(shares), np.concatenate(combs)


def _tuning(found: Dips, loud: Floats) -> float:
    """How far the instrument stands from A = 440 Hz, in semitones (-0.5 to 0.5).

    The circular mean of what remains of each pitch above its nearest semitone.
    """
    if not len(loud):
        return 0.0
    audible = (loud > loud.max() - 35)[:, None] & (found.weight > 0.5)
    if not audible.any():
        return 0.0
    turn = 2 * np.pi * found.pitch[audible]
    return float(np.angle(np.sum(found.weight[audible] * np.exp(1j * turn))) / (2 * np.pi))


def _ours(sound: Sound) -> Floats:
    """What was taken out against what was left, 0 to 1.5, by spectrum."""
    if sound.echo_level is None:
        return np.zeros(sound.count, np.float32)
    return np.clip((sound.echo_level - sound.level + 30) / 30, 0, 1.5).astype(np.float32)


def _quiet(loud: Floats) -> Floats:
    """How surely each frame is too quiet to be playing, 0 to 1."""
    if not len(loud):
        return loud
    top = np.quantile(loud, 0.95)
    floor = max(top - 42, min(np.quantile(loud, 0.02) + 6, top - 20))
    return np.asarray(1 / (1 + np.exp(np.clip((loud - floor) / 1.5, -40, 40))), np.float32)


def _cuts(begin: NDArray[np.int64], chance: Floats, quiet: Floats) -> NDArray[np.int64]:
    """Frames where something may begin or end: rises, and changes of the likeliest pitch."""
    smooth = sum(np.roll(chance, k, axis=0) for k in (-2, -1, 0, 1, 2))
    best = np.where(quiet > 0.5, -1, np.argmax(smooth, axis=1))
    changed = STEP * (1 + np.flatnonzero(np.diff(best)))
    near = np.searchsorted(begin, changed)
    padded = np.concatenate([[-99], begin, [10**9]])
    free = np.minimum(changed - padded[near], padded[near + 1] - changed) > 6
    found = np.sort(np.concatenate([[0], begin, changed[free]])).astype(np.int64)
    return np.asarray(found[np.append(True, np.diff(found) > 0)])
