"""Sound for the player: a timing map, and bars of lead, band, click and count-in as WAV.

The player lays bars of sound end to end, their tails overlapping, in any order and as often as
it likes (:mod:`linewright.sound.band.pieces`); a bar depends on nothing but the lick, the tempo
and the style, so it is an address. All bars share one fixed gain: levels are the player's.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from fractions import Fraction
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any, Final

from linewright.errors import NotFound, OptionError
from linewright.lines import Line
from linewright.score import Bar, Lick, Meter, swung
from linewright.score.performance import Part, Performance
from linewright.services.making import stream_bars
from linewright.services.wishes import Wishes
from linewright.sound.band import Changes, band_parts, usual_style
from linewright.sound.band.click import (
    ClickPlan,
    click_part,
    count_in_clicks,
    count_in_length,
)
from linewright.sound.band.passes import quarter_bpm_of, turn
from linewright.sound.band.pieces import pieces
from linewright.sound.lead import lead_part

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = [
    "COUNTS",
    "PERCENTS",
    "STEMS",
    "bar_wav",
    "endless_bar",
    "endless_map",
    "endless_row",
    "endless_wav",
    "timing_map",
    "warmed",
]

STEMS: Final = ("lead", "band", "click", "count")
PERCENTS: Final = (30, 150)
COUNTS: Final = (1, 2)
RATE: Final = 44100
#: One gain for every bar: two loud parts together stay under full scale.
_GAIN: Final = 0.6
_LONGEST_TAIL_S: Final = 6.0
_FADE_S: Final = 0.25


# -- the map -----------------------------------------------------------------------------
def timing_map(lick: Lick, sound: str, query: str = "") -> dict[str, Any]:
    """Where bars and notes sound, as JSON values.

    Times are quarters from the start of the lick, swing applied; ``seconds`` are at full tempo.

    Parameters
    ----------
    lick : Lick
    sound : str
        Address under which bars of sound are found.
    query : str
        What every such address carries besides tempo and style.
    """
    bpm = quarter_bpm_of(lick)
    moved = swung((t for n in lick.notes for t in (n.onset, n.end)), lick.bars, lick.swing)
    together: dict[Fraction, list[int]] = {}
    for index, note in enumerate(lick.notes):
        together.setdefault(note.onset, []).append(index)
    index_of = {bar.onset: place for place, bar in enumerate(lick.bars)}
    notes = []
    for index, note in enumerate(lick.notes):
        onset = moved.get(note.onset, note.onset)
        notes.append(
            {
                "note": index,
                "bar": index_of[lick.bar_at(note.onset).onset],
                "onset": float(onset),
                "end": float(moved.get(note.end, note.end)),
                "seconds": float(onset * 60 / bpm),
                "midi": note.midi,
                "together": together[note.onset],
            }
        )
    return {
        "bpm": float(bpm),
        "counted": float(lick.tempo.beat) if lick.tempo is not None else 1.0,
        "beat": float(lick.meter.beat),
        "bars": [_bar_row(bar) for bar in lick.bars],
        "notes": notes,
        "turn": float(turn(lick)),
        "count_in": {
            "first": [float(count_in_length(lick.bars, count)) for count in COUNTS],
            "later": [float(count * lick.meter.length) for count in COUNTS],
        },
        "usual": usual_style(lick).name,
        "has_chords": Changes.of(lick).has_chords,
        "sound": sound,
        "query": query,
        "endless": False,
    }


def _bar_row(bar: Bar) -> dict[str, Any]:
    return {"number": bar.number, "start": float(bar.onset), "length": float(bar.duration)}


# -- a lick's bars -----------------------------------------------------------------------
def bar_wav(lick: Lick, stem: str, index: int, *, percent: int = 100, style: str = "") -> bytes:
    """What one stem sounds in one bar, with all that rings on, as a 16-bit WAV.

    Parameters
    ----------
    lick : Lick
    stem : str
        One of :data:`STEMS`.
    index : int
        Which bar of ``lick.bars``, from 0.
    percent : int
        Of the lick's tempo, 30 to 150.
    style : str
        For ``band`` a style or ``usual``, for ``click`` a click pattern, for ``count`` the number
        of bars that are counted before this one.

    Raises
    ------
    OptionError, NotFound
    """
    _check(stem, percent)
    if not 0 <= index < len(lick.bars):
        raise NotFound(
            f"there is no bar with the index {index}", accepted=f"Use 0 to {len(lick.bars) - 1}"
        )
    return _bar_wav(lick, stem, index, percent, style)


def _check(stem: str, percent: int) -> None:
    if stem not in STEMS:
        raise NotFound(f"no stem is called {stem!r:.40}", accepted=f"Use {', '.join(STEMS)}")
    if not PERCENTS[0] <= percent <= PERCENTS[1]:
        raise OptionError(
            f"a tempo of {percent} %", accepted=f"Use {PERCENTS[0]} to {PERCENTS[1]} %"
        )


@lru_cache(maxsize=32)
def _bar_wav(lick: Lick, stem: str, index: int, percent: int, style: str) -> bytes:
    bpm = quarter_bpm_of(lick) * percent / 100
    if stem == "count":
        parts = [_count_in(lick, index, style)]
    else:
        parts = [cut[index] for cut in _pieces_of(lick, stem, style, bpm)]
    return _wav(parts, lick.bars[index].duration, bpm, stem)


@lru_cache(maxsize=24)
def _pieces_of(lick: Lick, stem: str, style: str, bpm: Fraction) -> tuple[tuple[Part, ...], ...]:
    if stem == "lead":
        return (pieces(lead_part(lick), lick.bars),)
    if stem == "click":
        part = click_part(lick.bars, ClickPlan(style or "beats"))
        moved = swung((s.onset for s in part.strokes), lick.bars, lick.swing)
        strokes = tuple(replace(s, onset=moved.get(s.onset, s.onset)) for s in part.strokes)
        return (pieces(replace(part, strokes=strokes), lick.bars),)
    made = band_parts(lick, None if style in ("", "usual") else style, quarter_bpm=bpm)
    return tuple(pieces(part, lick.bars) for part in made)


def _count_in(lick: Lick, index: int, style: str) -> Part:
    if style not in map(str, COUNTS):
        raise OptionError(f"a count-in of {style!r:.20} bars", accepted="Use 1 or 2")
    return Part("Count-in", "click", count_in_clicks(lick.bars[index:], int(style)))


# -- a line without end ------------------------------------------------------------------
def endless_bar(lick: Lick, tonic: str | None, wishes: Wishes, index: int) -> Line:
    """Bar ``index`` (from 0) of the line without end that wishes ask for."""
    return next(stream_bars(lick, tonic, wishes, index + 1))


def endless_map(
    lick: Lick, tonic: str | None, wishes: Wishes, sound: str, query: str
) -> dict[str, Any]:
    """What :func:`timing_map` tells, of a line without end: its bars come one by one."""
    first = endless_bar(lick, tonic, wishes, 0)
    found = timing_map(first.lick, sound, query)
    ground = _round(first)
    return {
        **found,
        "bars": [],
        "notes": [],
        "turn": 0.0,
        "usual": usual_style(first.lick).name,
        "has_chords": ground.has_chords,
        "endless": True,
    }


def endless_row(line: Line, index: int) -> dict[str, Any]:
    """A bar of a line without end: where it lies, and its notes within it."""
    row = timing_map(line.lick, "")
    length = row["bars"][0]["length"]
    return {
        "number": index + 1, "start": index * length, "length": length,
        "notes": [
            {**n, "bar": index, "onset": n["onset"] + index * length, "end": n["end"] + index * length}
            for n in row["notes"]
        ],
    }  # fmt: skip


def endless_wav(
    lick: Lick,
    tonic: str | None,
    wishes: Wishes,
    stem: str,
    index: int,
    *,
    percent: int = 100,
    style: str = "",
) -> bytes:
    """As :func:`bar_wav`, of a bar of a line without end."""
    _check(stem, percent)
    line = endless_bar(lick, tonic, wishes, index)
    if stem != "band":
        return _bar_wav(line.lick, stem, 0, percent, style)
    ground = _round(line)
    return _round_wav(
        ground, index % len(ground.bars), quarter_bpm_of(line.lick) * percent / 100,
        usual_style(line.lick).name if style in ("", "usual") else style,
    )  # fmt: skip


def _round(line: Line) -> Changes:
    """One round of the chords a line goes over."""
    bar, count = line.lick.bars[0], len(line.progression.bars)
    length = bar.meter.length
    bars = tuple(replace(bar, number=i + 1, onset=i * length) for i in range(count))
    return Changes(bars, line.progression.spans(length, count), line.lick.swing)


@lru_cache(maxsize=24)
def _round_wav(ground: Changes, place: int, bpm: Fraction, style: str) -> bytes:
    parts = [cut[place] for cut in _round_pieces(ground, bpm, style)]
    return _wav(parts, ground.bars[place].duration, bpm, "band")


@lru_cache(maxsize=8)
def _round_pieces(ground: Changes, bpm: Fraction, style: str) -> tuple[tuple[Part, ...], ...]:
    made = band_parts(ground, style, quarter_bpm=bpm)
    return tuple(pieces(part, ground.bars) for part in made)


@cache
def warmed() -> bool:
    """Have at hand what the first bar would wait for; a map is asked for before any bar is."""
    click = count_in_clicks((Bar(1, Fraction(0), Fraction(1), Meter(1, 4)),), 1)
    return bool(_wav([Part("Click", "click", click)], Fraction(1), Fraction(240), "click"))


# -- samples -----------------------------------------------------------------------------
def _wav(parts: Iterable[Part], length: Fraction, bpm: Fraction, stem: str) -> bytes:
    """Parts as they sound from the start of their bar until all is still."""
    import numpy as np

    from linewright.sound.render_stage import GROUPS, Stage
    from linewright.sound.write_audio import write_audio

    made = tuple(parts)
    # what was plucked here may be hammered on, or counted, past the bar line
    length = max([length, *(stroke.end for part in made for stroke in part.strokes)])
    stage = Stage(RATE)
    end = stage.schedule(Performance(made, length, bpm), 0)
    mixed = [_summed(stage.mix(0, end), GROUPS)]
    tail = min(max(stage.silent_from - end, 0), round(_LONGEST_TAIL_S * RATE))
    if tail:
        rest = _summed(stage.mix(end, end + tail), GROUPS)
        if stage.silent_from > end + tail:
            fade = min(tail, round(_FADE_S * RATE))
            rest[-fade:] *= np.linspace(1, 0, fade, dtype=np.float32)[:, None]
        mixed.append(rest)
    samples = np.concatenate(mixed) * np.float32(_GAIN)
    if stem != "band":  # in the middle: one channel says it all
        samples = samples[:, :1] * np.float32(2**0.5)
    return write_audio(samples, RATE, "wav")


def _summed(
    groups: Mapping[str, NDArray[np.float32]], balance: Mapping[str, float]
) -> NDArray[np.float32]:
    first, *others = (sound * sound.dtype.type(balance[name]) for name, sound in groups.items())
    for other in others:
        first += other
    return first
