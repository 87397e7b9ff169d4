"""The evidence for tonic and mode, worked out by hand for one small phrase."""

from __future__ import annotations

from fractions import Fraction
from math import isclose, log, sqrt

import pytest

from linewright.analysis.tonic_evidence import (
    MODE_FACTS,
    PAIRS,
    SINGLES,
    TONIC_MODES,
    mode_facts,
    tonic_evidence,
)
from linewright.analysis.tonic_model import mode_chances, tonic_chances
from linewright.analysis.tonic_weights import WEIGHTS
from linewright.score import Lick, Meter, Note, bars_for
from linewright.theory import Pitch

C, D, E, G, B = 0, 2, 4, 7, 11


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
    assert isclose(sum(mode_chances(evidence, tonic, WEIGHTS, prior=True)), 1)


def test_score_is_the_sum_of_weights_times_evidence() -> None:
    """The sparse sum against the plain definition of the model."""
    evidence = tonic_evidence(small())
    weights = WEIGHTS[0]
    assert evidence.count <= weights.notes  # so that only the first fit speaks
    scores = [
        sum(v * weights.tonic.singles[k][(pc - t) % 12] for k, pc, v in evidence.singles)
        + sum(
            v * weights.tonic.pairs[k][12 * ((a - t) % 12) + (b - t) % 12]
            for k, a, b, v in evidence.pairs
        )
        for t in range(12)
    ]
    found = tonic_chances(evidence, WEIGHTS)
    for t in range(12):
        assert isclose(log(found[t] / found[0]), scores[t] - scores[0], abs_tol=1e-9)


def test_every_weight_table_has_its_shape() -> None:
    assert [w.notes for w in WEIGHTS] == sorted(w.notes for w in WEIGHTS)
    for fitted in WEIGHTS:
        assert [len(row) for row in fitted.tonic.singles] == [12] * len(SINGLES)
        assert [len(table) for table in fitted.tonic.pairs] == [144] * len(PAIRS)
        assert len(fitted.mode.facts) == len(MODE_FACTS)
