"""Takes kept: the gate after takes in a row, a teacher's word, rules changed, reviews due."""

from datetime import UTC, datetime, timedelta

import pytest

import take_samples as samples
from libraries import empty_library
from linewright.errors import NotFound, OptionError, ReadError, StoreError
from linewright.services.practising import mark_step, undo_mark
from linewright.services.reviewing import due_steps, step_history
from linewright.services.takes import (
    add_piece,
    begin_take,
    delete_take,
    finish_take,
    judge_again,
    keep_take,
    restore_take,
    rule_take,
    unfinished,
)
from linewright.services.taking import Setting
from linewright.services.tolerances import change_rules, rules_of, undo_rules
from linewright.store import Library

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
STEP = samples.STEP


def day(n):
    return NOON + timedelta(days=n)


@pytest.fixture
def shelf(tmp_path):
    with empty_library(tmp_path / "library.db") as opened:
        yield opened


@pytest.fixture
def plan(shelf):
    return given(shelf)


@pytest.fixture(scope="module")
def untouched():
    """A shelf and a plan for what is refused, and so changes nothing."""
    with Library.open(":memory:") as opened:
        yield opened, given(opened)


def given(shelf):
    """A plan given to Ada, who may play the step."""
    ada = shelf.plans.add_student("Ada", now=NOON)
    made = shelf.plans.add(samples.sheet(), student_id=ada.id, lick_id=None, now=NOON)
    for step in range(1, STEP):
        mark_step(shelf, made.id, step, "done", now=NOON)
    return made


def played(shelf, plan, n, audio=None, tempo=None):
    setting = Setting(float(tempo or samples.bpm()))
    return keep_take(shelf, plan.id, STEP, audio or samples.midi(tempo), setting, now=day(n))


def test_takes_in_a_row_mark_the_step_done(shelf, plan):
    assert samples.sheet().steps[STEP - 1].done.takes == 2
    first = played(shelf, plan, 1)
    assert (first.row.passed, first.row.needed, first.marked) == (1, 2, False)
    wrong = played(shelf, plan, 2, samples.midi(wrong=6))
    assert (wrong.row.passed, wrong.take.entry.counts) == (0, False)
    played(shelf, plan, 3)
    second = played(shelf, plan, 4)
    assert second.marked
    assert second.plan.progress.is_done(STEP)
    mark = second.plan.last
    assert (mark.step, mark.state, mark.by) == (STEP, "done", None)
    assert mark.comment.startswith(f"From 2 takes in a row at {samples.bpm()}.")
    third = played(shelf, plan, 5)
    assert not third.marked
    assert len([m for m in third.plan.marks if m.step == STEP]) == 1
    # The mark is taken back as any other.
    entry, taken = undo_mark(shelf, plan.id, now=day(6))
    assert taken == mark
    assert not entry.progress.is_done(STEP)


def test_a_slow_take_between_neither_counts_nor_breaks_the_row(shelf, plan):
    played(shelf, plan, 1)
    slow = played(shelf, plan, 2, tempo=80)
    assert (slow.row.passed, slow.take.entry.clean, slow.take.entry.at_tempo) == (1, True, False)
    assert played(shelf, plan, 3).marked


def test_not_yet_and_changed_rules_begin_the_row_anew(shelf, plan):
    played(shelf, plan, 1)
    mark_step(shelf, plan.id, STEP, "not yet", by="the teacher", now=day(2))
    assert played(shelf, plan, 3).row.passed == 1
    change_rules(shelf, plan.id, STEP, {"spread_ms": 60}, by="the teacher", now=day(4))
    again = played(shelf, plan, 5)
    assert (again.row.passed, again.marked) == (1, False)


def test_the_teacher_decides_over_the_verdict(shelf, plan):
    played(shelf, plan, 1)
    wrong = played(shelf, plan, 2, samples.midi(wrong=6))
    with pytest.raises(OptionError, match="without a name"):
        rule_take(shelf, wrong.take.id, True, now=day(3))
    done = rule_take(shelf, wrong.take.id, True, by="Ms Fields", comment="good enough", now=day(3))
    assert done.marked
    assert done.take.entry.counts is True
    assert done.take.entry.passed is False
    assert (done.plan.last.by, done.plan.last.state) == ("Ms Fields", "done")
    assert "good enough" in done.plan.last.comment
    other = rule_take(shelf, wrong.take.id, None, comment="listen to bar 2", now=day(4))
    assert other.take.entry.counts is False
    assert other.take.entry.comment == "listen to bar 2"


