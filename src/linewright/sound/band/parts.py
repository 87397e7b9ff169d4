"""The band's parts: a guitar and a bass that accompany chords over bars."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from linewright.errors import OptionError
from linewright.fretboard import instrument
from linewright.score import Instrument, Lick
from linewright.score.performance import Part
from linewright.sound.band.bass import bass_part
from linewright.sound.band.changes import Changes
from linewright.sound.band.comping import guitar_part
from linewright.sound.band.styles import find_style, usual_style
from linewright.sound.lead import humanised

__all__ = ["USUAL_BPM", "band_parts"]

#: Quarters a minute where a lick does not say (common practice for a first reading).
USUAL_BPM: Final = Fraction(100)


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
    return tuple(
        humanised(part, seed + place, quarter_bpm=quarter_bpm) for place, part in enumerate(parts)
    )
