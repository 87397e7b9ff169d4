"""Figures against textbook examples (common practice: the standard scale exercises)."""

from __future__ import annotations

import json
import random
from fractions import Fraction

import pytest
from figure_licks import MAJOR, MINOR_PENTATONIC, lick_of, random_walk

from linewright.analysis.figures import Figure, find_figures
from linewright.score import ChordSpan, Lick
from linewright.theory import ChordSymbol, Frame, PitchClass, collection

F = Fraction


def only(lick: Lick, frame: Frame | None) -> Figure:
    found = find_figures(lick, frame)
    assert len(found) == 1, [f.tight.words for f in found]
    return found[0]


@pytest.mark.parametrize("frame", [MAJOR, MINOR_PENTATONIC], ids=str)
@pytest.mark.parametrize(
    ("steps", "cell", "shift"),
    [
        ([5, 4, 3, 2, 4, 3, 2, 1], 4, -1),  # falling fours
        ([8, 7, 6, 5, 7, 6, 5, 4, 6, 5, 4, 3, 5, 4, 3, 2], 4, -1),
        ([1, 2, 3, 4, 2, 3, 4, 5, 3, 4, 5, 6], 4, 1),  # rising fours
        ([1, 2, 3, 2, 3, 4, 3, 4, 5, 4, 5, 6], 3, 1),  # rising threes
        ([8, 7, 6, 7, 6, 5, 6, 5, 4, 5, 4, 3], 3, -1),  # falling threes
        ([1, 3, 2, 4, 3, 5, 4, 6, 5, 7], 2, 1),  # broken thirds
        ([1, 2, 3, 1, 2, 3, 4, 2, 3, 4, 5, 3], 4, 1),  # 1231 2342 3453
        ([5, 6, 5, 3, 3, 4, 3, 1, 1, 2, 1, -1], 4, -2),
    ],
)
def test_the_standard_sequences(steps: list[int], cell: int, shift: int, frame: Frame) -> None:
    figure = only(lick_of(steps, frame), frame)
    assert (figure.kind, figure.cell, figure.shift, figure.exact) == ("sequence", cell, shift, True)
    assert figure.occurrences == tuple((at, at + cell - 1) for at in range(0, len(steps), cell))
    assert figure.covers == len(steps)


def test_falling_fours_in_words() -> None:
    figure = only(lick_of([5, 4, 3, 2, 4, 3, 2, 1]), MAJOR)
    assert figure.tight.words == "four notes (5 4 3 2), then again one frame step lower"
    assert figure.loose.words == (
        "falls through four frame notes, restarts a little higher, falls again"
    )
    assert figure.loose.contour == (0, -1, -2, -3)
    assert figure.loose.shift == (-2, -1)
    assert figure.loose.rhythm == "kept"


def test_a_sequence_stands_between_other_notes() -> None:
    steps = [3, 8, 4, 1, 5, 4, 3, 2, 4, 3, 2, 1, 3, 2, 1, 0, 4, 9, 7, 2]
    figure = only(lick_of(steps), MAJOR)
    assert figure.kind == "sequence"
    assert figure.occurrences == ((4, 7), (8, 11), (12, 15))


def test_repetition_exact() -> None:
    figure = only(lick_of([1, 3, 5, 4, 1, 3, 5, 4, 1, 3, 5, 4]), MAJOR)
    assert (figure.kind, figure.cell, figure.shift, figure.exact) == ("repetition", 4, 0, True)
    assert figure.occurrences == ((0, 3), (4, 7), (8, 11))


def test_repetition_varied_names_the_change() -> None:
    figure = only(lick_of([1, 3, 5, 4, 1, 3, 5, 6, 1, 3, 5, 7]), MAJOR)
    assert (figure.kind, figure.cell, figure.exact) == ("repetition", 4, False)
    assert figure.tight.changes == (
        "the last note is two frame steps higher",
        "the last note is three frame steps higher",
    )
    assert figure.loose.free_notes == (3,)
    assert figure.name == "varied repetition"


def test_repetition_in_another_rhythm_is_varied() -> None:
    long, short = F(1), F(1, 2)
    rhythm = [long, short, short, long, short, short, long, long]
    figure = only(lick_of([5, 8, 3, 6, 5, 8, 3, 6], MAJOR, rhythm), MAJOR)
    assert (figure.kind, figure.exact) == ("repetition", False)
    assert figure.tight.changes == ("the rhythm is different",)
    assert figure.loose.rhythm == "free"


def test_a_cell_that_comes_back_later() -> None:
    cell = [1, 3, 5, 4, 6, 2]
    steps = [*cell, 8, 7, 9, 3, *cell, 0, 2, 7, *cell]
    figure = only(lick_of(steps), MAJOR)
    assert figure.kind == "repetition"
    assert figure.occurrences == ((0, 5), (10, 15), (19, 24))
    assert "after other notes" in figure.tight.words


def test_alternation() -> None:
    figure = only(lick_of([1, 5, 1, 5, 1, 5, 1]), MAJOR)
    assert (figure.kind, figure.cell, figure.shift) == ("alternation", 2, None)
    assert figure.occurrences == ((0, 1), (2, 3), (4, 5), (6, 6))
    assert figure.covers == 7


def test_pedal() -> None:
    figure = only(lick_of([5, 1, 5, 2, 5, 3, 5, 4]), MAJOR)
    assert figure.kind == "pedal"
    assert figure.tight.words == "5 comes back four times between moving notes"
    assert figure.covers == 8


