"""What a step is played over while a take is recorded (its band and its click, no lead), and what
of a written take can be sounded.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from typing import Any, Final

from linewright.errors import OptionError
from linewright.fretboard import instrument, places
from linewright.practice import PlanSheet
from linewright.practice.takes import terms_of
from linewright.score import Lick, Tempo, bars_for
from linewright.services.bring import made_of
from linewright.services.sounding import timing_map
from linewright.services.taking import step_of

__all__ = ["TEMPOS", "ground_lick", "playable", "recording_map"]

#: Beats a minute a take may be recorded at.
TEMPOS: Final = (20, 400)
#: Fewest bars of a round as the player lays them: one bar alone would be fetched too often.
_LEAST_BARS: Final = 4


@lru_cache(maxsize=32)
def ground_lick(sheet: PlanSheet, number: int, bpm: int) -> Lick:
    """One round or more of a step's chords as a lick without notes.

    Parameters
    ----------
    sheet : PlanSheet
    number : int
        Which step, from 1.
    bpm : int
        Tempo of the click, in the plan's beat.
    """
    if not TEMPOS[0] <= bpm <= TEMPOS[1]:
        raise OptionError(f"a tempo of {bpm} a minute", accepted=f"Use {TEMPOS[0]} to {TEMPOS[1]}")
    step = step_of(sheet, number)
    ground = terms_of(step, made_of(sheet.lick, sheet.tonic)).ground
    rounds = -(-_LEAST_BARS * ground.meter.length // ground.length)
    chords = tuple(
        replace(span, onset=span.onset + turn * ground.length)
        for turn in range(int(rounds))
        for span in ground.chords
    )
    return Lick(
        (),
        bars_for(ground.meter, rounds * ground.length),
        chords,
        title=step.title,
        tempo=Tempo(Fraction(bpm), ground.beat),
        swing=ground.swing,
    )


def recording_map(sheet: PlanSheet, number: int, bpm: int, sound: str) -> dict[str, Any]:
    """The timing map of :func:`ground_lick`, its sound under the address ``sound``."""
    return timing_map(ground_lick(sheet, number, bpm), sound, f"bpm={bpm}")


def playable(lick: Lick) -> Lick:
    """A written take without the notes its instrument has no place for.

    The ear listens a little below the lowest string: one note heard there, or misheard, is no reason
    for the rest to be silent.
    """
    neck = lick.instrument or instrument("guitar")
    return lick.with_(
        notes=tuple(n for n in lick.notes if n.string is not None or places(n.midi, neck))
    )
