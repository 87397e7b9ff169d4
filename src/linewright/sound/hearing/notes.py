"""From frames to notes: where to cut, what sounds between the cuts, and each note's values."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from linewright.score.performance import PlayedNote
from linewright.sound.hearing.atoms import score, silence, table
from linewright.sound.hearing.divide import divide
from linewright.sound.hearing.evidence import STEP, Evidence, gather
from linewright.sound.hearing.frames import HOP, RATE, Floats, Sound
from linewright.sound.hearing.odds import costs, features, likely, on_the_grid
from linewright.sound.hearing.pitch import Dips, Range
from linewright.sound.hearing.times import ends, glides, slide_start, starts
from linewright.sound.hearing.weights import AGAIN, BEGUN, HELD, MOVE, STRUCK

__all__ = ["find_notes"]

#: A note shorter than this many spectra (50 ms) may be the noise of a string being stopped.
_BRIEF: Final = 10
#: So may be a doubtful one of the same pitch, shorter than this (120 ms), with silence after it.
_FADING: Final = 24
_STOPPED: Final = 0.8
#: A step of a slide takes at most this many spectra: 95 ms.
_SLIDE: Final = 19
#: What is no longer than this many spectra (45 ms) is no note where another follows at once.
_FLEETING: Final = 9
#: A note begins where something surely begins, at whatever pitch it sounds for so many spectra
#: (60 ms), if nothing begins where the next pitch is reached, so many semitones away.
_REACHED: Final = 12
_UNBEGUN: Final = 0.2
_FAR: Final = 3


def find_notes(
    sound: Sound, reach: Range, tempo: float | None = None
) -> tuple[list[PlayedNote], Evidence]:
    """The notes, and the evidence they were found by."""
    seen = gather(sound, reach)
    cuts, loud, heard, tuning = seen.cuts, seen.loud, seen.heard, seen.tuning
    begun_views, held_views = table(seen, cuts)
    begins, goes_on = score(begun_views, BEGUN), score(held_views, HELD)
    mute, sounding = silence(seen, cuts)
    looks = features(seen)
    begun = np.maximum(likely(looks, AGAIN), likely(looks, MOVE))
    lean = (
        None if tempo is None else on_the_grid((cuts * HOP / RATE).astype(np.float32), begun, tempo)
    )
    found = divide(
        begins + sounding[:, None], goes_on + sounding[:, None], mute, costs(looks, lean)
    )
    struck = likely(looks, STRUCK)
    edges = np.append(cuts, sound.count)
    spans = [
        _Span(
            int(edges[a]),
            int(edges[b + 1]),
            index + reach.low,
            float(struck[a]),
            float(begun[a]) if edges[a] else 1.0,  # what sounds from the first begins there
            _sure(np.concatenate([begins[a : a + 1], goes_on[a + 1 : b + 1]]), index),
        )
        for a, b, index in found
    ]
    spans = _without_stops(_joined_slides(seen, spans))
    onsets = starts(sound, [span.first for span in spans])
    for number, (last, span) in enumerate(pairwise(spans), 1):
        if last.last == span.first and span.struck < 0.5 and 0 < abs(span.midi - last.midi) <= 4:
            start = slide_start(seen, last.first, span.first, last.midi, span.midi)
            if start is not None and onsets[number - 1] + 0.03 < start < onsets[number]:
                onsets[number], span.slid = start, True
    top = float(np.max(loud, initial=-120))
    notes = []
    for number, (span, onset) in enumerate(zip(spans, onsets, strict=True)):
        joined = number > 0 and spans[number - 1].last == span.first
        a, b = span.first // STEP, max(span.first // STEP + 1, span.last // STEP)
        offset = ends(seen, span.first, span.last)
        if number + 1 < len(spans) and span.last == spans[number + 1].first:
            offset = (
                max(offset, onsets[number + 1] - 0.01)
                if offset >= span.last * HOP / RATE - 0.02
                else offset
            )
            offset = min(offset, onsets[number + 1])
        attack = "slid" if span.slid else "struck"
        if attack == "struck" and joined and span.struck <= 0.5:
            attack = "slurred"  # from what sounds just before; nothing is slurred from silence
        notes.append(
            PlayedNote(
                onset_s=onset,
                offset_s=max(offset, onset + 0.01),
                midi=span.midi,
                cents=_cents(heard, a, b, span.midi, tuning),
                strength=float(np.clip(1 + (float(loud[a : b + 1].max()) - top) / 40, 0.01, 1)),
                confidence=float(np.clip(span.begun * span.sure, 0.01, 0.99)),
                attack=attack,
            )
        )
    return notes, seen


@dataclass
class _Span:
    """A note between two spectra."""

    first: int
    last: int
    midi: int
    struck: float
    begun: float
    sure: float
    slid: bool = False
    step: int = 0  # where the last step of a slide begins


def _joined_slides(seen: Evidence, spans: list[_Span]) -> list[_Span]:
    """The steps of a slide as one note, from where it starts, of the pitch slid to."""
    out: list[_Span] = []
    for span in spans:
        last = out[-1] if out else None
        if (
            last is not None
            and last.last == span.first
            and last.last - last.step <= _SLIDE
            and 0 < abs(span.midi - last.midi) <= 4
            and (
                _only_reached(last, span)
                or (span.struck < 0.8 and _on_the_way(out, span))
                or (span.struck < 0.8 and glides(seen, last.step, last.last, last.midi, span.midi))
            )
        ):
            last.step, last.last, last.midi, last.slid = span.first, span.last, span.midi, True
            last.sure = span.sure
        else:
            span.step = span.first
            out.append(span)
    return out


def _only_reached(last: _Span, span: _Span) -> bool:
    """Whether ``span`` is but the pitch that what began with ``last`` arrives at."""
    return (
        last.last - last.step <= _REACHED
        and abs(span.midi - last.midi) <= _FAR
        and span.begun < _UNBEGUN
        and last.begun > 0.5
    )


def _on_the_way(out: list[_Span], span: _Span) -> bool:
    """Whether the last of ``out`` is too short for a note and lies between the one before and ``span``."""
    if len(out) < 2 or out[-2].last != out[-1].first:
        return False
    one, two, three = out[-2].midi, out[-1].midi, span.midi
    return out[-1].last - out[-1].step <= _FLEETING and (one < two < three or one > two > three)


def _without_stops(spans: list[_Span]) -> list[_Span]:
    """Without what is only the noise of a string being stopped: a very short note of the same
    pitch at the end of another, or a doubtful one with silence after it.
    """
    out: list[_Span] = []
    for number, span in enumerate(spans):
        brief = span.last - span.first <= _BRIEF
        last = out[-1] if out else None
        joined = last is not None and last.last == span.first
        leads_on = number + 1 < len(spans) and spans[number + 1].first == span.last
        dull = span.struck < 0.3 and span.begun < 0.9  # nothing is slurred to its own pitch
        fading = not leads_on and span.last - span.first <= _FADING and span.begun < _STOPPED
        if last is not None and joined and (brief or dull or fading) and last.midi == span.midi:
            last.last = span.last
        elif not (brief and not leads_on and span.begun * span.sure < 0.5):
            out.append(span)
    return out


def _sure(chances: Floats, index: int) -> float:
    """Probability of the note's pitch, all its atoms taken together."""
    total = chances.sum(axis=0)
    return float(np.exp(total[index] - total.max()) / np.exp(total - total.max()).sum())


def _cents(heard: tuple[Dips, ...], a: int, b: int, midi: int, tuning: float) -> float:
    """Median deviation of the note's frames from its semitone."""
    values, weights = [], []
    for found in heard:
        off = found.pitch[a : b + 1] - midi - tuning
        good = np.abs(off) < 0.5
        values.append(off[good])
        weights.append(found.weight[a : b + 1][good])
    value, weight = np.concatenate(values), np.concatenate(weights)
    if not len(value):
        return 0.0
    order = np.argsort(value)
    at = np.searchsorted(np.cumsum(weight[order]), weight.sum() / 2)
    return 100 * float(value[order][min(at, len(value) - 1)])
