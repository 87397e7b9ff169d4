"""One player's strings: which note sounds on which string from when to when.

A string struck again stops what it sounded. A slurred note takes over the string as it swings:
its partials begin with the height and phase that those of the note before have reached, the
body's resonances ring on, and the finger adds a little of its own, so nothing jumps.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.fretboard import PARTIALS
from linewright.score.performance import Stroke
from linewright.sound.string import StringModes, hammered, plucked, string_modes
from linewright.sound.string_path import pitch_path, read_at, warped_time
from linewright.sound.string_sum import summed
from linewright.sound.string_tone import Pluck, Tone, evened, frequency, pluck_noise, tone_of
from linewright.sound.voices import STRUNG, StrungVoice

__all__ = ["Sounding", "StringPlayer", "Timed"]

_Complex = NDArray[np.complex128]
_Sound = NDArray[np.float32]

#: Samples a second in which a string struck anew is silenced just before.
_CUT_S: Final = 0.005
#: How much of the swing is kept, how much the finger adds, and its corner as a share of the pluck's.
_JOINS: Final = {
    "hammer-on": (0.6, 0.8, 0.6),
    "pull-off": (0.5, 0.8, 0.85),
    "slide": (0.92, 0.35, 0.5),
    "release": (1.0, 0.0, 0.5),
}
_FINGER_S: Final = 0.0012
_LIFT: Final = 0.006
#: A slur bridges a gap of so many seconds.
_GAP_S: Final = 0.06


@dataclass(frozen=True, slots=True)
class Timed:
    """A stroke in samples from the start of the sound; ``which`` tells strokes alike apart."""

    stroke: Stroke
    start: int
    stop: int
    which: int = 0


class Sounding:
    """Samples that sound from ``start``, until they are released or cut short."""

    __slots__ = ("cut", "fade", "gain", "release", "release_length", "source", "start")

    def __init__(self, start: int, source: Tone | _Sound, gain: float) -> None:
        self.start = start
        self.source = source
        self.gain = gain
        self.release: int | None = None
        self.release_length = 1
        self.cut: int | None = None
        self.fade = 0

    @property
    def stop(self) -> int:
        """The sample by which nothing sounds any more."""
        whole = self.source.longest if isinstance(self.source, Tone) else len(self.source)
        ends = [self.start + whole]
        if self.release is not None:
            ends.append(self.release + self.release_length)
        if self.cut is not None:
            ends.append(self.cut)
        return min(ends)

    def silence(self, at: int, fade: int) -> None:
        """Stop at a sample, fading over the ``fade`` samples before it."""
        if self.cut is None or at < self.cut:
            self.cut, self.fade = at, fade

    def add_to(self, buffer: _Sound, origin: int) -> None:
        """Add what falls into a buffer whose first sample is ``origin``."""
        low = max(self.start, origin)
        high = min(self.stop, origin + len(buffer))
        if low >= high:
            return
        whole = self.source
        if isinstance(whole, Tone):
            whole = whole.upto(high - self.start)
        part = whole[low - self.start : high - self.start] * np.float32(self.gain)
        if self.release is not None:
            _fade(part, low, self.release, self.release_length)
        if self.cut is not None and self.fade:
            _fade(part, low, self.cut - self.fade, self.fade)
        buffer[low - origin : low - origin + len(part)] += part


def _fade(part: _Sound, low: int, start: int, length: int) -> None:
    """Fade ``part``, whose first sample is ``low``, from 1 at ``start`` to 0 after ``length``."""
    first = max(0, start - low)
    if first >= len(part):
        return
    at = np.clip((np.arange(low + first, low + len(part)) - start) / length, 0.0, 1.0)
    part[first:] *= (0.5 + 0.5 * np.cos(np.pi * at)).astype(np.float32)


@dataclass(slots=True)
class _Held:
    """What a string is doing: enough to take it over."""

    sounding: Sounding
    modes: StringModes
    force: _Complex
    drawn: _Complex
    stroke: Stroke
    time: NDArray[np.float64] | None
    offset: float


class StringPlayer:
    """Turns one part's strokes into soundings, in order of time.

    Parameters
    ----------
    voice : str
        A plucked voice.
    rate : int
    """

    def __init__(self, voice: str, rate: int) -> None:
        self.voice: StrungVoice = STRUNG[voice]
        self.rate = rate
        self._held: dict[int, _Held] = {}

    def play(self, timed: Timed, then: Timed | None) -> Iterator[Sounding]:
        """Sound a stroke; ``then`` is the next on its string as far as it is known."""
        stroke = timed.stroke
        string = stroke.string if stroke.string is not None else -1 - stroke.midi
        held = self._held.get(string)
        joined = (
            stroke.attack in _JOINS
            and held is not None
            and held.sounding.stop >= timed.start - 1
            and timed.start - held.sounding.start > 8
            and not (held.stroke.harmonic or held.stroke.attack == "dead")
        )
        if held is not None:
            held.sounding.silence(timed.start, 0 if joined else round(_CUT_S * self.rate))
        follows = then is not None and then.stroke.attack in _JOINS
        near = timed.stop + round(_GAP_S * self.rate)
        ends = then.start if follows and then is not None and then.start <= near else None
        made = (
            self._joined(timed, held, then if ends is not None else None)
            if joined and held is not None
            else self._plucked(timed, then if ends is not None else None)
        )
        self._held[string] = made
        sounding = made.sounding
        if then is not None:
            sounding.silence(then.start, 0 if ends is not None else round(_CUT_S * self.rate))
        yield sounding
        if ends is None and not stroke.ring:
            sounding.release = timed.stop
            fretted = 1.0 if stroke.fret else 1.35
            sounding.release_length = round(self.voice.release * fretted * self.rate)
            if stroke.fret and stroke.attack != "dead":
                noise = pluck_noise(self.rate, 4 + timed.which % 4)
                lift = Sounding(timed.stop, noise, _LIFT * self.voice.level * _loud(stroke))
                if then is None or then.start >= timed.stop + len(noise):
                    yield lift

    # -- a new pluck ---------------------------------------------------------------------
    def _plucked(self, timed: Timed, then: Timed | None) -> _Held:
        stroke = timed.stroke
        tone = tone_of(self._pluck(timed), self.rate)
        gain = _loud(stroke) * (0.7 if stroke.attack in _JOINS else 1.0)
        count = self._count(timed, then, tone.longest)
        path = pitch_path(stroke, count, self.rate, towards=_towards(stroke, then))
        if path is None:
            sounding = Sounding(timed.start, tone, gain)
            return _Held(
                sounding, tone.modes, tone.force * gain, tone.drawn * gain, stroke, None, 0.0
            )
        time = warped_time(path)
        sound = self._moving(tone.modes, tone.force, tone.drawn, time)
        tone.begin(sound)
        sounding = Sounding(timed.start, sound, gain)
        return _Held(
            sounding, tone.modes, tone.force * gain, tone.drawn * gain, stroke, time,
            float(path[-1]),
        )  # fmt: skip

    def _pluck(self, timed: Timed) -> Pluck:
        stroke = timed.stroke
        partial, open_midi = 1, stroke.midi - (stroke.fret or 0)
        if stroke.harmonic and stroke.fret in PARTIALS:
            above = PARTIALS[stroke.fret]
            partial, open_midi = round(2 ** (above / 12)), stroke.midi - above
        touch = "dead" if stroke.attack == "dead" else "palm" if stroke.muted else "open"
        return Pluck(
            self.voice.name,
            frequency(stroke.midi, open_midi, partial),
            _speaking(stroke),
            max(1, min(16, round(stroke.strength * 16))),
            touch,
            partial,
            timed.which % 4,
        )

    # -- a slurred note ------------------------------------------------------------------
    def _joined(self, timed: Timed, held: _Held, then: Timed | None) -> _Held:
        stroke = timed.stroke
        voice, body = self.voice, self.voice.body
        passed = timed.start - held.sounding.start
        swung = float(passed) if held.time is None else _at(held.time, passed)
        old = held.force * np.exp(held.modes.poles * (swung / self.rate))
        rung = held.drawn * np.exp(body.modes[0] * (passed / self.rate))
        rung = rung + body.carried(held.modes.poles.ravel(), old.ravel())

        damping, dulling = (13.0, 9.0) if stroke.muted else (0.0, 0.0)
        pitch, speaking = frequency(stroke.midi, stroke.midi, 1), _speaking(stroke)
        modes = string_modes(voice, pitch, speaking, damping, dulling)
        keep, add, corner = _JOINS[stroke.attack]
        force = np.zeros_like(modes.poles)
        both = min(force.shape[1], old.shape[1])
        force[:, :both] = keep * old[:, :both]
        corner *= voice.bright * 2.0 ** (1.5 * (stroke.strength - 0.6))
        if stroke.attack == "pull-off":
            frets = max(1, held.stroke.midi - stroke.midi)
            finger = plucked(modes, 2.0 ** (-frets / 12), corner)
        else:
            finger = hammered(modes, corner)
        finger *= add * _loud(stroke) * evened(voice, pitch, speaking, 1)
        force += finger
        drawn = rung + body.driven(modes.poles.ravel(), force.ravel())

        start = 0.0
        if stroke.attack == "release":
            start = held.stroke.midi + held.offset - stroke.midi
        count = self._count(timed, then, round(4.0 * self.rate))
        path = pitch_path(stroke, count, self.rate, start=start, towards=_towards(stroke, then))
        time = np.arange(count, dtype=np.float64) if path is None else warped_time(path)
        sound = self._moving(modes, force, drawn, time, still=path is None)
        if add:
            self._soften(sound, modes, finger)
        sounding = Sounding(timed.start, sound, 1.0)
        offset = 0.0 if path is None else float(path[-1])
        return _Held(sounding, modes, force, drawn, stroke, None if path is None else time, offset)

    def _soften(self, sound: _Sound, modes: StringModes, finger: _Complex) -> None:
        """Let what the finger adds grow over a millisecond or so: it is flesh, not a pick."""
        rise = min(len(sound), round(_FINGER_S * self.rate))
        drawn = self.voice.body.driven(modes.poles.ravel(), finger.ravel())
        alone = self._moving(modes, finger, drawn, np.zeros(rise), still=True)
        missing = 0.5 + 0.5 * np.cos(np.pi * np.arange(rise) / rise)
        sound[:rise] -= alone * missing.astype(np.float32)

    # -- both ----------------------------------------------------------------------------
    def _moving(
        self,
        modes: StringModes,
        force: _Complex,
        drawn: _Complex,
        time: NDArray[np.float64],
        *,
        still: bool = False,
    ) -> _Sound:
        """The string read at moving times, and the body's own ringing as time goes."""
        body, count = self.voice.body, len(time)
        poles, flat = modes.poles.ravel(), force.ravel()
        heights = flat * body.response(poles)
        if still:
            poles, heights = (
                np.concatenate((poles, body.modes[0])),
                np.concatenate((heights, drawn)),
            )
            return summed(poles, heights, count, self.rate)
        string = summed(poles, heights, int(time[-1]) + 8, self.rate)
        return read_at(string, time) + summed(body.modes[0], drawn, count, self.rate)

    def _count(self, timed: Timed, then: Timed | None, longest: int) -> int:
        if then is not None:
            return max(1, then.start - timed.start)
        if timed.stroke.ring:
            return longest
        fade = round(self.voice.release * 1.35 * self.rate)
        return max(1, min(longest, timed.stop - timed.start + fade))


def _loud(stroke: Stroke) -> float:
    return float(max(0.0, stroke.strength) ** 1.4)


def _speaking(stroke: Stroke) -> float:
    return 1.0 if stroke.harmonic else float(2.0 ** (-(stroke.fret or 0) / 12))


def _towards(stroke: Stroke, then: Timed | None) -> float | None:
    if then is None or then.stroke.attack != "slide":
        return None
    return float(then.stroke.midi - stroke.midi)


def _at(time: NDArray[np.float64], index: int) -> float:
    """Warped time at a sample, one past the end included."""
    if index < len(time):
        return float(time[index])
    step = time[-1] - time[-2] if len(time) > 1 else 1.0
    return float(time[-1] + step * (index - len(time) + 1))
