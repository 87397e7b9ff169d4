"""A lick as it is to sound, with its band and click: the front door to sound and MIDI."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from linewright.errors import OptionError
from linewright.score import Lick, swung
from linewright.score.performance import Part, Performance, Stroke
from linewright.sound.band.click import ClickPlan, click_part, count_in_clicks
from linewright.sound.band.parts import band_parts
from linewright.sound.band.passes import passes_of, quarter_bpm_of, repeated
from linewright.sound.lead import lead_part

__all__ = ["performance_of"]


def performance_of(
    lick: Lick,
    *,
    band: str | None = None,
    click: ClickPlan | None = None,
    count_in: int = 0,
    lead: bool = True,
    loops: int = 1,
    tempo: Fraction | None = None,
    seed: int | None = None,
) -> Performance:
    """A lick as it is to sound: the one front door to sound and multi-track MIDI.

    Parameters
    ----------
    lick : Lick
    band : str, optional
        A style, or ``usual`` for the one that suits the lick; no band by default.
    click : ClickPlan, optional
        A click all the way through.
    count_in : int
        Bars counted before it, less the pickup.
    lead : bool
        Whether the lick itself sounds.
    loops : int
        Passes, one after the other in meter (see :func:`turn`).
    tempo : Fraction, optional
        Beats a minute, of the beat of the lick's own tempo; the lick's own by default.
    seed : int, optional
        Slight human timing of the band.

    Raises
    ------
    OptionError
        For a style that there is not, a band without chords, numbers out of range, or when
        nothing is left to sound.
    """
    bpm = quarter_bpm_of(lick, tempo)
    laid = passes_of(lick, loops, count_in)
    parts: list[Part] = []
    if lead and lick.notes:
        parts.append(repeated(lead_part(lick), laid))
    if band is not None:
        style = None if band == "usual" else band
        made = band_parts(lick, style, quarter_bpm=bpm, seed=seed)
        parts += [repeated(part, laid) for part in made]
    clicks: list[Stroke] = list(count_in_clicks(lick.bars, count_in))
    if click is not None:
        played = laid.bars(lick)
        going = click_part(played, click).strokes
        moved = swung((stroke.onset for stroke in going), played, lick.swing)
        heard = {stroke.onset for stroke in clicks}
        clicks += [
            replace(stroke, onset=moved.get(stroke.onset, stroke.onset))
            for stroke in going
            if stroke.onset not in heard
        ]
    if clicks:
        parts.append(Part("Click", "click", tuple(sorted(clicks, key=lambda s: s.onset))))
    if not parts:
        raise OptionError(
            "nothing is left to sound", accepted="Keep the lead, or add a band or a click"
        )
    return Performance(tuple(parts), laid.length, bpm, laid.count_in)
