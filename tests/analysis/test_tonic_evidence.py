"""The evidence for tonic and mode, worked out by hand for one small phrase."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import isclose, log, sqrt

import pytest

from linewright.analysis.tonic_evidence import BRIEF, PAIRS, SINGLES, tonic_evidence
from linewright.analysis.tonic_model import mode_chances, tonic_chances
from linewright.analysis.tonic_modes import (
    MODE_FACTS,
    TONIC_MODES,
    heard_degrees,
    mode_facts,
)
from linewright.analysis.tonic_weights import WEIGHTS
from linewright.score import Lick, Meter, Note, bars_for
from linewright.theory import Pitch

C, D, E, F, G, B = 0, 2, 4, 5, 7, 11


def small() -> Lick:
    """Two bars of 4/4: C4 quarter, E4 quarter, G4 half; D4 quarter, B3 quarter, C4 half."""
    notes, at = [], Fraction(0)
    for name, length in (("C4", 1), ("E4", 1), ("G4", 2), ("D4", 1), ("B3", 1), ("C4", 2)):
        notes.append(Note(at, Fraction(length), Pitch.parse(name)))
        at += length
    return Lick(tuple(notes), bars_for(Meter(4, 4), at))


def single(kind: str) -> dict[int, float]:
    index = SINGLES.index(kind)
    return {pc: value for k, pc, value in tonic_evidence(small()).singles if k == index}


def pair(kind: str) -> dict[tuple[int, int], float]:
    index = PAIRS.index(kind)
    return {(a, b): v for k, a, b, v in tonic_evidence(small()).pairs if k == index}


@pytest.mark.parametrize(
    ("kind", "expected"),
    [
        ("length", {C: 3 / 8, D: 1 / 8, E: 1 / 8, G: 2 / 8, B: 1 / 8}),
        ("downbeat", {C: 1 / 2, D: 1 / 2}),
        ("first", {C: 1}),
        ("last", {C: 1}),
        ("first downbeat", {C: 1}),
        ("last downbeat", {D: 1}),
        ("lowest", {B: 1}),
        ("highest", {G: 1}),
        ("longest", {C: 1, G: 1}),
        ("close", {}),
        ("both ends", {C: 1}),
        ("rest on last", {C: 1}),
        ("low last", {}),
        ("first bar", {C: 1 / 4, E: 1 / 4, G: 1 / 2}),
        # Bar 1 is C E G; of bar 2 a triad on C, of either kind, has more than any other.
        ("major triad", {C: 1 / 2 + 1 / 4}),
        ("minor triad", {C: 1 / 4}),
    ],
)
def test_single_evidence(kind: str, expected: dict[int, float]) -> None:
    assert single(kind) == expected


def test_pair_evidence() -> None:
    moves = {(C, E), (E, G), (G, D), (D, B), (B, C)}
    assert pair("step") == dict.fromkeys(moves, 1 / 5)
    assert pair("last step") == {(B, C): 1}
    assert pair("downbeat step") == {(C, D): 1}
    assert len(pair("together")) == 10  # five classes, two at a time
    assert pair("strong step") == dict.fromkeys({(C, G), (G, D), (D, C)}, 1 / 3)
    assert pair("close step") == {}  # two bars have no fourth
    assert pair("pickup step") == {(C, C): 1}


def test_short_phrases_are_spared_what_only_whole_tunes_weigh() -> None:
    brief, full = tonic_evidence(small(), every=False), tonic_evidence(small())
    assert set(brief.singles) == {entry for entry in full.singles if entry[0] < BRIEF[0]}
    assert set(brief.pairs) == {entry for entry in full.pairs if entry[0] < BRIEF[1]}
    assert brief.count <= WEIGHTS[-2].notes
    found = tonic_chances(brief, WEIGHTS), tonic_chances(full, WEIGHTS)
    assert all(isclose(a, b) for a, b in zip(*found, strict=True))


def eight_bars() -> Lick:
    """A pickup G4, then eight bars of 4/4, each a half note E4 or F4 and a half note D4 or C4."""
    notes, at = [Note(Fraction(0), Fraction(1), Pitch.parse("G4"))], Fraction(1)
    for names in ("E4 D4",) * 3 + ("F4 D4",) + ("E4 D4",) * 3 + ("F4 C4",):
        for name in names.split():
            notes.append(Note(at, Fraction(2), Pitch.parse(name)))
            at += 2
    return Lick(tuple(notes), bars_for(Meter(4, 4), at, pickup=Fraction(1)))


def test_closes_are_the_last_strong_notes_of_every_fourth_bar() -> None:
    found = tonic_evidence(eight_bars())
    named = {kind: {p: v for k, p, v in found.singles if SINGLES[k] == kind} for kind in SINGLES}
    assert named["close"] == {D: 1 / 2, C: 1 / 2}
    into = {(a, b): v for k, a, b, v in found.pairs if PAIRS[k] == "close step"}
    assert into == {(F, D): 1 / 2, (F, C): 1 / 2}
    assert [(a, b) for k, a, b, _ in found.pairs if PAIRS[k] == "pickup step"] == [(G, E)]


def test_heard_degrees() -> None:
    evidence = tonic_evidence(small())
    assert heard_degrees(evidence, C) == 2 * 16 + 0 * 4 + 2  # E, no sixth, B
    assert heard_degrees(evidence, E) == 1 * 16 + 1 * 4 + 1  # G, C, D
    assert heard_degrees(evidence, B) == 1 * 16 + 1 * 4 + 0  # D, G, neither A nor A sharp
    assert heard_degrees(tonic_evidence(Lick((), bars_for(Meter(4, 4), Fraction(4)))), C) == 0


def test_the_table_of_heard_degrees_adds_to_the_mode() -> None:
    evidence = tonic_evidence(small())
    plain = [replace(w, given=replace(w.given, heard=())) for w in WEIGHTS]
    table = [0.0] * 256
    table[4 * heard_degrees(evidence, C) + TONIC_MODES.index("dorian")] = 3.0
    told = [replace(w, given=replace(w.given, heard=tuple(table))) for w in WEIGHTS]
    before = mode_chances(evidence, C, plain, given=True)
    after = mode_chances(evidence, C, told, given=True)
    moved = [log(b / a) for a, b in zip(before, after, strict=True)]
    assert isclose(moved[2] - moved[0], 3.0)
    assert isclose(moved[1], moved[0])
    assert isclose(moved[3], moved[0])
    assert mode_chances(evidence, D, told, given=True) == mode_chances(
        evidence, D, plain, given=True
    )  # another tonic, another state


def test_mode_facts_on_c() -> None:
    evidence = tonic_evidence(small())
    rows = {
        mode: dict(zip(MODE_FACTS, mode_facts(evidence, C, i), strict=True))
        for i, mode in enumerate(TONIC_MODES)
    }
    assert rows["major"]["nothing outside"] == 1
    assert rows["minor"]["outside time"] == 2 / 8  # E and B
    assert isclose(rows["minor"]["root of outside time"], sqrt(2 / 8))
    assert rows["minor"]["outside classes"] == 2
    assert rows["mixolydian"]["outside classes"] == 1
    assert isclose(rows["major"]["odds of the 3rd"], log((1 / 8 + 0.02) / 0.02))
    assert isclose(rows["dorian"]["odds of the 3rd"], -rows["major"]["odds of the 3rd"])
    assert rows["major"]["majority of the 6th"] == 0  # neither sixth is heard


@pytest.mark.parametrize("tonic", range(12))
def test_chances_sum_to_one(tonic: int) -> None:
    evidence = tonic_evidence(small())
    assert isclose(sum(tonic_chances(evidence, WEIGHTS)), 1)
    assert isclose(sum(mode_chances(evidence, tonic, WEIGHTS, given=True)), 1)
    assert isclose(sum(mode_chances(evidence, tonic, WEIGHTS, given=False)), 1)


def test_score_is_the_sum_of_weights_times_evidence() -> None:
    """The sparse sum against the plain definition of the model."""
    evidence = tonic_evidence(small())
    weights = WEIGHTS[0]
    assert evidence.count <= weights.notes  # so that only the first fit speaks
    scores = [
        sum(
            v * weights.tonic.singles[k][(pc - t) % 12]
            for k, pc, v in evidence.singles
            if k < len(weights.tonic.singles)
        )
        + sum(
            v * weights.tonic.pairs[k][12 * ((a - t) % 12) + (b - t) % 12]
            for k, a, b, v in evidence.pairs
            if k < len(weights.tonic.pairs)
        )
        for t in range(12)
    ]
    found = tonic_chances(evidence, WEIGHTS)
    for t in range(12):
        assert isclose(log(found[t] / found[0]), scores[t] - scores[0], abs_tol=1e-9)


def test_every_weight_table_has_its_shape() -> None:
    assert [w.notes for w in WEIGHTS] == sorted(w.notes for w in WEIGHTS)
    for fitted in WEIGHTS:
        kinds = (len(SINGLES), len(PAIRS)) if fitted is WEIGHTS[-1] else BRIEF
        assert (len(fitted.tonic.singles), len(fitted.tonic.pairs)) == kinds
        assert {len(row) for row in fitted.tonic.singles} == {12}
        assert {len(table) for table in fitted.tonic.pairs} == {144}
        for mode in (fitted.mode, fitted.given):
            assert len(mode.facts) == len(MODE_FACTS)
            assert len(mode.start) == len(TONIC_MODES)
        assert not fitted.mode.heard
        assert len(fitted.given.heard) == (0 if fitted is WEIGHTS[-1] else 4 * 64)
