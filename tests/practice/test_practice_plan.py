"""The practice plan: laws over every demo lick, and one lick checked by hand."""

from __future__ import annotations

import itertools
from fractions import Fraction

import pytest

from demo_plans import CASES, EVERY_LEVEL, NAMES, lick, plan
from linewright.analysis import analyze
from linewright.errors import LinewrightError, OptionError
from linewright.practice import LEVELS, make_plan, plan_to_dict
from linewright.score import Lick, Meter, Note, bars_for
from linewright.services.bring import bring_in
from linewright.theory import PitchClass
from plan_rules import assert_allowed, leaps, number

pytestmark = pytest.mark.xdist_group("plans")

RUN = """\
Title: Evening run
Key: G
Tempo: 160

  G                G
e|----------------|----------------|
B|----------------|----------------|
G|--------------0-|0---------------|
D|--------0-2-0---|----2-0---------|
A|--0-1h2---------|--------2-0-----|
E|3---------------|------------3---|
"""
REACH = {"guitar": 4, "mandolin": 6, "tenor banjo": 5, "octave mandolin": 5, "ukulele": 5,
         "five-string banjo": 4, "bass": 4}  # fmt: skip  # of the instruments table


# -- laws over every demo lick ---------------------------------------------------------------
@pytest.mark.parametrize(("name", "level"), CASES)
def test_only_allowed_notes_and_leaps(name: str, level: str) -> None:
    for step in plan(name, level).steps:
        if step.key == "move":
            continue
        for line in step.examples:
            assert_allowed(step, line.lick)
            assert max(leaps(line.lick)) <= step.done.leap
        for drill in step.drills:
            if drill.title == "The lick in the middle":
                continue  # holds the lick itself, whatever it plays
            assert_allowed(step, drill.lick)
            if step.key in ("frame", "neck", "stream") or "without a stop" in drill.title:
                assert max(leaps(drill.lick)) <= step.done.leap


@pytest.mark.parametrize(("name", "level"), CASES)
def test_everything_is_playable(name: str, level: str) -> None:
    made = plan(name, level)
    for step in made.steps:
        assert step.drills
        assert len(step.examples) == 3
        for music in [d.lick for d in step.drills] + [e.lick for e in step.examples]:
            assert music.instrument == lick(name).instrument
            for note in music.notes:
                assert note.string is not None
                fretted = music.instrument.midi_at(note.string, note.fret)
                assert note.bend or note.has("harmonic") or fretted == note.midi


@pytest.mark.parametrize("name", NAMES)
def test_frame_drills_keep_the_hand_in_one_position(name: str) -> None:
    made = plan(name)
    reach = REACH[lick(name).instrument.name]
    for key in ("frame", "neck"):
        for drill in made.step(key).drills:
            if "string" in drill.title:
                assert len({note.string for note in drill.lick.notes}) == 1
                continue
            frets = {note.fret for note in drill.lick.notes if note.fret}
            # Four or more frets under the fingers and a stretch of one on either side.
            assert max(frets) - min(frets) <= reach + 1
            assert ("open position" in drill.title) or all(n.fret for n in drill.lick.notes)


@pytest.mark.parametrize("name", NAMES)
def test_a_window_leaves_out_no_frame_note(name: str) -> None:
    frame = analyze(lick(name)).frame
    for drill in plan(name).step("frame").drills:
        if "up and down" in drill.title:
            heard = {note.midi for note in drill.lick.notes}
            wanted = {m for m in range(min(heard), max(heard) + 1) if m % 12 in frame.numbers}
            assert heard == wanted


@pytest.mark.parametrize("name", NAMES)
def test_outside_notes_stand_in_their_usage(name: str) -> None:
    for step in plan(name).steps:
        if not step.key.startswith(("outside", "figure")):
            continue
        tonic = step.done.only[0].tonic
        inside = {number(tonic, degree) for degree in step.done.only[0].degrees}
        musics = [drill.lick for drill in step.drills]
        for music in musics:
            for before, note, after in zip(
                music.notes, music.notes[1:], music.notes[2:], strict=False
            ):
                if note.midi % 12 in inside:
                    continue
                bar = music.bar_at(note.onset)
                on_beat = bar.offset(note.onset) in bar.meter.beat_onsets
                found = (note.midi - before.midi, after.midi - note.midi, on_beat)
                assert found in {
                    (use.rise_in, use.rise_out, use.on_beat)
                    for use in step.done.uses
                    if number(tonic, use.degree) == note.midi % 12
                }


