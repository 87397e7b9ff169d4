"""Rendering a lead with a band, in seconds of sound for a second of one core's time.

The band is a stand-in: bass on the quarters, chords of four to six strings strummed on every
eighth, a click on the beat; the lead plays eighths with slurs, slides and bends among them. Notes
kept from an earlier rendering are thrown away first, and processor time counts every thread.
"""

from __future__ import annotations

import time
import tracemalloc
from dataclasses import replace
from fractions import Fraction
from functools import cache

from linewright.score import Lick, Part, Performance, Stroke
from linewright.services.demo_library import demo_licks
from linewright.services.sounding import endless_wav
from linewright.services.wishes import Wishes
from linewright.sound import string_tone
from linewright.sound.render import render

BPM = Fraction(120)
BARS = 12
_LINE = (
    (4, 5), (3, 3), (3, 5), (2, 3), (2, 1), (3, 3), (4, 5), (4, 3),
    (1, 3), (1, 6), (2, 3), (2, 6), (3, 5), (3, 3), (4, 5), (5, 5),
)  # fmt: skip
_OPEN = (64, 59, 55, 50, 45, 40)
#: Frets by string from 6 to 1, None unplayed.
_CHORDS = (
    (3, 5, 5, 4, 3, 3), (None, 3, 2, 0, 1, 0), (None, None, 0, 2, 3, 2), (3, 5, 3, 4, 3, 3),
)  # fmt: skip


def lead(bars: int, start: int = 0) -> Part:
    """Eighths over two octaves, a slur, a slide or a bend in every bar."""
    strokes = []
    for index in range(bars * 8):
        string, fret = _LINE[(index + start * 8) % len(_LINE)]
        stroke = Stroke(
            Fraction(index, 2), Fraction(1, 2), _OPEN[string - 1] + fret, string, fret,
            (0.76, 0.64, 0.69, 0.64)[index % 4],
        )  # fmt: skip
        before = strokes[-1] if strokes else None
        if before is not None and before.string == string:
            attack = ("hammer-on" if stroke.midi > before.midi else "pull-off", "slide")[index % 2]
            stroke = replace(stroke, attack=attack)
        elif index % 8 == 6:
            stroke = replace(stroke, bend=Fraction(2))
        strokes.append(stroke)
    return Part("lead", "steel", tuple(strokes))


def strums(bars: int) -> Part:
    """Every eighth a chord, down and up, its strings 12 ms apart."""
    strokes = []
    gap = Fraction(12, 1000) * BPM / 60
    for index in range(bars * 8):
        frets = _CHORDS[index // 8 % len(_CHORDS)]
        places = [(6 - k, fret) for k, fret in enumerate(frets) if fret is not None]
        if index % 2:
            places = places[::-1][:4]
        for rank, (string, fret) in enumerate(places):
            onset = Fraction(index, 2) + rank * gap
            end = Fraction(index + 1, 2) + rank * gap
            strength = 0.6 if index % 2 else 0.72
            strokes.append(
                Stroke(onset, end - onset, _OPEN[string - 1] + fret, string, fret, strength)
            )
    return Part("strums", "steel", tuple(sorted(strokes, key=lambda s: s.onset)))


def bass(bars: int) -> Part:
    """A note on every quarter."""
    places = ((4, 3), (3, 2), (3, 5), (2, 2))
    opened = (43, 38, 33, 28)
    return Part(
        "bass", "bass",
        tuple(
            Stroke(Fraction(k), Fraction(1), opened[s - 1] + f, s, f)
            for k in range(bars * 4)
            for s, f in (places[k % 4],)
        ),
    )  # fmt: skip


def click(bars: int) -> Part:
    """A click on every beat, the first of the bar accented."""
    return Part(
        "click", "click",
        tuple(
            Stroke(Fraction(k), Fraction(1, 8), 76, attack="click" if k % 4 else "accent click")
            for k in range(bars * 4)
        ),
    )  # fmt: skip


def ensemble(bars: int, start: int = 0) -> Performance:
    """Everybody."""
    parts = (lead(bars, start), strums(bars), bass(bars), click(bars))
    return Performance(parts, Fraction(4 * bars), BPM)


def _play(first: int, last: int) -> int:
    """Bars of a line without end as the page asks for them, lead and band; bytes of sound."""
    lick, wishes = _lick(), Wishes(over="12-bar blues")
    return sum(
        len(endless_wav(lick, None, wishes, stem, index, style=style))
        for index in range(first, last)
        for stem, style in (("lead", ""), ("band", "swing"))
    )


@cache
def _lick() -> Lick:
    return next(iter(demo_licks()))[1].lick


def _cold() -> None:
    string_tone.forget()


def run() -> list[tuple[str, float, float | None, float | None, str]]:
    """(what, times real time, None, None, target)."""
    piece = ensemble(BARS)
    seconds = piece.seconds(piece.length)
    render(ensemble(1))  # imports
    rows: list[tuple[str, float, float | None, float | None, str]] = []
    for what, act in (
        ("lead and band, 12 bars, nothing kept (times real time)", _cold),
        ("the same again, notes kept (times real time)", lambda: None),
    ):
        best = 0.0
        for _ in range(3):
            act()
            begin = time.process_time()
            render(piece)
            best = max(best, seconds / (time.process_time() - begin))
        rows.append((what, best, None, None, "at least 40"))
    _play(0, 1)  # imports, and the model of the lick
    _cold()
    begin = time.process_time()
    _play(1, 2)
    first = (time.process_time() - begin) * 1000
    rows.append(("a bar of a line without end, nothing kept (ms)", first, None, None, "under 400"))
    _play(2, 60)  # the room for bars kept at hand is full now
    tracemalloc.start()
    _play(60, 64)
    early = tracemalloc.get_traced_memory()[0]
    _play(64, 124)
    grown = (tracemalloc.get_traced_memory()[0] - early) / 2**20
    tracemalloc.stop()
    rows.append(("memory 60 bars more of it take (MiB)", grown, None, None, "under 8"))
    return rows


if __name__ == "__main__":
    for what, ours, _, _, target in run():
        print(f"{what}: {ours:.1f}; {target}")
