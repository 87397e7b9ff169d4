"""Takes: what was put in is found; what was heard in doubt never counts against a player."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest
from benchmarks import takes as made_takes
from benchmarks import takes_fair
from hypothesis import given, settings
from hypothesis import strategies as st

from demo_plans import EVERY_LEVEL, analysis, plan
from linewright.analysis.harmony import relate_to_chords
from linewright.errors import TakeError
from linewright.lines import line_model
from linewright.practice import LEVELS
from linewright.practice.takes import judge, terms_of, verdict_to_dict
from linewright.score import PlayedNote

START = takes_fair.START


pytestmark = pytest.mark.xdist_group("plans")


@pytest.fixture(scope="module")
def pool():
    """Analysis, model and step of every step of three plans at each level."""
    return [
        (analysis(name), line_model(analysis(name)), step)
        for name in EVERY_LEVEL
        for level in LEVELS
        for step in plan(name, level).steps
    ]


@pytest.fixture(scope="module")
def stream():
    """A fair take of the step that asks for the frame in a steady stream."""
    said, step = analysis("01"), plan("01").step("stream")
    found = takes_fair.fair(step, terms_of(step, said), line_model(said), Random(5))
    assert found is not None
    return found


def test_fair_takes_pass_and_broken_ones_name_the_rule_and_the_bar(pool, monkeypatch):
    monkeypatch.setattr(made_takes, "steps_of", lambda seed, licks: pool)
    takes = made_takes.make_takes(26, 7, licks=2)
    assert {take.rule for take in takes} >= {"", "notes", "leap", "flow", "spread", "mean", "drift"}
    assert all(made_takes.is_right(t) for t in takes if not t.rule)
    wrong = [t for t in takes if not made_takes.is_right(t)]
    assert len(wrong) <= 1, [(t.rule, t.words, t.verdict.words) for t in wrong if t.verdict]


def judged(made, heard, **more):
    return judge(heard, made.terms, start_s=START, ladder=made.step.tempo_ladder, **more)


@pytest.mark.parametrize(
    ("mean", "spread", "drift", "swing"),
    [
        (0, 5, 0, None),
        (25, 12, 60, None),
        (-30, 20, -80, None),
        (10, 8, 0, 2.0),
        (-15, 10, 40, 1.5),
    ],
)
def test_timing_put_in_is_found(stream, mean, spread, drift, swing):
    drawn: list[float] = []
    heard = takes_fair.play(
        stream, Random(9), mean_ms=mean, spread_ms=spread, drift_ms=drift, swing=swing, drawn=drawn
    )
    told = [
        d
        for d, (onset, _, _) in zip(drawn, stream.notes, strict=True)
        if swing is None or onset % 1 == 0
    ]
    timing = judged(stream, heard).take.timing
    assert timing.mean_ms == pytest.approx(mean + sum(told) / len(told), abs=2)
    assert timing.spread_ms == pytest.approx(spread, rel=0.25)
    assert timing.drift_ms == pytest.approx(drift, abs=5 + spread)
    if swing:
        assert timing.swing == pytest.approx(swing, rel=0.1)


@given(delay=st.floats(-0.05, 30), gain=st.floats(0.1, 1))
@settings(max_examples=8, deadline=None)
def test_where_the_take_lies_in_the_recording_changes_nothing(stream, delay, gain):
    heard = takes_fair.play(stream, Random(2))
    later = [
        replace(n, onset_s=n.onset_s + delay, offset_s=n.offset_s + delay, strength=gain)
        for n in heard
    ]
    first = judged(stream, heard)
    second = judge(later, stream.terms, start_s=START + delay)
    assert [r.passed for r in first.rules] == [r.passed for r in second.rules]
    assert first.take.lick.notes == second.take.lick.notes


@given(data=st.data())
@settings(max_examples=12, deadline=None)
def test_a_note_in_doubt_never_makes_a_take_fail(stream, data):
    heard = takes_fair.play(stream, Random(4))
    some = data.draw(st.sets(st.integers(0, len(heard) - 1), max_size=len(heard) // 4))
    midi = data.draw(st.integers(40, 80))
    blurred = [
        replace(n, midi=midi, confidence=0.2) if k in some else n for k, n in enumerate(heard)
    ]
    verdict = judged(stream, blurred)
    assert verdict.passed is not False, verdict.words
    assert not set(verdict.wrong)


def test_the_same_wrong_notes_heard_clearly_do_count(stream):
    heard = takes_fair.play(stream, Random(4))
    assert judged(stream, heard).passed is True
    wrong = set(range(2, len(heard), 6))
    spoilt = [replace(n, midi=n.midi + 1) if k in wrong else n for k, n in enumerate(heard)]
    verdict = judged(stream, spoilt)
    assert verdict.passed is False
    assert set(verdict.wrong) & wrong


def test_too_much_in_doubt_is_not_judged(stream):
    heard = [replace(n, confidence=0.3) for n in takes_fair.play(stream, Random(4))]
    verdict = judged(stream, heard)
    assert verdict.passed is None
    assert "could not be heard" in verdict.words


def test_without_the_click_the_mean_is_left_open_and_the_rest_judged(stream):
    heard = takes_fair.play(stream, Random(4), mean_ms=70)
    verdict = judge(heard, stream.terms)
    assert verdict.rule("mean").passed is None
    assert verdict.rule("spread").passed is True
    assert verdict.passed is True


def test_a_slower_take_is_clean_at_its_tempo_and_not_done(stream):
    done = stream.terms.done
    slow = stream.step.tempo_ladder[0]
    factor = done.bpm / slow
    heard = [
        replace(
            n,
            onset_s=START + (n.onset_s - START) * factor,
            offset_s=START + (n.offset_s - START) * factor,
        )
        for n in takes_fair.play(stream, Random(4))
    ]
    verdict = judged(stream, heard, bpm=slow)
    assert verdict.passed is False
    assert verdict.words.startswith(f"Clean at {slow}")
    assert verdict.suggestion == f"Next: {stream.step.tempo_ladder[1]}."


def test_the_take_is_a_lick_with_places_and_chords(stream):
    heard = takes_fair.play(stream, Random(4))
    take = judged(stream, heard).take
    assert [n.midi for n in take.lick.notes] == [m for _, _, m in stream.notes]
    assert [n.onset for n in take.lick.notes] == [on for on, _, _ in stream.notes]
    assert all(n.string is not None for n in take.lick.notes)


def test_a_take_is_written_where_the_step_is_played():
    """A recording does not tell strings: A minor pentatonic of a step in the fifth-position box is
    not written at the nut.
    """
    said, step = analysis("07"), plan("07").step("frame")
    made = takes_fair.fair(step, terms_of(step, said), line_model(said), Random(5))
    notes = judged(made, takes_fair.play(made, Random(4))).take.lick.notes
    box = {(n.string, n.fret) for drill in step.drills for n in drill.lick.notes}
    assert min(fret for _, fret in box) == 5
    assert {(n.string, n.fret) for n in notes} <= box


def test_a_verdict_is_json(stream):
    verdict = judged(stream, takes_fair.play(stream, Random(4)))
    data = json.loads(json.dumps(verdict_to_dict(verdict)))
    assert data["passed"] is True
    assert len(data["take"]["notes"]) == len(verdict.take.notes)
    assert {rule["key"] for rule in data["rules"]} >= {"flow", "mean", "spread", "notes", "leap"}


def test_nothing_heard_is_said(stream):
    with pytest.raises(TakeError, match="no notes"):
        judge([], stream.terms)
    early = [PlayedNote(0.1, 0.2, 60)]
    with pytest.raises(TakeError, match="count-in"):
        judge(early, stream.terms, start_s=30.0)


@given(
    st.lists(
        st.builds(
            PlayedNote,
            st.floats(0, 60),
            st.floats(0, 60),
            st.integers(0, 127),
            confidence=st.floats(0, 1),
        ),
        max_size=40,
    ),
    st.sampled_from([None, 0.0, 3.0]),
)
@settings(max_examples=40, deadline=None)
def test_any_notes_give_a_verdict_or_one_clear_error(stream, heard, start):
    try:
        verdict = judge(heard, stream.terms, start_s=start)
    except TakeError:
        return
    assert verdict.words
    onsets = [note.onset for note in verdict.take.notes]
    assert onsets == sorted(set(onsets))
    assert all(onset >= Fraction(0) for onset in onsets)


def test_every_plan_can_be_judged(pool):
    judged_steps = 0
    some = pool[::3]
    for said, model, step in some:
        terms = terms_of(step, said)
        made = takes_fair.fair(step, terms, model, Random(1))
        if made is None:
            continue
        judged_steps += 1
        assert judge(takes_fair.play(made, Random(1)), terms, start_s=START).passed is True
    assert judged_steps >= len(some) // 2


def test_a_take_that_ends_early_is_short_and_not_stopped(stream):
    heard = takes_fair.play(stream, Random(4))
    half = [n for n, (onset, _, _) in zip(heard, stream.notes, strict=True) if onset < 8]
    verdict = judged(stream, half)
    flow = verdict.rule("flow")
    assert flow.passed is False
    assert "long" in flow.words
    assert not flow.notes
    assert verdict.work_on.startswith("Play on")
    assert not verdict.suggestion


def test_chords_that_were_not_heard_are_not_passed(pool):
    """The notes at the chord changes in doubt: the step that is about them is left open."""
    tried = 0
    for said, model, step in pool:
        terms = terms_of(step, said)
        made = takes_fair.fair(step, terms, model, Random(2)) if step.key == "chords" else None
        if made is None:
            continue
        tried += 1
        heard = takes_fair.play(made, Random(2))
        full = judge(heard, terms, start_s=START)
        at = {change.first for change in relate_to_chords(full.take.lick).changes}
        assert at
        blurred = [replace(n, confidence=0.2) if k in at else n for k, n in enumerate(heard)]
        verdict = judge(blurred, terms, start_s=START)
        assert verdict.rule("chords").passed is None
        assert verdict.passed is None
    assert tried
