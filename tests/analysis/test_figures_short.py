"""Short figures a teacher names: runs of four, three pairs, a roll that is cut short.

Common practice of each style unless a source is named; none of the answers is our own output.
"""

from __future__ import annotations

import random
from fractions import Fraction

import pytest
from figure_licks import MAJOR, MINOR_PENTATONIC, lick_of, random_walk

from linewright.analysis.figures import Figure, find_figures
from linewright.analysis.figures.places import Places
from linewright.analysis.figures.views import views_of
from linewright.score import ChordSpan, Lick
from linewright.theory import ChordSymbol

F = Fraction
Told = list[tuple[str, int, tuple[tuple[int, int], ...]]]


def told(lick: Lick) -> Told:
    return [(f.kind, f.cell, f.occurrences) for f in find_figures(lick, MAJOR)]


def over(lick: Lick, chords: str) -> Lick:
    """The lick with a chord for each bar of 4/4."""
    spans = tuple(
        ChordSpan(F(4 * bar), F(4), ChordSymbol.parse(name))
        for bar, name in enumerate(chords.split())
    )
    return lick.with_(chords=spans)


def bars(*eighths: int) -> list[Fraction]:
    return [F(length, 2) for length in eighths]


# -- an arpeggio of four notes ------------------------------------------------------------
@pytest.mark.parametrize(
    ("steps", "chords", "name"),
    [
        ([2, 4, 6, 8, 6, 7, 8, 7, 5, 4, 3], "Dm7 C", "Dm7"),  # up through the 7th, then G7's notes
        ([5, 7, 9, 12, 10, 9, 7, 6, 9, 8, 7], "G C", "G"),  # the triad to its octave
        ([12, 10, 8, 6, 7, 8, 9, 11, 10, 9, 8], "Am7 C", "Am7"),  # down from the 7th
    ],
)
def test_four_notes_of_the_chord_sounding(steps: list[int], chords: str, name: str) -> None:
    figures = find_figures(over(lick_of(steps, durations=RHYTHM), chords), MAJOR)
    assert [(f.kind, f.occurrences) for f in figures] == [("arpeggio run", ((0, 3),))]
    assert f"four chord tones of {name} in a row" in figures[0].tight.words


#: Four eighths, two quarters, then four eighths and a half note.
RHYTHM = bars(1, 1, 1, 1, 2, 2, 1, 1, 1, 1, 4)


def test_the_chord_from_its_third_to_its_ninth_is_an_arpeggio_of_it() -> None:
    """B D F Ab over G7: the diminished seventh on its 3rd (Levine 1995, from memory)."""
    steps: list[int | tuple[int, int]] = [7, 9, 11, (13, -1), 12, 10, 8, 9, 7, 5, 8]
    figures = find_figures(over(lick_of(steps, durations=RHYTHM), "G7 C"), MAJOR)
    assert ("arpeggio run", ((0, 3),)) in [(f.kind, f.occurrences) for f in figures]


# -- chromatic ---------------------------------------------------------------------------
def test_four_semitones_lead_into_a_bar() -> None:
    """A walk up in the bass: 5, then 6 b7 7 into 1."""
    steps: list[int | tuple[int, int]] = [1, 3, 4, 2, 5, 6, (7, -1), 7, 8]
    assert told(lick_of(steps, durations=bars(2, 2, 2, 2, 2, 2, 2, 2, 8))) == [
        ("chromatic run", 4, ((5, 8),))
    ]


# -- three pairs -------------------------------------------------------------------------
def test_three_broken_thirds_fall_in_a_pentatonic() -> None:
    steps = [6, 4, 5, 3, 4, 2, 1, 2, 1, 0, 1]
    lick = lick_of(steps, MINOR_PENTATONIC, bars(1, 1, 1, 1, 1, 1, 2, 2, 1, 1, 4))
    (figure,) = find_figures(lick, MINOR_PENTATONIC)
    assert (figure.kind, figure.cell, figure.shift) == ("sequence", 2, -1)
    assert figure.occurrences == ((0, 1), (2, 3), (4, 5))


