"""How lines end and what follows a leap: common practice, as shares of many lines."""

from __future__ import annotations

from itertools import pairwise

from line_licks import demo, demo_names

from linewright.analysis.figures.views import frame_steps
from linewright.lines import LineRequest

SEEDS = range(1, 7)


def test_lines_come_home_by_step() -> None:
    """The last note is the home note or the root, 3rd or 5th of the last chord, and mostly a frame
    step away from the note before it.
    """
    at_home = by_step = count = 0
    for name in demo_names():
        analysis, model = demo(name)
        for seed in SEEDS:
            line = model.sample(LineRequest(bars=4, seed=seed))
            before, last = (line.lick.notes[i] for i in line.lick.melody[-2:])
            chord = line.lick.chord_at(last.onset)
            tones = {1, 3, 5}
            named = {
                (chord.root.number + d.semitones) % 12 for d in chord.degrees if d.number in tones
            }
            at_home += last.midi % 12 in named | {analysis.tonic.number}
            a, b = frame_steps(analysis.frame, [before.midi, last.midi])
            by_step += 0 < abs(b - a) <= 2
            count += 1
    assert at_home >= 0.98 * count
    assert by_step >= 0.7 * count


def test_phrases_rest_on_the_chord() -> None:
    """The last note of a phrase is a tone of the chord nine times out of ten."""
    rests = on_chord = 0
    for name in demo_names():
        _, model = demo(name)
        for seed in SEEDS:
            line = model.sample(LineRequest(bars=8, phrase=2, seed=seed))
            for bar in (2, 4, 6):
                end = line.lick.bars[bar - 1].end
                last = [n for n in line.lick.notes if n.end == end][-1]
                chord = line.lick.chord_at(last.onset)
                rests += 1
                on_chord += last.midi % 12 in chord.numbers
    assert on_chord >= 0.9 * rests


def test_a_landing_asked_for_comes_before_the_home_note() -> None:
    for name in demo_names()[:6]:
        analysis, model = demo(name)
        line = model.sample(LineRequest(bars=4, landing="5"))
        last = line.lick.notes[line.lick.melody[-1]]
        assert (last.midi - analysis.tonic.number) % 12 == 7


def test_leaps_turn_back() -> None:
    """After a fourth or more a line turns back two times out of three at the least (post-skip
    reversal; in 1,362 tunes it is seven in ten or more, ``benchmarks.line_habits``).
    """
    turned = count = 0
    for name in demo_names():
        _, model = demo(name)
        for seed in SEEDS:
            line = model.sample(LineRequest(bars=8, seed=seed, mix={}))
            midi = [line.lick.notes[i].midi for i in line.lick.melody]
            moves = [b - a for a, b in pairwise(midi)]
            for one, two in pairwise(moves):
                if abs(one) >= 5 and two:
                    count += 1
                    turned += (one > 0) != (two > 0)
    assert turned >= 0.667 * count