def test_scale_run() -> None:
    figure = only(lick_of([1, 2, 3, 4, 5, 6, 7, 8]), MAJOR)
    assert (figure.kind, figure.occurrences, figure.shift) == ("scale run", ((0, 7),), None)
    assert figure.tight.words == "eight frame notes in a row up: 1 2 3 4 5 6 7 1"


def test_pentatonic_scale_run_counts_frame_steps() -> None:
    figure = only(lick_of([8, 7, 6, 5, 4, 3, 2, 1], MINOR_PENTATONIC), MINOR_PENTATONIC)
    assert figure.kind == "scale run"
    assert figure.loose.contour[-1] == -7


def test_chromatic_run() -> None:
    steps = [4, (4, 1), 5, (5, 1), 6, (6, 1), 7, 3, 8, 1]
    figure = only(lick_of(steps), MAJOR)
    assert (figure.kind, figure.occurrences) == ("chromatic run", ((0, 6),))


def test_arpeggio_run_names_the_chord_sounding() -> None:
    lick = lick_of([2, 4, 6, 8, 9, 11, 8, 7])
    lick = lick.with_(chords=(ChordSpan(F(0), lick.length, ChordSymbol.parse("Dm7")),))
    figure = only(lick, MAJOR)
    assert figure.kind == "arpeggio run"
    assert figure.occurrences == ((0, 5),)
    assert figure.tight.words == "six chord tones of Dm7 in a row up: 2 4 6 1 2 4"


def test_steps_of_an_arpeggio_frame_are_an_arpeggio_run() -> None:
    frame = Frame(PitchClass("C"), collection("major seventh arpeggio"))
    assert only(lick_of([1, 2, 3, 4, 5, 6, 7, 8], frame), frame).kind == "arpeggio run"


def test_a_shape_moved_by_semitones_keeps_its_frame_shift_when_it_has_one() -> None:
    """A two-bar riff over a 1 chord, then moved up a fourth with its blue third."""
    riff = [1, 3, 5, (6, 0), 5, (2, 1), 3, 1]
    up = [4, 6, 8, 9, 8, (5, 1), 6, 4]
    figure = only(lick_of([*riff, *up]), MAJOR)
    assert (figure.kind, figure.cell, figure.shift) == ("sequence", 8, 3)


def test_without_a_frame_letters_are_counted() -> None:
    figure = only(lick_of([5, 4, 3, 2, 4, 3, 2, 1, 3, 2, 1, 0]), None)
    assert (figure.kind, figure.cell, figure.view) == ("sequence", 4, "letters")
    assert figure.shift is None
    assert figure.tight.words.endswith("one scale step lower each time")


def test_a_pull_off_cell_is_named() -> None:
    lick = lick_of(
        [5, 4, 3, 2, 4, 3, 2, 1, 3, 2, 1, 0],
        marks={1: "pull-off", 5: "pull-off", 9: "pull-off"},
    )
    assert only(lick, MAJOR).tight.hand == "a pull-off to the second note each time"


def test_three_notes_to_a_string() -> None:
    strings = [(5, 3), (5, 5), (5, 7), (4, 3), (4, 5), (4, 7), (3, 4), (3, 5), (3, 7)]
    lick = lick_of(list(range(1, 10)), strings=strings)
    assert only(lick, MAJOR).tight.hand == "three notes to a string"


def test_double_stops_refer_to_the_notes_of_the_lick() -> None:
    plain = lick_of([5, 4, 3, 2, 4, 3, 2, 1, 3, 2, 1, 0])
    low = [
        note.__class__(note.onset, note.duration, note.pitch.pitch_class.in_octave(2))
        for note in plain.notes
    ]
    both = [n for pair in zip(plain.notes, low, strict=True) for n in pair]
    figure = only(plain.with_(notes=tuple(both)), MAJOR)
    assert figure.occurrences == ((0, 6), (8, 14), (16, 22))
    assert figure.covers == 12


@pytest.mark.parametrize("steps", [[], [1], [1, 2, 1], [1, 4, 2, 7, 6, 3, 5, 2]])
def test_nothing_recurs(steps: list[int]) -> None:
    lick = lick_of(steps) if steps else lick_of([1]).with_(notes=())
    assert find_figures(lick, MAJOR) == ()


def test_random_phrases_give_nothing() -> None:
    """At least 95 % of phrases without a plan have no figure; the benchmark measures more."""
    rng = random.Random(20)
    licks = [lick_of(random_walk(rng, n)) for n in (8, 12, 16, 24, 32, 48) for _ in range(50)]
    false = sum(bool(find_figures(lick, MAJOR)) for lick in licks)
    assert false <= 0.05 * len(licks)


def test_every_note_belongs_to_one_figure_at_most() -> None:
    rng = random.Random(4)
    for _ in range(60):
        steps = [s for _ in range(4) for s in rng.choice(([5, 4, 3, 2], [1, 3, 5, 3], [6, 8]))]
        found = find_figures(lick_of(steps), MAJOR)
        covered = [k for f in found for a, b in f.occurrences for k in range(a, b + 1)]
        assert len(covered) == len(set(covered)) == sum(f.covers for f in found)


def test_json() -> None:
    figure = only(lick_of([5, 4, 3, 2, 4, 3, 2, 1]), MAJOR)
    value = json.loads(json.dumps(figure.to_dict()))
    assert {k: value[k] for k in ("kind", "cell", "shift", "exact", "occurrences", "covers")} == {
        "kind": "sequence",
        "cell": 4,
        "shift": -1,
        "exact": True,
        "occurrences": [[0, 3], [4, 7]],
        "covers": 8,
    }
    assert value["tight"]["degrees"] == ["5", "4", "3", "2"]
    assert value["loose"]["contour"] == [0, -1, -2, -3]
