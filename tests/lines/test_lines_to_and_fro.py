"""Lines do not wander to and fro between two notes, nor out of the lick's range and position."""

from __future__ import annotations

import pytest
from checker import REACH, swings
from line_licks import demo, demo_names, lick

from linewright.analysis import analyze
from linewright.fretboard import hand_positions
from linewright.lines import LineRequest, line_model
from linewright.lines.moves import goes_to_and_fro

#: A line of the project's own over ii-V-I in C; no two notes of it come in turn more than once.
STEPWISE = "A4 G4 F4 E4 D4 E4 F4 D4 G4 A4 B4 Ab4 G4 F4 E4 D4 E4 G4 B4 A4 G4 E4 D4 C4"


def test_a_stepwise_lick_gives_no_trills() -> None:
    analysis = analyze(lick(STEPWISE, key="C", chords="Dm7 G7 Cmaj7"))
    model = line_model(analysis)
    for seed in range(12):
        line = model.sample(LineRequest(bars=8, seed=seed))
        assert swings(line) == []


def test_a_lick_that_goes_to_and_fro_may_be_followed() -> None:
    text = "C4 D4 C4 D4 C4 E4 F4 G4 A4 G4 F4 E4 D4 E4 F4 D4"
    model = line_model(analyze(lick(text, key="C", chords="C G7")))
    assert model.setup(LineRequest(bars=2), {}).lattice.rules.to_and_fro


@pytest.mark.parametrize(
    ("notes", "swinging"),
    [
        ([60, 62, 60, 62, 60], True),
        ([59, 60, 67, 60, 67, 60, 67, 64], True),
        ([60, 62, 60, 62, 64, 62, 60, 62], False),  # there and back twice, then on
        ([60, 60, 60, 60, 60], False),
    ],
)
def test_to_and_fro_is_five_notes_on_two(notes: list[int], swinging: bool) -> None:
    assert goes_to_and_fro(notes) == swinging


@pytest.mark.parametrize("name", demo_names())
def test_a_range_nobody_names_is_the_licks_and_what_lies_under_the_hand(name: str) -> None:
    """Beyond the lick's own notes a minor third (the widest step of a pentatonic, so that a figure can be
    moved), and a major third no further than a hand that stays reaches: the frets from its position
    on, as many as the checker's table has, those the lick itself stretches to, or an open string.
    """
    _, model = demo(name)
    plan = model.plan(LineRequest(bars=2))
    own = [model.placed.notes[i].midi for i in model.placed.melody]
    low, high = min(own) + plan.moved, max(own) + plan.moved
    assert low - 4 <= plan.low <= low
    assert high <= plan.high <= high + 4
    reach = REACH[model.placed.instrument.name]
    hands = set(hand_positions(model.placed))
    frets = [note.fret for note in model.placed.notes if note.fret]
    for midi in (*range(plan.low, low - 3), *range(high + 4, plan.high + 1)):
        fret = plan.hand.place[midi].fret
        near = any(hand <= fret < hand + reach for hand in hands)
        assert fret == 0 or near or min(frets) <= fret <= max(frets)
