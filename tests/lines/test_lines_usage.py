"""What a lick teaches about its outside notes, and what it does not."""

from __future__ import annotations

from dataclasses import replace

import pytest
from checker import broken
from line_licks import demo, small

from linewright.errors import OptionError
from linewright.lines import Line, LineRequest

#: ii-V-I in C: b9, #9 and b9 of G7 in the second bar.
TWO_FIVE = "r D4 F4 A4 C5 B4 C5 A4 B4 Ab4 F4 D4 E4 G#4 Bb4 Ab4 G4 E4 D4 B3 C4:2 r:4"
CHORDS = "Dm7 G7 Cmaj7 Cmaj7"


def outside(line: Line) -> list[tuple[str, str]]:
    """(degree, chord) of every outside note."""
    return [
        (reason.degree, str(line.lick.chord_at(note.onset)))
        for note, reason in zip(line.lick.notes, line.notes, strict=True)
        if reason.role == "outside"
    ]


def uses(text: str) -> list[tuple[str, str, str]]:
    _, model = small(text, meter="4/4", chords="G7")
    return [(use.before, use.degree, use.after) for use in model.uses]


@pytest.mark.parametrize(
    ("rest", "taught"),
    [
        ("", [("4", "b5", "4")]),
        ("r:1/2 ", [("4", "b5", "4")]),  # an eighth rest parts no two notes
        ("r:1 ", []),  # over a quarter rest, a breath, neither leads to the other
    ],
)
def test_a_usage_is_not_taught_across_a_breath(rest: str, taught: list) -> None:
    before, after = "G3 Bb3 C4 D4 F4 D4 C4 ", "C4 Bb3 G3 Bb3 C4 Bb3 G3"
    assert uses(f"{before}{rest}Db4 {after}") == taught
    assert uses(f"{before}Db4 {rest}{after}") == taught


def test_the_tensions_of_a_dominant_stay_over_it() -> None:
    """Ab and Bb over G7 are its b9 and #9 (common practice); they are nothing over Dm7, Cmaj7, A7."""
    analysis, model = small(TWO_FIVE, "C", CHORDS, "4/4")
    assert {str(analysis.notes[i].chord) for use in model.uses for i in use.notes} == {"G7"}
    found = []
    for seed in range(20):
        line = model.sample(LineRequest(bars=8, seed=seed))
        assert broken(analysis, line) == []
        found += outside(line)
    assert len(found) > 40
    assert {chord for _, chord in found} == {"G7"}
    line = model.sample(LineRequest(bars=8, progression="ii-V-I in F", mix={"b6": 0.05}))
    assert {chord for _, chord in outside(line)} == {"C7"}
    assert all(
        "over C7, as in bar 2 of the lick over G7" in r.why
        for r in line.notes
        if r.role == "outside"
    )


def test_a_tension_without_its_dominant_has_no_room() -> None:
    _, model = small(TWO_FIVE, "C", CHORDS, "4/4")
    wished = LineRequest(bars=4, progression="Dm7 | A7 | Am7 | %")
    assert outside(model.sample(wished)) == []
    assert model.most(wished)["b6"] == 0.0
    said = "at most 0% .*the lick has it over G7, and no chord here is like that"
    with pytest.raises(OptionError, match=said):
        model.sample(wished.with_(mix={"b6": 0.1}))


def test_a_tension_of_a_lick_with_one_chord_keeps_to_it_too() -> None:
    notes = "G4 A4 B4 G4 D4 E4 F4 D4 C4 B4 Ab4 F4 E4 D4 C4 A3 B3 D4 G4:3"
    _, model = small(notes, "C", "G7", "4/4")
    assert model.most(LineRequest(bars=4, progression="G7"))["b6"] > 0
    assert model.most(LineRequest(bars=4, progression="Cmaj7 | Dm7"))["b6"] == 0.0


def test_enclosures_stay_over_their_kind_of_chord() -> None:
    """Left at the Light encloses over each chord of a ii-V-I; C# comes before the first chord."""
    analysis, model = demo("left-at")
    heard = {"b7": {"Dm7"}, "#2": {"G7"}, "#4": {"Cmaj7", "C6"}}
    found = []
    for seed in range(20):
        line = model.sample(LineRequest(bars=8, seed=seed))
        assert broken(analysis, line) == []
        found += outside(line)
    for degree, chords in heard.items():
        assert {chord for name, chord in found if name == degree} == chords


@pytest.mark.parametrize("name", ["late-shift", "rain-on", "feed-store", "front-porch"])
def test_a_blues_keeps_its_blue_notes(name: str) -> None:
    """Over all three dominants where the note is no chord tone it needs."""
    analysis, model = demo(name)
    found = []
    for seed in range(6):
        line = model.sample(LineRequest(bars=12, progression="12-bar blues", seed=seed))
        assert broken(analysis, line) == []
        found += outside(line)
    assert len(found) > 30
    if not all(use.in_chord for use in model.uses):
        assert len({chord for _, chord in found}) == 3


def test_the_checker_sees_a_tension_over_another_chord() -> None:
    analysis, model = small(TWO_FIVE, "C", CHORDS, "4/4")
    line = next(
        line
        for seed in range(9)
        if outside(line := model.sample(LineRequest(bars=4, seed=seed, mix={"b6": 0.05})))
    )
    spans = tuple(replace(span, symbol=analysis.lick.chords[2].symbol) for span in line.lick.chords)
    wrong = replace(line, lick=line.lick.with_(chords=spans))
    assert any("not as the lick has it" in words for words in broken(analysis, wrong))


def test_one_pitch_has_one_name_in_all_usages() -> None:
    """G# on its way up is the #5, Ab on its way down the b6; a usage beside it says its one name."""
    _, model = small(
        "G5 G#5 A5 G5 F5 E5 C5 D5 E5 F#5 Ab5 G5 F5 E5 D5 B4 C5:4", meter="4/4", key="C", chords="C"
    )
    taught = [(use.degree, use.before, use.after) for use in model.uses]
    assert taught == [("#5", "5", "6"), ("#4", "3", "#5"), ("#5", "#4", "5")]
