"""Laws the analysis must keep whatever the phrase."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from linewright.analysis import Analysis, analyze
from linewright.analysis.as_json import analysis_to_dict
from linewright.analysis.words import describe
from linewright.score import Bar, ChordSpan, Lick, Meter
from linewright.theory import Interval
from strategies import licks

SOME = licks().filter(lambda lick: bool(lick.notes))
INTERVALS = st.sampled_from(
    [Interval(1, 2), Interval(2, 3), Interval(3, 5), Interval(-1, -2), Interval(4, 7)]
)


def facts(analysis: Analysis) -> list[object]:
    """What should not change when a phrase is moved."""
    return [
        analysis.frame.collection.name if analysis.frame else None,
        analysis.colour,
        [fact.degree.semitones for fact in analysis.notes],
        [(n.index, n.degree.semitones, n.function) for n in analysis.outside_notes],
    ]


@settings(max_examples=60, deadline=None)
@given(SOME, INTERVALS)
def test_transposing_and_analysing_commute(lick: Lick, interval: Interval) -> None:
    if not all(24 <= n.midi + interval.semitones <= 108 for n in lick.notes):
        return
    one = analyze(lick.with_(spelled=False), "D")
    moved = analyze(lick.transpose(interval).with_(spelled=False), one.tonic.transpose(interval))
    assert facts(one) == facts(moved)


@settings(max_examples=60, deadline=None)
@given(SOME)
def test_writing_in_double_values_changes_nothing(lick: Lick) -> None:
    """4/4 written in 4/2: the same music, every duration doubled."""
    if any(
        b.meter.denominator == 1 or b.meter.denominator > 8 or b.meter.is_compound
        for b in lick.bars
    ):
        return

    def meter(old: Meter) -> Meter:
        return replace(old, denominator=old.denominator // 2)

    two = Fraction(2)
    if any(
        meter(b.meter).is_compound or len(meter(b.meter).beats) != len(b.meter.beats)
        for b in lick.bars
    ):
        return
    slow = replace(
        lick,
        notes=tuple(replace(n, onset=n.onset * 2, duration=n.duration * 2) for n in lick.notes),
        bars=tuple(
            Bar(b.number, b.onset * 2, b.duration * 2, meter(b.meter), b.key) for b in lick.bars
        ),
        chords=tuple(ChordSpan(c.onset * two, c.duration * two, c.symbol) for c in lick.chords),
    )
    one, other = analyze(lick, "A"), analyze(slow, "A")
    assert facts(one)[:3] == facts(other)[:3]


@settings(max_examples=80, deadline=None)
@given(SOME)
def test_the_analysis_never_contradicts_itself(lick: Lick) -> None:
    analysis = analyze(lick)
    chosen = [r for r in analysis.readings if r.verdict == "chosen"]
    assert len(chosen) == (analysis.frame is not None)
    outside = [f.index for f in analysis.notes if f.is_outside]
    assert [n.index for n in analysis.outside_notes] == outside
    if chosen:
        assert list(chosen[0].outside) == outside
        assert chosen[0].frame == analysis.frame
    for reading in analysis.readings:
        names = {d.name for d in reading.heard} | {d.name for d in reading.unheard}
        assert names == {d.name for d in reading.frame.collection.degrees}
        assert reading.reason
        assert not reading.reason.endswith(".")
    for before, after in zip(lick.notes, analysis.lick.notes, strict=True):
        assert before.midi == after.midi
        assert (before.onset, before.duration) == (after.onset, after.duration)
    assert (
        sum(f.weight for f in analysis.notes) == 0
        or abs(sum(f.weight for f in analysis.notes) - 1) < 1e-9
    )


@settings(max_examples=40, deadline=None)
@given(SOME)
def test_words_and_json_say_the_same(lick: Lick) -> None:
    analysis = analyze(lick)
    data = json.loads(json.dumps(analysis_to_dict(analysis)))
    text = describe(analysis)
    assert data["verdict"] in text
    assert analysis.verdict == data["verdict"]
    for note in data["outside_notes"]:
        assert note["reason"] in text
    assert len(data["lick"]["notes"]) == len(lick.notes)
    for written, note in zip(data["lick"]["notes"], lick.notes, strict=True):
        assert Fraction(written["onset"]) == note.onset
        assert written["midi"] == note.midi
