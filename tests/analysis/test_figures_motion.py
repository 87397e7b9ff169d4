"""Motion in numbers, counted by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest
from figure_licks import MAJOR, MINOR_PENTATONIC, lick_of

from linewright.analysis.figures import motion
from linewright.analysis.figures.words import contour_words, moved_words
from linewright.analysis.prose import count, times

F = Fraction


def test_shares_of_a_falling_line() -> None:
    """5 4 3 2 4 3 2 1 in major: six steps, one skip."""
    found = motion(lick_of([5, 4, 3, 2, 4, 3, 2, 1]), MAJOR)
    assert (found.steps, found.skips, found.repeats, found.leaps) == (F(6, 7), F(1, 7), 0, 0)
    assert (found.longest_up, found.longest_down, found.range) == (1, 3, 7)
    assert (found.first, found.last) == ("5", "1")


def test_steps_are_frame_steps() -> None:
    """G Bb in minor pentatonic is a step of the frame; G D a skip; G G' a leap."""
    found = motion(lick_of([1, 2, 2, 1, 4, 1, 6], MINOR_PENTATONIC), MINOR_PENTATONIC)
    assert found.repeats == F(1, 6)
    assert found.steps == F(2, 6)
    assert found.skips == F(2, 6)
    assert found.leaps == F(1, 6)
    assert found.range == 12


def test_outside_notes_are_reached_by_step() -> None:
    found = motion(lick_of([2, (2, 1), 3, (1, 1), 1]), MAJOR)
    assert (found.steps, found.skips) == (F(3, 4), F(1, 4))


@pytest.mark.parametrize(
    ("steps", "durations", "words"),
    [
        ([1, 2, 3, 4, 1], [F(1)] * 4 + [F(4)], "holds the tonic all bar"),
        ([1, 2, 3, 4, 5], [F(1)] * 4 + [F(1)], "ends on the 5"),
        ([4, 3, 2, 1], [F(1, 2), F(1, 2), F(1), F(2)], "falls through four notes and ends on the tonic, held"),
        ([1, 2, 3, 5], [F(1)] * 4, "climbs through four notes and ends on the 5"),
        ([3, 5, 4, 2], [F(1)] * 4, "winds through four notes and ends on the 2, lower than it began"),
        ([3, 3, 3], [F(1)] * 3, "stays on one note and ends on the 3"),
    ],
)  # fmt: skip
def test_last_bar(steps: list[int], durations: list[Fraction], words: str) -> None:
    assert motion(lick_of(steps, MAJOR, durations), MAJOR).last_bar == words


def test_one_note_and_none() -> None:
    one = motion(lick_of([3]), MAJOR)
    assert (one.steps, one.first, one.last, one.range) == (0, "3", "3", 0)
    none = motion(lick_of([3]).with_(notes=()), MAJOR)
    assert (none.first, none.last_bar) == (None, "no notes")


def test_json_has_plain_numbers() -> None:
    value = motion(lick_of([5, 4, 3, 2, 4, 3, 2, 1]), MAJOR).to_dict()
    assert value["steps"] == 0.857
    assert value["last"] == "1"


def test_number_and_article() -> None:
    assert [count(n) for n in (1, 12, 13)] == ["one", "twelve", "13"]
    assert [times(n) for n in (1, 2, 5)] == ["once", "twice", "five times"]
    assert moved_words(1, "frame step") == "one frame step higher"
    assert moved_words(-2, "frame step") == "two frame steps lower"
    assert moved_words(0.5, "frame step") == "a little higher"


@pytest.mark.parametrize(
    ("moves", "words"),
    [
        ((-1, -1, -1), "falls through four frame notes"),
        ((1, 1), "climbs through three frame notes"),
        ((2,), "climbs by a skip"),
        ((1, 1, -1), "climbs and falls back in four notes"),
        ((-1, 1), "falls and turns back up in three notes"),
        ((1, -2, 3), "winds through four notes and ends higher than it began"),
        ((0, 0), "repeats one note three times"),
    ],
)
def test_contour_in_words(moves: tuple[float, ...], words: str) -> None:
    assert contour_words(moves, "frame note")[0] == words
