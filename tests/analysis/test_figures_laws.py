"""Laws of figures: what may change about a lick without changing how it moves."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from figure_licks import lick_of
from hypothesis import given
from hypothesis import strategies as st

from linewright.analysis.figures import Figure, find_figures, motion
from linewright.score import Lick, Meter, bars_for
from linewright.theory import Frame, Interval, PitchClass, collection

F = Fraction
FRAMES = tuple(
    Frame(PitchClass("G"), collection(name))
    for name in ("minor pentatonic", "mixolydian", "major", "harmonic minor")
)
INTERVALS = (Interval(1, 2), Interval(2, 3), Interval(4, 7), Interval(-3, -5), Interval(7, 12))


@st.composite
def phrases(draw: st.DrawFn) -> tuple[Lick, Frame]:
    """Phrases in which something is likely to recur: cells moved, changed and spaced out."""
    frame = draw(st.sampled_from(FRAMES))
    cell = draw(st.lists(st.integers(1, 8), min_size=2, max_size=5))
    steps: list[int] = []
    for shift in draw(st.lists(st.sampled_from((0, 0, 1, -1, 2, 3)), min_size=1, max_size=4)):
        copy = [s + shift for s in cell]
        if draw(st.integers(0, 3)) == 0:
            copy[-1] += 1
        steps += copy + draw(st.lists(st.integers(1, 9), max_size=2))
    rhythm = draw(
        st.lists(
            st.sampled_from((F(1, 2), F(1, 2), F(1), F(1, 4))),
            min_size=len(steps),
            max_size=len(steps),
        )
    )
    return lick_of(steps, frame, rhythm), frame


def shape(figures: tuple[Figure, ...]) -> list[object]:
    return [
        (f.kind, f.cell, f.shift, f.exact, f.occurrences, f.tight.moves, f.tight.changes, f.loose)
        for f in figures
    ]


@given(phrases(), st.sampled_from(INTERVALS))
def test_transposing_moves_nothing(case: tuple[Lick, Frame], interval: Interval) -> None:
    lick, frame = case
    moved = Frame(frame.tonic.transpose(interval), frame.collection)
    other = lick.transpose(interval)
    assert shape(find_figures(other, moved)) == shape(find_figures(lick, frame))
    assert motion(other, moved) == motion(lick, frame)


@given(phrases())
def test_notating_in_doubled_values_moves_nothing(case: tuple[Lick, Frame]) -> None:
    lick, frame = case
    notes = tuple(replace(n, onset=n.onset * 2, duration=n.duration * 2) for n in lick.notes)
    doubled = Lick(notes, bars_for(Meter.parse("4/2"), notes[-1].end))
    assert shape(find_figures(doubled, frame)) == shape(find_figures(lick, frame))
    assert motion(doubled, frame) == motion(lick, frame)


@given(phrases(), st.randoms(use_true_random=False))
def test_moving_the_fingering_moves_nothing(case: tuple[Lick, Frame], rng: object) -> None:
    lick, frame = case
    choice = rng.choice  # type: ignore[attr-defined]
    notes = tuple(replace(n, string=choice((1, 2, 3)), fret=5) for n in lick.notes)
    fingered = lick.with_(notes=notes)
    assert shape(find_figures(fingered, frame)) == shape(find_figures(lick, frame))


@given(phrases())
def test_the_parts_of_a_figure_agree(case: tuple[Lick, Frame]) -> None:
    lick, frame = case
    taken: set[int] = set()
    for figure in find_figures(lick, frame):
        notes = {k for a, b in figure.occurrences for k in range(a, b + 1)}
        assert len(notes) == figure.covers
        assert not notes & taken
        taken |= notes
        assert figure.saving > 0
        assert figure.cell == len(figure.tight.degrees) == len(figure.loose.contour)
        assert figure.occurrences == tuple(sorted(figure.occurrences))
        if not figure.is_run:
            assert len(figure.occurrences) >= 2
        if figure.exact:
            assert not any(figure.tight.changes)