def test_a_step_held_back_takes_no_takes(shelf, plan):
    with pytest.raises(OptionError, match=f"held back by step {STEP}"):
        keep_take(shelf, plan.id, STEP + 1, samples.midi(), now=day(1))
    assert shelf.takes.find() == ()
    with pytest.raises(OptionError, match="no step 99"):
        begin_take(shelf, plan.id, 99, now=day(1))
    with pytest.raises(NotFound):
        keep_take(shelf, 77, 1, samples.midi(), now=day(1))


def test_what_cannot_be_judged_is_not_kept(shelf, plan, tmp_path):
    with pytest.raises(ReadError):
        keep_take(shelf, plan.id, STEP, b"no recording", now=day(1))
    assert shelf.takes.find() == ()
    assert not list(tmp_path.glob("library-takes/*"))


def test_a_recording_in_pieces_is_judged_when_it_ends(shelf, plan):
    data = samples.sound(form="ogg")
    take = begin_take(shelf, plan.id, STEP, Setting(float(samples.bpm())), form="ogg", now=day(1))
    half = len(data) // 2
    assert add_piece(shelf, take.id, 0, data[:half]) == half
    assert unfinished(shelf, plan.id) == (shelf.takes.entry(take.id),)
    assert add_piece(shelf, take.id, 0, data[:half]) == half  # sent again, taken once
    with pytest.raises(OptionError, match=f"on from byte {half}"):
        add_piece(shelf, take.id, half + 1, b"x")
    add_piece(shelf, take.id, half, data[half:])
    done = finish_take(shelf, take.id, now=day(1))
    assert (done.take.entry.state, done.take.entry.passed, done.row.passed) == ("judged", True, 1)
    assert shelf.takes.audio(take.id).read_bytes() == data
    assert done.take.lick.notes
    assert len(done.take.verdict["take"]["notes"]) == len(done.take.lick.notes)
    with pytest.raises(OptionError, match="finished"):
        add_piece(shelf, take.id, 0, b"x")