@pytest.mark.parametrize("name", NAMES)
def test_each_outside_note_and_figure_comes_in_its_lines(name: str) -> None:
    for step in plan(name).steps:
        kind, _, what = step.key.partition(" ")
        for line in step.examples:
            if kind == "outside":
                assert any(n.role == "outside" and n.degree == what for n in line.notes)
            elif kind == "figure":
                assert any(n.figure == what or n.pinned for n in line.notes)
            elif kind in ("frame", "neck", "stream", "chords"):
                assert all(n.role == "frame" for n in line.notes)


def test_a_run_that_takes_a_note_between_is_drilled_with_it() -> None:
    # A run through the pentatonic with the b3 between 2 and 3, as common practice in G runs.
    brought = bring_in(RUN.encode())
    step = make_plan(brought.analysis).step("figure f1")
    assert step is not None
    assert "between" in step.purpose
    (drill,) = [one for one in step.drills if "note between" in one.title]
    own = [note.midi for note in brought.lick.notes][:6]
    assert own in [[n.midi for n in drill.lick.notes][at : at + 6] for at in range(0, 12, 6)]
    assert {n.midi % 12 for n in drill.lick.notes} - {7, 9, 11, 2, 4} == {10}
    assert "b3 between" in drill.words
    # A run's starts may rise or fall; the run itself rises.
    assert not any("coming down" in one.words for one in step.drills)


@pytest.mark.parametrize("name", NAMES)
def test_targets_are_tones_of_their_chords(name: str) -> None:
    step = plan(name).step("chords")
    assert step is not None  # the chords of every demo lick change
    for drill in step.drills:
        onsets = {note.onset: note.midi % 12 for note in drill.lick.notes}
        for span in drill.lick.chords:
            assert span.onset not in onsets or onsets[span.onset] in span.symbol.numbers


@pytest.mark.parametrize("name", NAMES)
def test_a_figure_is_drilled_from_every_degree(name: str) -> None:
    frame = analyze(lick(name)).frame
    for step in plan(name).steps:
        if not step.key.startswith("figure"):
            continue
        drill = step.drills[0]
        firsts = set()
        for bar in drill.lick.bars:
            inside = [n for n in drill.lick.notes if bar.onset <= n.onset < bar.end]
            if inside:
                firsts.add(inside[0].midi % 12)
        assert firsts
        if "every degree" in drill.title:
            assert firsts >= frame.numbers


def test_the_laws_above_have_something_to_hold() -> None:
    """Each kind of step, and figures drilled from every degree, come in several demo plans."""
    steps = [step for name in NAMES for step in plan(name).steps]
    kinds = [step.key.partition(" ")[0] for step in steps]
    assert min(kinds.count(kind) for kind in ("outside", "figure", "chords")) >= 5
    assert all(step.drills for step in steps if step.key.startswith(("outside", "figure")))
    everywhere = [s for s in steps if s.drills and "every degree" in s.drills[0].title]
    assert len(everywhere) >= 3
    assert any(use.on_beat for s in steps for use in s.done.uses)
    assert any(not use.on_beat for s in steps for use in s.done.uses)


@pytest.mark.parametrize("name", NAMES)
def test_the_moved_lick_is_the_lick(name: str) -> None:
    source = [note.midi for note in lick(name).notes]
    drills = [d for d in plan(name).step("move").drills if d.title.startswith("The lick in")]
    assert drills
    for drill in drills:
        moved = [note.midi for note in drill.lick.notes]
        assert len({b - a for a, b in zip(source, moved, strict=True)}) == 1
        assert moved != source


def test_steps_come_in_order_and_only_where_they_apply() -> None:
    order = ["frame", "neck", "stream", "figure", "outside", "chords", "together", "move"]
    for name in NAMES:
        made, said = plan(name), analyze(lick(name))
        kinds = [step.key.split()[0] for step in made.steps]
        assert [step.number for step in made.steps] == list(range(1, len(kinds) + 1))
        assert [order.index(kind) for kind in kinds] == sorted(map(order.index, kinds))
        outside = {note.index for note in said.outside_notes}
        of_the_frame = [f for f in said.figures if not any(map(f.holds, outside))]
        assert len(of_the_frame) <= kinds.count("figure") <= len(said.figures)
        assert ("outside" in kinds) == bool(said.outside_notes)


@pytest.mark.parametrize("level", LEVELS)
def test_positions_across_the_neck_are_apart(level: str) -> None:
    for name in EVERY_LEVEL:
        step = plan(name, level).step("neck")
        named = [d.title for d in step.drills if d.title.startswith("In ")]
        assert 2 <= len(named) <= LEVELS[level].positions
        assert len({title.split(",")[0] for title in named}) == len(named)
        lowest = [min(n.midi for n in d.lick.notes) for d in step.drills[: len(named)]]
        assert lowest == sorted(lowest)


