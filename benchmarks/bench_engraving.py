"""Engraving: verovio's own time against the whole of :func:`linewright.page.engrave`.

Reference: verovio's ``loadData`` and ``renderToSVG`` on the MEI of the same lick, with the same
options, in the same process. Target: the whole takes at most half as long again.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from time import process_time

import verovio

from linewright.analysis import analyze
from linewright.page import engrave
from linewright.page.engraving import OPTIONS
from linewright.score import ChordSpan, Instrument, Lick, Mark, Meter, Note, Tempo, bars_for
from linewright.theory import ChordSymbol, Key, Pitch

F = Fraction
GUITAR = Instrument("guitar", tuple(map(Pitch.parse, ("E4", "B3", "G3", "D3", "A2", "E2"))))
#: A four-bar blues lick: (length, pitch, string, fret, mark).
PHRASE = (
    ("1/2", "D3", 4, 0, ""), ("1/2", "F3", 4, 3, ""), ("1/2", "G3", 3, 0, ""),
    ("1/2", "Bb3", 3, 3, "hammer-on"), ("1/3", "D4", 2, 3, ""), ("1/3", "Db4", 2, 2, "pull-off"),
    ("1/3", "C4", 2, 1, "pull-off"), ("1", "Bb3", 3, 3, "vibrato"),
    ("1/2", "G3", 3, 0, ""), ("1/2", "F3", 4, 3, ""), ("1/2", "G3", 3, 0, ""),
    ("1/2", "Bb3", 3, 3, ""), ("1", "C4", 2, 1, "accent"), ("1", "D4", 2, 3, ""),
    ("1/2", "F4", 1, 1, ""), ("1/2", "D4", 2, 3, ""), ("1/2", "C4", 2, 1, ""),
    ("1/2", "Bb3", 3, 3, ""), ("1/2", "B3", 3, 4, "slide"), ("1/2", "G3", 3, 0, ""),
    ("1", "F3", 4, 3, ""), ("3", "G3", 3, 0, "vibrato"),
)  # fmt: skip


def example() -> Lick:
    """The lick that is engraved."""
    at, notes = F(0), []
    for length, pitch, string, fret, mark in PHRASE:
        marks = (Mark(mark),) if mark else ()
        notes.append(Note(at, F(length), Pitch.parse(pitch), string, fret, marks))
        at += F(length)
    return Lick(
        tuple(notes), bars_for(Meter(4, 4), at, key=Key.parse("Gm")),
        chords=(ChordSpan(F(0), F(8), ChordSymbol.parse("Gm7")),
                ChordSpan(F(8), F(8), ChordSymbol.parse("C7"))),
        title="Bench", instrument=GUITAR, tempo=Tempo(F(100)),
    )  # fmt: skip


def recurring() -> Lick:
    """A scale in falling fours for four bars: eight brackets over the staff."""
    pitches = ["G5", "F#5", "E5", "D5", "C5", "B4", "A4", "G4", "F#4", "E4", "D4"]
    names = [pitches[start + step] for start in range(8) for step in range(4)]
    notes = tuple(Note(F(i, 2), F(1, 2), Pitch.parse(name)) for i, name in enumerate(names))
    return Lick(notes, bars_for(Meter(4, 4), F(16), key=Key.parse("G")), tempo=Tempo(F(100)))


def _best(*runs: Callable[[], object], rounds: int = 60) -> list[float]:
    """The least processor time of each, in milliseconds, taken in turns."""
    times: list[list[float]] = [[] for _ in runs]
    for _ in range(rounds):
        for taken, run in zip(times, runs, strict=True):
            start = process_time()
            run()
            taken.append((process_time() - start) * 1000)
    return [min(taken) for taken in times]


def run() -> list[tuple[str, float, float, float, str]]:
    """Rows of (what, ours in ms, reference in ms, ratio, target)."""
    return [
        _row("engrave a 4-bar lick / verovio alone", example()),
        _row("the same with eight figures bracketed", recurring()),
    ]


def _row(what: str, lick: Lick) -> tuple[str, float, float, float, str]:
    analysis = analyze(lick)
    engraving = engrave(lick, analysis=analysis)
    toolkit = verovio.toolkit()
    toolkit.setOptions(OPTIONS | {"pageWidth": round(760 / 0.42), "pageHeight": 60000, "scale": 42})

    def alone() -> None:
        toolkit.loadData(engraving.mei)
        toolkit.renderToSVG(1)

    alone()
    ours, reference = _best(lambda: engrave(lick, analysis=analysis), alone)
    return what, ours, reference, ours / reference, "at most 1.5"


if __name__ == "__main__":
    for what, ours, reference, ratio, target in run():
        print(f"{what}: {ours:.2f} ms / {reference:.2f} ms = {ratio:.2f} ({target})")
