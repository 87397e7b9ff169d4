"""The band's parts: a guitar and a bass that accompany chords over bars."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from random import Random
from typing import Final

from linewright.errors import OptionError
from linewright.fretboard import instrument
from linewright.score import Instrument, Lick
from linewright.score.performance import Part
from linewright.sound.band.bass import bass_part
from linewright.sound.band.changes import Changes
from linewright.sound.band.comping import guitar_part
from linewright.sound.band.styles import find_style, usual_style

__all__ = ["USUAL_BPM", "band_parts"]

#: Quarters a minute where a lick does not say (common practice for a first reading).
USUAL_BPM: Final = Fraction(100)
_LATE: Final = Fraction(6, 1000)  # seconds either way, for a band that is to sound played


def band_parts(
    changes: Changes | Lick,
    style: str | None = None,
    *,
    quarter_bpm: Fraction = USUAL_BPM,
    on: Instrument | None = None,
    seed: int | None = None,
) -> tuple[Part, ...]:
    """A guitar and a bass that accompany chords over bars.

    Parameters
    ----------
    changes : Changes or Lick
    style : str, optional
        One of :data:`~linewright.sound.band.styles.STYLES`; for a lick the one that suits it
        when not given, else ``plain``.
    quarter_bpm : Fraction
        Quarters a minute: how far apart the strings of a strum are depends on it.
    on : Instrument, optional
        What the chords are played on, a guitar in standard tuning by default.
    seed : int, optional
        Slight human timing and strength, the same for the same seed; exact without.

    Raises
    ------
    OptionError
        For a style that there is not, or where there are no chords.
    """
    if isinstance(changes, Lick):
        chosen = find_style(style) if style is not None else usual_style(changes)
        changes = Changes.of(changes)
    else:
        chosen = find_style(style or "plain")
    if not changes.has_chords:
        raise OptionError(
            "there are no chords for a band to play",
            accepted="Write chords over the lick, or leave the band out",
        )
    parts = (
        guitar_part(changes, chosen, on or instrument("guitar"), quarter_bpm),
        bass_part(changes, chosen),
    )
    if seed is None:
        return parts
    late = _LATE * quarter_bpm / 60
    return tuple(_humanised(part, Random(f"{seed} {part.name}"), late) for part in parts)


def _humanised(part: Part, rng: Random, late: Fraction) -> Part:
    strokes = []
    for stroke in part.strokes:
        by = late * Fraction(rng.randint(-100, 100), 100)
        strength = min(1.0, max(0.05, stroke.strength * (1 + rng.uniform(-0.08, 0.08))))
        onset = max(Fraction(0), stroke.onset + by)
        strokes.append(replace(stroke, onset=onset, strength=strength))
    return Part(part.name, part.voice, tuple(sorted(strokes, key=lambda s: s.onset)))
