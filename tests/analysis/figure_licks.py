"""Licks from degrees, for the tests of figures."""

from __future__ import annotations

import random
from collections.abc import Sequence
from fractions import Fraction

from linewright.score import Lick, Mark, Meter, Note, bars_for
from linewright.theory import Frame, PitchClass, collection

MAJOR = Frame(PitchClass("C"), collection("major"))
MINOR_PENTATONIC = Frame(PitchClass("G"), collection("minor pentatonic"))
EIGHTH = Fraction(1, 2)


def lick_of(
    steps: Sequence[int | tuple[int, int]],
    frame: Frame = MAJOR,
    durations: Sequence[Fraction] | Fraction = EIGHTH,
    *,
    meter: str = "4/4",
    strings: Sequence[tuple[int, int]] | None = None,
    marks: dict[int, str] | None = None,
) -> Lick:
    """A lick from frame steps: 1 is the tonic (octave 4), 0 the frame note below it.

    A step given as ``(step, semitones)`` is that frame note raised by so many semitones.
    """
    if isinstance(durations, Fraction):
        durations = [durations] * len(steps)
    size = len(frame.collection.degrees)
    notes, at = [], Fraction(0)
    for index, (step, duration) in enumerate(zip(steps, durations, strict=True)):
        number, raised = step if isinstance(step, tuple) else (step, 0)
        octave, rung = divmod(number - 1, size)
        spelled = frame.pitch_classes[rung]
        spelled = PitchClass(spelled.step, spelled.alter + raised)
        base = frame.tonic.in_octave(4).midi + 12 * octave
        wanted = base + frame.collection.semitones[rung] + raised
        pitch = min((spelled.in_octave(o) for o in range(10)), key=lambda p: abs(p.midi - wanted))
        string, fret = strings[index] if strings else (None, None)
        mark = (Mark(marks[index]),) if marks and index in marks else ()
        notes.append(Note(at, duration, pitch, string, fret, mark))
        at += duration
    return Lick(tuple(notes), bars_for(Meter.parse(meter), at))


def random_walk(rng: random.Random, count: int, *, top: int = 12) -> list[int]:
    """Frame steps that move as lines do: mostly by step, some skips, few leaps, no plan."""
    place, way, size = rng.randint(1, top), rng.choice((-1, 1)), 1
    out = [place]
    while len(out) < count:
        keep = 0.55 if size <= 1 else 0.35
        size = rng.choices(range(6), (0.1, 0.54, 0.2, 0.08, 0.05, 0.03))[0]
        way = way if rng.random() < keep else -way
        if not 1 <= place + way * size <= top:
            way = -way
        place = min(top, max(1, place + way * size))
        out.append(place)
    return out
