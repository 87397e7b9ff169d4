"""A take as its page shows it: words, places and times against what was put in."""

import re
from random import Random

import pytest
from benchmarks import takes_broken, takes_fair

from linewright.analysis import analyze
from linewright.lines import line_model
from linewright.practice import make_plan, sheet_of
from linewright.practice.takes import judge, terms_of, verdict_to_dict
from linewright.services.bring import bring_in
from linewright.services.take_sound import ground_lick, recording_map
from linewright.services.take_view import first_beat, take_view
from samples import PORCH

START = takes_fair.START


@pytest.fixture(scope="module")
def made():
    lick = bring_in(PORCH.encode()).lick
    analysis = analyze(lick)
    plan = make_plan(analysis, seed=1)
    step = next(s for s in plan.steps if s.key == "stream")
    terms = terms_of(step, analysis)
    return takes_fair.fair(step, terms, line_model(analysis), Random(5)), sheet_of(plan, lick)


def view_of(heard, terms, start=START):
    verdict = judge(heard, terms, start_s=start)
    told = verdict_to_dict(verdict)
    return take_view(told, verdict.take.lick), told, verdict.take.lick


def test_wrong_places_are_marked_in_the_score_and_in_words(made):
    heard, bars = takes_broken.break_notes(made[0], Random(3))
    view, told, _ = view_of(heard, made[0].terms)
    row = next(rule for rule in view.rules if rule.key == "notes")
    assert (row.state, row.mark) == ("not yet", "✕")
    assert set(row.bars) == bars
    for svg in (view.wide, view.narrow):
        assert svg.count("✕") == len(told["wrong"])
        assert "outside the frame" not in svg
        assert "degree" not in svg
        assert "not yet: The right notes" in svg
    assert [n.index for n in view.notes if n.said == "not yet"] == told["wrong"]


def test_doubtful_notes_are_marked_so_and_never_wrong(made):
    heard = takes_fair.play(made[0], Random(3))
    doubted = [k for k in range(len(heard)) if k % 7 == 3]
    heard = [
        type(n)(
            n.onset_s, n.offset_s, n.midi + (k in doubted), confidence=0.2 if k in doubted else 1
        )
        for k, n in enumerate(heard)
    ]
    view, _, _ = view_of(heard, made[0].terms)
    marked = set(map(int, re.findall(r'data-note="(\d+)" data-doubt', view.wide)))
    assert marked == set(doubted)
    assert {n.said for n in view.notes if n.index in doubted} == {"not heard clearly"}


@pytest.mark.parametrize(("late", "words"), [(45, "45 ms late"), (-45, "45 ms early")])
def test_early_and_late_are_said_as_played(made, late, words):
    heard = takes_fair.play(made[0], Random(3), mean_ms=late, spread_ms=0)
    view, _, _ = view_of(heard, made[0].terms)
    mean = next(rule for rule in view.rules if rule.key == "mean")
    assert mean.measured == words
    assert mean.allowed.startswith("at most ")
    assert view.placed
    open_view, _, _ = view_of(heard, made[0].terms, start=None)
    left = next(rule for rule in open_view.rules if rule.key == "mean")
    assert (left.state, left.measured, open_view.placed) == ("left open", "–", False)


def test_a_rule_with_bars_alone_points_at_their_notes(made):
    heard = takes_fair.play(made[0], Random(3), spread_ms=1.6 * made[0].terms.done.spread_ms)
    view, _, lick = view_of(heard, made[0].terms)
    spread = next(rule for rule in view.rules if rule.key == "spread")
    assert spread.state == "not yet"
    assert spread.notes
    where = {
        bar.number
        for bar in lick.bars
        for i in spread.notes
        if lick.bar_at(lick.notes[i].onset) == bar
    }
    assert where == set(spread.bars)


def test_the_recording_is_laid_where_its_first_beat_was(made):
    heard = takes_fair.play(made[0], Random(3), spread_ms=2)
    _, told, lick = view_of(heard, made[0].terms)
    assert first_beat(told, lick) == pytest.approx(START, abs=0.003)


def test_a_take_is_recorded_over_the_chords_it_is_judged_by(made):
    take, sheet = made
    step = next(s for s in sheet.steps if s.key == "stream")
    lick = ground_lick(sheet, step.number, 80)
    ground = take.terms.ground
    assert lick.notes == ()
    assert len(lick.bars) >= 4
    assert lick.length % ground.length == 0
    for bar in lick.bars:
        assert str(lick.chord_at(bar.onset)) == str(
            next(c.symbol for c in ground.chords if c.onset <= bar.onset % ground.length < c.end)
        )
    told = recording_map(sheet, step.number, 80, "/here")
    assert told["bpm"] == 80 * ground.beat
    assert told["query"] == "bpm=80"
