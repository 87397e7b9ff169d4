"""Whole notes of a string through its body, kept for the next time they are needed."""

from __future__ import annotations

import math
import threading
from collections import OrderedDict
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from linewright.sound.string import StringModes, frequency_of, plucked, string_modes
from linewright.sound.string_sum import lifetime, summed
from linewright.sound.voices import STRUNG, StrungVoice

__all__ = ["LONGEST_S", "Pluck", "Tone", "evened", "forget", "pluck_noise", "tone_of"]

_Complex = NDArray[np.complex128]
_Sound = NDArray[np.float32]

#: No note is heard longer than this.
LONGEST_S: Final = 8.0
#: A pluck does not begin with a jump: samples rise over so many seconds.
_RISE_S: Final = 0.0006
#: Palm on the strings, and a string only touched: loss in 1/s, loss per kHz, corner, noise.
_PALM: Final = (13.0, 9.0, 0.55, 1.2)
_DEAD: Final = (75.0, 45.0, 0.7, 2.5)
#: Where on the string the pick falls this time, relative to where it falls on average.
_SCATTER: Final = (1.0, 0.93, 1.06, 0.97)
#: The first seconds of a note, the energy they should have, and how far it is brought there.
_LISTENED_S, _EVEN, _EVENING = 0.4, 0.004, 0.65
_FIRST_S: Final = 0.75
_MEMORY: Final = 64 * 2**20


class Pluck(NamedTuple):
    """What decides how a plucked note sounds, its loudness apart.

    ``force`` is strength in sixteenths, ``touch`` one of ``open``, ``palm``, ``dead``;
    ``partial`` is above 1 for a natural harmonic; ``scatter`` picks one of four pick places.
    """

    voice: str
    frequency: float
    speaking: float
    force: int
    touch: str
    partial: int
    scatter: int


@dataclass(eq=False)
class Tone:
    """A plucked note: its modes, and as many samples as anybody has asked for yet."""

    voice: StrungVoice
    rate: int
    modes: StringModes
    force: _Complex
    drawn: _Complex
    noise: float
    scatter: int
    samples: _Sound

    @property
    def longest(self) -> int:
        """Samples until the note has died away by 60 dB."""
        life = lifetime(self.modes.poles, self.force)
        return math.ceil(min(LONGEST_S, max(0.1, life)) * self.rate)

    def upto(self, count: int) -> _Sound:
        """At least the first ``count`` samples, fewer when the note ends before."""
        if len(self.samples) < count and len(self.samples) < self.longest:
            length = max(_FIRST_S * self.rate, len(self.samples))
            while length < count:
                length *= 2
            self.samples = self._sound(min(int(length), self.longest))
        return self.samples

    def begin(self, sound: _Sound) -> None:
        """Give the bare note its beginning: it rises within a millisecond, and the pick scrapes."""
        rise = min(len(sound), round(_RISE_S * self.rate))
        sound[:rise] *= (0.5 - 0.5 * np.cos(np.pi * np.arange(rise) / rise)).astype(np.float32)
        burst = pluck_noise(self.rate, self.scatter)[: len(sound)]
        sound[: len(burst)] += burst * np.float32(self.noise)

    def _sound(self, count: int) -> _Sound:
        body = self.voice.body
        poles, force = self.modes.poles.ravel(), self.force.ravel()
        sound = summed(
            np.concatenate((poles, body.modes[0])),
            np.concatenate((force * body.response(poles), self.drawn)),
            count,
            self.rate,
        )
        self.begin(sound)
        fade = min(count, round(0.05 * self.rate))
        if count == self.longest:
            sound[-fade:] *= np.linspace(1.0, 0.0, fade, dtype=np.float32)
        return sound


@lru_cache(maxsize=32)
def pluck_noise(rate: int, which: int) -> _Sound:
    """A short scrape between about 1 and 5 kHz, at most 1 in size; the same every time."""
    count = round(0.014 * rate)
    time = np.arange(count) / rate
    scatter = np.random.default_rng(1000 + which)
    tones = scatter.uniform(900.0, 5200.0, 60)
    phases = scatter.uniform(0, 2 * np.pi, 60)
    burst = np.sin(2 * np.pi * tones[:, None] * time + phases[:, None]).sum(axis=0)
    burst *= np.exp(-time / 0.0028) * np.minimum(1.0, time / 0.0004)
    burst *= np.minimum(1.0, (time[-1] - time) / 0.002)
    sound: _Sound = (burst / np.abs(burst).max()).astype(np.float32)
    return sound


_tones: OrderedDict[tuple[Pluck, int], Tone] = OrderedDict()
_lock = threading.Lock()


def tone_of(pluck: Pluck, rate: int) -> Tone:
    """The note of a pluck, made now or kept from before."""
    key = (pluck, rate)
    with _lock:
        kept = _tones.get(key)
        if kept is not None:
            _tones.move_to_end(key)
            return kept
    made = _made(pluck, rate)
    with _lock:
        _tones[key] = made
        size = sum(tone.samples.nbytes for tone in _tones.values())
        while size > _MEMORY and len(_tones) > 1:
            size -= _tones.popitem(last=False)[1].samples.nbytes
    return made


def forget() -> None:
    """Throw away the notes that are kept."""
    with _lock:
        _tones.clear()
    string_modes.cache_clear()
    evened.cache_clear()


def _made(pluck: Pluck, rate: int) -> Tone:
    voice = STRUNG[pluck.voice]
    damping, dulling, dark, scrape = {
        "open": (0.0, 0.0, 1.0, 1.0), "palm": _PALM, "dead": _DEAD
    }[pluck.touch]  # fmt: skip
    modes = string_modes(voice, pluck.frequency, pluck.speaking, damping, dulling)
    strength = pluck.force / 16
    at = min(0.5, voice.pick_at * _SCATTER[pluck.scatter] / pluck.speaking) * pluck.partial
    corner = voice.bright * dark * 2.0 ** (1.8 * (strength - 0.7))
    force = plucked(modes, at, corner) * evened(
        voice, pluck.frequency, pluck.speaking, pluck.partial
    )
    drawn = voice.body.driven(modes.poles.ravel(), force.ravel())
    return Tone(
        voice, rate, modes, force, drawn, voice.noise * scrape, pluck.scatter,
        np.zeros(0, dtype=np.float32),
    )  # fmt: skip


@lru_cache(maxsize=1024)
def evened(voice: StrungVoice, frequency: float, speaking: float, partial: int) -> float:
    """How much harder a player strikes a place that answers weakly, softer one that booms.

    Most of the way to even loudness, by the energy of the first part of the note.
    """
    modes = string_modes(voice, frequency, speaking, 0.0, 0.0)
    force = plucked(modes, min(0.5, voice.pick_at / speaking) * partial, voice.bright)
    poles = modes.poles.ravel()
    heights = np.abs(force.ravel() * voice.body.response(poles)) ** 2
    loss = -2 * poles.real
    energy = float((heights * (1 - np.exp(-loss * _LISTENED_S)) / (2 * loss)).sum())
    return float(voice.level * (_EVEN / energy) ** (_EVENING / 2))


def frequency(midi: int, open_midi: int, partial: int) -> float:
    """Hz of a stopped string, or of the natural harmonic ``partial`` of the open one."""
    return frequency_of(midi) if partial == 1 else partial * frequency_of(open_midi)
