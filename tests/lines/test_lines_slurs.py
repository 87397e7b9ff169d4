"""Slurs in made lines, judged anew from the lick's notes and the line's."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from line_licks import demo, demo_names

from linewright.analysis import Analysis
from linewright.errors import OptionError
from linewright.lines import Line, LineRequest

SLURS = {"hammer-on", "pull-off", "slide"}


def on_beat(lick, onset: Fraction) -> bool:
    bar = max((b for b in lick.bars if b.onset <= onset), key=lambda b: b.onset)
    offset = onset - bar.onset + (bar.meter.length - bar.duration if bar.number == 0 else 0)
    starts, at = set(), Fraction(0)
    for beat in bar.meter.beats:
        starts.add(at)
        at += beat
    return offset in starts


def slur_of(note) -> str | None:
    return next((m.name for m in note.marks if m.name in SLURS), None)


def learned(analysis: Analysis) -> dict[tuple, set[str]]:
    """(semitones above the tonic before and after, rise, on the beat) -> the slurs heard there."""
    lick, found = analysis.lick, {}
    melody = [lick.notes[i] for i in lick.melody]
    tonic = analysis.tonic.number
    for a, b in pairwise(melody):
        key = ((a.midi - tonic) % 12, b.midi - a.midi, on_beat(lick, b.onset))
        if slur_of(b):
            found.setdefault(key, set()).add(slur_of(b))
    return found


def wrong(analysis: Analysis, line: Line) -> list[str]:
    """Slurs that the lick does not have, or that cannot be played."""
    heard, found = learned(analysis), []
    tonic = analysis.tonic.number
    for (a, _), (b, reason) in pairwise(zip(line.lick.notes, line.notes, strict=True)):
        name = slur_of(b)
        if name is None:
            continue
        if a.string != b.string:
            found.append(f"{name} across strings")
        elif name == "hammer-on" and not b.fret > a.fret:
            found.append("a hammer-on that does not rise")
        elif name == "pull-off" and not b.fret < a.fret:
            found.append("a pull-off that does not fall")
        elif name == "slide" and 0 in (a.fret, b.fret):
            found.append("a slide with an open string")
        elif not reason.pinned:
            key = ((a.midi - tonic) % 12, b.midi - a.midi, on_beat(line.lick, b.onset))
            if name not in heard.get(key, set()):
                found.append(f"{name} at {key}, never heard")
    return found


@pytest.mark.parametrize("name", demo_names())
def test_slurs_are_the_lick_s_and_can_be_played(name: str) -> None:
    analysis, model = demo(name)
    try:
        line = model.sample(LineRequest(bars=12, follow="home", seed=5))
    except OptionError:
        pytest.skip("no line from this lick")
    assert wrong(analysis, line) == []
    again = model.resample(line, [2, 3, 8])
    assert wrong(analysis, again) == []


def test_a_lick_full_of_slurs_has_lines_with_some_and_one_without_none() -> None:
    _, slurred = demo("late-shift")
    marks = [slur_of(n) for n in slurred.sample(LineRequest(bars=12)).lick.notes]
    assert sum(m is not None for m in marks) >= len(marks) / 10
    _, plain = demo("basement-stairs")
    assert not any(slur_of(n) for n in plain.sample(LineRequest(bars=12)).lick.notes)
