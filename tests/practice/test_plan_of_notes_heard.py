"""A plan from a lick that no plain scale fits: on the notes heard, under no scale's name."""

from __future__ import annotations

import json
import re

import pytest

from linewright.errors import OptionError
from linewright.practice import Plan, make_plan, plan_words
from linewright.practice.takes.figures import figure_places
from linewright.services.bring import bring_in
from linewright.services.planning import plan_as_json, plan_file, plan_text, read_plan, sheet_for

#: 1 to 6 of G: major and mixolydian alike, since the 7th that tells them apart is never played.
SIX = b"""X:1
T:Six Notes Only
M:4/4
L:1/8
K:G
"G"GABc dedB|"C"cBcd edcA|"G"BABc dBGA|"G"BcdB AGG2|
"""
HEARD = {0, 2, 4, 7, 9, 11}  # C D E G A B


@pytest.fixture(scope="module")
def plan() -> Plan:
    return make_plan(bring_in(SIX, "six.abc").analysis)


def test_every_step_that_needs_no_scale_is_there(plan: Plan) -> None:
    assert [step.key for step in plan.steps] == [
        "frame", "neck", "stream", "chords", "together", "move",
    ]  # fmt: skip
    assert plan.steps[0].title.startswith("Know the notes heard in ")
    assert "notes heard, G A B C D E, under the hand" in plan.steps[0].purpose


def test_no_scale_is_named_and_no_frame_claimed(plan: Plan) -> None:
    text = re.sub(r"\s+", " ", plan_words(plan))
    for word in (
        "frame",
        "scale",
        "pentatonic",
        "mixolydian",
        "dorian",
        "G notes heard",
        "G major",
    ):
        assert word not in text, word


def test_drills_and_lines_keep_to_the_notes_heard(plan: Plan) -> None:
    for step in plan.steps[:5]:
        for made in (*(d.lick for d in step.drills), *(x.lick for x in step.examples)):
            assert {note.midi % 12 for note in made.notes} <= HEARD
        assert [item.degrees for item in step.done.only] == [("1", "2", "3", "4", "5", "6")]


def test_a_figure_of_such_a_lick_is_found_in_a_take() -> None:
    tune = b"X:1\nT:Climb\nM:4/4\nL:1/8\nK:G\nGABc ABcd|Bcde dcBA|GABc ABcd|Bcde dBG2|\n"
    analysis = bring_in(tune, "climb.abc").analysis
    assert analysis.frame is None
    step = next(s for s in make_plan(analysis).steps if s.key.startswith("figure "))
    tag = step.done.figures[0].tag
    midi = [analysis.lick.notes[i].midi for i in analysis.lick.melody]
    assert figure_places(analysis, tag, midi, [True] * len(midi))


def test_it_is_written_as_text_json_and_pdf() -> None:
    brought = bring_in(SIX, "six.abc")
    made, sheet = make_plan(brought.analysis), sheet_for(brought.lick)
    assert "Step 6. Move it" in plan_text(made)
    again = read_plan(json.loads(json.dumps(plan_as_json(made, sheet))))
    assert again == sheet
    assert plan_file(sheet).data.startswith(b"%PDF")


def test_a_lick_of_more_notes_than_a_scale_has_gives_none() -> None:
    tune = b"X:1\nT:All\nM:4/4\nL:1/8\nK:C\nC^CD^D EF^FG|^GA^AB c2c2|\n"
    with pytest.raises(OptionError, match="different notes"):
        make_plan(bring_in(tune, "all.abc").analysis)
