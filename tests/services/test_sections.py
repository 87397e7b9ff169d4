"""The lesson's sentences: the words of the analysis, none lost, none added, each at its notes."""

import re
from fractions import Fraction

import pytest

from linewright.analysis.words import paragraphs
from linewright.services.bring import bring_in
from linewright.services.demo_library import demo_licks
from linewright.services.lesson import make_lesson
from linewright.services.side_by_side import side_by_side
from samples import PORCH


@pytest.fixture(scope="module")
def lessons():
    licks = [brought.lick for _, brought in demo_licks()]
    return [make_lesson(lick) for lick in (bring_in(PORCH.encode()).lick, *licks)]


def test_every_sentence_of_the_analysis_is_told_once_and_word_for_word(lessons):
    for lesson in lessons:
        for part in paragraphs(lesson.analysis):
            said = [said.text for said in lesson.sections[part.key].said]
            assert said == list(part.sentences)


def test_figures_and_outside_notes_share_out_their_paragraphs(lessons):
    for lesson in lessons:
        words = {part.key: list(part.sentences) for part in paragraphs(lesson.analysis)}
        told = [said.text for figure in lesson.figures for said in figure.said]
        assert told == words.get("figures", [])
        if lesson.groups:
            told = [said.text for group in lesson.groups for said in (*group.each, *group.usage)]
            assert sorted(told) == sorted(words["outside"])


def test_a_figure_has_the_notes_of_its_occurrences_and_the_idea_last(lessons):
    seen = 0
    for lesson in lessons:
        for view, figure in zip(lesson.figures, lesson.analysis.figures, strict=True):
            seen += 1
            assert {i for i in range(len(lesson.lick.notes)) if figure.holds(i)} == set(view.notes)
            assert figure.tight.words in view.said[0].text
            assert view.said[0].notes == view.notes
            assert view.said[-1].text.startswith("The idea: ")
    assert seen >= 5


def test_the_hardest_spot_the_changes_and_the_outside_notes_can_be_shown(lessons):
    for lesson in lessons:
        found = lesson.analysis
        hardest = [said for said in lesson.sections["hand"].said if "hardest" in said.text]
        assert [said.notes for said in hardest] == [(found.hand.hardest,)]
        for group in lesson.groups:
            assert [said.notes for said in group.each] == [(index,) for index in group.notes]
        if "chords" in lesson.sections:
            into = [said for said in lesson.sections["chords"].said if said.text.startswith("Into")]
            for said in into:
                place = lesson.lick.place(lesson.lick.notes[said.notes[-1]].onset)
                assert place in said.head


def test_chord_relations_stand_under_the_staff_when_asked_for():
    lick = bring_in(PORCH.encode()).lick
    lesson = make_lesson(lick, labels="chords")
    assert lesson.score.labels == "chords"
    # Common practice: over C7 the Db is its b9, over G7 the Bb is its #9.
    assert "♭9" in text_of(lesson.score.wide)
    assert "♯9" in text_of(lesson.score.wide)
    assert "♭9" not in text_of(make_lesson(lick).score.wide)


def test_spans_are_shown_note_by_note():
    """C major pentatonic over C, A flat major pentatonic over A flat: no plain scale holds both
    (common practice), so each stretch is told, and shows its own notes.
    """
    abc = b"""X:1
M:4/4
L:1/8
K:C
"C"CDEG AGED|"C"EGAc AGEG|"Ab"_A_Bc_e f_ec_B|"Ab"c_ef_a f_ec2|
"""
    lesson = make_lesson(bring_in(abc).lick)
    first, *later = lesson.sections["spans"].said
    assert first.head.startswith("From bar 1")
    assert "C" in first.text.split("hangs on")[1]
    shown = [index for said in (first, *later) for index in said.notes]
    assert shown == list(range(len(lesson.lick.notes)))
    assert min(later[0].notes) == 16


def text_of(svg):
    return re.sub(r"<[^>]+>", "", svg)


def test_two_licks_side_by_side_keep_their_names_apart(library):
    from linewright.services.shelf import About, keep

    one = keep(library, bring_in(PORCH.encode()))
    abc = b"X:1\nT:Lamp waltz\nM:3/4\nL:1/4\nK:Em\nEGA|BAG|E3|"
    two = keep(library, bring_in(abc), About(title="Porch step"))
    pair = side_by_side(one, two)
    assert (pair.one.id, pair.two.id) == (one.id, two.id)
    assert pair.one.name != pair.two.name
    assert pair.one.frame.startswith("G minor pentatonic")
    for side in (pair.one, pair.two):
        assert "<svg" in side.score.wide
        assert any(side.name in point.sentence for point in pair.comparison.different)
    assert two.lick.notes[-1].duration == Fraction(3)
