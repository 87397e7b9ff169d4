"""Figures in lines against their loose form, measured on the notes themselves."""

from __future__ import annotations

from itertools import pairwise

import pytest
from line_licks import demo, demo_names, lick

from linewright.analysis import Analysis, analyze
from linewright.lines import Line, LineModel, LineRequest, line_model


def steps(analysis: Analysis, midi: int) -> float:
    """Height in frame steps; a note between two frame notes lies half way."""
    pcs = sorted((n - analysis.tonic.number) % 12 for n in analysis.frame.numbers)
    octave, rest = divmod(midi - analysis.tonic.number, 12)
    below = [k for k, pc in enumerate(pcs) if pc <= rest]
    height = octave * len(pcs) + (below[-1] if below else -1)
    return height if rest in pcs else height + 0.5


def instances(line: Line, tag: str) -> list[list[list[int]]]:
    """The figure's instances in a line: their cells, as MIDI numbers."""
    found: list[list[list[int]]] = []
    before = None
    for note, reason in zip(line.lick.notes, line.notes, strict=True):
        if reason.figure != tag:
            before = None
            continue
        if before is None or reason.cell < before:
            found.append([])
        if before != reason.cell:
            found[-1].append([])
        found[-1][-1].append(note.midi)
        before = reason.cell
    return found


@pytest.mark.parametrize("name", demo_names())
def test_cells_keep_to_the_contour_the_shift_and_the_times(name: str) -> None:
    analysis, model = demo(name)
    plans = {plan.tag for plan in model.figures}
    seen = 0
    for seed in range(6):
        line = model.sample(LineRequest(bars=12, seed=seed, leap=9))
        for number, figure in enumerate(analysis.figures, 1):
            tag = f"f{number}"
            if tag not in plans or figure.kind not in ("sequence", "repetition"):
                continue
            for cells in instances(line, tag):
                seen += 1
                if figure.cell > 1:
                    low, high = figure.loose.times
                    assert low <= len(cells) <= high or len(cells) % low == 0
                rows = [[steps(analysis, m) for m in cell] for cell in cells]
                for row in rows:
                    assert len(row) == figure.cell
                    # the first cell's contour or another occurrence's, one inner note free
                    wanted = [
                        [
                            steps(analysis, analysis.lick.notes[i].midi)
                            for i in _melody(analysis, a, b)
                        ]
                        for a, b in figure.occurrences
                    ]
                    away = min(
                        sum(
                            abs((x - row[0]) - (y - other[0])) > 0.5
                            for x, y in zip(row, other, strict=True)
                        )
                        for other in wanted
                        if len(other) == figure.cell
                    )
                    assert away <= 1
                low, high = figure.loose.shift
                for one, two in pairwise(rows):
                    assert low <= two[0] - one[0] <= high
    if any(p.kind in ("sequence", "repetition") for p in model.figures):
        most = model.most(LineRequest(bars=12, leap=9))
        assert seen or all(most[p.tag] < 0.05 for p in model.figures)


def _melody(analysis: Analysis, first: int, last: int) -> list[int]:
    return [i for i in analysis.lick.melody if first <= i <= last]


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("C4 D4 E4 F4 G4 A4 B4 C5 B4 G4 A4 E4 G4 C4", "scale run"),
        ("E4 C4 E4 C4 E4 C4 E4 C4 D4 G4 A4 B4 C5 G4", "alternation"),
        ("C5 G4 D5 G4 E5 G4 D5 G4 C5 G4 A4 B4 C5 E4", "pedal"),
        ("C4 E4 G4 G4 G4 G4 G4 G4 G4 G4 G4 A4 F4 D4 E4 C4", "repetition"),
    ],
)
def test_other_kinds_of_figure_are_played(text: str, kind: str) -> None:
    model = _model(text)
    assert kind in [plan.kind for plan in model.figures]
    most = model.most(LineRequest(bars=6, leap=12, quote=30))
    assert most[kind] > 0.2
    line = model.sample(LineRequest(bars=6, leap=12, quote=30, mix={kind: most[kind] / 2}))
    tag = next(plan.tag for plan in model.figures if plan.kind == kind)
    for seed in range(1, 8):
        notes = [c for i in instances(line, tag) for cell in i for c in cell]
        rises = [b - a for a, b in pairwise(notes)] if len(instances(line, tag)) == 1 else []
        if kind == "scale run" and rises:
            assert all(r > 0 for r in rises)
        if kind == "alternation" and rises:
            assert len(set(notes)) == 2
        if kind == "repetition" and rises:
            assert len(set(notes)) == 1
        line = model.sample(line.request.with_(seed=seed))


def _model(text: str) -> LineModel:
    return line_model(analyze(lick(text, key="C")))
