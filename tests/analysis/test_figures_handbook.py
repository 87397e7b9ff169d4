"""Figures as a teacher names them: the patterns of the standard practice books, each in several
frames, meters and places (common practice throughout; none of the answers is our own output).
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from figure_licks import MAJOR, MINOR_PENTATONIC, lick_of

from linewright.analysis.figures import Figure, find_figures
from linewright.score import Lick, Meter, bars_for
from linewright.theory import Frame, PitchClass, collection

F = Fraction
DORIAN = Frame(PitchClass("D"), collection("dorian"))
MIXOLYDIAN = Frame(PitchClass("A"), collection("mixolydian"))
MAJOR_PENTATONIC = Frame(PitchClass("F"), collection("major pentatonic"))
HARMONIC_MINOR = Frame(PitchClass("E"), collection("harmonic minor"))
FRAMES = [MAJOR, MINOR_PENTATONIC, DORIAN, MIXOLYDIAN, MAJOR_PENTATONIC, HARMONIC_MINOR]
SEVEN_NOTES = [MAJOR, DORIAN, MIXOLYDIAN, HARMONIC_MINOR]
every_frame = pytest.mark.parametrize("frame", FRAMES, ids=lambda f: f.name)


def told(lick: Lick, frame: Frame | None = MAJOR) -> list[tuple[str, int, int | None]]:
    return [(f.kind, f.cell, f.shift) for f in find_figures(lick, frame)]


def only(lick: Lick, frame: Frame | None = MAJOR) -> Figure:
    found = find_figures(lick, frame)
    assert len(found) == 1, [f.tight.words for f in found]
    return found[0]


# -- runs ----------------------------------------------------------------------------------
@every_frame
@pytest.mark.parametrize("top", [5, 6, 8, 9, 15])
def test_a_scale_up_and_down_is_two_runs(frame: Frame, top: int) -> None:
    steps = [*range(1, top + 1), *range(top - 1, 0, -1)]
    found = find_figures(lick_of(steps, frame), frame)
    assert [f.kind for f in found] == ["scale run", "scale run"]
    assert [f.occurrences for f in found] == [((0, top - 1),), ((top, 2 * top - 2),)]
    assert found[0].loose.contour[-1] == top - 1
    assert found[1].loose.contour[-1] == -(top - 2)


@every_frame
def test_a_scale_down_and_up_with_the_turning_note_struck_twice(frame: Frame) -> None:
    steps = [8, 7, 6, 5, 4, 3, 2, 1, 1, 2, 3, 4, 5, 6, 7, 8]
    found = find_figures(lick_of(steps, frame), frame)
    assert [f.occurrences for f in found] == [((0, 7),), ((8, 15),)]
    assert {f.kind for f in found} == {"scale run"}


@every_frame
@pytest.mark.parametrize("steps", [[1, 2, 3, 4, 5], [5, 4, 3, 2, 1], list(range(8, 0, -1))])
def test_a_lick_that_is_one_run(steps: list[int], frame: Frame) -> None:
    figure = only(lick_of(steps, frame), frame)
    assert (figure.kind, figure.covers, figure.shift) == ("scale run", len(steps), None)


def test_a_run_after_a_lead_in_and_before_an_ending() -> None:
    figure = only(lick_of([5, 3, 1, 2, 3, 4, 5, 6, 7, 8, 5]))
    assert (figure.kind, figure.occurrences) == ("scale run", ((2, 9),))


@pytest.mark.parametrize("frame", SEVEN_NOTES, ids=lambda f: f.name)
@pytest.mark.parametrize(
    ("steps", "spans"),
    [
        ([1, 3, 5, 8, 5, 3, 1], [((0, 3),), ((4, 6),)]),
        ([1, 3, 5, 7, 8, 7, 5, 3, 1], [((0, 4),), ((5, 8),)]),
        ([8, 5, 3, 1, 3, 5, 8], [((0, 3),), ((4, 6),)]),
    ],
)
def test_an_arpeggio_up_and_down(
    steps: list[int], spans: list[tuple[tuple[int, int], ...]], frame: Frame
) -> None:
    found = find_figures(lick_of(steps, frame), frame)
    assert [f.kind for f in found] == ["arpeggio run"] * 2
    assert [f.occurrences for f in found] == spans


def test_an_arpeggio_up_and_down_over_its_own_frame() -> None:
    frame = Frame(PitchClass("A"), collection("minor seventh arpeggio"))
    assert told(lick_of([1, 2, 3, 4, 5, 4, 3, 2, 1], frame), frame) == [
        ("arpeggio run", 5, None),
        ("arpeggio run", 4, None),
    ]


def test_a_chromatic_run_up_and_down() -> None:
    steps = [5, (5, 1), 6, (6, 1), 7, 8, 7, (6, 1), 6, (5, 1), 5]
    assert told(lick_of(steps)) == [("chromatic run", 6, None), ("chromatic run", 5, None)]


def test_the_blues_scale_down_is_a_scale_run_with_its_b5_in_passing() -> None:
    figure = only(lick_of([8, 7, 6, 5, 4, (4, -1), 3, 2, 1], MINOR_PENTATONIC), MINOR_PENTATONIC)
    assert (figure.kind, figure.covers) == ("scale run", 9)
    figure = only(lick_of([6, 5, 4, (4, -1), 3, 2, 1], MINOR_PENTATONIC), MINOR_PENTATONIC)
    assert figure.tight.words == "seven notes in a row down, b5 in passing: 1 b7 5 b5 4 b3 1"


# -- sequences -----------------------------------------------------------------------------
@every_frame
@pytest.mark.parametrize("way", [1, -1])
@pytest.mark.parametrize("times", [4, 5, 6, 7, 8])
@pytest.mark.parametrize("cell", [(1, 3), (3, 1), (1, 4), (1, 6)], ids=str)
def test_broken_intervals_have_a_cell_of_two(
    cell: tuple[int, int], times: int, way: int, frame: Frame
) -> None:
    """Broken thirds, fourths and sixths: 1 3 2 4 3 5, never 1 3 2 4 moved by two."""
    steps = [note + way * k for k in range(times) for note in cell]
    figure = only(lick_of(steps, frame), frame)
    assert (figure.kind, figure.cell, figure.shift) == ("sequence", 2, way)
    assert figure.occurrences == tuple((2 * k, 2 * k + 1) for k in range(times))


@pytest.mark.parametrize(
    "cell", [[4, 3, 2, 1], [1, 2, 3, 1], [1, 2, 3, 5], [1, 3, 5], [3, 2, 1]], ids=str
)
@pytest.mark.parametrize("times", [4, 6, 8])
def test_the_cell_is_never_a_multiple(cell: list[int], times: int) -> None:
    figure = only(lick_of([note - k + 8 for k in range(times) for note in cell]))
    assert (figure.cell, figure.shift) == (len(cell), -1)
    assert len(figure.occurrences) == times


@every_frame
def test_groups_of_four_fall_from_each_degree(frame: Frame) -> None:
    """1 7 6 5, 7 6 5 4, 6 5 4 3, 5 4 3 2 and home."""
    steps = [8, 7, 6, 5, 7, 6, 5, 4, 6, 5, 4, 3, 5, 4, 3, 2, 1]
    assert told(lick_of(steps, frame), frame) == [("sequence", 4, -1)]
    assert told(lick_of(steps[:8], frame), frame) == [("sequence", 4, -1)]


@every_frame
@pytest.mark.parametrize(
    ("cell", "shift"),
    [([1, 2, 3], 1), ([3, 2, 1], -1), ([1, 3, 5], 1), ([1, 3, 2], 1), ([1, 2, 3, 4, 5], 1)],
)
def test_groups_in_triplets_and_in_three_four(cell: list[int], shift: int, frame: Frame) -> None:
    steps = [note + shift * k + 4 for k in range(4) for note in cell]
    for durations, meter in ((F(1, 3), "4/4"), (F(1, 2), "3/4"), (F(1, 2), "6/8")):
        found = told(lick_of(steps, frame, durations, meter=meter), frame)
        assert found == [("sequence", len(cell), shift)]


@pytest.mark.parametrize("lead", [1, 2, 3])
def test_a_cell_of_five_from_any_note(lead: int) -> None:
    steps = [9, 3, 6][:lead]
    steps += [1, 2, 3, 5, 4, 2, 3, 4, 6, 5, 3, 4, 5, 7, 6]
    figure = only(lick_of([*steps, 1]))
    assert (figure.kind, figure.cell, figure.shift) == ("sequence", 5, 1)
    assert figure.occurrences == tuple((lead + 5 * k, lead + 5 * k + 4) for k in range(3))


@every_frame
def test_a_sequence_after_a_pickup(frame: Frame) -> None:
    plain = lick_of([3, 4, 5, 4, 3, 2, 4, 3, 2, 1, 3, 2, 1, 0, 1], frame)
    bars = bars_for(Meter.parse("4/4"), plain.length, pickup=F(1))
    figure = only(plain.with_(bars=bars), frame)
    assert (figure.kind, figure.cell, figure.shift) == ("sequence", 4, -1)
    assert figure.occurrences == ((2, 5), (6, 9), (10, 13))


# -- shift ---------------------------------------------------------------------------------
def test_shift_counts_frame_steps_also_where_semitones_recur() -> None:
    """A mixolydian riff on the 1 chord moved to the 4 chord: a fourth up is three scale steps."""
    riff = [1, 3, 5, 7, 6, 5, 3, 1]
    up = [4, 6, 8, (10, -1), 9, 8, 6, 4]
    lick = lick_of([*riff, *up, 3, 1], MIXOLYDIAN)
    figure = only(lick, MIXOLYDIAN)
    assert (figure.kind, figure.cell, figure.shift, figure.view) == ("sequence", 8, 3, "semitones")


def test_without_a_frame_there_are_no_frame_steps_to_shift_by() -> None:
    figure = only(lick_of([1, 3, 5, 4, 2, 4, 6, 5, 3, 5, 7, 6]), None)
    assert (figure.kind, figure.cell, figure.shift) == ("sequence", 4, None)


# -- what comes back -----------------------------------------------------------------------
@every_frame
@pytest.mark.parametrize(
    ("steps", "meter", "spans"),
    [
        ([5, 6, 5, 3, 8, 7, 4, 2, 5, 6, 5, 3, 1, 2, 7, 1], "4/4", ((0, 3), (8, 11))),
        ([1, 2, 3, 4, 6, 5, 3, 4, 1, 2, 3, 4, 3, 1, 2, 1], "4/4", ((0, 3), (8, 11))),
        ([3, 5, 6, 8, 5, 4, 2, 7, 3, 5, 6, 8, 5, 2, 1], "4/4", ((0, 4), (8, 12))),
        ([5, 3, 1, 2, 4, 2, 5, 3, 1, 6, 7, 8], "3/4", ((0, 2), (6, 8))),
    ],
)
def test_a_bar_opening_that_returns(
    steps: list[int], meter: str, spans: tuple[tuple[int, int], ...], frame: Frame
) -> None:
    """The second bar begins as the first did and goes on otherwise."""
    found = find_figures(lick_of(steps, frame, meter=meter), frame)
    again = [f for f in found if f.kind == "repetition"]
    assert [(f.shift, f.occurrences) for f in again] == [(0, spans)]
    assert "after other notes" in again[0].tight.words


@every_frame
def test_a_motif_with_a_new_last_note_names_it(frame: Frame) -> None:
    figure = only(lick_of([5, 6, 5, 3, 5, 6, 5, 2, 5, 6, 5, 1], frame), frame)
    assert (figure.kind, figure.cell, figure.shift, figure.exact) == ("repetition", 4, 0, False)
    assert figure.tight.changes == (
        "the last note is one frame step lower",
        "the last note is two frame steps lower",
    )
    assert figure.loose.free_notes == (3,)
    assert not only(lick_of([5, 6, 5, 3, 5, 6, 5, 1], frame), frame).exact


@every_frame
@pytest.mark.parametrize("times", [3, 4, 6])
def test_two_notes_by_turns(times: int, frame: Frame) -> None:
    figure = only(lick_of([5, 8] * times, frame), frame)
    assert (figure.kind, figure.cell, figure.shift) == ("alternation", 2, None)
    assert len(figure.occurrences) == times


@every_frame
@pytest.mark.parametrize(
    "steps",
    [
        [1, 8, 2, 8, 3, 8, 4, 8, 5, 8],  # under a fixed top note
        [1, 5, 1, 6, 1, 7, 1, 6, 1, 5],  # over a drone
        [8, 3, 8, 4, 8, 5, 8, 4, 8, 3],
    ],
)
def test_a_line_against_a_fixed_note_is_a_pedal(steps: list[int], frame: Frame) -> None:
    figure = only(lick_of(steps, frame), frame)
    assert (figure.kind, figure.covers) == ("pedal", len(steps))


def test_a_pedal_under_two_moving_notes() -> None:
    """A drone at every third note, the pair above it climbing the scale."""
    figure = only(lick_of([1, 3, 5, 1, 4, 6, 1, 5, 7, 1, 6, 8], durations=F(1, 3)))
    assert (figure.kind, figure.cell, figure.covers) == ("pedal", 3, 12)


def test_one_note_kept_up() -> None:
    figure = only(lick_of([5, 5, 5, 5, 5, 5, 3, 1]))
    assert (figure.kind, figure.cell, figure.shift) == ("repetition", 1, 0)
    assert figure.tight.words == "5 struck six times"
