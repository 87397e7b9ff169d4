"""Plans of any lick: as text and JSON, moved, and of licks made up."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from demo_plans import lick, plan
from linewright.analysis import analyze
from linewright.fretboard import finger, instrument
from linewright.practice import LEVELS, make_plan, plan_to_dict, plan_words
from linewright.score import ChordSpan, Lick, Meter, Note, bars_for
from linewright.theory import ChordSymbol, Frame, Interval, Key, PitchClass, collection
from plan_rules import assert_allowed, leaps

pytestmark = pytest.mark.xdist_group("plans")


# -- as text and JSON ------------------------------------------------------------------------
@pytest.mark.parametrize("name", ["02", "05", "12", "17"])
def test_json_survives_a_round_trip(name: str) -> None:
    found = plan_to_dict(plan(name))
    assert json.loads(json.dumps(found)) == found
    text = (Path(__file__).parent.parent.parent / "docs" / "plan.md").read_text()
    keys = {*found, *found["steps"][0], *found["steps"][0]["done"], *found["schedule"][0]}
    for rule in ("figures", "uses"):
        for step in found["steps"]:
            keys |= {key for row in step["done"][rule] for key in row}
    assert [key for key in sorted(keys) if f"`{key}`" not in text] == []


def test_words_say_everything() -> None:
    made = plan("12")
    text = plan_words(made)
    for step in made.steps:
        assert step.title in text
        assert step.done.statement in text
        assert f"{step.done.bpm} " in step.done.statement
        assert f"{step.done.mean_ms:g} ms" in step.done.statement
        assert f"{step.done.spread_ms:g} ms" in step.done.statement
        assert all(sentence in text for sentence in step.if_not)
    for word in ("hurts", "headphones", "teacher", "clinician", "half hour"):
        assert word in text
    with_music = plan_words(made, lambda music: f"<{len(music.notes)} notes>")
    count = sum(len(step.drills) + len(step.examples) for step in made.steps)
    assert with_music.count(" notes>") == count


# -- laws over made-up licks -----------------------------------------------------------------
MOVES = [Interval(1, 1), Interval(1, 2), Interval(2, 3), Interval(3, 5), Interval(-1, -2)]


@settings(max_examples=5, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(["01", "03", "07", "12", "19"]), st.sampled_from(MOVES))
def test_moving_the_lick_moves_the_plan(name: str, move: Interval) -> None:
    home = analyze(lick(name))
    moved = finger(lick(name).transpose(move), lick(name).instrument)
    there = make_plan(analyze(moved, home.tonic.transpose(move)))
    here = plan(name)
    assert [step.key for step in there.steps] == [step.key for step in here.steps]
    for one, two in zip(here.steps, there.steps, strict=True):
        assert [item.degrees for item in one.done.only] == [i.degrees for i in two.done.only]
        tonics = [(PitchClass.parse(i.tonic).number + move.semitones) % 12 for i in one.done.only]
        assert tonics == [PitchClass.parse(i.tonic).number for i in two.done.only]
        ways = [
            {(use.before, use.degree, use.after, use.on_beat) for use in step.done.uses}
            for step in (one, two)
        ]
        assert ways[0] == ways[1]


@st.composite
def small_licks(draw: st.DrawFn) -> Lick:
    kind = draw(st.sampled_from(["guitar", "mandolin", "ukulele", "five-string banjo", "bass"]))
    tuning = draw(st.sampled_from(["standard", "DADGAD"])) if kind == "guitar" else "standard"
    neck = instrument(kind, tuning)
    tonic = PitchClass.from_fifths(draw(st.integers(-4, 5)))
    names = ["minor pentatonic", "major pentatonic", "dorian", "mixolydian", "major"]
    frame = Frame(tonic, collection(draw(st.sampled_from(names))))
    low = sorted(pitch.midi for pitch in neck.strings)[0] + 3
    row = [m for m in range(low, low + 20) if m % 12 in frame.numbers]
    at = draw(st.integers(2, len(row) - 3))
    order = [at]
    for move in draw(st.lists(st.sampled_from([-2, -1, 1, 1, 2]), min_size=14, max_size=14)):
        order.append(min(len(row) - 1, max(0, order[-1] + move)))
    meter = draw(st.sampled_from([Meter(4, 4), Meter(3, 4), Meter(6, 8)]))
    notes = []
    for k, index in enumerate(order):
        midi = row[index]
        degree = frame.degree(midi % 12)
        name = degree.above(tonic)
        octave = next(o for o in range(9) if name.in_octave(o).midi == midi)
        notes.append(Note(Fraction(k, 2), Fraction(1, 2), name.in_octave(octave)))
    bars = bars_for(meter, Fraction(len(order), 2), key=Key(tonic))
    chord = ChordSpan(Fraction(0), bars[-1].end, ChordSymbol(tonic, "7"))
    return finger(Lick(tuple(notes), bars, (chord,)), neck)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(small_licks(), st.sampled_from(list(LEVELS)), st.integers(0, 9))
def test_any_lick_on_any_instrument(made: Lick, level: str, seed: int) -> None:
    said = analyze(made, made.key.tonic)
    if said.frame is None:
        return
    found = make_plan(said, level=level, seed=seed)
    assert {step.key for step in found.steps} >= {"frame", "stream", "together", "move"}
    for step in found.steps:
        assert step.drills or step.key in ("together", "move")
        for drill in step.drills:
            for note in drill.lick.notes:
                assert drill.lick.instrument.midi_at(note.string, note.fret) == note.midi
            if step.key != "move" and drill.title != "The lick in the middle":
                assert_allowed(step, drill.lick)
        if step.key != "move":
            for line in step.examples:
                assert_allowed(step, line.lick)
                assert max(leaps(line.lick)) <= step.done.leap
