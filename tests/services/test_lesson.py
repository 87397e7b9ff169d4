"""The lesson: what the page shows is what the analysis says."""

import re
from dataclasses import replace

import pytest

from linewright.services.bring import bring_in
from linewright.services.lesson import facts_line, make_lesson
from samples import PORCH


@pytest.fixture(scope="module")
def lesson():
    return make_lesson(bring_in(PORCH.encode()).lick)


def test_chosen_rivals_and_the_rest_are_all_readings_once(lesson):
    shown = [lesson.chosen, *lesson.rivals, *lesson.others]
    assert len(shown) == len(lesson.analysis.readings)
    assert {view.name for view in shown} == {r.frame.name for r in lesson.analysis.readings}
    assert lesson.chosen.verdict == "chosen"
    assert all(view.reason for view in lesson.rivals)


def test_every_note_is_inside_or_outside_each_reading(lesson):
    every = set(range(len(lesson.lick.notes)))
    for view in (lesson.chosen, *lesson.rivals, *lesson.others):
        assert set(view.inside) | set(view.outside) == every
        assert not set(view.inside) & set(view.outside)


def test_degrees_cover_every_note_once(lesson):
    listed = [index for degree in lesson.degrees for index in degree.notes]
    assert sorted(listed) == list(range(len(lesson.lick.notes)))


def test_outside_notes_say_where_they_are_and_what_they_do(lesson):
    (view,) = lesson.outside
    # Common practice: Db over C7 is its b9, and lies at the 2nd fret of the B string.
    assert (view.degree, view.pitch, view.chord, view.neck) == (
        "b5",
        "Db",
        "C7",
        "string 2, fret 2",
    )
    assert view.chord_degree == "b9"
    assert view.place.startswith("bar 2, ")
    assert view.function
    assert view.reason


def test_every_note_is_linked_in_both_scores_and_on_the_neck(lesson):
    for svg in (lesson.score.wide, lesson.score.narrow):
        linked = set(map(int, re.findall(r'data-note="(\d+)"', svg)))
        assert linked == set(range(len(lesson.lick.notes)))
    on_neck = " ".join(re.findall(r'data-notes="([\d ]+)"', lesson.score.neck))
    assert set(map(int, on_neck.split())) == set(range(len(lesson.lick.notes)))


def test_facts_are_in_words(lesson):
    facts = dict(facts_line(lesson.lick))
    assert facts["Meter"] == "4/4"
    assert facts["Tempo"] == "92 beats a minute"
    assert facts["Instrument"] == "guitar"
    guitar = lesson.lick.instrument
    dropped = lesson.lick.with_(
        notes=tuple(replace(n, string=None, fret=None) for n in lesson.lick.notes),
        instrument=replace(guitar, tuning="drop D", capo=2),
    )
    assert dict(facts_line(dropped))["Instrument"] == "guitar, drop D tuning, capo at fret 2"


def test_a_lick_without_places_has_no_neck():
    brought = bring_in(b"X:1\nT:t\nM:4/4\nL:1/4\nK:C\nC,,,DEF|", "t.abc")
    assert make_lesson(brought.lick).score.neck is None
