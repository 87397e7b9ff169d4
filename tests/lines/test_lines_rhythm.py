"""The grid a line takes from its lick, where it breathes, and licks that hang on no scale."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from checker import broken
from line_licks import demo, demo_names, lick

from linewright.analysis import analyze
from linewright.errors import OptionError
from linewright.lines import LineRequest, line_model
from linewright.lines.rhythms import closing_bars, own_grid


@pytest.mark.parametrize(
    ("name", "grid"),
    [
        ("porch-answer", "eighths"),
        ("late-shift", "eighths"),  # 12/8: quarters do not fit its beats
        ("lantern", "quarters"),
        ("ferry-road", "quarters"),
        ("rain-on", "triplets"),
        ("creek", "sixteenths"),
    ],
)
def test_a_line_goes_in_the_licks_commonest_note(name: str, grid: str) -> None:
    """Counted by hand in the demo licks."""
    analysis, model = demo(name)
    assert own_grid(analysis.lick) == grid
    line = model.sample(LineRequest(bars=4))
    assert line.lick.notes == model.sample(LineRequest(bars=4, grid=grid)).lick.notes
    assert broken(analysis, line) == []


def test_phrases_end_where_the_licks_do() -> None:
    """Late Shift holds the last note of bars 1, 3 and 4 and rests in 2; the reel runs through to its
    last bar.
    """
    late = demo("late-shift")[0].lick
    assert closing_bars(late, LineRequest()) == (True, True, True, True)
    reel = demo("gatepost")[0].lick
    assert closing_bars(reel, LineRequest()) == (False, False, False, True)
    assert closing_bars(reel, LineRequest(phrase=2)) == (False, True)
    assert closing_bars(reel, LineRequest(phrase=0)) == (False,)
    line = demo("late-shift")[1].sample(LineRequest(bars=8))
    ends = [
        [n for n in line.lick.notes if bar.onset <= n.onset < bar.end][-1].duration
        for bar in line.lick.bars
    ]
    held = [length >= Fraction(3, 2) for length in ends]
    assert held == [True] * 8


def test_quarters_breathe_for_two_beats() -> None:
    line = demo("lantern")[1].sample(LineRequest(bars=8, phrase=4))
    fourth = [n for n in line.lick.notes if line.lick.bar_at(n.onset).number == 4]
    assert [n.duration for n in fourth] == [1, 2]


def test_a_lick_that_no_scale_fits_gives_lines_of_its_notes() -> None:
    """The hexachord 1 2 3 4 5 6: major and mixolydian are not told apart (common practice)."""
    analysis = analyze(lick("C4 D4 E4 F4 G4 A4 G4 E4 F4 D4 E4 C4 D4 F4 E4 C4", chords="C G C"))
    assert analysis.frame is None
    model = line_model(analysis)
    line = model.sample(LineRequest(bars=8))
    assert broken(analysis, line) == []
    assert {n.midi % 12 for n in line.lick.notes} <= {0, 2, 4, 5, 7, 9}
    assert {r.degree for r in line.notes} <= {"1", "2", "3", "4", "5", "6"}
    assert [p.tag for p in model.figures] == [
        f"f{k}" for k, f in enumerate(analysis.figures, 1) if f"f{k}" in dict(line.asked)
    ]
    assert line.lick.notes[-1].midi % 12 in (0, 4, 7)


def test_a_lick_of_more_notes_than_a_scale_is_refused_in_words() -> None:
    analysis = analyze(lick("C4 Db4 D4 Eb4 E4 F4 Gb4 G4 Ab4 A4 Bb4 B4 C5 B4 Bb4 A4"))
    assert analysis.frame is None
    with pytest.raises(OptionError, match=r"no plain scale.* 12 different notes"):
        line_model(analysis)


def test_licks_that_repeat_no_note_give_lines_that_hardly_do() -> None:
    """Of Aird's Airs (1782), as they come with music21, 73 tunes repeat no note in their first four
    bars; 5.5 % of their moves from there on do (``python -m benchmarks.line_habits``). Lines
    keep well below: under two thirds of that.
    """
    again = count = 0
    for name in demo_names():
        analysis, model = demo(name)
        own = [analysis.lick.notes[i].midi for i in analysis.lick.melody]
        if any(a == b for a, b in pairwise(own)):
            continue
        for seed in range(3):
            midi = [n.midi for n in model.sample(LineRequest(bars=8, seed=seed)).lick.notes]
            again += sum(a == b for a, b in pairwise(midi))
            count += len(midi) - 1
    assert count > 1000
    assert again < 0.035 * count < 2 / 3 * 0.055 * count