def test_a_killed_recording_loses_nothing_already_sent(tmp_path):
    """The library is not closed, only left; what a new one finds is all that was sent."""
    data = samples.sound()
    left = Library.open(tmp_path / "library.db")
    ada = left.plans.add_student("Ada", now=NOON)
    made = left.plans.add(samples.sheet(), student_id=ada.id, lick_id=None, now=NOON)
    for step in range(1, STEP):
        mark_step(left, made.id, step, "done", now=NOON)
    take = begin_take(left, made.id, STEP, now=day(1))
    sent = 0
    for start in range(0, len(data) * 3 // 4, 20_000):
        sent = add_piece(left, take.id, start, data[start : start + 20_000])
    with Library.open(tmp_path / "library.db") as found:
        (entry,) = unfinished(found)
        assert (entry.id, entry.bytes) == (take.id, sent)
        done = finish_take(found, entry.id, now=day(2))
        assert found.takes.audio(entry.id).read_bytes() == data[:sent]
        assert done.take.entry.state == "judged"
        assert done.take.entry.passed is False  # too short, and said to be
        assert "flow" in {r["key"] for r in done.take.verdict["rules"] if r["passed"] is False}
        assert unfinished(found) == ()
    left.close()


def test_an_empty_or_broken_recording_is_kept_and_says_why(shelf, plan):
    for piece in (b"", b"no sound " * 100):
        take = begin_take(shelf, plan.id, STEP, now=day(1))
        add_piece(shelf, take.id, 0, piece)
        done = finish_take(shelf, take.id, now=day(1))
        assert (done.take.entry.state, done.take.verdict) == ("unjudged", None)
        assert done.take.entry.problem
        assert done.row.passed == 0
        with pytest.raises(OptionError, match="held back"):
            begin_take(shelf, plan.id, STEP + 1, now=day(1))
    delete_take(shelf, take.id, now=day(2))
    assert len(shelf.takes.find()) == 1
    restore_take(shelf, take.id)
    assert len(shelf.takes.find()) == 2


def test_rules_are_changed_stated_and_taken_back(shelf, plan):
    before = samples.sheet().steps[STEP - 1]
    changed = change_rules(
        shelf, plan.id, STEP,
        {"bpm": 90, "takes": 1, "spread_ms": 50, "chord_tones": None}, by="Ms Fields", now=day(1),
    )  # fmt: skip
    step = shelf.plans.get(plan.id).sheet.steps[STEP - 1]
    assert (step.done.bpm, step.done.takes, step.done.spread_ms) == (90, 1, 50)
    assert step.tempo_ladder[-1] == 90
    assert "at 90 quarters a minute" in step.done.statement
    assert any("90 quarters" in rule for rule in step.rules)
    assert step.done.timing_source == "Set by the teacher."
    assert f"The tempo: 90 instead of {before.done.bpm}." in changed.words
    assert changed.changes[0].by == "Ms Fields"
    assert played(shelf, plan, 2, tempo=90).marked
    undone, taken = undo_rules(shelf, plan.id, now=day(3))
    assert taken[0].changes["bpm"] == 90
    assert undone.words == ()
    assert shelf.plans.get(plan.id).sheet == samples.sheet()
    assert rules_of(shelf.plans.get(plan.id), STEP).changes == ()
    with pytest.raises(NotFound, match="to undo"):
        undo_rules(shelf, plan.id, now=day(4))


@pytest.mark.parametrize(
    "changes",
    [
        {}, {"bpm": 5}, {"bpm": 90.5}, {"bpm": True}, {"bpm": "90"}, {"leap": 0}, {"takes": 11},
        {"mean_ms": float("nan")}, {"spread_ms": None}, {"chord_tones": 1.5}, {"statement": "x"},
        {"figures": {"f9": 1}}, {"figures": {}}, {"uses": {"b5": 1}}, {"unknown": 1},
    ],
)  # fmt: skip
def test_rules_that_cannot_be(untouched, changes):
    shelf, plan = untouched
    with pytest.raises(OptionError):
        change_rules(shelf, plan.id, STEP, changes, by="Ms Fields", now=day(1))
    with pytest.raises(OptionError):
        change_rules(shelf, plan.id, STEP, {"bpm": 90}, by=" ", now=day(1))
    with pytest.raises(OptionError, match="printed"):
        change_rules(shelf, plan.id, STEP, {"bpm": 90}, by="Ms\x07Fields", now=day(1))
    assert shelf.plans.get(plan.id).changes == ()


def test_a_take_is_judged_again_by_the_rules_as_they_are(shelf, plan):
    wrong = played(shelf, plan, 1, samples.midi(wrong=3))
    assert wrong.take.entry.passed is False
    change_rules(shelf, plan.id, STEP, {"slips": 0.2}, by="Ms Fields", now=day(2))
    assert judge_again(shelf, wrong.take.id, now=day(3)).take.entry.passed is True


def test_history_tells_the_best_clean_tempo(shelf, plan):
    for n, tempo in enumerate((66, 80, 72)):
        played(shelf, plan, n, tempo=tempo)
    played(shelf, plan, 4, samples.midi(wrong=6))
    history = step_history(shelf, plan.id, STEP)
    assert [take.setting.bpm for take in history.takes] == [66, 80, 72, samples.bpm()]
    assert history.best_clean == 80
    assert history.review is None
    assert all(take.spread_ms < 1 for take in history.takes[:3])


def test_finished_steps_come_due(shelf, plan):
    played(shelf, plan, 1)
    played(shelf, plan, 1.01)
    shelf_due = due_steps(shelf, by=day(1.02))
    assert shelf_due == ()
    every = due_steps(shelf, by=day(1.02), all_steps=True)
    assert [due.step for due in every] == [1, 2, STEP]  # the marks of 1 and 2 count as their takes
    own = next(due for due in every if due.step == STEP)
    assert own.review.days > 1
    assert [d.step for d in due_steps(shelf, by=own.due)] == [1, 2, STEP]
    # Failing it when it is due brings it back sooner than passing it.
    later = own.due + timedelta(hours=1)
    keep_take(shelf, plan.id, STEP, samples.midi(wrong=6), now=later)
    failed = step_history(shelf, plan.id, STEP).review
    delete_take(shelf, shelf.takes.find()[-1].id, now=later)
    keep_take(shelf, plan.id, STEP, samples.midi(), now=later)
    assert failed.due < step_history(shelf, plan.id, STEP).review.due
    bo = shelf.plans.add_student("Bo", now=NOON)
    assert due_steps(shelf, student_id=bo.id, all_steps=True) == ()
    with pytest.raises(NotFound):
        due_steps(shelf, student_id=99)


def test_a_library_without_a_file_keeps_no_takes(library):
    ada = library.plans.add_student("Ada", now=NOON)
    made = library.plans.add(samples.sheet(), student_id=ada.id, lick_id=None, now=NOON)
    with pytest.raises(StoreError, match="no file"):
        keep_take(library, made.id, 1, samples.midi(), now=day(1))
    with pytest.raises(StoreError, match="no file"):
        begin_take(library, made.id, 1, now=day(1))
    assert library.takes.find() == ()
