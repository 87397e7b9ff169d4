"""Performances into sound.

Time is in samples from the start. Parts are mixed in three groups, ``lead`` (the part of that
name), ``click`` (parts of the click voice) and ``band`` (all others), each with its level.
Sound is float32 of shape (frames, 2), between -1 and 1.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.errors import OptionError
from linewright.score.performance import Performance
from linewright.sound.mix import faded, mastered, programme_gain
from linewright.sound.mix_limiter import Limiter
from linewright.sound.render_stage import GROUPS, Stage

__all__ = ["RATES", "render", "render_blocks", "render_stems"]

_Sound = NDArray[np.float32]

#: Sample rates.
RATES: Final = (44100, 48000)
#: Seconds of a stream on which its gain is settled.
_SETTLE_S: Final = 4.0
#: No performance is rendered whole that lasts longer; a stream may.
_LONGEST_S: Final = 3600.0
#: Seconds a last chord may ring after the end, and in which it then fades.
_TAIL_S, _TAIL_FADE_S = 4.0, 0.5
_SPAN_S: Final = 8.0


def render(
    performance: Performance,
    *,
    rate: int = 44100,
    levels: Mapping[str, float] | None = None,
    seed: int = 0,
    loop: bool = False,
) -> _Sound:
    """The whole performance at -16 LUFS, its true peak under -1 dBTP.

    Sparse music (a click alone) stays softer, rather than be pressed against the ceiling.

    Parameters
    ----------
    performance : Performance
    rate : int
        44100 or 48000 samples a second.
    levels : mapping of str to float, optional
        For ``lead``, ``band``, ``click``: 1 as balanced, 0 silent, up to 4.
    seed : int
        Of the small differences between one pluck and the next.
    loop : bool
        Exactly as long as the performance, to be played round and round: what rings at the end
        rings on in the beginning. Otherwise what rings is added at the end.

    Returns
    -------
    ndarray of float32, shape (frames, 2)

    Raises
    ------
    OptionError
        An option is out of range, or the performance lasts over an hour.
    """
    stems = render_stems(performance, rate=rate, levels=levels, seed=seed, loop=loop)
    total = np.zeros_like(stems["lead"])
    for stem in stems.values():
        total += stem
    return total


def render_stems(
    performance: Performance,
    *,
    rate: int = 44100,
    levels: Mapping[str, float] | None = None,
    seed: int = 0,
    loop: bool = False,
) -> dict[str, _Sound]:
    """As :func:`render`, but ``lead``, ``band`` and ``click`` apart; their sum is its result."""
    gains = _checked(rate, levels)
    if performance.seconds(performance.length) > _LONGEST_S:
        raise OptionError(
            f"a performance of {performance.seconds(performance.length) / 60:.0f} minutes",
            accepted="At most one hour is rendered in one go; play fewer rounds",
        )
    stage = Stage(rate, seed)
    end = stage.schedule(performance, 0)
    if loop:  # each string is struck again a round later, so the second round is every round
        stage.schedule(performance, end)
        stage.schedule(performance, 2 * end)
        _taken(stage, 0, end)
        stems = _taken(stage, end, 2 * end)
    else:
        stems = _taken(stage, 0, end)
        tail = min(max(stage.silent_from - end, 0), round(_TAIL_S * rate))
        if tail:
            rest = faded(stage.mix(end, end + tail), round(_TAIL_FADE_S * rate))
            stems = {group: np.concatenate((stem, rest[group])) for group, stem in stems.items()}
    for group, level in gains.items():
        stems[group] *= np.float32(level)
    return mastered(stems, rate, loop=loop)


def render_blocks(
    performances: Iterable[Performance],
    *,
    rate: int = 44100,
    levels: Mapping[str, float] | None = None,
    seed: int = 0,
    gain: float | None = None,
) -> Iterator[_Sound]:
    """Performances one after the other without a gap, a block of sound for each.

    A block is exactly as long as its performance, rounded to the sample so that the sum never
    drifts; what rings at its end rings on in the next. The last block is what still rings when
    the performances have ended. Only two performances are held at a time, so an endless line
    may be streamed bar by bar. A bar should last a quarter of a second or more.

    Parameters
    ----------
    performances : iterable of Performance
        The same parts in each, as a rule.
    rate, levels, seed
        As in :func:`render`.
    gain : float, optional
        Linear gain of the whole. None listens ahead: the gain then brings the first four
        seconds to -16 LUFS and stays. It never changes while the stream plays.

    Yields
    ------
    ndarray of float32, shape (frames, 2)
    """
    levels_now = _checked(rate, levels)
    if gain is not None and not (math.isfinite(gain) and 0 <= gain <= 1000):
        raise OptionError(f"a gain of {gain}", accepted="Use a linear gain from 0 to 1000")
    return _blocks(performances, rate, levels_now, seed, gain)


def _blocks(
    performances: Iterable[Performance],
    rate: int,
    levels: Mapping[str, float],
    seed: int,
    gain: float | None,
) -> Iterator[_Sound]:
    limiter = Limiter(rate)
    reach = limiter.needs
    kept = np.zeros((0, 2), dtype=np.float32)  # mixed sound from sample ``kept_from`` on
    kept_from = 0
    pending: deque[tuple[int, int]] = deque()  # blocks that are mixed but not given away

    def ready(until: int, *, last: bool) -> Iterator[_Sound]:
        nonlocal kept, kept_from, gain
        settled = last or until >= _SETTLE_S * rate
        if gain is None:
            if not settled:
                return
            gain = programme_gain(kept[: until - kept_from], rate)
        while pending and (last or pending[0][1] + reach <= until):
            low, high = pending.popleft()
            before = low - kept_from
            first = max(0, before - reach)
            around = kept[first : high + reach - kept_from] * np.float32(gain)
            yield limiter.limited(around, before - first, high - low)
            drop = max(0, high - reach - kept_from)
            kept, kept_from = kept[drop:].copy(), kept_from + drop

    mixed_to = 0
    end, exact = 0, Fraction(0)
    stage = Stage(rate, seed)
    for performance in performances:
        origin = end
        exact += performance.length * 60 / performance.quarter_bpm
        end = round(exact * rate)
        stage.schedule(performance, origin)
        if origin > mixed_to:  # everything before this performance is now certain
            kept = np.concatenate((kept, _together(stage.mix(mixed_to, origin), levels)))
            mixed_to = origin
        yield from ready(mixed_to, last=False)
        pending.append((origin, end))
    if end > mixed_to:
        kept = np.concatenate((kept, _together(stage.mix(mixed_to, end), levels)))
    tail = min(max(stage.silent_from - end, 0), round(_TAIL_S * rate))
    if tail:
        rest = faded(stage.mix(end, end + tail), round(_TAIL_FADE_S * rate))
        kept = np.concatenate((kept, _together(rest, levels)))
        pending.append((end, end + tail))
    yield from ready(end + tail, last=True)


def _taken(stage: Stage, low: int, high: int) -> dict[str, _Sound]:
    """The stage's sound in spans, so that few notes are held at a time."""
    span = round(_SPAN_S * stage.rate)
    pieces = [stage.mix(at, min(at + span, high)) for at in range(low, high, span)]
    return {group: np.concatenate([piece[group] for piece in pieces]) for group in GROUPS}


def _together(stems: Mapping[str, _Sound], levels: Mapping[str, float]) -> _Sound:
    total: _Sound = sum(
        (stem * np.float32(levels[group]) for group, stem in stems.items()),
        start=np.zeros_like(stems["lead"]),
    )
    return total


def _checked(rate: int, levels: Mapping[str, float] | None) -> dict[str, float]:
    """Levels times the balance of the groups."""
    if rate not in RATES:
        raise OptionError(f"a sample rate of {rate}", accepted="Use 44100 or 48000")
    for group, level in (levels or {}).items():
        if group not in GROUPS:
            raise OptionError(f"no level is called {group!r}", accepted=f"Use {', '.join(GROUPS)}")
        if not (math.isfinite(level) and 0 <= level <= 4):
            raise OptionError(f"a level of {level} for {group}", accepted="Use 0 to 4")
    return {group: balance * (levels or {}).get(group, 1.0) for group, balance in GROUPS.items()}