# -- one lick by hand ------------------------------------------------------------------------
def test_rain_on_the_roof_rack_by_hand() -> None:
    """A minor pentatonic in fifth position is the shape every blues method prints first (common
    practice): frets 5 and 8 on the outer strings and the second, 5 and 7 on the middle three.
    """
    step = plan("07").step("frame")
    box = {(1, 5), (1, 8), (2, 5), (2, 8), (3, 5), (3, 7), (4, 5), (4, 7), (5, 5), (5, 7),
           (6, 5), (6, 8)}  # fmt: skip
    for drill in step.drills:
        assert {(note.string, note.fret) for note in drill.lick.notes} <= box
    assert {(n.string, n.fret) for n in step.drills[0].lick.notes} == box
    first = step.drills[0].lick.notes[0]
    assert (first.string, first.fret) == (6, 5)  # the tonic, A, fret 5 of the low string
    # The tab: fret 5 of the B string (5), fret 8 (b5) then 7 (4) of the G string, in triplets.
    (use,) = plan("07").step("outside b5").done.uses
    assert (use.before, use.degree, use.after, use.on_beat) == ("5", "b5", "4", False)
    assert (use.rise_in, use.rise_out) == (-1, -1)
    assert step.done.only[0].degrees == ("1", "b3", "4", "5", "b7")
    assert step.tempo_ladder[-1] == 66  # the lick's own tempo
    assert "A minor pentatonic" in step.title
    assert "fifth position" in step.title


def test_a_lick_without_chords_has_no_chord_step() -> None:
    bare = lick("14").with_(chords=())
    made = make_plan(analyze(bare))
    assert made.step("chords") is None
    assert made.step("together").done.chord_tones is None


# -- levels, lengths, seeds ------------------------------------------------------------------
def test_levels_ask_more_and_more() -> None:
    plans = [plan("02", level) for level in LEVELS]
    frames = [made.step("frame").done for made in plans]
    for easy, hard in itertools.pairwise(frames):
        assert easy.leap <= hard.leap
        assert easy.bars < hard.bars
        assert easy.mean_ms > hard.mean_ms
        assert easy.spread_ms > hard.spread_ms
        assert easy.bpm < hard.bpm
    for made in plans:
        for step in made.steps:
            assert list(step.tempo_ladder) == sorted(set(step.tempo_ladder))
            assert step.done.bpm == step.tempo_ladder[-1]


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(("length", "days"), [("week", 7), ("month", 28)])
def test_the_schedule(level: str, length: str, days: int) -> None:
    made = plan("12", level, length)
    assert [day.number for day in made.schedule] == list(range(1, days + 1))
    begun: list[int] = []
    for first in range(0, days, 7):
        assert any(day.is_rest for day in made.schedule[first : first + 7])
    for day in made.schedule:
        new = [work.step for work in day.work if work.is_new]
        assert len(new) <= LEVELS[level].a_day
        begun += [step for step in new if step not in begun]
        assert sum(work.minutes for work in day.work) <= LEVELS[level].minutes
        assert all(work.step in begun for work in day.work)
    assert begun == list(range(1, len(begun) + 1))
    if length == "month":
        assert len(begun) == len(made.steps)
    elif len(begun) < len(made.steps):
        assert f"{len(made.steps) - len(begun)} more step" in made.schedule[-2].words + (
            made.schedule[-1].words
        )


def test_the_same_seed_gives_the_same_plan() -> None:
    once = make_plan(analyze(lick("03")), seed=5)
    again = make_plan(analyze(lick("03")), seed=5)
    other = make_plan(analyze(lick("03")), seed=6)
    assert plan_to_dict(once) == plan_to_dict(again)
    assert [s.examples[0].lick.notes for s in once.steps] != [
        s.examples[0].lick.notes for s in other.steps
    ]


def test_what_cannot_be_planned_is_said() -> None:
    said = analyze(lick("01"))
    with pytest.raises(OptionError, match="no level 'expert'"):
        make_plan(said, level="expert")
    with pytest.raises(OptionError, match="no length 'year'"):
        make_plan(said, length="year")
    one = Lick((Note(Fraction(0), Fraction(4), PitchClass("C").in_octave(4)),),
               bars_for(Meter(4, 4), Fraction(4)))  # fmt: skip
    with pytest.raises(LinewrightError):
        make_plan(analyze(one))