# -- a roll in threes over a bar of eight ------------------------------------------------
@pytest.mark.parametrize("cell", [[3, 5, 6], [1, 3, 5], [1, 5, 8]], ids=str)
def test_a_roll_of_three_three_and_two_is_cut_short_not_given_a_new_ending(cell: list[int]) -> None:
    """3+3+2 eighths in 4/4 (common practice of rolls and cross-picking)."""
    steps = [*cell, *cell, *cell[:2], 4, 0, 2, 1]
    figure = _only(lick_of(steps, durations=bars(1, 1, 1, 1, 1, 1, 1, 1, 2, 1, 1, 4)))
    assert (figure.kind, figure.cell, figure.shift, figure.exact) == ("repetition", 3, 0, True)
    assert figure.occurrences == ((0, 2), (3, 5), (6, 7))
    assert figure.tight.words.endswith(
        "then twice more at the same pitch; the last time only the first two"
    )
    assert "new ending" not in figure.loose.words


def _only(lick: Lick) -> Figure:
    (figure,) = find_figures(lick, MAJOR)
    return figure


def test_one_note_struck_again_is_no_cell_of_two() -> None:
    figure = _only(lick_of([5, 5, 5, 5, 5, 5, 5, 5, 3, 1]))
    assert (figure.kind, figure.cell) == ("repetition", 1)


# -- another scale than the frame ----------------------------------------------------------
def test_a_run_down_the_altered_scale_over_a_major_frame() -> None:
    """Bb Ab G F Eb Db B over G7alt (Levine 1995, from memory): letter by letter in C major."""
    steps: list[int | tuple[int, int]] = [
        4,
        2,
        3,
        6,
        4,
        1,
        2,
        (7, -1),
        (6, -1),
        5,
        4,
        (3, -1),
        (2, -1),
        0,
        (-1, -1),
        -2,
    ]
    durations = bars(2, 1, 1, 1, 1, 1, 1, *[1] * 8, 8)
    figures = find_figures(over(lick_of(steps, durations=durations), "Dm7 G7alt Cmaj7"), MAJOR)
    runs = [f for f in figures if f.kind == "scale run"]
    assert [(f.view, f.occurrences[0][0]) for f in runs] == [("letters", 7)]
    assert runs[0].covers >= 6


# -- where figures stand -------------------------------------------------------------------
def test_a_figure_that_fills_its_bar_is_cheaper_than_one_across_it() -> None:
    """Metrical parallelism and grouping (Lerdahl and Jackendoff 1983, MPR 1 and GPR 2)."""
    places = Places(views_of(lick_of(random_walk(random.Random(1), 24)), MAJOR))
    assert places.bits(8, 16) < places.bits(10, 18) < places.bits(11, 19)


def test_a_group_begins_after_a_long_note_and_after_a_rest() -> None:
    lick = lick_of([1, 2, 3, 4, 5, 6], durations=bars(1, 1, 3, 1, 1, 1))
    assert views_of(lick, MAJOR).opens == [True, False, False, True, False, False]
    early = lick.with_(notes=(*lick.notes[:4], *lick.notes[5:]))
    assert views_of(early, MAJOR).opens == [True, False, False, True, True]


def test_random_phrases_over_random_chords_give_nothing_either() -> None:
    """The chord sounding makes its arpeggio cheap, not every phrase an arpeggio."""
    rng = random.Random(5)
    false = 0
    for count in (8, 12, 16, 24, 32):
        for _ in range(40):
            names = " ".join(rng.choice(("C", "Dm7", "F", "G7", "Am7")) for _ in range(4))
            false += bool(find_figures(over(lick_of(random_walk(rng, count)), names), MAJOR))
    assert false <= 10  # 5 % of 200
